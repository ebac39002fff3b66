#include "hand_made_audit.h"

#include "ridgetally/base/date.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

struct line {
    const char *section, *measure, *grouping, *level;
    double at;
    long implants, patients, events, due;
    double value, lower, upper, p;
    const char *unit, *baseline, *site, *analysis, *method;
    enum rt_figure_state state;
};

#define NO  RT_NO_COUNT
#define OK  RT_FIGURE_OK
#define FEW RT_FIGURE_TOO_FEW

/* clang-format off */
static const struct line lines[] = {
    {"flow", "comparisons", "", "", NAN, NO, NO, NO, NO, 41, NAN, NAN, NAN, "comparisons", "", "", "", "count", OK},
    {"flow", "comparisons_clear", "", "", NAN, NO, NO, NO, NO, 3, NAN, NAN, NAN, "comparisons", "", "", "", "count", OK},
    {"flow", "comparisons_named", "", "", NAN, NO, NO, NO, NO, 3, NAN, NAN, NAN, "questions", "", "", "", "count", OK},
    {"flow", "recorded", "window", "period", NAN, 31, 24, NO, NO, 31, NAN, NAN, NAN, "implants", "", "", "implant", "count", OK},
    {"flow", "recorded", "window", "all", NAN, 450, 250, NO, NO, 450, NAN, NAN, NAN, "implants", "", "", "implant", "count", OK},
    {"flow", "followed", "", "", NAN, 431, 240, NO, NO, 431, NAN, NAN, NAN, "implants", "", "", "implant", "count", OK},
    {"flow", "analysed", "", "", NAN, 448, 249, NO, NO, 448, NAN, NAN, NAN, "implants", "", "", "implant", "count", OK},
    {"flow", "status", "status", "in place", NAN, 380, 220, NO, NO, 380, NAN, NAN, NAN, "implants", "", "", "implant", "count", OK},
    {"flow", "status", "status", "lost", NAN, 1, 1, NO, NO, 1, NAN, NAN, NAN, "implants", "", "", "implant", "count", OK},
    {"flow", "follow_up_index", "", "", NAN, 448, 249, NO, NO, 0.912, NAN, NAN, NAN, "share", "", "", "implant", "follow_up_index", OK},
    {"flow", "median_follow_up", "", "", NAN, 448, 249, NO, NO, 27.4, 25.02, 29.98, NAN, "months", "", "", "implant", "reverse_kaplan_meier", OK},
    {"flow", "completeness", "year", "2021", NAN, 60, 40, 51, 60, 0.85, 0.71, 0.935, NAN, "share", "", "", "implant", "share_korn_graubard", OK},
    {"flow", "completeness", "year", "2022", NAN, 12, 11, 11, 12, NAN, NAN, NAN, NAN, "share", "", "", "implant", "share_korn_graubard", FEW},
    {"flow", "field_recorded", "window|field", "all|isq", NAN, 450, 250, 201, NO, 0.4466666667, NAN, NAN, NAN, "share", "", "", "", "count_share", OK},
    {"depth", "depth_bias", "window", "12 months", NAN, 120, 70, NO, 124, 0.2149, 0.1312, 0.2986, 1e-5, "mm", "", "", "implant", "mean_cr2", OK},
    {"depth", "depth_bias", "window", "period", NAN, 9, 7, NO, 31, NAN, NAN, NAN, NAN, "mm", "", "", "implant", "mean_cr2", FEW},
    {"depth", "depth_limit_lower", "window", "12 months", NAN, 120, 70, NO, NO, -0.7012, -0.82, -0.59, NAN, "mm", "", "", "implant", "limits_clustered", OK},
    {"depth", "depth_limit_upper", "window", "12 months", NAN, 120, 70, NO, NO, 1.131, 1.02, 1.24, NAN, "mm", "", "", "implant", "limits_clustered", OK},
    {"depth", "depth_within_half", "window", "12 months", NAN, 120, 70, 93, NO, 0.775, 0.6814, 0.8522, NAN, "share", "", "", "implant", "share_korn_graubard", OK},
    {"depth", "depth_bias", "window|operator", "12 months|A & <B>", NAN, 60, 40, NO, NO, 0.41, 0.3, 0.52, 1e-9, "mm", "", "", "implant", "mean_cr2", OK},
    {"depth", "depth_bias", "window|operator", "12 months|=1+1", NAN, 60, 30, NO, NO, 0.02, -0.1, 0.14, 0.7, "mm", "", "", "implant", "mean_cr2", OK},
    {"depth", "depth_operator_difference", "window|operator", "12 months|A & <B>", NAN, 60, 40, NO, NO, 0.39, 0.2, 0.58, 0.0004, "mm", "", "", "implant", "difference_cr2", OK},
    {"stability", "torque_recorded", "window", "12 months", NAN, 118, 69, NO, 124, 118, NAN, NAN, NAN, "implants", "", "", "implant", "count", OK},
    {"stability", "torque_median", "window|density_found", "12 months|D1", NAN, 20, 15, NO, NO, 48.2, 44, NAN, NAN, "Ncm", "", "", "implant", "quantile_censored", OK},
    {"stability", "torque_density_spearman", "window|density_scale", "12 months|D", NAN, 110, 66, NO, NO, -0.512, -0.66, -0.31, 1e-6, "", "", "", "implant", "rank_jackknife", OK},
    {"stability", "low_torque", "window", "12 months", NAN, 118, 69, 0, NO, 0.0, 0.0, 0.052, NAN, "share", "", "", "implant", "exact_conservative", OK},
    {"crest", "crest_change", "window", "12 months", 12, 60, 41, NO, NO, -0.42, -0.6, -0.24, 1e-4, "mm", "placement", "mean", "implant", "mean_cr2", OK},
    {"crest", "crest_change", "window", "12 months", 12, 60, 41, NO, NO, -0.61, -0.8, -0.42, 1e-4, "mm", "placement", "worse", "implant", "mean_cr2", OK},
    {"crest", "crest_change", "window|depth_class|tissue_class", "all|0 to <1 mm|>=3 mm", 12, 22, 18, NO, NO, -0.2, -0.5, 0.1, 0.2, "mm", "placement", "mean", "implant", "mean_cr2", OK},
    {"crest", "exposure_share", "window", "12 months", 12, 60, 41, 6, NO, 0.1, 0.03, 0.2214, NAN, "share", "placement", "worse", "implant", "share_korn_graubard", OK},
    {"survival", "survival", "censoring", "last sighting", 1, 301, 190, 12, NO, 0.9712, 0.945, 0.986, NAN, "share", "", "", "implant", "kaplan_meier_robust", OK},
    {"survival", "survival", "censoring", "worst case", 1, 301, 190, 30, NO, 0.92, 0.88, 0.95, NAN, "share", "", "", "implant", "kaplan_meier_bound", OK},
    {"survival", "survival", "censoring", "best case", 1, 340, 210, 12, NO, 0.974, 0.95, 0.99, NAN, "share", "", "", "implant", "kaplan_meier_bound", OK},
    {"survival", "survival", "censoring|torque_class", "last sighting|<20", 1, 15, 12, 4, NO, 0.8, 0.51, 0.93, NAN, "share", "", "", "implant", "kaplan_meier_robust", OK},
    {"survival", "survival_comparison", "censoring|comparison", "last sighting|torque_class", NAN, 440, 245, 22, NO, 11.2, NAN, NAN, 0.011, "", "", "", "implant", "logrank_robust", OK},
    {"survival", "hazard_ratio", "censoring|torque_class", "last sighting|20 to <35 Ncm", NAN, 119, 89, 5, NO, 0.17, 0.05, 0.55, 0.003, "ratio", "", "", "implant", "cox_firth", OK},
    {"survival", "early_failure", "window", "12 months", NAN, 110, 66, 3, 112, 0.02727, 0.005, 0.09, NAN, "share", "", "", "implant", "share_korn_graubard", OK},
    {"survival", "failure_rate", "window|censoring", "period|last sighting", NAN, 300, 180, 0, NO, 0.0, NAN, 1.93, NAN, "per 100 implant-years", "", "", "implant", "rate_exact_conservative", OK},
    {"survival", "discovery_gap", "window", "all", NAN, 5, 4, NO, NO, NAN, NAN, NAN, NAN, "days", "", "", "implant", "quantile_woodruff", FEW},
};
/* clang-format on */

static struct rt_figure figure_of(const struct line *line)
{
    struct rt_figure row = rt_empty_figure();
    row.section = line->section;
    row.measure = line->measure;
    row.grouping = line->grouping;
    row.level = line->level;
    row.at = line->at;
    row.n_implants = line->implants;
    row.n_patients = line->patients;
    row.n_events = line->events;
    row.n_due = line->due;
    row.value = line->value;
    row.lower = line->lower;
    row.upper = line->upper;
    row.p = row.p_adjusted = line->p;
    row.unit = line->unit;
    row.baseline = line->baseline;
    row.site = line->site;
    row.unit_of_analysis = line->analysis;
    row.method = line->method;
    row.state = line->state;
    return row;
}

void hand_made_audit(struct rt_figure_list *figures, struct rt_audit_info *info)
{
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++) {
        struct rt_figure row = figure_of(&lines[i]);
        if (rt_add_figure(figures, &row, NULL) != RT_OK)
            abort();
    }
    *info = (struct rt_audit_info){.first_day = rt_parse_iso_date("2026-07-01"),
                                   .last_day = rt_parse_iso_date("2026-09-30"),
                                   .latest_record = rt_parse_iso_date("2026-10-14"),
                                   .fictional = true};
    snprintf(info->practice_name, sizeof info->practice_name, "%s", HAND_MADE_PRACTICE);
}
