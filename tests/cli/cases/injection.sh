# Text that would be code somewhere else comes out as the text it is: in HTML, SVG, CSV, JSON, on the terminal, in SQL and
# in gnuplot.

"$GENERATOR" --clean --out .
tab=$(printf '\t')
escape=$(printf '\033')

# with_text COLUMN FIRST SECOND THIRD: implants.csv with the texts of every patient's operator replaced in that column
with_operators() {
    FIRST=$1 SECOND=$2 THIRD=$3 awk -F, -v OFS=, '
        function quoted(text) { gsub(/"/, "\"\"", text); return "\"" text "\"" }
        NR > 1 { $5 = quoted(ENVIRON[$5 == "A" ? "FIRST" : $5 == "B" ? "SECOND" : "THIRD"]) }
        { print }' implants.csv > nasty.csv
}

with_column() { # FILE COLUMN TEXT
    TEXT=$3 awk -F, -v OFS=, -v column="$2" '
        function quoted(text) { gsub(/"/, "\"\"", text); return "\"" text "\"" }
        NR == 1 { for (i = 1; i <= NF; i++) if ($i == column) at = i }
        NR > 1 && at { $at = quoted(ENVIRON["TEXT"]) }
        { print }' "$1" > nasty.csv
}

practice() {
    rm -rf nasty.db page
    run new --store nasty.db --practice "$1"
    exits 0
}

# What must hold of every output once the records are in.
outputs_are_plain() {
    run audit --store nasty.db --out page
    exits 0
    silent
    holds sh -c '! grep -qi "<script\|<img\|<svg/\|<b>bold" page/audit.html'
    run figures --store nasty.db --as json
    exits 0
    holds sh -c 'test "$(sqlite3 :memory: "SELECT json_valid(readfile('"'out'"'))")" = 1'
    run doubts --store nasty.db --as csv
    exits 0
    run doubts --store nasty.db
    exits 0
    holds sh -c '! grep -q "'"$escape"'" out'
    run verify --store nasty.db
    exits 0
    holds test ! -e pwned
    holds test ! -e page/pwned
}

test_that "markup and SQL as operators"
practice "<img src=x onerror=alert(2)> & \"Sons\""
with_operators "<script>alert(1)</script>" "'; DROP TABLE implant; --" "\"]}</style><svg/onload=alert(1)>"
run load --store nasty.db nasty.csv followups.csv events.csv
exits 0
outputs_are_plain
has page/audit.html "&lt;script&gt;alert(1)&lt;/script&gt;"
has page/audit.html "&lt;img src=x onerror=alert(2)&gt; &amp; "
has page/audit.html "&lt;/style&gt;&lt;svg/onload=alert(1)&gt;"
has page/figures.csv "period|<script>alert(1)</script>"
holds test "$(sqlite3 nasty.db 'SELECT count(*) FROM implant')" = "$(($(wc -l < implants.csv) - 1))"

test_that "shell and gnuplot as operators"
practice "\`touch pwned\` \$(touch pwned)"
with_operators "\`touch pwned\` \$(touch pwned)" "'; system 'touch pwned'; print '" "{/Symbol a}_1^2 @x \\n %s %d"
run load --store nasty.db nasty.csv followups.csv events.csv
exits 0
outputs_are_plain
has page/audit.html "{/Symbol a}_1^2 @x \\n %s %d"
has page/audit.html "\`touch pwned\` \$(touch pwned)"
has page/audit.html "&#39;; system &#39;touch pwned&#39;; print &#39;"

test_that "formulas as operators are text in CSV and load back as what they were"
practice "=1+1"
with_operators "=CMD(\"x\")" "@SUM(A1)" "+\"1\"-2"
run load --store nasty.db nasty.csv followups.csv events.csv
exits 0
outputs_are_plain
has page/audit.html "=CMD(&quot;x&quot;)"
holds sh -c '! grep -qE "(^|,)\"?[=@+]" page/figures.csv'
run doubts --store nasty.db --as csv
holds sh -c '! grep -qE "(^|,)\"?[=@]" out'
sed "s/\"=CMD(\"\"x\"\")\"/\"'=CMD(\"\"x\"\")\"/" nasty.csv > back.csv
holds sh -c '! cmp -s nasty.csv back.csv'
run load --store nasty.db back.csv
exits 0
says "0 new, 0 changed, "

test_that "a newline, a tab, an escape and other scripts as operators"
practice "Zażółć 図"
with_operators "two
lines" "t${tab}b" "${escape}[31mred Ω"
run load --store nasty.db nasty.csv followups.csv events.csv
holds sh -c '! grep -q "'"$escape"'" out err'
outputs_are_plain
holds sh -c '! grep -q "'"$escape"'" page/audit.html'

test_that "every free text of every file survives being code"
for text in "<script>alert(1)</script>" "\`touch pwned\`\$(touch pwned)" "=CMD()" "'); DROP TABLE reading; --" "\"quoted\", and more"; do
    practice plain
    with_column implants.csv implant_line "$text"
    run load --store nasty.db nasty.csv
    exits 0
    with_column followups.csv film "$text"
    mv nasty.csv nasty2.csv
    run load --store nasty.db nasty2.csv
    with_column followups.csv reader "$text"
    run load --store nasty.db nasty.csv
    with_column events.csv cause "$text"
    run load --store nasty.db nasty.csv
    holds test "$(sqlite3 nasty.db "SELECT count(DISTINCT cause) FROM event WHERE cause <> ''")" -le 12
    run load --text --store nasty.db nasty.csv
    exits 0
    outputs_are_plain
    holds test "$(sqlite3 nasty.db "SELECT count(DISTINCT cause) FROM event WHERE cause <> ''")" = 1
done

test_that "labels of patients and implants that are code stay labels"
practice plain
sed "s/^0/<script>alert(0)<\/script>0/" implants.csv > i.csv
sed "s/^0/<script>alert(0)<\/script>0/" followups.csv > f.csv
sed "s/^0/<script>alert(0)<\/script>0/" events.csv > e.csv
run load --store nasty.db i.csv f.csv e.csv
exits 0
outputs_are_plain
lacks page/audit.html "<script"
holds grep -q "&lt;script&gt;alert(0)&lt;/script&gt;0" page/audit.html # in the lists of cases, as text
run doubts --store nasty.db --as csv
says "<script>alert(0)</script>0"

test_that "a column name and a file name that are code are told as text"
practice plain
sed "1s/implant_line/<script>\`touch pwned\`/" implants.csv > "\$(touch pwned);'.csv"
run load --store nasty.db "\$(touch pwned);'.csv"
exits 0
says "<script>\`touch pwned\`"
says "\$(touch pwned);'.csv"
run load --store nasty.db followups.csv
outputs_are_plain

test_that "no terminal escape of a cell reaches the terminal"
practice plain
sed "2s/^[^,]*/${escape}]0;owned/" implants.csv > i.csv
run load --store nasty.db i.csv
holds sh -c '! grep -q "'"$escape"'" out err'
run doubts --store nasty.db
holds sh -c '! grep -q "'"$escape"'" out err'
