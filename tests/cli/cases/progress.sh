# Long work is shown on a terminal, and nowhere else.

if command -v script > /dev/null; then
    # more than a second on any machine
    {
        echo patient,implant,tooth,placed_on,operator
        seq 1 600000 | sed 's/.*/p&,a,36,2026-01-05,A/'
    } > implants.csv
    # on_terminal SETTING...: load on a terminal of 80 columns; what the terminal got is in ./screen
    on_terminal() {
        rm -f practice.db
        run new
        env "$@" script -qec "stty cols 80; \"$RIDGETALLY\" load implants.csv" /dev/null < /dev/null > screen 2>&1
    }

    test_that "on a terminal the file, the rate and the time left are shown, and erased"
    on_terminal TERM=xterm
    has screen "600000 rows: 600000 new"
    has screen "reading implants.csv"
    has screen " lines/s"
    has screen ":0"
    has screen " left"
    has screen "$(printf '\033[32m')"
    # the last thing before the report erases the line
    holds sh -c 'tr "\r" "\n" < screen | grep -n . > lines; grep -q "$(printf "\033\\[K")batch 1" lines'

    test_that "no line is wider than the terminal"
    tr '\r' '\n' < screen | sed 's/\x1b\[[0-9]*[mK]//g' | grep '%' > bars
    holds test -s bars
    holds awk 'length($0) > 79 { bad = 1 } END { exit bad }' bars

    test_that "NO_COLOR takes the colour away"
    on_terminal TERM=xterm NO_COLOR=1
    has screen "reading implants.csv"
    lacks screen "$(printf '\033[32m')"

    test_that "a dumb terminal gets nothing"
    on_terminal TERM=dumb
    has screen "600000 rows: 600000 new"
    lacks screen "reading implants.csv"
fi

test_that "where standard error is no terminal nothing is shown"
[ -s implants.csv ] || printf 'patient,implant,tooth,placed_on\np1,a,36,2026-01-05\n' > implants.csv
run new --store quiet.db
head -n 50 implants.csv > few.csv
TERM=xterm run load --store quiet.db few.csv
exits 0
silent
