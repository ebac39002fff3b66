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

# The file enters, says how it was read, and the store holds what the plain file gives.
held() {
    sqlite3 store.db "SELECT p.label, i.label, tooth, placed_on, implant_line, diameter_mm, length_mm, planned_depth_mm, \
        achieved_depth_mm, stall_torque_ncm, final_torque_ncm, isq, tissue_mm, wall_buccal_mm, uncovered_on, loaded_on, \
        smoking FROM implant i JOIN patient p ON p.id = i.patient_id ORDER BY 1, 2"
}
enters small.csv
says "read as UTF-8, commas, decimal point, header on line 1"
held > plain
enters_as() { # FILE WORDS [OPTION...]
    file=$1 words=$2
    shift 2
    fresh
    run load --store store.db "$file" "$@"
    exits 0
    says "read as $words"
    says "4 rows: 4 new, 0 changed, 0 unchanged, 0 refused"
    held > foreign
}

test_that "other separators"
for pair in ';semicolons' '|bars' '	tabs'; do
    mark=${pair%"${pair#?}"}
    sed "s/,/$mark/g" small.csv > other.csv
    enters_as other.csv "UTF-8, ${pair#?}, decimal point, header on line 1"
    same plain foreign
done

test_that "decimal commas, between semicolons or in quotes"
sed 's/,/;/g; 2,$s/\./,/g' small.csv > comma.csv
enters_as comma.csv "UTF-8, semicolons, decimal comma, header on line 1"
same plain foreign
sed 's/\([0-9]*\)\.\([0-9]\)/"\1,\2"/g' small.csv > comma.csv
enters_as comma.csv "UTF-8, commas, decimal comma, header on line 1"
same plain foreign

test_that "between commas a decimal comma is refused row by row"
sed '3,$s/,\([0-9]*\)\.\([0-9]\),/,"\1,\2",/' small.csv > comma.csv
fresh
run load --store store.db comma.csv
exits 1
says "4 rows: 1 new, 0 changed, 0 unchanged, 3 refused"
says ": not a number: write it with a decimal point, such as 1.5"
holds test "$(rows implant)" = 1

test_that "decimals written both ways are named by line and value, and --decimal settles it row by row"
sed 's/,/;/g; 3,$s/\./,/g' small.csv > both.csv
refused both.csv "both.csv:3: '4,5' has a decimal comma, but line 2 has a decimal point"
fresh
run load --store store.db both.csv --decimal comma
exits 1
says "4 rows: 3 new, 0 changed, 0 unchanged, 1 refused"
says "line 2: diameter_mm 4.0: a number with a point in a sheet of decimal commas"

test_that "other encodings"
sed '3s/line-[0-9]/l\xefne\x80/' small.csv > windows.csv
iconv -f WINDOWS-1252 -t UTF-8 windows.csv > utf8.csv
enters_as utf8.csv "UTF-8, commas"
mv foreign plain_with_letters
enters_as windows.csv "Windows-1252, commas"
same plain_with_letters foreign
enters_as windows.csv "Windows-1252, commas" --encoding windows-1252
same plain_with_letters foreign
for encoding in UTF-16 UTF-16LE UTF-16BE; do
    iconv -f UTF-8 -t "$encoding" utf8.csv > utf16.csv
    enters_as utf16.csv "UTF-16 "
    same plain_with_letters foreign
done
{ cat utf8.csv; sed -n 3p windows.csv; } > mixed.csv
refused mixed.csv "mixed.csv:6: this line is not UTF-8 text: save the sheet as CSV (UTF-8), or state its --encoding"

test_that "a header further down, blank lines, repeated headers, units in brackets"
{
    printf 'Our cases, as of today\n\n,,\n'
    head -n 1 small.csv | sed 's/_mm/ (mm)/g; s/_ncm/ [N cm]/g; s/_/ /g' > header
    cat header
    sed -n 2,3p small.csv
    echo
    cat header
    tail -n 2 small.csv
} > further.csv
enters_as further.csv "UTF-8, commas, decimal point, header on line 4"
same plain foreign
fresh
run load --store store.db further.csv --header-line 5 --kind implants
exits 3
warns "further.csv:5: column patient is missing"

test_that "what is stated is taken, and wrong words are refused"
fresh
run load --store store.db small.csv --separator semicolon
exits 3
for pair in "--encoding ascii" "--separator ;" "--decimal ." "--header-line -1"; do
    run load --store store.db small.csv $pair
    exits 2
    warns "ridgetally: ${pair% *} "
    warns "see \`ridgetally load --help\`"
done

test_that "a pipe is read to its end and then looked at like a file; its kind and dialect are told by its header"
mkfifo pipe.csv
fresh
sed 's/,/;/g; 2,$s/\./,/g' small.csv > pipe.csv &
run load --store store.db pipe.csv
exits 0
says "batch 1: implants from pipe.csv"
says "read as UTF-8, semicolons, decimal comma, header on line 1"
says "4 rows: 4 new, 0 changed, 0 unchanged, 0 refused"
held > foreign
same plain foreign
fresh
run_with small.csv load --store store.db -
exits 0
says "batch 1: implants from standard input"
says "4 rows: 4 new, 0 changed, 0 unchanged, 0 refused"
held > foreign
same plain foreign
cat small.csv > pipe.csv &
run load --store store.db pipe.csv --kind followups
exits 3
warns "ridgetally: pipe.csv:1: column seen_on is missing"
printf 'a,b,c\n1,2,3\n' > pipe.csv &
run load --store store.db pipe.csv
exits 3
warns "ridgetally: pipe.csv:1: the header does not tell which records these are"
warns "or say --kind implants, followups or events"
run load --store store.db -
exits 3
warns "ridgetally: standard input: this file is empty"
holds test "$(wc -l < err)" -eq 1

test_that "a pipe leaves nothing in the folder of temporary files, and says when that cannot be written"
mkdir temporary
TMPDIR=$PWD/temporary
export TMPDIR
fresh
run_with small.csv load --store store.db -
exits 0
holds test -z "$(ls -A temporary)"
TMPDIR=$PWD/none
run_with small.csv load --store store.db - --kind implants
exits 4
warns "ridgetally: standard input: No such file or directory: name a folder for temporary files in TMPDIR"
unset TMPDIR

test_that "dates of a spreadsheet are refused, never guessed"
for date in 13.07.2020 07/13/2020 "13 Jul 2020" 2020-7-13 20200713 2020-02-30 "2020-07-13 00:00:00"; do
    awk -F, -v OFS=, -v date="$date" 'NR > 1 { $4 = date } { print }' small.csv > dates.csv
    fresh
    run load --store store.db dates.csv
    exits 1
    says "4 refused"
    says ": not an existing date: write it as YYYY-MM-DD, such as 2026-03-31"
done
awk -F, -v OFS=, 'NR > 1 { $4 = "44025" } { print }' small.csv > dates.csv
fresh
run load --store store.db dates.csv
exits 1
says "placed_on 44025: a day number of a spreadsheet, not a date: format the column as dates, YYYY-MM-DD, or load the sheet through a map"

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
refused workbook.csv "this workbook is damaged"
refused database.csv "a database, not CSV"
refused folder.csv "this is a folder"
printf '%%PDF-1.4 rest' > printed.csv
gzip -c small.csv > packed.csv
printf '<html><table><tr><td>patient</td></tr></table></html>' > page.csv
printf 'patient^implant^tooth\n1^2^36\n' > caret.csv
refused printed.csv "this is a printed page (PDF), not a table"
refused packed.csv "this file is packed: unpack it first"
refused page.csv "this is a web page or XML, not CSV"
refused caret.csv "columns are separated by commas, semicolons, tabs or bars, and one of the first 20 lines must name them"
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
run load --store store.db small.csv other.csv
exits 3
warns "other.csv"

test_that "nothing typed as a number becomes nan or inf"
for cell in nan inf -inf 1e999 0x1F 1e3e 1,0 "1 0" -; do
    awk -F, -v OFS=, -v cell="\"$cell\"" 'NR > 1 { $7 = cell } { print }' small.csv > odd.csv
    fresh
    run load --store store.db odd.csv
    exits 1
    holds test "$(rows implant)" = 0
done
