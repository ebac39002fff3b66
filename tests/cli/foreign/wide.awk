# One wide table, a row per implant, from the three native files of a small practice: 14 columns of the implant, day, mesial
# and distal level of three visits, the day of removal. Fields are separated by bars, cells are as in the native files.
BEGIN { FS = ","; OFS = "|" }
FNR == 1 { file++; delete at; for (i = 1; i <= NF; i++) at[$i] = i; next }
file == 1 {
    key = $at["patient"] SUBSEP $at["implant"]
    order[++n] = key
    n_columns = split("patient implant tooth placed_on diameter_mm length_mm planned_depth_mm achieved_depth_mm " \
        "stalled final_torque_ncm tissue_mm loaded_on sex smoking", names, " ")
    row[key] = ""
    for (i = 1; i <= n_columns; i++) row[key] = row[key] (i > 1 ? OFS : "") $at[names[i]]
}
file == 2 { visit[$at["patient"], $at["implant"], $at["visit"]] = $at["seen_on"] OFS $at["level_mesial_mm"] OFS $at["level_distal_mm"] }
file == 3 { removed[$at["patient"], $at["implant"]] = $at["happened_on"] }
END {
    for (i = 1; i <= n; i++) {
        key = order[i]
        printf "%s", row[key]
        m = split("placement loading review", visits, " ")
        for (j = 1; j <= m; j++)
            printf "|%s", ((key, visits[j]) in visit) ? visit[key, visits[j]] : "||"
        printf "|%s\n", (key in removed) ? removed[key] : ""
    }
}
