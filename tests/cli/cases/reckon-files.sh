# reckon on files no one prepared: it names the file, the line and the remedy, or reads what is plain.

good() {
    printf 'unit,count,total\na,3,40\nb,5,60\nc,2,55\n' > good.csv
}
good
run reckon funnel --count count --total total --by unit good.csv
cp out good.out

test_that "the good file gives limits for every unit"
run reckon funnel --count count --total total --by unit good.csv
exits 0
silent
says "quantity,group,at,value"
says "upper998,c,,"
says "estimate,b,,0.0833333333333333"

test_that "a byte order mark, CR LF and blank lines change nothing"
{ printf '\357\273\277'; sed 's/$/\r/' good.csv; printf '\r\n\r\n'; } > bom.csv
run reckon funnel --count count --total total --by unit bom.csv
exits 0
same out good.out

test_that "standard input is read as -"
run_with good.csv reckon funnel --count count --total total --by unit -
exits 0
same out good.out

test_that "quoted newlines, commas and quotes stay one cell"
printf 'unit,count,total\n"a ""one"",\nand more",3,40\nb,5,60\n' > quoted.csv
run reckon funnel --count count --total total --by unit quoted.csv
exits 0
says 'estimate,"a ""one"",'
count 6 grep '^and more",,' out

test_that "a text that looks like a formula comes out as text"
printf 'unit,count,total\n=CMD(),3,40\n+1,5,60\n@x,1,30\n' > formula.csv
run reckon funnel --count count --total total --by unit formula.csv
exits 0
says 'estimate,\=CMD(),'
says "estimate,'@x,"
says_not "estimate,=CMD"

test_that "a decimal comma is said to be no number"
printf 'unit;count;total\na;3,5;40\n' > semicolon.csv
run reckon funnel --count count --total total --by unit semicolon.csv
exits 3
warns "semicolon.csv"
printf 'unit,count,total\na,"3,5",40\n' > comma.csv
run reckon funnel --count count --total total --by unit comma.csv
exits 3
warns "comma.csv:2"
warns "count"
says_not "nan"

test_that "an empty file, a header alone and blank lines alone"
: > empty.csv
run reckon funnel --count count --total total --by unit empty.csv
exits 3
warns "empty.csv"
printf 'unit,count,total\n' > header.csv
run reckon funnel --count count --total total --by unit header.csv
exits 0
says "quantity,group,at,value"
printf '\n\n\n' > blank.csv
run reckon funnel --count count --total total --by unit blank.csv
exits 3

test_that "a binary file, UTF-16, a directory and a missing file are refused by name"
head -c 4096 "$RIDGETALLY" > binary.csv
run reckon funnel --count count --total total --by unit binary.csv
exits 3
warns "binary.csv"
printf '\377\376u\0n\0i\0t\0\n\0' > utf16.csv
run reckon funnel --count count --total total --by unit utf16.csv
exits 3
warns "utf16.csv"
mkdir folder.csv
run reckon funnel --count count --total total --by unit folder.csv
exits 3
warns "folder.csv"
run reckon funnel --count count --total total --by unit none.csv
exits 3
warns "none.csv"

test_that "a ragged row is named by its line"
printf 'unit,count,total\na,3,40\nb,5\n' > ragged.csv
run reckon funnel --count count --total total --by unit ragged.csv
exits 3
warns "ragged.csv:3"

test_that "no cell makes the program print nan or inf"
for cell in nan inf -inf 1e400 0x10 '' ' ' NA; do
    printf 'unit,count,total\na,%s,40\nb,5,60\n' "$cell" > odd.csv
    run reckon funnel --count count --total total --by unit odd.csv
    holds sh -c 'cut -d, -f4 out | tail -n +2 | grep -viE "nan|inf" >/dev/null || [ ! -s out ]'
    holds sh -c '! cut -d, -f4 out | grep -qiE "nan|inf"'
done
