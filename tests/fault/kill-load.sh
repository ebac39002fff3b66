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

awk -v n="$kills" -v span="$took" 'BEGIN { srand(20260101); for (i = 0; i < n; i++) printf "%.6f\n", rand() * span * 1.3 / 1e6 }' > moments
: > seen
journals=0 killed=0
while read -r moment; do
    rm -f work.db work.db-journal
    cp before.db work.db
    "$program" load --store work.db "$@" > /dev/null 2>&1 &
    process=$!
    sleep "$moment"
    if kill -9 "$process" 2> /dev/null; then killed=$((killed + 1)); fi
    wait "$process" 2> /dev/null || true
    [ ! -e work.db-journal ] || journals=$((journals + 1))
    "$program" verify --store work.db > out 2>&1 || { echo "kill-load: after $moment s:"; cat out; exit 1; }
    [ "$(sqlite3 work.db 'PRAGMA integrity_check')" = ok ] || { echo "kill-load: not sound after $moment s"; exit 1; }
    state work.db >> seen
    grep -qx "$(tail -n 1 seen)" states || { echo "kill-load: a state between two files after $moment s"; exit 1; }
done < moments
leftovers=$(find . -name '*.part-*' | wc -l)
[ "$leftovers" -eq 0 ] || { echo "kill-load: $leftovers temporary files left"; exit 1; }
distinct=$(sort -u seen | wc -l)
echo "kill-load: $killed of $kills runs killed, $journals in mid-write; $distinct of $(sort -u states | wc -l) states seen, all sound"
# a test whose kills never hit a write would show nothing
[ "$killed" -ge $((kills / 2)) ] && [ "$journals" -ge $((kills / 10)) ] && [ "$distinct" -ge 2 ]
