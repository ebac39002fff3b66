# load on files no one prepared: read when plain, else refused by name, line and remedy, and nothing is written.

"$GENERATOR" --clean --out .
head -n 5 implants.csv > small.csv

fresh() {
    rm -f store.db
    run new --store store.db
    exits 0
}

rows() {
    sqlite3 store.db "SELECT count(*) FROM $1"
}

# The file is refused as a whole with these words, and the store is as it was.
refused() { # FILE WORDS
    fresh
    before=$(sqlite3 store.db .dump | cksum)
    run load --store store.db "$1"
    exits 3
    prints < /dev/null
    warns "ridgetally: $1"
    warns "$2"
    holds test "$before" = "$(sqlite3 store.db .dump | cksum)"
}

enters() { # FILE
    fresh
    run load --store store.db "$1"
    exits 0
    says "4 rows: 4 new, 0 changed, 0 unchanged, 0 refused"
    holds test "$(rows implant)" = 4
}

test_that "byte order mark, CR LF, CR, upper case headers and blank lines are fine"
{ printf '\357\273\277'; sed 's/$/\r/' small.csv; } > bom.csv
tr '\n' '\r' < small.csv > cr.csv
{ head -n 1 small.csv | tr 'a-z' 'A-Z'; printf '\n'; tail -n 4 small.csv; printf '\n\n'; } > upper.csv
for file in bom.csv cr.csv upper.csv; do enters "$file"; done

test_that "columns in any order, without the optional ones"
cut -d, -f2,1,4,3 small.csv > few.csv
awk -F, -v OFS=, '{ print $4, $2, $3, $1 }' small.csv > order.csv
for file in few.csv order.csv; do enters "$file"; done

test_that "a quoted newline stays inside its cell"
sed '2s/line-[0-9]/"line\nbreak, ""q"""/' small.csv > newline.csv
enters newline.csv
holds test "$(sqlite3 store.db "SELECT count(*) FROM implant WHERE implant_line = 'line
break, \"q\"'")" = 1

test_that "rows that stand twice in a file enter once"
{ cat small.csv; tail -n 4 small.csv; } > twice.csv
fresh
run load --store store.db twice.csv
exits 0
says "8 rows: 4 new, 0 changed, 4 unchanged, 0 refused"
holds test "$(rows implant)" = 4

test_that "one key with two values in a file: the first enters, the second waits"
{ cat small.csv; sed -n '2s/,no,/,yes,/p' small.csv; } > two.csv
fresh
run load --store store.db two.csv
exits 1
says "5 rows: 4 new, 0 changed, 0 unchanged, 1 refused"
says "line 6: "

test_that "other separators are named"
sed 's/,/;/g' small.csv > semicolon.csv
sed 's/,/\t/g' small.csv > tab.csv
refused semicolon.csv "separated by semicolons: save the sheet as CSV with commas"
refused tab.csv "separated by tabs: save the sheet as CSV with commas"

test_that "decimal commas are refused row by row"
sed 's/,\([0-9]*\)\.\([0-9]\),/,"\1,\2",/' small.csv > comma.csv
fresh
run load --store store.db comma.csv
exits 1
says "4 rows: 0 new, 0 changed, 0 unchanged, 4 refused"
says "diameter_mm: not a number: write it with a decimal point, such as 1.5"
holds test "$(rows implant)" = 0

test_that "other encodings are named"
iconv -t UTF-16 small.csv > utf16.csv
iconv -t UTF-16LE small.csv > utf16le.csv
sed '3s/line-[0-9]/l\xefne/' small.csv > latin1.csv
refused utf16.csv "UTF-16"
refused utf16le.csv "not a text file"
refused latin1.csv "not UTF-8"
warns "latin1.csv:3"

test_that "dates of a spreadsheet are refused, never guessed"
for date in 13.07.2020 07/13/2020 44025 "13 Jul 2020" 2020-7-13 20200713 2020-02-30 "2020-07-13 00:00:00"; do
    awk -F, -v OFS=, -v date="$date" 'NR > 1 { $4 = date } { print }' small.csv > dates.csv
    fresh
    run load --store store.db dates.csv
    exits 1
    says "4 refused"
    says "placed_on: not an existing date: write it as YYYY-MM-DD, such as 2026-03-31"
done

test_that "an empty file, a header alone, and a header of something else"
: > empty.csv
head -n 1 small.csv > header.csv
printf 'a,b,c\n1,2,3\n' > other.csv
printf '\n\n' > blank.csv
refused empty.csv "this file is empty"
refused header.csv "a header and no rows"
refused other.csv "the header does not tell which records these are"
refused blank.csv "ridgetally: blank.csv"

test_that "a binary, a workbook, a database, a folder and nothing"
head -c 5000 "$RIDGETALLY" > binary.csv
printf 'PK\003\004rest' > workbook.csv
fresh
cp store.db database.csv
mkdir folder.csv
refused binary.csv "not a text file"
refused workbook.csv "a spreadsheet workbook, not CSV"
refused database.csv "a database, not CSV"
refused folder.csv "this is a folder"
refused none.csv "No such file"

test_that "an open quote is named by the row it begins in, and nothing of the file enters"
sed '3s/,line/,"line/' small.csv > open.csv
refused open.csv "open.csv:3: a quote that begins in this row is never closed"

test_that "a row with too many cells is refused, the others enter"
sed '3s/$/,one,two/' small.csv > ragged.csv
fresh
run load --store store.db ragged.csv
exits 1
says "4 rows: 3 new, 0 changed, 0 unchanged, 1 refused"
says "line 3: "

test_that "a column that stands twice is refused, an unknown one is told"
sed 's/^patient,/patient,patient,/' small.csv > double.csv
refused double.csv "stands in the header twice"
sed '1s/$/,shoe_size/; 2,$s/$/,42/' small.csv > unknown.csv
enters unknown.csv
says "columns that no one knows, left out: shoe_size"

test_that "one bad file among good ones changes nothing of its own"
fresh
run load --store store.db small.csv semicolon.csv
exits 3
warns "semicolon.csv"

test_that "nothing typed as a number becomes nan or inf"
for cell in nan inf -inf 1e999 0x1F 1e3e 1,0 "1 0" -; do
    awk -F, -v OFS=, -v cell="\"$cell\"" 'NR > 1 { $7 = cell } { print }' small.csv > odd.csv
    fresh
    run load --store store.db odd.csv
    exits 1
    holds test "$(rows implant)" = 0
done
