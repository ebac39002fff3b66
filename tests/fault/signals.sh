#!/bin/sh
# Interrupting `load` at random moments, and others at work meanwhile: what is half done is taken back at once, copies and
# readers see a state before or after, and two loads at once wait for each other or say who holds the store.
# Usage: signals.sh PROGRAM SAMPLE-FOLDER [INTERRUPTIONS]
set -eu
program=$(cd "$(dirname "$1")" && pwd)/$(basename "$1")
sample=$(cd "$2" && pwd)
most=${3:-24}
folder=$(mktemp -d)
mounted=
trap '[ -z "$mounted" ] || umount "$mounted"; chmod -R u+w "$folder"; rm -rf "$folder"' EXIT INT TERM
cd "$folder"
SOURCE_DATE_EPOCH=1767225600
export SOURCE_DATE_EPOCH
failed=0 passed=0
wrong() {
    failed=$((failed + 1))
    echo "signals: $1"
}
right() {
    passed=$((passed + 1))
}
state() {
    sqlite3 -cmd '.timeout 9000' "$1" .dump | sha256sum | cut -d' ' -f1
}
code_of() { # ARGUMENT...: run the program; sets code
    code=0
    "$program" "$@" > out 2> err || code=$?
}

for file in implants followups events; do
    awk 'NR == 1 { print; next } { for (i = 0; i < 6; i++) print i "-" $0 }' FS=, "$sample/$file.csv" > $file.csv
done
set -- implants.csv followups.csv events.csv
"$program" new --store before.db > /dev/null
cp before.db work.db
state before.db > states
for file in "$@"; do
    code_of load --store work.db "$file"
    state work.db >> states
done
cp before.db work.db
started=$(date +%s%N)
code_of load --store work.db "$@"
took=$((($(date +%s%N) - started) / 1000))

# --- interruptions: 128 and the signal's number, words, no journal left, a state between files
# (timeout sends its signal to the program and again to its group: still one request to stop)
interrupted=0 runs=0
awk -v n="$most" 'BEGIN { srand(20260102); for (i = 0; i < n; i++) printf "%.6f\n", rand() }' > uniforms
while read -r uniform; do
    case $((runs % 3)) in
    0) name=INT number=130 ;;
    1) name=TERM number=143 ;;
    2) name=HUP number=129 ;;
    esac
    runs=$((runs + 1))
    moment=$(awk -v u="$uniform" -v took="$took" 'BEGIN { printf "%.6f", u * took / 1e6 }')
    cp before.db work.db
    code=0
    timeout --preserve-status -s "$name" "$moment" "$program" load --store work.db "$@" > out 2> err || code=$?
    if [ "$code" -eq "$number" ]; then
        # a signal that comes before the store is opened ends the program at once, without words
        if grep -q 'interrupted by a signal' err; then interrupted=$((interrupted + 1)); fi
    elif [ "$code" -gt 1 ]; then
        wrong "SIG$name after $moment s: exit $code: $(cat err)"
    fi
    [ ! -e work.db-journal ] || wrong "SIG$name after $moment s left a journal"
    grep -qx "$(state work.db)" states && right || wrong "SIG$name after $moment s: a state between two files"
    "$program" verify --store work.db > out 2>&1 || wrong "SIG$name after $moment s: $(cat out)"
done < uniforms
[ "$interrupted" -ge $((most / 4)) ] || wrong "only $interrupted loads were interrupted in their work"

# --- copies and readers while a load runs
copies=0 looks=0
cp before.db work.db
"$program" load --store work.db "$@" > load.out 2> load.err &
process=$!
while kill -0 $process 2> /dev/null; do
    code_of backup copy.db --store work.db
    [ "$code" -eq 0 ] || wrong "backup during a load: exit $code: $(cat err)"
    # the list of copies is the one thing a backup changes in the store
    sqlite3 copy.db .dump | grep -v 'backup_copy VALUES' | sha256sum | cut -d' ' -f1 > seen
    grep -qxf seen states && right || wrong "a copy made during a load is no state of the store"
    "$program" verify --store copy.db > out 2>&1 || wrong "a copy made during a load: $(cat out)"
    copies=$((copies + 1))
    code_of doubts --store work.db
    [ "$code" -eq 0 ] || wrong "reading during a load: exit $code: $(cat err)"
    sqlite3 -cmd '.timeout 9000' work.db .dump | grep -v 'backup_copy VALUES' | sha256sum | cut -d' ' -f1 > seen
    grep -qxf seen states && right || wrong "a reader saw a state between two files"
    looks=$((looks + 1))
done
code=0
wait $process || code=$?
[ "$code" -le 1 ] && right || wrong "the load beside copies: exit $code: $(cat load.err)"

# --- two loads at once
cp before.db work.db
"$program" load --store work.db implants.csv > first 2>&1 &
process=$!
code_of load --store work.db implants.csv
other=0
wait $process || other=$?
if [ "$code" -le 1 ] && [ "$other" -le 1 ]; then right; else wrong "two loads at once: exits $code and $other: $(cat err first)"; fi
"$program" verify --store work.db > out 2>&1 && right || wrong "after two loads at once: $(cat out)"
cp before.db work.db
(echo 'BEGIN IMMEDIATE; SELECT 1;' && sleep 8) | sqlite3 work.db > held &
process=$!
until [ -s held ]; do sleep 0.1; done
code_of load --store work.db implants.csv
[ "$code" -eq 4 ] && grep -q 'in use by another program (PID [0-9]*, sqlite3)' err && right ||
    wrong "a store that is held: exit $code: $(cat err)"
[ "$(sqlite3 work.db 'SELECT count(*) FROM batch')" = 0 ] && right || wrong "a store that is held was changed"

# --- a store, and a folder, that may only be read (by another user than root, whom no permission stops)
as_user=
[ "$(id -u)" -ne 0 ] || as_user="setpriv --reuid=65534 --regid=65534 --clear-groups"
if [ -z "$as_user" ] || $as_user true 2> /dev/null; then
    mkdir closed
    cp before.db closed/store.db
    chmod 755 . closed
    chmod 444 closed/store.db implants.csv
    [ -z "$as_user" ] || chown 65534 closed closed/store.db
    for mode in 755 555; do
        [ $mode = 755 ] || chmod 644 closed/store.db # a store that may be written, in a folder that may not
        chmod $mode closed
        code=0
        # shellcheck disable=SC2086
        $as_user "$program" load --store closed/store.db implants.csv > out 2> err || code=$?
        [ $code -eq 4 ] && grep -q '^ridgetally: closed/store.db: ' err && cmp -s before.db closed/store.db && right ||
            wrong "read-only, folder $mode: exit $code: $(cat err)"
        code=0
        # shellcheck disable=SC2086
        $as_user "$program" verify --store closed/store.db > out 2> err || code=$?
        [ $code -eq 0 ] && right || wrong "reading a read-only store, folder $mode: exit $code: $(cat err)"
    done
    closed=tried
else
    closed='not tried (another user cannot be taken on)'
fi

# --- a small file system that fills up, and a limit on the size of files that its user did not make fit
mkdir small
size=$(($(wc -c < before.db) + 300000))
if mount -t tmpfs -o size=$size tmpfs small 2> /dev/null; then
    mounted=$folder/small
    cp before.db small/store.db
    code_of load --store small/store.db implants.csv
    [ "$code" -eq 4 ] && [ -s err ] && right || wrong "a full file system: exit $code: $(cat err)"
    [ "$(state small/store.db)" = "$(state before.db)" ] && right || wrong "a full file system: the store changed"
    code_of backup small/copy.db --store work.db
    code_of backup small/copy2.db --store work.db
    [ "$code" -eq 4 ] && [ ! -e small/copy2.db ] && right || wrong "a backup on a full file system: exit $code: $(cat err)"
    small=tried
else
    small='not tried (mounting is not permitted)'
fi
cp before.db work.db
code=0
(ulimit -f $(($(wc -c < work.db) / 512 + 40)) && exec "$program" load --store work.db implants.csv) > out 2> err || code=$?
[ "$code" -eq 4 ] && [ "$(state work.db)" = "$(state before.db)" ] && right || wrong "a limit on file size: exit $code: $(cat err)"

wait $process 2> /dev/null || true
echo "signals: $runs interruptions ($interrupted in the midst of work), $copies copies and $looks readers during a load, two loads" \
    "at once; read-only $closed; small file system $small: $passed passed, $failed failed"
[ "$failed" -eq 0 ]
