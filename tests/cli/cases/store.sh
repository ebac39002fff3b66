# The store on the command line: made, missing, foreign, newer, damaged, copied, undone.

test_that "new makes an empty store that only its owner can read"
run new
exits 0
prints <<'END'
practice.db: an empty store
END
silent
holds test "$(stat -c %a practice.db)" = 600
run verify
exits 0

test_that "new never touches an existing file"
echo precious > precious.db
run new --store precious.db
exits 2
warns "precious.db"
has precious.db precious
run new
exits 2

test_that "new --sheets writes the sheets and the code list, and load takes the sheets' header"
run new --store sheets.db --sheets sheets
exits 0
for kind in implants followups events; do
    holds test "$(head -n 1 "sheets/$kind.csv")" = "$(head -n 1 "$SAMPLE/$kind.csv")"
    count 1 cat "sheets/$kind.csv"
done
has sheets/codes.txt "placement | uncovering | loading | review"
run new --store again.db --sheets sheets
exits 2
warns "sheets"
holds test ! -e again.db

test_that "the store is named by --store, then RIDGETALLY_STORE, then practice.db"
RIDGETALLY_STORE=variable.db
export RIDGETALLY_STORE
run new
exits 0
holds test -e variable.db
run new --store option.db
exits 0
holds test -e option.db
unset RIDGETALLY_STORE

test_that "verbs on a missing store name it and make nothing"
for words in "doubts" "figures" "audit" "verify" "undo 1" "backup copy.db" "load $SAMPLE/events.csv" "quarter $SAMPLE/events.csv"; do
    # shellcheck disable=SC2086
    run $words --store nowhere.db
    exits 3
    prints < /dev/null
    warns "ridgetally: nowhere.db: "
    holds test ! -e nowhere.db
done

test_that "a foreign file is never written"
sqlite3 foreign.db 'CREATE TABLE t (x); INSERT INTO t VALUES (1)'
printf 'just text\n' > text.db
: > empty.db
cksum foreign.db text.db empty.db > before
for store in foreign.db text.db empty.db; do
    for words in doubts audit verify "load $SAMPLE/events.csv"; do
        # shellcheck disable=SC2086
        run $words --store "$store"
        exits 3
        warns "ridgetally: $store: "
    done
done
cksum foreign.db text.db empty.db > after
same before after

test_that "a newer store is refused"
cp practice.db newer.db
sqlite3 newer.db 'PRAGMA user_version = 999'
run doubts --store newer.db
exits 3
warns "newer.db"
warns "newer"

test_that "a folder as a store is refused"
mkdir folder.db
run doubts --store folder.db
exits 3
warns "folder.db"

run load "$SAMPLE/implants.csv" "$SAMPLE/followups.csv" "$SAMPLE/events.csv"

test_that "the same files again change nothing"
run doubts --as csv
cp out before
sqlite3 practice.db 'SELECT * FROM implant; SELECT * FROM reading; SELECT * FROM event' > rows
run load "$SAMPLE/events.csv" "$SAMPLE/implants.csv" "$SAMPLE/followups.csv"
says "0 new, 0 changed, "
run doubts --as csv
cut -d, -f1-9 before > a
cut -d, -f1-9 out > b
same a b
sqlite3 practice.db 'SELECT * FROM implant; SELECT * FROM reading; SELECT * FROM event' > rows2
same rows rows2

test_that "load prints a batch for each file, and takes files in the order of their kinds"
run new --store order.db
run load --store order.db "$SAMPLE/events.csv" "$SAMPLE/followups.csv" "$SAMPLE/implants.csv"
exits 1
sed -n 's/^batch \([0-9]*\): \([a-z]*\) from.*/\1 \2/p' out > order
holds test "$(tr '\n' ' ' < order)" = "1 implants 2 followups 3 events "

test_that "a dry run reports the same and writes nothing"
run new --store dry.db
before=$(cksum < dry.db)
run load --dry-run --store dry.db "$SAMPLE/implants.csv"
exits 1
says "would be batch 1: implants"
says "dry run: nothing was written"
holds test "$before" = "$(cksum < dry.db)"

test_that "undo takes a batch back out, but not from under later ones"
run figures --store order.db
cp out whole
run undo 1 --store order.db
exits 2
warns "later batches touch rows of batch 1: batch 2 ("
warns "undo batch 3 first"
run undo 3 --store order.db
exits 0
holds test "$(sqlite3 order.db 'SELECT count(*) FROM event')" = 0
run load --store order.db "$SAMPLE/events.csv"
exits 1
run figures --store order.db
same whole out
run undo 99 --store order.db
holds test "$status" -ne 0

test_that "backup makes a copy that is a store, and replaces only such a copy"
run backup copy.db
exits 0
run figures --store copy.db
cp out a
run figures
same a out
holds test "$(stat -c %a copy.db)" = 600
run backup copy.db
exits 0
run backup precious.db
exits 2
has precious.db precious
run backup practice.db
holds test "$status" -ne 0
run verify
exits 0

test_that "verify tells a damaged store from a good one"
cp practice.db damaged.db
size=$(stat -c %s damaged.db)
dd if=/dev/zero of=damaged.db bs=1 seek=$((size / 2)) count=4096 conv=notrunc 2> /dev/null
run verify --store damaged.db
exits 3
warns "damaged.db"
cp practice.db changed.db
sqlite3 changed.db 'DELETE FROM patient WHERE id = (SELECT min(id) FROM patient)'
run verify --store changed.db
exits 3
warns "changed.db"

test_that "a changed digit in a cell is told, no figure is made from it, and no copy replaces a good one"
cp practice.db digit.db
LC_ALL=C sed -i 's/implants\.csv/implants.cs7/g' digit.db
holds test "$(sqlite3 digit.db 'SELECT min(file_name) FROM batch; PRAGMA integrity_check' | tr '\n' ' ')" = "events.csv ok "
run verify --store digit.db
exits 3
warns "pages are not as they were written, the first is page "
run backup good.db
exits 0
before=$(cksum < good.db)
run backup good.db --store digit.db
exits 3
warns "the store is damaged (a page is not as it was written)"
holds test "$before" = "$(cksum < good.db)"

test_that "doubts never name a case on stderr, and refused ids are kept only as a hash"
run doubts --as csv
exits 0
silent
says "followups.csv"
holds sh -c '! grep -q ",99z," out'
holds sh -c '! sqlite3 practice.db .dump | grep -q "99z"'

test_that "doubts has a table and CSV, and no third form"
run doubts
exits 0
says "number"
run doubts --as html
exits 2
warns "--as is table or csv, not 'html'"

test_that "a full disk under the output of a verb is a failure of the system"
for words in doubts figures "figures --as json" "figures --catalogue"; do
    status=0
    # shellcheck disable=SC2086
    "$RIDGETALLY" $words > /dev/full 2> err || status=$?
    command_line="ridgetally $words > /dev/full"
    exits 4
    warns "ridgetally: "
done
