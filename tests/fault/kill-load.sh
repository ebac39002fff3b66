#!/bin/sh
# Kill `load` at random moments and look at what is left: the store must be sound, and exactly as before or as after one
# of the files. Usage: kill-load.sh PROGRAM SAMPLE-FOLDER [KILLS]
set -eu
program=$(cd "$(dirname "$1")" && pwd)/$(basename "$1")
sample=$(cd "$2" && pwd)
kills=${3:-200}
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT INT TERM
cd "$folder"
SOURCE_DATE_EPOCH=1767225600 # one clock for all runs, so that equal states are equal byte for byte
export SOURCE_DATE_EPOCH

# The sample six times over under other patient labels, so that there is time to kill.
for file in implants followups events; do
    awk 'NR == 1 { print; next } { for (i = 0; i < 6; i++) print i "-" $0 }' FS=, "$sample/$file.csv" > $file.csv
done
set -- implants.csv followups.csv events.csv

state() {
    sqlite3 "$1" .dump | sha256sum | cut -d' ' -f1
}
load() {
    "$program" load --store "$@" > out 2>&1 || [ $? -eq 1 ] || { cat out; exit 1; }
}

"$program" new --store before.db > /dev/null
cp before.db work.db
state before.db > states
for file in "$@"; do
    load work.db "$file"
    state work.db >> states
done
cp before.db work.db
started=$(date +%s%N)
load work.db "$@"
took=$((($(date +%s%N) - started) / 1000)) # microseconds
[ "$(state work.db)" = "$(tail -n 1 states)" ] || { echo "kill-load: two equal loads differ"; exit 1; }

# Uniform numbers from a seed; a run that ends before its kill shortens the span, a kill lengthens it a little, so that
# all of a load is reached however busy the machine is. Runs that ended are not counted.
awk -v n=$((kills * 5)) 'BEGIN { srand(20260101); for (i = 0; i < n; i++) printf "%.6f\n", rand() }' > uniforms
: > seen
journals=0 killed=0 runs=0 span=$took
while [ "$killed" -lt "$kills" ] && read -r uniform; do
    moment=$(awk -v u="$uniform" -v span="$span" 'BEGIN { printf "%.6f", u * span / 1e6 }')
    rm -f work.db work.db-journal
    cp before.db work.db
    "$program" load --store work.db "$@" > /dev/null 2>&1 &
    process=$!
    sleep "$moment"
    kill -9 "$process" 2> /dev/null || true
    code=0
    wait "$process" 2> /dev/null || code=$?
    runs=$((runs + 1))
    if [ "$code" -eq 137 ]; then
        killed=$((killed + 1)) span=$((span + span / 50))
    else
        span=$((span - span / 20))
    fi
    [ ! -e work.db-journal ] || journals=$((journals + 1))
    "$program" verify --store work.db > out 2>&1 || { echo "kill-load: after $moment s:"; cat out; exit 1; }
    [ "$(sqlite3 work.db 'PRAGMA integrity_check')" = ok ] || { echo "kill-load: not sound after $moment s"; exit 1; }
    state work.db >> seen
    grep -qx "$(tail -n 1 seen)" states || { echo "kill-load: a state between two files after $moment s"; exit 1; }
done < uniforms
leftovers=$(find . -name '*.part-*' | wc -l)
[ "$leftovers" -eq 0 ] || { echo "kill-load: $leftovers temporary files left"; exit 1; }
distinct=$(sort -u seen | wc -l)
echo "kill-load: $killed of $runs runs killed, $journals in mid-write; $distinct of $(sort -u states | wc -l) states seen, all sound"
# a test whose kills never hit a write would show nothing
[ "$killed" -eq "$kills" ] && [ "$journals" -ge $((kills / 10)) ] && [ "$distinct" -ge 2 ]
