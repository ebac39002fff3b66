#!/bin/sh
# run.sh SECONDS FOLDER PROGRAM...: each fuzz target for that long, as many at once as there are processors. What a target
# finds worth keeping stays in FOLDER/corpus and is the start of the next run; an input that crashes it is left in FOLDER
# and named.
set -eu

fuzz_one() { # SECONDS FOLDER PROGRAM
    name=${3##*/fuzz_}
    corpus=$2/corpus/$name
    mkdir -p "$corpus"
    started=$(date +%s)
    if ! "$3" -max_total_time="$1" -timeout=20 -rss_limit_mb=2048 -max_len=4096 -print_final_stats=1 \
        -artifact_prefix="$2/$name-" "$corpus" "tests/fuzz/seeds/$name" > "$2/$name.log" 2>&1; then
        echo "fuzz $name: failed"
        tail -n 40 "$2/$name.log"
        return 1
    fi
    runs=$(sed -n 's/^stat::number_of_executed_units: *//p' "$2/$name.log")
    covered=$(sed -n 's/.* cov: \([0-9]*\) .*/\1/p' "$2/$name.log" | tail -n 1)
    echo "fuzz $name: $runs inputs in $(($(date +%s) - started)) s, $covered edges covered, no crash"
    # a target that runs nothing would pass for ever
    [ "${runs:-0}" -ge 50 ] || { echo "fuzz $name: hardly an input was run"; return 1; }
}

if [ "$1" = --one ]; then
    shift
    fuzz_one "$@"
    exit
fi
seconds=$1 folder=$2
shift 2
printf '%s\n' "$@" | xargs -n 1 -P "$(nproc)" sh "$0" --one "$seconds" "$folder"
