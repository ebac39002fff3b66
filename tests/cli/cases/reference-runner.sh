# The reference suite's own runner: it must fail when a value, a name or a stated difference is wrong.

mkdir reference
cp -R "$SOURCE/tests/reference/." reference/
printf 'case one\nsource made up\nprovenance c\nrun control --value x data/x.csv\nexpected one.csv\nnames one.csv\ntolerance 1e-6\n' > one.txt
printf 'x\n1\n2\n4\n' > reference/data/x.csv
printf 'reference_quantity,reference_group,run,quantity,group,at,tolerance\nmean,%%1,,centre,,,\nrange,i=%%1,,range,,%%1,\n' > reference/names/one.csv
cp one.txt reference/cases/one.txt

# suite EXPECTED-ROWS: run the one case with these expected values
suite() {
    printf 'case_id,quantity,group,value\n%s\n' "$1" > reference/expected/one.csv
    status=0
    command_line="reference suite with $1"
    sh reference/run one.txt > out 2> err || status=$?
}

test_that "right values pass"
suite 'one,mean,all,2.33333333333333
one,range,i=3,2'
exits 0
says "2 values in 1 cases: 1 passed, 0 failed"

test_that "a wrong value, a value too many digits off, and a missing row fail"
suite 'one,mean,all,2.3334'
exits 1
suite 'one,range,i=3,1.9'
exits 1
suite 'one,range,i=4,2'
exits 1
warns "we have no row"

test_that "a value without a name fails, as does an expected undefined one that we have"
suite 'one,median,all,2'
exits 1
warns "no name"
suite 'one,mean,all,NA'
exits 1

test_that "print is met to half a unit of its last digit, no more"
sed 's/^tolerance.*/tolerance print/' one.txt > reference/cases/one.txt
suite 'one,mean,all,2.33'
exits 0
suite 'one,mean,all,2.34'
exits 1

test_that "a stated difference must be met with, and by as much as stated"
sed 's/^tolerance.*/tolerance print\ndiffers mean~all -0.01/' one.txt > reference/cases/one.txt
suite 'one,mean,all,2.34'
exits 0
says "differs by -0.01 as stated"
suite 'one,mean,all,2.36'
exits 1
suite 'one,range,i=3,2'
exits 1
warns "not met with"

test_that "a command that fails fails its case, and so does an unknown line"
sed 's/--value x/--value y/' one.txt > reference/cases/one.txt
suite 'one,mean,all,2.33333333333333'
exits 1
sed 's/^tolerance/tolerence/' one.txt > reference/cases/one.txt
suite 'one,mean,all,2.33333333333333'
exits 1
