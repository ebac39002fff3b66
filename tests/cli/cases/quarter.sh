# quarter: load, doubts, audit in one go.

test_that "without a store it says so, and makes none"
run quarter "$SAMPLE/implants.csv"
exits 3
warns "practice.db"
holds test ! -e practice.db

test_that "it ends in three lines: loaded, mend first, report"
run new --practice "Our practice"
run quarter "$SAMPLE/events.csv" "$SAMPLE/followups.csv" "$SAMPLE/implants.csv"
exits 1
silent
tail -n 3 out > last
run doubts --as csv
waiting=$(($(wc -l < out) - 1))
refused=$(cut -d, -f2 out | grep -c '^refused$')
has last "loaded: 448 implants, "
has last "mend first: $refused refused rows, then "
has last "lists all $waiting in this order"
has last "report: audit-2026Q2/audit.html"
count 3 cat last
holds test -s audit-2026Q2/audit.html

test_that "the refused rows of the three files add up in the first line"
run load --dry-run "$SAMPLE/implants.csv" "$SAMPLE/followups.csv" "$SAMPLE/events.csv"
says "would be batch"
total=$(sed -n 's/.* new, .* unchanged, \([0-9]*\) refused/\1/p' out | awk '{ n += $1 } END { print n }')
has last "rows corrected, $total refused"

test_that "the same files again change nothing, and the audit is the same"
cp audit-2026Q2/audit.html first.html
run quarter "$SAMPLE/implants.csv" "$SAMPLE/followups.csv" "$SAMPLE/events.csv"
says "loaded: 0 implants, 0 follow-up rows and 0 events new; 0 rows corrected"
same first.html audit-2026Q2/audit.html

test_that "another period and another folder can be asked for"
run quarter "$SAMPLE/events.csv" --period 2025Q4 --out there
says "report: there/audit.html"
holds grep -q "1 October" there/audit.html
run quarter "$SAMPLE/events.csv" --from 2025-01-01 --to 2025-12-31
says "report: audit-2025-01-01-to-2025-12-31/audit.html"

test_that "bad use is told before anything is loaded"
run quarter
exits 2
run quarter "$SAMPLE/events.csv" --period 2025Q5
exits 2
warns "2025Q5"
prints < /dev/null
run quarter "$SAMPLE/events.csv" --period 2025Q4 --from 2025-01-01
exits 2
warns "either --period or --from and --to"

test_that "a file that cannot be read stops the run before the audit"
rm -r there
run quarter none.csv --out there
exits 3
warns "none.csv"
holds test ! -e there

test_that "an audit of records without dates is refused in words"
run new --store empty.db
printf 'patient,implant,placed_on\n7,1,\n' > undated.csv
run quarter --store empty.db undated.csv
exits 3
holds test -s err

test_that "the options of load are those of quarter"
run new --store options.db
sed 's/,/;/g' "$SAMPLE/implants.csv" | tail -n +3 > headless
{ head -n 1 "$SAMPLE/implants.csv" | sed 's/,/;/g'; cat headless; } > implants-without-one.csv
run quarter --store options.db "$SAMPLE/implants.csv" "$SAMPLE/followups.csv" "$SAMPLE/events.csv" --text --period 2026Q2
exits 1
says_not "free text"
holds test "$(sqlite3 options.db "SELECT count(*) FROM event WHERE cause LIKE '% %'")" = 1
run quarter --store options.db --whole implants-without-one.csv --separator semicolon --period 2026Q2
exits 1
says "1 record gone from this sheet"
run quarter --store options.db --kind nothing "$SAMPLE/events.csv"
exits 2
warns "--kind is implants, followups or events, not 'nothing': see \`ridgetally quarter --help\`"
run quarter --store options.db --dry-run "$SAMPLE/events.csv"
exits 2
run new --store coded.db
run quarter --store coded.db --pseudonym --key quarter.key "$SAMPLE/implants.csv" --period 2026Q2
exits 1
warns "quarter.key is the new key"
holds test "$(sqlite3 coded.db "SELECT count(*) FROM patient WHERE label NOT GLOB 'K????????????-???'")" = 0
