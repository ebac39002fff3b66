# Lists and help on terminals of several widths; a pipe gets whole lines.

if command -v script > /dev/null; then
    # on_terminal COLUMNS ARGUMENTS [SETTING...]: what the terminal got is in ./screen
    on_terminal() {
        columns=$1 arguments=$2
        shift 2
        env TERM=xterm "$@" script -qec "stty cols $columns; \"$RIDGETALLY\" $arguments" /dev/null < /dev/null 2>&1 |
            tr -d '\r' > screen
    }

    # fits COLUMNS: no line of ./screen takes as many characters (bytes but for those that continue one), if not a single word
    fits() {
        LC_ALL=C tr -d '\200-\277' < screen | awk -v most="$1" 'length($0) >= most && NF > 1' > wide
        holds test -s screen
        holds test ! -s wide
    }

    # words FILE: its words, one a line
    words() { tr -s ' ' '\n' < "$1" | sed '/^$/d'; }

    run new --practice "Our practice"
    run load "$SAMPLE/implants.csv" "$SAMPLE/followups.csv" "$SAMPLE/events.csv"
    run note --decision "Für jede Prüfung wird größere Mühe nötig: sie würden sonst später über Lücken stöhnen. Look again when the year is over." \
        --by AB --section depth --about depth_bias --period 2026Q1
    exits 0
    run yardstick early-failure --at-most 3% --from 2026-01-01 --by AB \
        --origin "what the club agreed on in its autumn meeting, after a long talk about the number"

    # fitted COLUMNS ARGUMENTS: a terminal so wide gets the words of a pipe, in lines that fit
    fitted() {
        on_terminal "$@"
        eval "run $2"
        fits "$1"
        words out > wanted
        words screen > got
        same wanted got
    }

    test_that "lists fit the terminal, and say what a pipe gets"
    head -n 12 "$SAMPLE/implants.csv" | sed 's/,D[1-4],/,D9,/' > few.csv
    for columns in 40 60 80 120; do
        for arguments in '' note yardstick rule 'rule depth-below-crest' setting 'load --dry-run few.csv'; do
            fitted "$columns" "$arguments"
        done
    done

    test_that "so does the help of every verb"
    fitted 60 --help
    fitted 40 'reckon --help'
    fitted 60 'reckon firth --help'
    for verb in $("$RIDGETALLY" --help | sed -n 's/^  \([a-z][a-z-]*\) .*/\1/p'); do
        fitted 60 "$verb --help"
    done

    test_that "a broken line goes on indented, below its column where it has one, and a path or option stays whole"
    on_terminal 60 'note --help'
    has screen "  --section S      flow, depth, stability, crest, survival,"
    has screen "                   success, rules, operators, readers,"
    has screen "           [--section S] [--about NAME] [--due DATE]"
    on_terminal 60 note
    has screen "  written "
    holds grep -q '^      [^ ]' screen
    on_terminal 60 ''
    holds grep -q '^  ridgetally doubts$' screen
    has screen '`man ridgetally`'

    test_that "help stands in paragraphs filled anew, not in the remains of longer lines"
    on_terminal 80 'note --help'
    has screen "came of one. A note comes back in the audits after its own: from its due day on"

    test_that "the list of doubts fits too: every doubt once, its cells and words in it"
    run doubts --as csv
    cp out list.csv
    for columns in 40 60 80 120 200; do
        on_terminal "$columns" doubts
        fits "$columns"
        sed 1d list.csv | cut -d, -f1 > wanted
        sed -n 's/^\([0-9][0-9]*\) .*/\1/p' screen > got
        same wanted got
        for cell in field case value; do
            has screen "$cell"
        done
        tr -s ' \n' '  ' < screen > flat
        has flat "1 refused waiting"
        has flat "implants.csv:7"
        has flat "density_found"
        has flat "not a density with its scale: type D1 to D4, or LZ1 to LZ4 for the 1985 type scale"
        has flat "mend the 20 above first: they keep cases out of figures --"
    done
    on_terminal 80 doubts
    has screen "        field isq; value 710"

    test_that "COLUMNS outweighs what the terminal says, a dumb terminal gets the same, and no list is coloured"
    on_terminal 200 rule COLUMNS=50
    fits 50
    on_terminal 60 yardstick
    cp screen clever
    lacks screen "$(printf '\033')"
    on_terminal 60 yardstick TERM=dumb NO_COLOR=1
    same clever screen

    test_that "CSV on a terminal stays whole"
    on_terminal 60 'doubts --as csv'
    same list.csv screen
fi

test_that "a pipe gets whole lines, whatever COLUMNS says"
[ -e practice.db ] || run new
run rule
cp out whole
COLUMNS=40 run rule
same whole out
holds sh -c 'awk "length > 100" out | grep -q torque-per-millimetre'
