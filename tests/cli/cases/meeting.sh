# yardstick and note; what changed since earlier periods; figures restated when late data arrive.

run new --practice "Our practice" --complete-since 2020-07-01 --primary-reader R1
run load "$SAMPLE/implants.csv" "$SAMPLE/followups.csv" "$SAMPLE/events.csv"

# figure FILE MEASURE GROUPING LEVEL COLUMN...: the cells of one row
figure() {
    rm -f f.db
    sqlite3 f.db ".import --csv $1 f"
    sqlite3 f.db "SELECT $5 FROM f WHERE measure = '$2' AND grouping = '$3' AND level = '$4' AND unit_of_analysis <> 'patient'"
}

test_that "no yardstick has a target until the practice sets one"
run yardstick
exits 0
silent
holds test "$(grep -c "no target set" out)" = 5
run figures --period 2026Q2
cp out none.csv
holds test "$(figure none.csv yardstick_state yardstick early-failure "state || ' ' || value || ' ' || remark")" = "undefined  no target set"

test_that "a target holds from its day on, and the one in force on the first day judges the period"
run yardstick depth-within-half --at-least 80% --from 2026-01-01 --by AB
exits 0
silent
run yardstick depth-within-half --at-least 0.5 --from 2026-04-02 --by AB --origin "a study club"
run yardstick early-failure --at-most 2% --from 2020-01-01 --by CD
run yardstick
says "  from 2026-01-01: at least 80%, practice's own (AB)"
says "  from 2026-04-02: at least 50%, a study club (AB)"
says "  from 2020-01-01: at most 2%, practice's own (CD)"
run figures --period 2026Q2
cp out q2.csv
# 69% (58 to 78%) against at least 80%; 13% (5 to 26%) against at most 2%
holds test "$(figure q2.csv yardstick_target yardstick depth-within-half "value || ' ' || remark")" = "0.8 at least"
holds test "$(figure q2.csv yardstick_state yardstick depth-within-half value)" = "-1"
holds test "$(figure q2.csv yardstick_state yardstick early-failure value)" = "-1"
run figures --period 2026Q3
cp out q3.csv
holds test "$(figure q3.csv yardstick_target yardstick depth-within-half value)" = "0.5"
run figures --period 2025Q4
cp out q0.csv
holds test "$(figure q0.csv yardstick_state yardstick depth-within-half remark)" = "no target set"

test_that "the same day replaces a target, and a withdrawn one judges no more"
run yardstick depth-within-half --at-least 70% --from 2026-01-01 --by AB
run yardstick depth-within-half --withdraw --from 2026-04-02 --by AB
exits 0
run yardstick
says "from 2026-01-01: at least 70%"
says_not "at least 80%"
says "from 2026-04-02: withdrawn"
run figures --period 2026Q3
holds test "$(figure out yardstick_state yardstick depth-within-half remark)" = "no target set"

test_that "audit --strict tells by its exit code that a yardstick is not met"
run audit --period 2026Q2 --out strict --strict
exits 1
prints <<'END'
strict/audit.html
END
complains <<'END'
ridgetally: 1 yardstick is not met: the report says which and by how much
END
run audit --period 2026Q2 --out strict
exits 0
silent

test_that "a survival yardstick is decided only when both ways of ending follow-up agree"
run yardstick survival-five-years --at-most 99% --from 2020-01-01 --by AB
run figures --period 2026Q3
last=$(figure out survival censoring "last sighting" "CASE WHEN at = '5' THEN state || ' ' || (upper + 0 <= 0.99) END" | grep .)
recall=$(figure out survival censoring recall "CASE WHEN at = '5' THEN state || ' ' || (upper + 0 <= 0.99) END" | grep .)
state=$(figure out yardstick_state yardstick survival-five-years value)
holds test "$( [ "$last" = "ok 1" ] && [ "$recall" = "ok 1" ] && echo 1 || echo 0)" = "$state"
run yardstick survival-five-years --withdraw --from 2020-01-01 --by AB

test_that "wrong targets are bad use"
while read -r words; do
    # shellcheck disable=SC2086
    run yardstick $words
    exits 2
    prints < /dev/null
done <<'END'
nothing --at-least 1 --from 2026-01-01 --by A
early-failure --at-most 20 --from 2026-01-01 --by A
early-failure --at-most x --from 2026-01-01 --by A
early-failure --at-most 2% --by A
early-failure --at-most 2% --from 2026-01-01
early-failure --at-most 2% --at-least 1% --from 2026-01-01 --by A
early-failure --width 0
early-failure --width 0.1 --by A
early-failure
--at-most 2%
crest-at-a-year --withdraw --from 2026-01-01 --by A
END

test_that "a figure of an earlier period is what the audit of that period would say now"
run figures --period 2026Q1
cp out q1.csv
run figures --period 2025Q2
cp out year.csv
for pair in "last period:q1.csv" "a year ago:year.csv"; do
    rm -f f.db
    sqlite3 f.db ".import --csv q2.csv now" ".import --csv ${pair#*:} then"
    sqlite3 f.db "CREATE TABLE pairs (name, section, measure, grouping, level, at);
        INSERT INTO pairs VALUES ('depth_bias', 'depth', 'depth_bias', 'window', '12 months', ''),
        ('depth_within_half', 'depth', 'depth_within_half', 'window', '12 months', ''),
        ('low_torque', 'stability', 'low_torque', 'window', '12 months', ''),
        ('crest_change', 'crest', 'crest_change', 'window', '12 months', '12'),
        ('exposure_share', 'crest', 'exposure_share', 'window', '12 months', '12'),
        ('early_failure', 'survival', 'early_failure', 'window', '12 months', ''),
        ('failure_rate', 'survival', 'failure_rate', 'window', '12 months', ''),
        ('survival_one_year', 'survival', 'survival', 'censoring', 'last sighting', '1'),
        ('survival_five_years', 'survival', 'survival', 'censoring', 'last sighting', '5'),
        ('read_share', 'flow', 'read_share', 'window', '12 months', '12')"
    joined="FROM pairs p JOIN now n ON n.measure = p.name || '_then' AND n.level = '${pair%%:*}' AND n.unit_of_analysis = 'implant'
        JOIN \"then\" t ON t.section = p.section AND t.measure = p.measure AND t.grouping = p.grouping AND t.level = p.level
        AND t.at = p.at AND t.unit_of_analysis = 'implant' AND t.baseline = n.baseline AND t.site = n.site"
    holds test "$(sqlite3 f.db "SELECT count(*) $joined")" = 10
    holds test "$(sqlite3 f.db "SELECT p.name $joined WHERE t.state <> n.state OR t.n_implants <> n.n_implants
        OR t.n_patients <> n.n_patients OR t.n_events <> n.n_events OR t.n_due <> n.n_due OR t.method <> n.method
        OR (t.value = '') <> (n.value = '') OR abs(t.value - n.value) > 1e-12 OR abs(t.lower - n.lower) > 1e-12
        OR abs(t.upper - n.upper) > 1e-12")" = ""
    # value now = value then + change, wherever all three can be told
    holds test "$(sqlite3 f.db "SELECT count(*) >= 3 FROM now n JOIN now c ON c.measure = replace(n.measure, '_then', '_change')
        AND c.grouping = n.grouping AND c.level = n.level WHERE n.grouping = 'change' AND n.level = '${pair%%:*}' AND c.state = 'ok' AND n.state = 'ok'")" = 1
    holds test "$(sqlite3 f.db "SELECT p.name FROM pairs p JOIN now c ON c.measure = p.name || '_change' AND c.level = '${pair%%:*}' AND c.state = 'ok'
        JOIN now a ON a.measure = p.name || '_then' AND a.level = c.level
        JOIN now b ON b.section = p.section AND b.measure = p.measure AND b.grouping = p.grouping AND b.level = p.level AND b.at = p.at
        AND b.unit_of_analysis = 'implant' AND b.baseline = c.baseline AND b.site = c.site
        WHERE abs(a.value + c.value - b.value) > 1e-12")" = ""
done

test_that "a note is listed, falls due after its period, and is answered in a later audit"
run note
prints <<'END'
no notes
END
run audit --period 2026Q1 --out q1
run note --decision "Measure depth twice" --by AB --section depth --about depth-within-half --on 2026-04-20 --period 2026Q1
exits 0
prints <<'END'
note 1 on the audit of 2026-01-01 to 2026-03-31
END
run note --decision "Look at recalls" --by CD --due 2026-12-01 --on 2026-04-20 --period 2026Q1
run figures --period 2026Q1
holds test "$(figure out notes status due value)" = 0
run figures --period 2026Q2
cp out due.csv
holds test "$(figure due.csv notes status due value)" = 1
holds test "$(figure due.csv notes status open value)" = 1
holds test "$(figure due.csv note_now note 1 value)" = "$(figure due.csv yardstick_value yardstick depth-within-half value)"
holds test "$(figure due.csv note_then note 1 value)" = "$(figure q1/figures.csv yardstick_value yardstick depth-within-half value)"
run note --answer 1 --reply "Done since May" --by AB --period 2026Q1
exits 2
run note --answer 1 --reply "Done since May" --by AB --period 2026Q2
exits 0
run figures --period 2026Q2
holds test "$(figure out notes status answered value)" = 1
run note
prints <<'END'
1: Measure depth twice
  written 2026-04-20 by AB on the audit of 2026-01-01 to 2026-03-31, section depth, about depth-within-half
  answered for the audit to 2026-06-30 by AB: Done since May
2: Look at recalls
  written 2026-04-20 by CD on the audit of 2026-01-01 to 2026-03-31
  open, due 2026-12-01
END

test_that "wrong notes are bad use"
for words in "--decision x" "--by A" "--decision x --by A --section bones" "--decision x --by A --about bones" \
    "--decision x --by A --due 2026-03-31 --period 2026Q1" "--answer 9 --reply x --by A --period 2026Q3" "--answer 1 --by A" \
    "--decision x --answer 1 --by A"; do
    # shellcheck disable=SC2086
    run note $words
    exits 2
    prints < /dev/null
done

test_that "figures that differ from those printed are told when late data arrive"
run new --store late.db --complete-since 2020-07-01 --primary-reader R1
awk -F, 'NR % 7 != 3' "$SAMPLE/implants.csv" > part.csv
run load --store late.db part.csv "$SAMPLE/followups.csv" "$SAMPLE/events.csv"
run audit --store late.db --period 2026Q1 --out late1
run audit --store late.db --period 2026Q2 --out late2
exits 0
holds test "$(figure late2/figures.csv restated change "last period" value)" = 0
holds test "$(figure late2/figures.csv restated change "this period" value)" = ""
run load --store late.db "$SAMPLE/implants.csv"
run audit --store late.db --period 2026Q2 --out late3
holds test "$(figure late3/figures.csv restated change "last period" "value + 0 > 3")" = 1
holds test "$(figure late3/figures.csv restated change "this period" "value + 0 > 3")" = 1
holds test "$(figure late3/figures.csv as_printed "figure|change" "depth_bias|last period" value)" = "$(figure late1/figures.csv depth_bias window "12 months" value)"
holds test "$(figure late3/figures.csv as_printed "figure|change" "depth_bias|this period" n_implants)" = "$(figure late2/figures.csv depth_bias window "12 months" n_implants)"
run audit --store late.db --period 2026Q2 --out late4
same late3/figures.csv late4/figures.csv

# items FILE ID: how many items the lists of a chapter have
items() {
    tr '\n' ' ' < "$1" | sed "s/.*<section class=\"chapter\" id=\"$2\">//; s/<section.*//; s/<\/section>.*//" | grep -o '<li>' | wc -l
}

test_that "the first page has at most five sentences and three decisions, whatever stands out"
holds test "$(items late3/audit.html at-a-glance)" -le 5
holds test "$(items late3/audit.html at-a-glance)" -ge 4
run audit --period 2026Q2 --out full
holds test "$(items full/audit.html to-decide)" = 3
holds test "$(items full/audit.html read-first)" -ge 1
for page in strict/audit.html q1/audit.html late1/audit.html; do
    holds test "$(items $page at-a-glance)" -le 5
    holds test "$(items $page to-decide)" -ge 1
    holds test "$(items $page to-decide)" -le 3
done
run new --store few.db
head -5 "$SAMPLE/implants.csv" > few.csv
run load --store few.db few.csv
run audit --store few.db --from 2020-01-01 --to 2026-06-30 --out few
exits 0
has few/audit.html "Nothing stands out"
holds test "$(items few/audit.html to-decide)" = 1

test_that "yardsticks and notes stand on the page as text, whatever they say"
run note --decision "<script>alert(1)</script> & more" --by "<b>" --on 2026-04-20 --period 2026Q1
run audit --period 2026Q2 --out hostile
exits 0
lacks hostile/audit.html "<script>alert"
has hostile/audit.html "&lt;script&gt;alert"
