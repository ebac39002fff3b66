# audit and figures: every number of the page is a figure row; periods; nothing of the clock.

run new --practice "Our practice" --complete-since 2020-07-01 --primary-reader R1
run load "$SAMPLE/implants.csv" "$SAMPLE/followups.csv" "$SAMPLE/events.csv"

test_that "audit writes the page and the figures, and prints the path of the page"
run audit
exits 0
silent
prints <<'END'
audit-2026Q2/audit.html
END
holds test -s audit-2026Q2/figures.csv
has audit-2026Q2/audit.html "Our practice"

test_that "the same records give the same page and figures, whatever the clock and the time zone"
run audit --out again
same audit-2026Q2/audit.html again/audit.html
same audit-2026Q2/figures.csv again/figures.csv
TZ=Pacific/Auckland LC_ALL=de_DE.UTF-8 "$RIDGETALLY" audit --out zone > out 2> err
same audit-2026Q2/audit.html zone/audit.html

test_that "the key of every row is unique, every state is known, no cell is nan or inf"
run figures
exits 0
silent
cp out figures.csv
sqlite3 figures.db ".import --csv figures.csv f"
holds test "$(sqlite3 figures.db 'SELECT count(*) FROM (SELECT 1 FROM f GROUP BY section, measure, grouping, level, at, baseline, site, unit_of_analysis HAVING count(*) > 1)')" = 0
holds test "$(sqlite3 figures.db "SELECT group_concat(DISTINCT state) FROM f WHERE state NOT IN ('ok', 'too_few', 'undefined', 'withheld')")" = ""
holds sh -c '! cut -d, -f5-15 figures.csv | grep -qiE "(^|,)-?(nan|inf)"'
# a curve goes on, in grey, where fewer than 10 patients are at risk
holds test "$(sqlite3 figures.db "SELECT count(*) FROM f WHERE state = 'too_few' AND measure <> 'survival_curve' AND (value <> '' OR lower <> '' OR p <> '')")" = 0
# limits of a chart over time are there to be crossed
holds test "$(sqlite3 figures.db "SELECT count(*) FROM f WHERE state = 'ok' AND measure NOT IN ('signal', 'depth_moving_average') AND lower <> '' AND upper <> '' AND (value + 0 < lower - 1e-9 OR value + 0 > upper + 1e-9)")" = 0

test_that "CSV and JSON are the same rows"
run figures --as json
exits 0
sqlite3 figures.db "CREATE TABLE j AS SELECT value ->> 'section' AS section, value ->> 'measure' AS measure, value ->> 'level' AS level,
    value ->> 'value' AS value, value ->> 'state' AS state, value ->> 'n_implants' AS n FROM json_each(readfile('out'))"
holds test "$(sqlite3 figures.db 'SELECT count(*) FROM j')" = "$(sqlite3 figures.db 'SELECT count(*) FROM f')"
holds test "$(sqlite3 figures.db "SELECT count(*) FROM f JOIN j ON f.rowid = j.rowid WHERE f.section <> j.section OR f.measure <> j.measure
    OR f.level <> j.level OR f.state <> j.state OR (f.value = '') <> (j.value IS NULL) OR (f.value <> '' AND abs(f.value - j.value) > 1e-12 * abs(f.value))
    OR (f.n_implants <> '' AND f.n_implants + 0 <> j.n)")" = 0

test_that "without resampling only what it makes is left out, and rows that count or adjust over all rows follow"
run figures --without-resampling
exits 0
silent
cp out quick.csv
sqlite3 quick.db ".import --csv figures.csv f" ".import --csv quick.csv q"
holds test "$(sqlite3 quick.db 'SELECT count(*) > 1000 FROM q')" = 1
sqlite3 quick.db "SELECT DISTINCT measure FROM (SELECT * FROM (SELECT * FROM f EXCEPT SELECT * FROM q) UNION ALL SELECT * FROM (SELECT * FROM q EXCEPT SELECT * FROM f))
    WHERE NOT (section = 'operators' AND (measure LIKE 'failure_score_%' OR measure IN ('baseline_term', 'baseline_count', 'detection', 'run_length', 'run_length_years',
        'signal', 'signals', 'signals_year', 'false_signals_a_year', 'charts_watched')))
    AND NOT (section = 'rules' AND measure IN ('rule_knee', 'rule_knee_compatible', 'rule_verdict', 'rules_screened'))
    AND NOT (section = 'precision') AND NOT (section = 'flow' AND measure LIKE 'comparisons%')
    AND NOT (section = 'survival' AND measure = 'survival_one_implant')" > others
holds test ! -s others
holds test "$(sqlite3 quick.db "SELECT count(*) FROM f WHERE measure = 'survival_one_implant'")" -gt 0
holds test "$(sqlite3 quick.db "SELECT count(*) FROM q WHERE measure IN ('survival_one_implant', 'rule_knee_compatible')")" = 0
holds test "$(sqlite3 quick.db "SELECT value FROM q WHERE measure = 'rule_knee'")" = "$(sqlite3 quick.db "SELECT value FROM f WHERE measure = 'rule_knee'")"
holds test "$(sqlite3 quick.db "SELECT state, remark FROM q WHERE measure = 'rule_verdict' AND level = 'tissue-plus-depth'")" = "undefined|resampling was left out of this run"

test_that "every measure and method of the rows is in the catalogue"
run figures --catalogue
exits 0
cp out catalogue.csv
sqlite3 figures.db ".import --csv catalogue.csv c"
holds test "$(sqlite3 figures.db 'SELECT count(*) FROM f WHERE NOT EXISTS (SELECT 1 FROM c WHERE c.section = f.section AND c.measure = f.measure)')" = 0

test_that "every number of the page is wrapped in the key of a figure row"
run figures --period 2026Q2
same out audit-2026Q2/figures.csv
grep -o 'data-figure="[^"]*"' audit-2026Q2/audit.html | sed 's/^data-figure="//; s/"$//; s/&lt;/</g; s/&gt;/>/g; s/&#39;/'"'"'/g; s/&quot;/"/g; s/&amp;/\&/g' | sort -u > shown
holds test -s shown
sqlite3 page.db ".import --csv audit-2026Q2/figures.csv f"
sqlite3 page.db "SELECT section || '/' || measure || '/' || replace(grouping, '/', '%2F') || '/' || replace(level, '/', '%2F') || '/' || at || '/' || baseline || '/' || site || '/' || unit_of_analysis FROM f" | sort -u > keys
comm -23 shown keys > strangers
holds test ! -s strangers

test_that "records after the period are ignored: the figures are those of a store that never had them"
"$GENERATOR" --clean --out .
run new --store whole.db
run load --store whole.db implants.csv followups.csv events.csv
exits 0
awk -F, 'NR == 1 || $4 <= "2024-12-31"' implants.csv > i.csv
awk -F, 'NR == 1 || $3 <= "2024-12-31"' followups.csv > f.csv
awk -F, 'NR == 1 || $3 <= "2024-12-31"' events.csv > e.csv
run new --store part.db
run load --store part.db i.csv f.csv e.csv
exits 0
run figures --store whole.db --period 2024Q4
cp out whole.csv
run figures --store part.db --period 2024Q4
holds test "$(wc -l < out)" -gt 1000
grep -v '^flow,excluded,[^,]*,placed after the period' whole.csv > a
grep -v '^flow,excluded,[^,]*,placed after the period' out > b
same a b

test_that "a part of the records: the page says which, the figures are of it, and it is not kept as the practice's audit"
kept=$(sqlite3 practice.db "SELECT count(*), max(id) FROM audit")
run audit --operator A,B --smoking never
exits 0
silent
prints <<'END'
audit-2026Q2-part/audit.html
END
has audit-2026Q2-part/audit.html '<p class="filters">Only: operator A or B; smoking never</p>'
has audit-2026Q2-part/audit.html "part of the records"
lacks audit-2026Q2/audit.html '<p class="filters">'
lacks audit-2026Q2/audit.html "part of the records"
holds test "$(sqlite3 practice.db "SELECT count(*), max(id) FROM audit")" = "$kept"
run figures --period 2026Q2 --smoking=never --operator B,A
exits 0
complains <<'END'
ridgetally: only: operator B or A; smoking never
END
same out audit-2026Q2-part/figures.csv
holds test "$(sqlite3 practice.db "SELECT count(*) FROM implant WHERE operator IN ('A', 'B') AND smoking = 'never' AND placed_on <= 20634")" \
    = "$(grep '^flow,recorded,window,all,' out | cut -d, -f6)"
run figures --period 2026Q2 --as json --jaw lower --placed-to 2024-12-31
exits 0
complains <<'END'
ridgetally: only: placed to 2024-12-31; jaw lower
END
says '"section": "flow"'

test_that "an unknown value of a filter lists those there are"
run audit --operator D --out none
exits 2
complains <<'END'
ridgetally: no implant of the store has the operator 'D': there are A, B, C, not-recorded
END
run figures --closure open
exits 2
warns "--closure has no value 'open': there are one-stage, two-stage, not-recorded"
run quarter "$SAMPLE/implants.csv" --store new.db --graft maybe
exits 2
holds test ! -e new.db
run figures --loaded yes
exits 2
warns "there is no option --loaded"

test_that "bad periods are bad use"
for words in "--period 2026Q5" "--period 2026" "--from 2026-13-01" "--from 2026-02-01 --to 2026-01-01" "--period 2026Q1 --to 2026-01-01"; do
    # shellcheck disable=SC2086
    run audit $words --out none
    exits 2
    # shellcheck disable=SC2086
    run figures $words
    exits 2
    prints < /dev/null
done
holds test ! -e none

test_that "a period before every record has figures that say so, and no nan"
run figures --period 2001Q1
holds sh -c '! cut -d, -f5-15 out | grep -qiE "(^|,)-?(nan|inf)"'

test_that "an empty store has no period to audit"
run new --store empty.db
run audit --store empty.db
exits 3
warns "ridgetally: "

test_that "without gnuplot the page is written without charts, and the exit code tells"
mkdir bin
for tool in sh cat; do ln -s "$(command -v "$tool")" "bin/$tool"; done
status=0
PATH=$PWD/bin "$RIDGETALLY" audit --out bare > out 2> err || status=$?
command_line="ridgetally audit (no gnuplot)"
exits 4
warns "gnuplot"
has bare/audit.html "</html>"
lacks bare/audit.html "<svg"
same bare/figures.csv audit-2026Q2/figures.csv

test_that "a folder that cannot be written is a failure of the system"
: > file
run audit --out file/below
exits 4

test_that "one implant, one patient: the page says too few, and nothing else breaks"
head -n 2 "$SAMPLE/implants.csv" > one.csv
run new --store one.db
run load --store one.db one.csv
run audit --store one.db --from 2020-07-01 --to 2020-12-31 --out one
exits 0
silent
holds grep -qi "too few" one/audit.html

test_that "an audit whose file was taken back out is told as restated on the page that takes its place"
run new --store restated.db
run load --store restated.db "$SAMPLE/implants.csv" "$SAMPLE/followups.csv" "$SAMPLE/events.csv"
run audit --store restated.db --period 2026Q2 --out first
exits 0
lacks first/audit.html "stands no more"
run undo --store restated.db 3
exits 0
run audit --store restated.db --period 2026Q2 --out second
exits 0
has second/audit.html "An audit of this period that was written earlier stands no more"
run audit --store restated.db --period 2026Q1 --out other
lacks other/audit.html "stands no more"
