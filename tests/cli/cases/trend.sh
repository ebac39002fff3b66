# One operator over time: the page, its figures, and the baselines that a recorded audit freezes.

run new --practice "Our practice"
run load "$SAMPLE/implants.csv" "$SAMPLE/followups.csv" "$SAMPLE/events.csv"

test_that "a trend needs an operator, and an unknown one is told who there are"
run trend --period 2026Q2
exits 2
warns "--operator LABEL"
run trend --operator Z --period 2026Q2
exits 2
warns "no operator Z is in the records"
warns "A, B, C"
holds test ! -e trend

test_that "the page is written with the figures it shows, for the practice's eyes only"
for operator in A B C; do
    run trend --operator $operator --period 2026Q2 --out $operator
    exits 0
    has out "$operator/trend.html"
    "$CHECK_PAGE" $operator/trend.html $operator/figures.csv > checked || wrong "$operator: $(tail -n 5 checked)"
    has $operator/trend.html "Trend of operator $operator"
    holds test "$(stat -c %a $operator/trend.html)" = 600
done
holds test "$(sed -n 's/^numbers: \([0-9]*\),.*/\1/p' checked)" -gt 200

test_that "no row of another operator is in it, and the rows are those of the audit"
holds sh -c "! cut -d, -f4 B/figures.csv | grep -qE '^\"?[AC](\\||\$)'"
run figures --period 2026Q2
exits 0
holds test "$(grep -cvxFf out B/figures.csv)" = 0

test_that "case mix comes before any outcome"
holds test "$(grep -n 'id="cases"' B/trend.html | cut -d: -f1)" -le "$(grep -n 'id="depth"' B/trend.html | cut -d: -f1)"
holds test "$(grep -bo 'id="cases"' B/trend.html | head -1 | cut -d: -f1)" -lt "$(grep -bo 'id="signals"' B/trend.html | head -1 | cut -d: -f1)"
holds test "$(grep -bo 'id="signals"' B/trend.html | head -1 | cut -d: -f1)" -lt "$(grep -bo 'id="depth"' B/trend.html | head -1 | cut -d: -f1)"

test_that "figures and trend freeze nothing; the first recorded audit does, and later ones keep it"
holds test "$(sqlite3 practice.db 'SELECT count(*) FROM operator_baseline')" = 0
run audit --period 2025Q4
exits 0
frozen=$(sqlite3 practice.db 'SELECT * FROM operator_baseline ORDER BY operator, term')
# A's others have too few failures by then: nothing to freeze yet
holds test "$(sqlite3 practice.db "SELECT group_concat(DISTINCT operator) FROM operator_baseline WHERE fitted_to = 20453")" = B,C
run audit --period 2026Q2
exits 0
holds test "$frozen" = "$(sqlite3 practice.db "SELECT * FROM operator_baseline WHERE operator <> 'A' ORDER BY operator, term")"
holds test "$(sqlite3 practice.db "SELECT DISTINCT fitted_to FROM operator_baseline WHERE operator = 'A'")" = 20634
run figures --period 2026Q2
has out "B|constant|2025-12-31"
lacks out "B|constant|2026-06-30"
run figures --period 2025Q3
has out "B|constant|2025-09-30"

test_that "filters are said on the page"
run trend --operator A --smoking never --out part
exits 0
has part/trend.html "smoking never"
