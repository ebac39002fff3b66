# The page of the audit read back by a program of its own (tests/cli/check-page.c): every number on it, those of its charts too, is
# a cell of figures.csv, rounded; no other number stands in its sentences and tables, and in charts and headings only what it knows.

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

# SED: a change to the page of a quarter. The page must differ by it, be refused, and the complaint name what was found.
refused() {
    sed "$1" 2026Q2/audit.html > changed.html
    if cmp -s changed.html 2026Q2/audit.html; then wrong "nothing to change: $1"; fi
    if "$CHECK_PAGE" changed.html 2026Q2/figures.csv > checked; then wrong "let pass: $1"; fi
    has checked "$2"
}

test_that "a page with another number in one of its charts is refused"
refused '0,/data-part="n_events">\([0-9]*<\/tspan> of\)/s//data-part="n_events">9\1/' "n_events shown as 9"
refused '0,/<text data-figure="survival\/at_risk[^>]*>/s//&1/' "n_implants shown as 1"
refused '0,/\(<text font-weight="600">bias <tspan [^>]*>\)[^<]*/s//\17.77/' "value shown as 7.77"
refused '0,/\(<text[^>]* data-part="value">\)[^<]*/s//\1123/' "value shown as 123"

test_that "and one with a number in a chart that names no row, or is no name or tick"
refused '0,/<text data-figure="survival\/at_risk[^>]*>/s//<text>/' "a number that is no figure"
refused '0,/<text class="tick">/s//<text class="tick">mean /' "a number that is no figure: mean "
refused '0,/ class="name">D1</s// class="name">D7</' "a number that is no figure: 7"
refused 's/data-figure="survival\/at_risk/data-figure="survival\/at_rest/' "0 figure rows for survival/at_rest"

test_that "and one with a count in a caption, a heading or the head of a row"
refused '0,/<span class="caption">/s//&38 implants. /' "a number that is no figure: 38 implants"
refused '0,/<h3>/s//&In 38: /' "a number that is no figure: 38: "
refused '0,/<th scope="row">/s//&38 /' "a number that is no figure: 38 "

test_that "and one with another number in the remark of a row"
refused '0,/[0-9]* left out for a fact/s//999 left out for a fact/' "a number that is no figure: 999 left out"

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
