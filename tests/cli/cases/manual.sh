# The manual page is true: verbs, options, columns, codes, ranges and figure columns are those of the program.

page=$SOURCE/reports/ridgetally.1

test_that "the manual has every verb of the program and no other"
run --help
sed -n 's/^  \([a-z][a-z-]*\)  *[a-z].*/\1/p' out | sort > program
sed -n '/^\.Sh VERBS/,/^\.Sh FILTERS/s/^\.It Cm \([a-z][a-z-]*\).*/\1/p' "$page" | sort -u > manual
same program manual

test_that "every option in a verb's help is in the manual, and the other way round"
while read -r verb; do
    run "$verb" --help
    grep -o -e '--[a-z][a-z-]*' out | grep -vx -e --help -e --store | sort -u > program_options
    [ "$verb" != reckon ] || : > program_options
    awk -v verb="$verb" '/^\.Sh / { section = $2 }
            section == "VERBS" && /^\.It Cm / { on = $3 == verb; if (on && /Ar filters/) filters = 1 }
            section == "VERBS" && on || section == "FILTERS" && filters && /^\.It/' "$page" |
        grep -o 'Fl -[a-z][a-z-]*' | sed 's/Fl /-/' | grep -vx -e --help | sort -u > manual_options
    [ "$verb" != reckon ] || : > manual_options
    same program_options manual_options
done < manual

run new --sheets sheets
exits 0

# What the code list says: file, column, needed, then each code or range on a line of its own.
awk '
    /^[a-z]+\.csv$/ { file = $1; next }
    /^  [a-z]/ {
        column = $1
        line = substr($0, 23)
        need = line ~ /^\*\* / ? "needed" : line ~ /^\*  / ? "column" : ""
        print file, column, need
        rest = substr(line, 4)
        if (rest ~ / \| /) {
            n = split(rest, words, / \| /)
            for (i = 1; i <= n; i++) print file, column, "code", words[i]
        }
        if (match(rest, /-?[0-9.]+ to -?[0-9.]+/)) print file, column, "range", substr(rest, RSTART, RLENGTH)
        if (rest ~ />70/) print file, column, "code >70"
        if (rest ~ /^D1-D4/) print file, column, "code D1"
    }' sheets/codes.txt | sed 's/ *$//' | sort > program_codes

# The same from the manual page.
awk '
    /^\.Ss / { file = $2 }
    /^\.Sh / && $2 != "FILES" { file = "" }
    file == "" { next }
    /^\.It Li / {
        column = $3
        print file, column, ($0 ~ /Pq needed/ ? "needed" : $0 ~ /Pq column needed/ ? "column" : "")
    }
    /^\.Cm / {
        code = substr($0, 5)
        sub(/ [,.]$/, "", code); gsub(/"/, "", code); gsub(/\\&/, "", code)
        if (code !~ /^(D4|LZ1|LZ4|>=70|70\+)$/) print file, column, "code", code
    }
    /^(\\-)?[0-9.]+ to / {
        gsub(/\\-/, "-")
        print file, column, "range", $1 " to " $3 + 0
    }' "$page" | sed 's/ *$//' | sort > manual_codes

test_that "every column, code and range of the code list is in the manual, and the other way round"
holds test "$(grep -c ' code ' program_codes)" -gt 50
holds test "$(grep -c ' range ' program_codes)" -gt 10
same program_codes manual_codes

test_that "the columns of the figures are those of the manual, in their order"
run load "$SAMPLE/implants.csv"
run figures
head -n 1 out | tr ',' '\n' > program_columns
sed -n '/^\.Sh FIGURES/,/^\.Sh ENVIRONMENT/s/^\.It Li //p' "$page" | sed 's/ , /\n/g' > manual_columns
same program_columns manual_columns

test_that "the states and sections of the rows are in the manual"
sqlite3 f.db ".import --csv out f"
sqlite3 f.db 'SELECT DISTINCT section FROM f UNION SELECT DISTINCT state FROM f' > words
while read -r word; do
    holds grep -q "^\.Cm $word\( [,.;]\)*$" "$page"
done < words

test_that "exit codes 0 to 4 are explained"
count 5 sh -c "sed -n '/^\.Sh EXIT STATUS/,/^\.Sh EXAMPLES/p' '$page' | grep '^\.It [0-4]\$'"

test_that "the page is well formed where man can tell"
if command -v man > /dev/null && command -v groff > /dev/null; then
    man --warnings -E UTF-8 -l -Tutf8 -Z "$page" > /dev/null 2> warnings
    holds test ! -s warnings
fi

test_that "the installed page is this page"
holds env -u MAKEFLAGS -u MFLAGS -u MAKELEVEL sh -c 'make -C "$SOURCE" --no-print-directory DEPS=no PREFIX=/usr DESTDIR="$PWD/image" install > log 2>&1'
same image/usr/share/man/man1/ridgetally.1 "$page"
holds test -x image/usr/bin/ridgetally
same image/usr/share/bash-completion/completions/ridgetally "$SOURCE/reports/completion/ridgetally.bash"
same image/usr/share/zsh/site-functions/_ridgetally "$SOURCE/reports/completion/_ridgetally"
holds env -u RIDGETALLY sh -c 'cd / && "$0/image/usr/bin/ridgetally" demo --out "$0/installed" > /dev/null' "$PWD"
holds test -s installed/audit.html
