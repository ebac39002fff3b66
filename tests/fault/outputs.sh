#!/bin/sh
# `deck` and `trend` killed, interrupted and out of space: each file in their folder is whole or not there, and the store, in which
# a deck is recorded, is as before or as after. Usage: outputs.sh PROGRAM SAMPLE-FOLDER [MOMENTS]
set -eu
program=$(cd "$(dirname "$1")" && pwd)/$(basename "$1")
sample=$(cd "$2" && pwd)
moments=${3:-12}
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT INT TERM
cd "$folder"
SOURCE_DATE_EPOCH=1767225600 # one clock for all runs
export SOURCE_DATE_EPOCH
failed=0 passed=0 parts=0
wrong() {
    failed=$((failed + 1))
    echo "outputs: $1"
}
state() {
    sqlite3 "$1" .dump | sha256sum | cut -d' ' -f1
}
set_up() {
    rm -rf work.db work.db-journal out out-*
    cp before.db work.db
}

# look WHAT: all that the last run left is whole, and the store before or after.
look() {
    trouble=$failed
    find out out-* -type f 2> /dev/null > left || true
    while read -r file; do
        case $file in
        *.part-*) parts=$((parts + 1)) ;; # of a killed program, and known by its name
        *) cmp -s "$file" "whole/$file" || wrong "$1: $file is not whole" ;;
        esac
    done < left
    "$program" verify --store work.db > said 2>&1 || wrong "$1: $(cat said)"
    grep -qx "$(state work.db)" states || wrong "$1: a store in between"
    [ "$failed" -gt "$trouble" ] || passed=$((passed + 1))
}

"$program" new --store before.db > /dev/null
"$program" load --store before.db "$sample"/*.csv > said 2>&1 || [ $? -eq 1 ] || { cat said; exit 1; }

hit=0
for words in "deck --out out" "trend --operator B --out out"; do
    verb=${words%% *}
    state before.db > states
    set_up
    started=$(date +%s%N)
    # shellcheck disable=SC2086
    "$program" $words --store work.db > said 2>&1 || { cat said; exit 1; }
    took=$((($(date +%s%N) - started) / 1000))
    state work.db >> states
    rm -rf whole
    mkdir whole
    cp -r out* whole
    whole=$(find whole -type f | wc -l)
    [ "$whole" -ge 2 ] || wrong "$verb wrote $whole files"

    # signals: most towards the end, where the files are written
    awk -v n="$moments" -v took="$took" 'BEGIN { srand(20260103); for (i = 0; i < n; i++) printf "%.6f\n", took / 1e6 * sqrt(rand()) }' > at
    number=0
    while read -r moment; do
        number=$((number + 1))
        name=KILL
        [ $((number % 2)) -eq 0 ] || name=TERM
        set_up
        code=0
        # shellcheck disable=SC2086
        timeout --preserve-status -s "$name" "$moment" "$program" $words --store work.db > said 2>&1 || code=$?
        [ "$code" -lt 128 ] || hit=$((hit + 1))
        look "$verb, SIG$name after $moment s"
        if [ "$name" = TERM ] && grep -q '[.]part-' left; then wrong "$verb, SIGTERM left $(grep '[.]part-' left)"; fi
    done < at

    # no space: files may grow to so many blocks of 512 bytes only
    for blocks in 1 8 40 120; do
        set_up
        code=0
        # shellcheck disable=SC2086
        (trap '' XFSZ && ulimit -f $blocks && exec "$program" $words --store work.db) > said 2>&1 || code=$?
        [ "$code" -eq 4 ] && grep -q '^ridgetally: ' said || wrong "$verb within $blocks blocks: exit $code: $(cat said)"
        # a drawing that finds no space is left out of the page, which says so: such a page differs and is whole
        if grep -q gnuplot said; then
            grep -q '</html>' out/$verb.html && rm out/$verb.html
        fi
        look "$verb within $blocks blocks"
        if grep -q '[.]part-' left; then wrong "$verb within $blocks blocks left $(grep '[.]part-' left)"; fi
    done
done
echo "outputs: $passed passed, $failed failed; $hit runs ended by a signal, $parts temporary files of killed programs"
[ "$failed" -eq 0 ] && [ $((2 * hit)) -ge "$moments" ]
