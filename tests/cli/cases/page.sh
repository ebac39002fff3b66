# The page of the audit read back by a program of its own (tests/cli/check-page.c): every number on it is a cell of
# figures.csv, rounded; no other number stands in its sentences and tables.

run new --practice "Our practice"
run load "$SAMPLE/implants.csv" "$SAMPLE/followups.csv" "$SAMPLE/events.csv"

agrees() {
    "$CHECK_PAGE" "$1/audit.html" "$1/figures.csv" > checked || wrong "$1: $(tail -n 5 checked)"
}

test_that "every number of the page is a figure, in every quarter"
for quarter in 2020Q3 2021Q1 2022Q4 2023Q2 2024Q4 2025Q3 2026Q2; do
    run audit --period $quarter --out $quarter
    exits 0
    agrees $quarter
done

test_that "over all the records at once too"
run audit --from 2020-01-01 --to 2026-12-31 --out all
exits 0
agrees all
holds test "$(sed -n 's/^numbers: \([0-9]*\),.*/\1/p' checked)" -gt 500

test_that "with an operator whose name is markup, a path or a formula"
awk -F, -v OFS=, 'NR > 1 && $5 == "A" { $5 = "\"=1+1 <b>/50%|x\"" } { print }' "$SAMPLE/implants.csv" > nasty.csv
run new --store nasty.db
run load --store nasty.db nasty.csv
run audit --store nasty.db --out nasty
exits 0
agrees nasty
lacks nasty/audit.html "<b>"

test_that "the files are for the practice's eyes only"
holds test "$(stat -c %a 2026Q2)" = 700
holds test "$(stat -c %a 2026Q2/audit.html)" = 600
holds test "$(stat -c %a 2026Q2/figures.csv)" = 600

test_that "the page names the practice, the period and the last day used, and carries every caution"
has 2026Q2/audit.html "Our practice"
has 2026Q2/audit.html "1 April 2026 to 30 June 2026"
for key in past patient law films privacy published numbers; do
    words=$(sed -n "s/^page-caution\.$key = //p" "$SOURCE/reports/wording/cautions.txt")
    holds test -n "$words"
    has 2026Q2/audit.html "$words"
done

test_that "every wording the program asks for is there"
cat "$SOURCE"/reports/wording/*.txt | sed -n 's/^\([a-z][a-z_.-]*\) = .*/\1/p' | sort > keys
grep -oh '"[a-z][a-z-]*\(\.[a-z-][a-z-]*\)\{1,\}"' "$SOURCE"/src/output/*.c | tr -d '"' | grep -v '\.h$' | sort -u > asked
holds test "$(wc -l < asked)" -gt 100
while read -r key; do
    grep -qF -x -e "$key" keys || grep -q "^$key\." keys || wrong "no wording '$key'"
done < asked
