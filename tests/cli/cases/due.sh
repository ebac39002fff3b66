# due: the list, its page, filters, codes joined again with the labels of a sheet.

run new --practice "Our practice" --primary-reader R1
run load --store practice.db "$SAMPLE/implants.csv" "$SAMPLE/followups.csv" "$SAMPLE/events.csv"

test_that "due writes the page, the list and its numbers, and prints the path of the page"
run due --as-of 2026-06-30
exits 0
silent
prints <<'END'
due-2026-06-30/due.html
END
has due-2026-06-30/due.html "Our practice"
has due-2026-06-30/due.html "no diagnosis"
has due-2026-06-30/due.html "Take none for the audit"
has due-2026-06-30/due.html "Renvert"
holds test "$(stat -c %a due-2026-06-30/due.html due-2026-06-30/due.csv due-2026-06-30 | tr '\n' ' ')" = "600 600 700 "

test_that "days are written in one way on the page, and as ISO dates in the list"
sed -n '/<table/,/<\/table>/p' due-2026-06-30/due.html | sed 's/<[^>]*>/ /g' > cells
has cells "last seen 30 March 2026;"
holds test "$(grep -cE ' [0-9]{4}-[0-9]{2}-[0-9]{2}[ ,;]' cells)" = 0
has due-2026-06-30/due.csv "last seen 2026-03-30;"

test_that "every number of the page is a row beside it, and these are rows of figures"
holds "$CHECK_PAGE" due-2026-06-30/due.html due-2026-06-30/due-figures.csv
run figures --period 2026Q2
grep '^flow,due_cases,' out > a
grep '^flow,due_cases,' due-2026-06-30/due-figures.csv > b
holds test -s a
same a b
count 6 cat a

test_that "the counts are those of the list"
sqlite3 list.db ".import --csv due-2026-06-30/due.csv l" ".import --csv due-2026-06-30/due-figures.csv f"
holds test "$(sqlite3 list.db "SELECT count(*) FROM f WHERE measure = 'due_cases' AND value + 0 <> (SELECT count(*) FROM l WHERE list = level)")" = 0
holds test "$(sqlite3 list.db "SELECT count(DISTINCT list) FROM l")" = 6

test_that "recalls are those of the tables: seen by nobody for 365 days, in place, not moved, not dead"
sqlite3 practice.db "WITH gone AS (SELECT i.id FROM implant i JOIN event e ON e.patient_id = i.patient_id
        WHERE e.happened_on <= 20634 AND ((e.event IN ('removed', 'elective') AND coalesce(e.implant_id, i.id) = i.id AND e.happened_on >= i.placed_on) OR e.event = 'died')),
    seen AS (SELECT i.id, i.patient_id, max(i.placed_on, coalesce((SELECT max(seen_on) FROM reading r WHERE r.implant_id = i.id AND r.seen_on BETWEEN i.placed_on AND 20634), 0)) AS day
        FROM implant i WHERE i.placed_on <= 20634),
    moved AS (SELECT s.id FROM seen s JOIN event e ON e.patient_id = s.patient_id WHERE e.event = 'moved_away' AND e.happened_on BETWEEN s.day AND 20634)
    SELECT p.label FROM patient p JOIN seen s ON s.patient_id = p.id
    GROUP BY p.id HAVING max(s.day) < 20634 - 365 AND sum(s.id NOT IN (SELECT id FROM gone) AND s.id NOT IN (SELECT id FROM moved)) > 0
    ORDER BY p.label" > expected_recalls
sqlite3 list.db "SELECT patient FROM l WHERE list = 'recall' ORDER BY patient" > recalls
holds test -s recalls
same expected_recalls recalls

test_that "the list as CSV goes to the output, and is the same"
run due --as-of 2026-06-30 --as csv
exits 0
silent
same out due-2026-06-30/due.csv

test_that "without a day it is that of the latest record"
run due --out latest
exits 0
has latest/due.html "Period: $(sqlite3 practice.db "SELECT strftime('%d', d) + 0 FROM (SELECT date(max(max(placed_on), (SELECT max(seen_on) FROM reading), (SELECT max(happened_on) FROM event), max(coalesce(loaded_on, 0)), max(coalesce(uncovered_on, 0))) * 86400, 'unixepoch') AS d FROM implant)") "

test_that "filters narrow the list, and the page says so"
run due --as-of 2026-06-30 --operator B --out of-b
exits 0
has of-b/due.html "Only: operator B"
sqlite3 list.db ".import --csv of-b/due.csv b"
holds test "$(sqlite3 list.db "SELECT count(*) > 0 FROM b")" = 1
holds test "$(sqlite3 list.db "ATTACH 'practice.db' AS p; SELECT count(*) FROM b WHERE implant <> '' AND NOT EXISTS
    (SELECT 1 FROM p.implant i JOIN p.patient q ON q.id = i.patient_id WHERE q.label = b.patient AND i.label = b.implant AND i.operator = 'B')")" = 0

test_that "bad calls are bad use"
for words in "--as-of 2026-02-30" "--as table" "--as csv --out x" "--key k" "--reveal $SAMPLE/implants.csv" "--operator D"; do
    # shellcheck disable=SC2086
    run due $words
    exits 2
done
holds test ! -e x

test_that "codes are joined with the labels of the sheet, for this list only"
run new --store coded.db
run load --store coded.db --pseudonym --key key.txt "$SAMPLE/implants.csv" "$SAMPLE/followups.csv" "$SAMPLE/events.csv"
run due --store coded.db --as-of 2026-06-30 --as csv
exits 0
holds grep -q '^recall,K' out
run due --store coded.db --as-of 2026-06-30 --as csv --reveal "$SAMPLE/implants.csv" --key key.txt
exits 0
silent
# the same list as that of the store of labels; doubts are numbered as they were raised, which depends on the codes
sed 's/doubt [0-9]*//' out | grep -v '^contradiction' > revealed
sed 's/doubt [0-9]*//' due-2026-06-30/due.csv | grep -v '^contradiction' > labels
same labels revealed
head -n 40 "$SAMPLE/implants.csv" > part.csv
run due --store coded.db --as-of 2026-06-30 --as csv --reveal part.csv --key key.txt
exits 0
warns "are not in the sheet: they keep their codes"
run due --store coded.db --as-of 2026-06-30 --as csv --reveal part.csv
exits 2
warns "no key is named"

test_that "labels that look like formulas or markup are harmless"
printf 'patient,implant,placed_on\n"=cmd|A1",<b>x</b>,2020-01-01\n' > odd.csv
run new --store odd.db
run load --store odd.db odd.csv
run due --store odd.db --as-of 2022-01-01 --out odd
exits 0
has odd/due.csv "'=cmd|A1"
has odd/due.html "&lt;b&gt;x&lt;/b&gt;"
lacks odd/due.html "<b>x</b>"

test_that "the audit ends with its case lists, and leaves them out when told to"
run audit --period 2026Q2 --out with
exits 0
has with/audit.html '<section class="chapter" id="cases"'
holds "$CHECK_PAGE" with/audit.html with/figures.csv
run audit --period 2026Q2 --without-cases --out without
exits 0
lacks without/audit.html 'id="cases"'
same with/figures.csv without/figures.csv
for label in $(sqlite3 practice.db "SELECT label FROM implant WHERE label GLOB '*@*' OR length(label) > 6"); do lacks without/audit.html "$label"; done
