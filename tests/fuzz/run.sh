#!/bin/sh
# run.sh SECONDS FOLDER PROGRAM...: each fuzz target for that long, one after another. What a target finds worth
# keeping stays in FOLDER/corpus and is the start of the next run; an input that crashes it is left in FOLDER and named.
set -eu
seconds=$1 folder=$2
shift 2
failed=0
for program in "$@"; do
    name=${program##*/fuzz_}
    corpus=$folder/corpus/$name
    mkdir -p "$corpus"
    started=$(date +%s)
    if "$program" -max_total_time="$seconds" -timeout=20 -rss_limit_mb=2048 -max_len=4096 -print_final_stats=1 \
        -artifact_prefix="$folder/$name-" "$corpus" "tests/fuzz/seeds/$name" > "$folder/$name.log" 2>&1; then
        runs=$(sed -n 's/^stat::number_of_executed_units: *//p' "$folder/$name.log")
        covered=$(sed -n 's/.* cov: \([0-9]*\) .*/\1/p' "$folder/$name.log" | tail -n 1)
        echo "fuzz $name: $runs inputs in $(($(date +%s) - started)) s, $covered edges covered, no crash"
        # a target that runs nothing would pass for ever
        [ "${runs:-0}" -ge 50 ] || { echo "fuzz $name: hardly an input was run"; failed=1; }
    else
        echo "fuzz $name: failed"
        tail -n 40 "$folder/$name.log"
        failed=1
    fi
done
exit "$failed"
