# From file to figure: the figures of the sample practice recover the truths it was made with (sample-data/README.md),
# within 99.9% limits. Limits of 95% are widened by 3.2905 / 1.9600, the ratio of the two normal quantiles.

run new --store truth.db --primary-reader R1 --complete-since 2020-07-01
run load --store truth.db "$SAMPLE/implants.csv" "$SAMPLE/followups.csv" "$SAMPLE/events.csv"
run figures --store truth.db
sqlite3 figures.db ".import --csv out f"

# The value stated in the README's table.
truth() {
    sed -n "s/^| $1 | \([-+0-9.]*\) |.*/\1/p" "$SAMPLE/README.md"
}

# recovers NAME VALUE LOWER UPPER [TRUTH]: the truth lies within the widened limits, and not only because they are endless.
recovers() {
    stated=${5:-$(truth "$1")}
    verdict=$(awk -v name="$1" -v truth="$stated" -v value="$2" -v lower="$3" -v upper="$4" 'BEGIN {
        if (truth == "" || value == "" || lower == "" || upper == "") { print name ": truth [" truth "], value [" value "], limits [" lower ", " upper "]"; exit }
        widen = 3.290527 / 1.959964
        low = value - (value - lower) * widen
        high = value + (upper - value) * widen
        if (!(low < high) || truth < low || truth > high)
            print name ": truth " truth " outside " low " to " high
        }')
    [ -z "$verdict" ] || wrong "$verdict"
}

figure() { # MEASURE CONDITION: value, lower and upper of the one row
    sqlite3 -separator ' ' figures.db "SELECT value, lower, upper FROM f WHERE measure = '$1' AND unit_of_analysis = 'implant' AND state = 'ok' AND $2"
}

recovers_figure() { # TRUTH MEASURE CONDITION
    row=$(figure "$2" "$3")
    holds test "$(echo "$row" | wc -l)" = 1
    # shellcheck disable=SC2086
    recovers "$1" $row
}

# A quantity of reckon's output, optionally of a group.
quantity() {
    awk -F, -v quantity="$1" -v group="${2:-}" 'NR > 1 && $1 == quantity && (group == "" || $2 == group) { print $NF; exit }' out
}

recovers_term() { # TRUTH TERM
    recovers "$1" "$(quantity coefficient "$2")" "$(quantity lower "$2")" "$(quantity upper "$2")"
}

test_that "limits that miss are told apart from limits that hold"
recovers known 10 8 12 11
holds test -z "$trouble"
recovers known 10 8 12 14
holds test -n "$trouble"
trouble=
recovers known '' '' '' 14
holds test -n "$trouble"
trouble=

test_that "depth: each operator's bias"
for operator in A B C; do
    recovers_figure "depth_bias_$operator" depth_bias "grouping = 'window|operator' AND level = 'period|$operator'"
done

test_that "readers: the error of one reading (the mean of two sides), and how much higher R2 reads"
# shellcheck disable=SC2046
recovers reading_sd_recorded $(figure reread_error "grouping = ''") "$(awk "BEGIN { print $(truth reading_sd_recorded) / sqrt(2) }")"
recovers_figure second_reader_bias between_bias "level = 'R1|R2'"

test_that "torque: gain per millimetre after a stall"
# Fits to uncapped finals only are flatter by construction (README): the capped ones are the highest.
recovers_figure torque_per_mm torque_per_mm_censored "grouping = 'window' AND level = 'all'"

test_that "torque: the same with capped torques as limits, by reckon on the store"
sqlite3 -csv -header truth.db "SELECT p.label AS patient, stall_height_mm + achieved_depth_mm AS travel,
    (CASE WHEN final_torque_capped THEN '>' ELSE '' END) || (final_torque_ncm - stall_torque_ncm) AS gain
    FROM implant JOIN patient p ON p.id = patient_id
    WHERE stalled = 1 AND stall_height_mm + achieved_depth_mm + final_torque_ncm + stall_torque_ncm IS NOT NULL" > gain.csv
run reckon limited --response gain --numbers travel --cluster patient gain.csv
exits 0
recovers_term torque_per_mm travel
recovers torque_intercept "$(quantity coefficient intercept)" "$(quantity lower intercept)" "$(quantity upper intercept)" 0

# The model is centred at the means of its own cases, the truths at 1.4 and 2.6 mm: with a product in the model the other
# coefficients move with the centre.
centre() {
    sqlite3 figures.db "SELECT value - $(truth "$2") FROM f WHERE measure = 'crest_model_centre' AND level = 'all|$1'"
}

recovers_model_term() { # TERM TRUTH_AT_THE_MODEL'S_CENTRE
    row=$(figure crest_model "level = 'all|$1'")
    holds test "$(echo "$row" | wc -l)" = 1
    # shellcheck disable=SC2086
    recovers "crest_model $1" $row "$2"
}

test_that "crest: the figures of the model of change at 12 months"
depth_off=$(centre achieved_depth_mm centre_depth)
tissue_off=$(centre tissue_mm centre_tissue)
product=$(truth change_per_product)
recovers_model_term achieved_depth_mm "$(awk "BEGIN { print $(truth change_per_depth) + $product * $tissue_off }")"
recovers_model_term tissue_mm "$(awk "BEGIN { print $(truth change_per_tissue) + $product * $depth_off }")"
recovers_model_term "achieved_depth_mm x tissue_mm" "$product"
recovers_model_term smoking=former "$(truth change_former_smoker)"
recovers_model_term smoking=current "$(truth change_current_smoker)"
recovers_model_term intercept "$(awk "BEGIN { print $(truth change_12) + $(truth change_per_depth) * $depth_off + $(truth change_per_tissue) * $tissue_off }")"
for class in D2 D3 D4; do
    recovers_model_term "density_found=$class" 0
done

test_that "crest: depth, tissue, their product and smoking at 12 months, by reckon on the store"
cat > change.sql <<'END'
WITH level AS (
    SELECT implant_id, seen_on, reader, (level_mesial_mm + level_distal_mm) / 2 AS level
    FROM reading
    WHERE reading = 1 AND level_kind = 'crest' AND level_mesial_mm + level_distal_mm IS NOT NULL
), baseline AS (
    SELECT l.implant_id, l.level, row_number() OVER (PARTITION BY l.implant_id ORDER BY l.seen_on, l.reader) AS place
    FROM level l JOIN implant i ON i.id = l.implant_id
    WHERE l.seen_on BETWEEN i.placed_on AND i.placed_on + 30
), later AS (
    SELECT l.implant_id, l.level,
           row_number() OVER (PARTITION BY l.implant_id ORDER BY abs(l.seen_on - i.placed_on - 365.25), l.seen_on, l.reader) AS place
    FROM level l JOIN implant i ON i.id = l.implant_id
    WHERE l.seen_on - i.placed_on BETWEEN 274 AND 547
)
SELECT p.label AS patient, later.level - baseline.level AS change, i.achieved_depth_mm - 1.4 AS depth,
       i.tissue_mm - 2.6 AS tissue, i.smoking
FROM implant i
JOIN patient p ON p.id = i.patient_id
JOIN baseline ON baseline.implant_id = i.id AND baseline.place = 1
JOIN later ON later.implant_id = i.id AND later.place = 1
END
sqlite3 -csv -header truth.db < change.sql > change.csv
run reckon mixed --response change --numbers depth,tissue --categories smoking --products "depth x tissue" --levels never,former,current --cluster patient change.csv
exits 0
recovers_term change_12 intercept
recovers_term change_per_depth depth
recovers_term change_per_tissue tissue
recovers_term change_per_product "depth x tissue"
recovers_term change_former_smoker smoking=former
recovers_term change_current_smoker smoking=current

# Large-sample error of an intraclass correlation from n patients with k implants each (Donner 1986, International
# Statistical Review 54:67-82): sqrt(2 (1 - r)^2 (1 + (k - 1) r)^2 / (k (k - 1) (n - 1))); k = average size.
icc_error() { # ICC IMPLANTS PATIENTS
    awk -v r="$1" -v implants="$2" -v n="$3" 'BEGIN { k = implants / n
        print sqrt(2 * (1 - r) ^ 2 * (1 + (k - 1) * r) ^ 2 / (k * (k - 1) * (n - 1))) }'
}

recovers_icc() { # VALUE IMPLANTS PATIENTS
    error=$(icc_error "$(truth crest_icc)" "$2" "$3")
    recovers crest_icc "$1" "$(awk "BEGIN { print $1 - 1.96 * $error }")" "$(awk "BEGIN { print $1 + 1.96 * $error }")"
}

test_that "crest: patients are as alike as they were made"
awk -F, 'NR > 1 && $3 != "" && $4 != "" && $5 != ""' change.csv > used.csv
row=$(sqlite3 -separator ' ' figures.db "SELECT value, n_implants, n_patients FROM f WHERE measure = 'crest_model_icc' AND level = 'all'")
# shellcheck disable=SC2086
recovers_icc $row
recovers_icc "$(quantity icc)" "$(wc -l < used.csv)" "$(cut -d, -f1 used.csv | sort -u | wc -l)"

test_that "failure: odds at low torque, from the counts of the figures"
low=$(sqlite3 -separator ' ' figures.db "SELECT n_events, n_implants - n_events FROM f WHERE measure = 'early_failure' AND grouping = 'window|torque_class'
    AND level = 'all|<20 Ncm' AND unit_of_analysis = 'implant'")
high=$(sqlite3 -separator ' ' figures.db "SELECT sum(n_events), sum(n_implants - n_events) FROM f WHERE measure = 'early_failure' AND grouping = 'window|torque_class'
    AND level LIKE 'all|%' AND level <> 'all|<20 Ncm' AND unit_of_analysis = 'implant'")
# Woolf's limits of a log odds ratio; clustering by patient widens them by a design effect of 1.3 (two implants a patient at
# an intraclass correlation of failure of about 0.15, rounded up)
echo "$low $high" | awk '{ print log($1 * $4 / ($2 * $3)), sqrt(1.3 * (1 / $1 + 1 / $2 + 1 / $3 + 1 / $4)) }' > odds
read -r log_odds error < odds
recovers odds_ratio_low_torque_average "$log_odds" "$(awk "BEGIN { print $log_odds - 1.96 * $error }")" "$(awk "BEGIN { print $log_odds + 1.96 * $error }")" \
    "$(awk "BEGIN { print log($(truth odds_ratio_low_torque_average)) }")"

test_that "failure: the same by penalised regression on the store, with smoking"
sqlite3 -csv -header truth.db "SELECT p.label AS patient, i.final_torque_ncm < 20 AS low, i.smoking = 'current' AS current,
    EXISTS (SELECT 1 FROM event e WHERE e.implant_id = i.id AND e.event = 'removed' AND e.happened_on - i.placed_on <= 180) AS failed
    FROM implant i JOIN patient p ON p.id = i.patient_id WHERE i.placed_on + 180 <= (SELECT max(seen_on) FROM reading)" > failed.csv
run reckon firth --response failed --numbers low,current --cluster patient failed.csv
exits 0
recovers log_odds_low "$(quantity coefficient low)" "$(quantity lower low)" "$(quantity upper low)" \
    "$(awk "BEGIN { print log($(truth odds_ratio_low_torque_average)) }")"

test_that "readers: error of one reading, and the second reader's lean"
sqlite3 -csv -header truth.db "SELECT p.label AS patient, a.level_mesial_raw_mm AS first, b.level_mesial_raw_mm AS second
    FROM reading a JOIN reading b ON b.implant_id = a.implant_id AND b.seen_on = a.seen_on AND b.film = a.film AND b.reader = a.reader
        AND a.reading = 1 AND b.reading = 2
    JOIN implant i ON i.id = a.implant_id JOIN patient p ON p.id = i.patient_id" > again.csv
holds test "$(wc -l < again.csv)" -gt 60
run reckon agreement --a first --b second --cluster patient again.csv
exits 0
# sd of a difference of two readings = sqrt 2 times the error of one; chi-square limits by the normal approximation sd / sqrt(2 n)
sd=$(quantity sd)
pairs=$(quantity n)
awk "BEGIN { e = $sd / sqrt(2); h = 1.96 * e / sqrt(2 * $pairs); print e, e - h, e + h }" > reading
# shellcheck disable=SC2046
recovers reading_sd_recorded $(cat reading)
sqlite3 -csv -header truth.db "SELECT p.label AS patient, a.level_mesial_raw_mm AS first, b.level_mesial_raw_mm AS second
    FROM reading a JOIN reading b ON b.implant_id = a.implant_id AND b.seen_on = a.seen_on AND b.film = a.film
        AND a.reader = 'R1' AND b.reader = 'R2' AND a.reading = 1 AND b.reading = 1
    JOIN implant i ON i.id = a.implant_id JOIN patient p ON p.id = i.patient_id" > both.csv
run reckon agreement --a first --b second --cluster patient both.csv
exits 0
recovers second_reader_bias "$(quantity bias)" "$(quantity bias_lower)" "$(quantity bias_upper)"
