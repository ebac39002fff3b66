# The deliberate mistakes of the sample practice, counted in sample-data/README.md, are found: each kind as often as it
# was put in, under its own reason, and nothing that is merely dirty enters unseen.

run new --store dirt.db --primary-reader R1
run load --store dirt.db "$SAMPLE/implants.csv" "$SAMPLE/followups.csv" "$SAMPLE/events.csv"
holds test "$status" = 1

# How often the README says a kind was put in: file, column, words.
stated() {
    awk -F ' [|] ' -v file="| $1" -v column="$2" -v what="$3" '
        $1 == file && $2 == column && index($3, what) == 1 { sub(/ \|.*/, "", $4); n += $4 } END { print n + 0 }' "$SAMPLE/README.md"
}

found() { # CONDITION
    sqlite3 dirt.db "SELECT count(*) FROM doubt d JOIN batch b ON b.id = d.source_batch_id WHERE d.state <> 'mended' AND $1"
}

finds() { # FILE COLUMN WORDS CONDITION
    wanted=$(stated "$1" "$2" "$3")
    holds test "$wanted" -gt 0
    got=$(found "b.file_name = '$1' AND $4")
    [ "$got" = "$wanted" ] || wrong "$1, $2, $3: $wanted put in, $got found"
}

refused_in() { # FILE COLUMN WORDS REASON
    finds "$1" "$2" "$3" "d.weight = 'refused' AND d.column_name = '$2' AND d.reason LIKE '$4'"
}

test_that "impossible values are refused under their own reason"
refused_in implants.csv tooth "a position" "not a tooth position%"
refused_in implants.csv placed_on "a day that" "not an existing date%"
refused_in implants.csv final_torque_ncm "an impossible" "outside the possible range%"
refused_in implants.csv isq "an impossible" "outside the possible range%"
refused_in implants.csv diameter_mm "a lost" "outside the possible range%"
refused_in implants.csv achieved_depth_mm "a lost" "outside the possible range%"
refused_in implants.csv achieved_depth_mm "a decimal comma" "not a number%"
refused_in implants.csv birth_year "an impossible" "outside the possible range%"
refused_in implants.csv density_found "a word" "not a density%"
refused_in followups.csv level_mesial_mm "a lost" "outside the possible range%"
refused_in followups.csv level_distal_mm "a decimal comma" "not a number%"
refused_in followups.csv seen_on "a date in another order" "not an existing date%"
refused_in followups.csv probing_mm "a lost" "outside the possible range%"
refused_in followups.csv bleeding "a word" "neither yes nor no%"
refused_in events.csv event "a word" "none of removed, %"

test_that "unknown implants, unknown patients and near-equal labels are told apart"
refused_in followups.csv implant "a reading of an unknown implant" "this patient has no implant of that label%"
refused_in events.csv patient "an event of an unknown patient" "this patient is in no implants file%"
refused_in followups.csv patient "an id without" "not known, but for leading zeros%"
finds followups.csv level_mesial_mm "the same reading again" "d.weight = 'refused' AND d.reason LIKE 'the same key as line %'"

test_that "contradictions are raised under their own check"
finds implants.csv loaded_on "loaded before" "d.check_name = 'loading-before-placement'"
finds implants.csv stalled "stalled no" "d.check_name = 'stall-details-without-stall'"
finds implants.csv loaded "loaded no" "d.check_name = 'loading-date-but-not-loaded'"
finds followups.csv seen_on "a reading before" "d.check_name = 'reading-before-placement'"
finds followups.csv seen_on "seen after the implant" "d.check_name = 'reading-after-removal'"
finds followups.csv seen_on "seen after the patient" "d.check_name = 'reading-after-death'"

test_that "bone lower than the implant is long is raised where no bone was added"
holds test "$(awk -F, '$22 == "6"' "$SAMPLE/implants.csv" | wc -l)" = "$(stated implants.csv bone_height_mm "bone lower")"
holds test "$(found "d.check_name = 'beyond-bone'")" = "$(awk -F, '$22 == "6" && $28 != "yes"' "$SAMPLE/implants.csv" | wc -l)"
holds test "$(found "d.check_name = 'beyond-bone'")" -gt 0

# A replacement stands on its site without a removal also where the removal itself was refused.
test_that "a second implant on a site is raised"
holds test "$(found "b.file_name = 'implants.csv' AND d.check_name = 'site-twice'")" -ge "$(stated implants.csv placed_on "a second implant")"
holds test "$(found "d.check_name = 'site-twice'")" -le 3

test_that "rows that stand twice enter once and raise nothing"
for kind in implants followups events; do
    holds test "$(sqlite3 dirt.db "SELECT rows_unchanged FROM batch WHERE kind = '$kind'")" = "$(stated $kind.csv "" "the same row twice")"
done

test_that "a limit reached is stored as a limit however it is written, never as a reading"
spelled=$(awk -F, '$17 ~ /^>|\+$/' "$SAMPLE/implants.csv" | wc -l)
holds test "$(awk -F, '$17 ~ /\+$|^>=/' "$SAMPLE/implants.csv" | wc -l)" = "$(stated implants.csv final_torque_ncm "a limit reached")"
refused=$(sqlite3 dirt.db "SELECT count(*) FROM refused_row WHERE kind = 'implants' AND (cells LIKE '%final_torque_ncm=>%' OR cells LIKE '%final_torque_ncm=70+%')")
holds test "$(sqlite3 dirt.db 'SELECT count(*) FROM implant WHERE final_torque_capped AND final_torque_ncm = 70')" = $((spelled - refused))

test_that "the two density scales stay apart"
holds test "$(sqlite3 dirt.db "SELECT count(*) FROM implant WHERE density_found_scale = 'LZ'")" = "$(stated implants.csv density_found "density by the other")"
run figures --store dirt.db
holds sh -c 'grep "^stability,torque_median,window|density_found,period|LZ" out >/dev/null'
holds sh -c 'grep "^stability,density_kappa,window|scale" out >/dev/null || grep "^stability,density_kappa,.*LZ" out >/dev/null'

test_that "a missing value is NULL, never zero and never no"
for column in achieved_depth_mm tissue_mm isq final_torque_ncm wall_buccal_mm smoking; do
    at=$(head -n 1 "$SAMPLE/implants.csv" | tr ',' '\n' | grep -n "^$column$" | cut -d: -f1)
    empty=$(tail -n +2 "$SAMPLE/implants.csv" | sort -u | awk -F, -v at="$at" '$at == ""' | wc -l)
    gone=$(sqlite3 dirt.db "SELECT count(*) FROM refused_row WHERE kind = 'implants'")
    missing=$(sqlite3 dirt.db "SELECT count(*) FROM implant WHERE $column IS NULL")
    holds test "$missing" -le "$empty"
    holds test "$missing" -ge $((empty - gone))
    holds test "$missing" -gt 0
done
