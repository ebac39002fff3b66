# What all methods of reckon share: options, levels, groups, terms, left-out rows, reasons.

cat > t.csv <<'END'
unit,side,count,total,x,y
10,L,1,20,1,1.5
9,R,2,30,2,2.5
10,R,0,10,3,2
9,L,3,40,4,5
b|c,L,1,10,5,4
END
sed '/b|c/d' t.csv > numeric.csv

test_that "levels stand in numeric order when all are numbers, else in order of bytes"
run reckon funnel --count count --total total --by unit --target 0.1 numeric.csv
exits 0
count 2 sh -c "grep -n '^estimate' out | cut -d: -f2 | head -2"
holds sh -c "grep '^estimate' out | cut -d, -f2 | tr '\n' ' ' | grep -qx '9 10 '"
run reckon funnel --count count --total total --by unit --target 0.1 t.csv
holds sh -c "grep '^estimate' out | cut -d, -f2 | tr '\n' ' ' | grep -qxF '10 9 b\|c '"

test_that "--levels sets the order, keeps a level without rows, and must name every level there is"
run reckon funnel --count count --total total --by unit --target 0.1 --levels '10,8,9,b|c' t.csv
exits 0
holds sh -c "grep '^estimate' out | cut -d, -f2,4 | head -2 | tail -1 | grep -qx '8,'"
warns "estimate (8): no trials in this group"
run reckon funnel --count count --total total --by unit --target 0.1 --levels 10,9 t.csv
exits 3
warns "t.csv:6: column unit: 'b|c' is not among the levels given"
run reckon funnel --count count --total total --by unit --target 0.1 --levels 10,9,10 t.csv
exits 2
warns "--levels names '10' twice"

test_that "with several category columns --levels names its column"
run reckon funnel --count count --total total --by unit,side --target 0.1 --levels R,L t.csv
exits 2
warns "--levels COLUMN=A,B,C"
run reckon funnel --count count --total total --by unit,side --target 0.1 --levels side=R,L t.csv
exits 0
holds sh -c "grep '^estimate' out | cut -d, -f2 | tr '\n' ' ' | grep -qxF '10|R 10|L 9|R 9|L b\|c|L '"

test_that "terms: intercept, column, category=level, products joined by x, the first level the reference"
run reckon linear --response y --numbers x --categories side --products "x x side" t.csv
exits 0
says "coefficient,intercept,,"
says "coefficient,side=R,,"
says "coefficient,x x side=R,,"
says_not "side=L"
run reckon linear --response y --numbers x --categories side --levels R,L t.csv
says "coefficient,side=L,,"
run reckon linear --response y --numbers x --products "x x side" t.csv
exits 2
warns "the product 'x x side'"

test_that "rows with an empty needed cell are left out and counted; other columns may be empty"
printf 'count,total,note\n1,10,\n,10,a\n2,,b\n3,40,\n' > holes.csv
run reckon funnel --count count --total total --target 0.1 holes.csv
exits 0
warns "holes.csv: 2 of 4 rows left out, empty cell in count (1), total (1)"
says "estimate,1,,0.1"
says "estimate,4,,0.075"
count 2 grep '^estimate' out

test_that "an undefined quantity keeps its row, and its reason is said once"
printf 'count,total\n0,0\n0,0\n1,5\n' > zero.csv
run reckon funnel --count count --total total --target 0.1 zero.csv
exits 0
count 3 grep '^lower95' out
count 2 grep '^lower95,[12],,$' out
count 1 grep '^ridgetally: lower95' err
warns "ridgetally: lower95 (2 rows, the first 1): no trials in this group"

test_that "a bad cell is named by file, line and column"
printf 'event,p\n0,0.1\n2,0.1\n' > event.csv
run reckon cusum --event event --p0 0.1 --limit 3 event.csv
exits 3
complains <<'END'
ridgetally: event.csv:3: column event: '2' is not an event: write 1 for an event, 0 for none, or leave the cell empty
END
run reckon cusum --event event --p0 event --limit 3 event.csv
exits 3
printf 'count,total\n3,2\n' > more.csv
run reckon funnel --count count --total total more.csv
exits 3
warns "more.csv:2: column count: '3' is more events than trials"

test_that "options: unknown, twice, without value, of the wrong kind; two files; no file; no method"
run reckon control --valeu x t.csv
exits 2
run reckon control --value x --value y t.csv
exits 2
warns "--value is given twice"
run reckon control t.csv --value
exits 2
warns "--value needs a value"
run reckon control --value x --baseline -1 t.csv
exits 2
warns "--baseline cannot be '-1'"
run reckon control t.csv
exits 2
warns "reckon control needs --value"
run reckon control --value x t.csv t.csv
exits 2
run reckon control --value x
exits 2
warns "no file given"
run reckon kontrol --value x t.csv
exits 2
warns "there is no method 'kontrol'"
run reckon control --value=x t.csv
exits 0

test_that "numbers alone need no file; columns give a row each"
run reckon precision --sd 1 --difference 0.5
exits 0
says "cases,,,64"
run reckon precision --sd x --width 1 t.csv
exits 0
says "cases,5,,"

test_that "help lists the methods, and the options of each"
run reckon --help
exits 0
says "  knee "
run reckon knee --help
exits 0
says "--response COLUMN"
says "(needed)"

test_that "a full disk is said"
if [ -c /dev/full ]; then
    status=0
    "$RIDGETALLY" reckon control --value x t.csv > /dev/full 2> err || status=$?
    command_line="reckon control to a full disk"
    exits 4
    warns "cannot write the output"
fi

test_that "numbers have 15 significant digits, and huge and tiny ones come through"
printf 'x\n1e300\n3e300\n2e300\n' > huge.csv
run reckon control --value x huge.csv
exits 0
says "centre,,,2e+300"
printf 'x\n1e-300\n3e-300\n2e-300\n' > tiny.csv
run reckon control --value x tiny.csv
says "centre,,,2e-300"
printf 'x\n0.1\n0.2\n0.3\n0.7\n' > third.csv
run reckon control --value x third.csv
says "moving_range,,,0.2"
says "lower,,,-0.206914893617021"
