# Every method of reckon on good, odd and bad files: never a crash, never nan or inf, and one clear line when it fails.

# Commands, one a line, on the columns that make_file writes. A method that is not listed fails the last test.
cat > commands <<'END'
survival --time t --event e --by g --cluster p --until 5
survival --time t --event e --entry s --at 1,2,5
between --time t --event e --by g --at 3
life-table --time t --event e --width 2 --by g
logrank --time t --event e --by g --strata g2 --cluster p
logrank --time t --event e --by g2 --trend
hazard --time t --event e --numbers x,y --categories g2 --cluster p
hazard --time t --event e --numbers x --penalised --ties breslow
incidence --time t --cause c --by g --cluster p
mean --value y --by g --cluster p
mean --value y
share --value e --by g --cluster p
quantile --value y --q 0.25,0.5,0.75 --by g --cluster p
proportion --count k --total n
rate --count k --exposure t
mixed --response y --numbers x --categories g --products "x x g" --cluster p
linear --response y --numbers x --categories g --products "x x g" --cluster p
linear --response y --numbers x,n
firth --response e --numbers x --categories g
firth --response e --numbers x --cluster p
limited --response y --numbers x --categories g --cluster p
rank --x x --y y --cluster p
rank --x x --y y
ordered --response y --group g2 --cluster p
shift --response y --group g --cluster p
shift --response y --group g
agreement --a x --b y --cluster p
repeat --subject p --reader g2 --value y
kappa --a g2 --b g3 --weights linear --cluster p
control --value y --baseline 5
cusum --event e --p0 0.2 --limit 2 --reset
cusum --event e --p0 q --run-length 20 --times 20 --cluster p --correlation 0.2
ewma --value y --lambda 0.3 --width 3
funnel --count k --total n --by g --cluster p
funnel --count k --total n
curve --response y --x x --cluster p
curve --response y --x x --knots 4
knee --response y --x x --cluster p --times 9 --minimum 10,5,2
resample --value y --by g --cluster p --times 50
resample --value y --statistic median --times 50
precision --sd t --width n
adjust --p q --label p
welch --n1 n --mean1 x --sd1 t --n2 n --mean2 y --sd2 t
two-shares --count1 k --total1 n --count2 k --total2 n
from-limits --estimate t --lower s --upper n
from-statistic --f t --df n --df2 n
END

header=p,t,s,e,c,g,g2,g3,x,y,k,n,q

# make_file NAME ROWS KIND: times t from s on, events e, causes c, groups g (two), g2 and g3 (three), numbers x and y, counts k
# of n, probabilities q, patients p. KIND is awk that changes a row.
make_file() {
    awk -v rows="$2" -v header="$header" 'BEGIN {
        print header
        for (i = 1; i <= rows; i++) {
            p = "p" int(i * i % 17); t = 1 + i * 7 % 11; s = 0; e = i % 3 == 0; c = i % 4 == 3 ? 0 : i % 4
            g = i % 2 ? "a" : "b"; g2 = 1 + i % 3; g3 = 1 + int(i / 2) % 3; x = (i * 37 % 101) / 10; y = x + (i * 53 % 23) / 5 - 2
            k = i % 3; n = 3 + i % 4; q = (1 + i * 29 % 97) / 100
            '"$3"'
            print p "," t "," s "," e "," c "," g "," g2 "," g3 "," x "," y "," k "," n "," q
        }
    }' > "$1"
}

make_file good.csv 80 ''
make_file one-row.csv 1 ''
make_file two-rows.csv 2 ''
make_file three-rows.csv 3 ''
make_file constant.csv 30 't = 5; x = 2; y = 2; k = 1; n = 4; q = 0.5'
make_file zero.csv 30 'x = 0; y = 0; k = 0; n = 0; q = 0; t = 0'
make_file no-events.csv 30 'e = 0; c = 0; k = 0'
make_file all-events.csv 30 'e = 1; c = 1; k = n'
make_file separated.csv 30 'e = x > 5'
make_file one-patient.csv 30 'p = "p1"'
make_file all-apart.csv 30 'p = "p" i'
make_file one-group.csv 30 'g = "a"; g2 = 1; g3 = 1'
make_file group-each.csv 12 'g = "g" i; g2 = i; g3 = i'
make_file straight.csv 80 'y = 3 * x - 1'
make_file outlier.csv 40 'y = i == 1 ? 1e15 : y; x = i == 2 ? -1e15 : x'
make_file quoted.csv 30 'g = i % 2 ? "\"a|b=\\,c\"" : "\"=1+1\""'
make_file empty-cells.csv 40 'if (i % 3 == 0) y = ""; if (i % 5 == 0) t = ""; if (i % 7 == 0) g = ""'
make_file all-empty.csv 10 'p = t = s = e = c = g = g2 = g3 = x = y = k = n = q = ""'
for size in 1e-300 1e-9 1e9 1e150 1e300; do
    make_file "size$size.csv" 40 "x = x * 1; t = sprintf(\"%.15g\", t * $size); x = sprintf(\"%.15g\", x * $size); y = sprintf(\"%.15g\", y * $size)"
done
make_file wide-counts.csv 20 'n = 2000000000; k = i * 50000000'
printf '%s\n' "$header" > header-only.csv
: > empty.csv
printf 'p,p,t\n1,2,3\n' > twice.csv
printf 'a,b\n1,2\n' > other-columns.csv
make_file text.csv 5 't = x = y = e = k = n = q = "text"'
make_file ragged.csv 5 'if (i == 3) g = "a,b"'
printf '\001\002\000\377PNG\r\n\032\n\000\000\000\rIHDR' > binary.csv
printf '%s\n"p1' "$header" > open-quote.csv

# tried FILE CODES: run the command on the file; the exit code is one of CODES, the output is in order.
tried() {
    eval "run reckon $command $1"
    case " $2 " in
    *" $status "*) ;;
    *) wrong "$command_line: exit $status, not one of $2:
$(show err)" ;;
    esac
    if sed '1d; s/^[^,]*,\("[^"]*"\|[^,]*\),//' out | grep -qiE 'nan|inf'; then wrong "$command_line: prints nan or inf"; fi
    if [ "$status" -eq 0 ]; then
        [ "$(head -n 1 out)" = quantity,group,at,value ] || wrong "$command_line: no header"
        if grep -qv '^ridgetally: ' err; then wrong "$command_line: stderr:
$(show err)"; fi
    else
        [ ! -s out ] || wrong "$command_line: failed, yet printed $(wc -l < out) lines"
        [ "$(wc -l < err)" -eq 1 ] && grep -q '^ridgetally: .*: .' err || wrong "$command_line: not one clear line:
$(show err)"
    fi
}

"$RIDGETALLY" reckon --help | sed -n 's/^  \([a-z][a-z-]*\)  *[a-z].*/\1/p' > methods
while IFS= read -r command; do
    method=${command%% *}
    grep -qx "$method" methods || continue
    test_that "reckon $command: good, odd and bad files"
    tried good.csv 0
    holds test "$(wc -l < out)" -gt 1
    for file in one-row two-rows three-rows constant no-events all-events separated one-patient all-apart one-group straight \
        outlier quoted size1e-300 size1e-9 size1e9 size1e150 size1e300 header-only empty-cells all-empty; do
        case $method in
        between | shift | life-table) tried $file.csv "0 2 3" ;; # two groups wanted, or a width that fits
        *) tried $file.csv "0 3" ;;
        esac
    done
    for file in group-each zero wide-counts; do tried $file.csv "0 2 3"; done
    for file in empty twice other-columns ragged binary open-quote no-such-file; do tried $file.csv 3; done
    [ "$method" = repeat ] || tried text.csv "0 3"
    command="$command --no-such-option" && tried good.csv 2
    warns "has no option"
done < commands

test_that "every method is tried here"
while IFS= read -r method; do
    holds grep -q "^$method " commands
done < methods
