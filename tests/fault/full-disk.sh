#!/bin/sh
# A disk that fills up: every verb that writes says so with exit 4 and leaves what was there. The limit on the size of a
# file (ulimit -f) stands in for the disk. Usage: full-disk.sh PROGRAM SAMPLE-FOLDER
set -eu
program=$(cd "$(dirname "$1")" && pwd)/$(basename "$1")
sample=$(cd "$2" && pwd)
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT INT TERM
cd "$folder"
failed=0 passed=0

expect() { # WHAT CODE WANTED
    if [ "$2" -eq "$3" ] && [ -s err ] && grep -q '^ridgetally: ' err; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "full-disk: $1: exit $2 instead of $3"
        cat err
    fi
}
within() { # BLOCKS ARGUMENT...: run with files limited to so many blocks of 512 bytes
    blocks=$1
    shift
    code=0
    # without a handler the signal would kill; ignored, the write fails as on a full disk
    (trap '' XFSZ && ulimit -f "$blocks" && exec "$program" "$@") > out 2> err || code=$?
}

"$program" new --store store.db > /dev/null
cp store.db before.db
# A full disk still takes writes into what a file holds already, so the limits begin at the empty store's size.
held=$(($(wc -c < store.db) / 512))
for more in 0 8 24 64 120 200 400; do
    blocks=$((held + more))
    within $blocks load --store store.db "$sample/implants.csv"
    if [ "$code" -ne 1 ]; then # 1: it fitted, and rows of the sample are refused
        expect "load within $blocks blocks" $code 4
        # by what they hold: pages that were free before the load are not restored
        [ "$(sqlite3 store.db .dump | cksum)" = "$(sqlite3 before.db .dump | cksum)" ] ||
            { failed=$((failed + 1)); echo "full-disk: load changed the store"; }
    fi
    rm -f store.db store.db-journal
    cp before.db store.db
done
within 100 backup copy.db --store store.db
expect "backup" $code 4
within 100 new --store other.db
expect "new" $code 4
for file in copy.db other.db *.part-*; do
    if [ -e "$file" ]; then failed=$((failed + 1)); echo "full-disk: $file was left behind"; fi
done
for words in "load --dry-run --store store.db $sample/implants.csv" "doubts --store store.db" "verify --store store.db" \
    "new --store third.db" "backup fourth.db --store store.db"; do
    code=0
    # shellcheck disable=SC2086
    "$program" $words > /dev/full 2> err || code=$?
    expect "$words > /dev/full" $code 4
done
echo "full-disk: $passed passed, $failed failed"
[ "$failed" -eq 0 ]
