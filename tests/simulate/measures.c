#include "measures.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* clang-format off */
#define PERIOD(section, measure, unit, exact) {section, measure, "window", "period", 0, "", "", unit, exact, false}
#define CREST(measure, months, site, unit, exact) \
    {"crest", measure, "window", "all", months, "placement", site, unit, exact, false}
#define TERM(measure, term) {"crest", measure, "window|term", "all|" term, 12, "placement", "mean", "implant", false, false}
#define SURVIVAL(measure, censoring, years, unit) \
    {"survival", measure, "censoring", censoring, years, "", "", unit, false, true}

#define READERS(measure, grouping, level) {"readers", measure, grouping, level, 0, "", "", "implant", false, false}
#define CHANGE(measure, since, at, baseline, site, needs_event) \
    {"yardsticks", measure, "change", since, at, baseline, site, "implant", false, needs_event}
#define CHANGES(measure, at, baseline, site, needs_event) \
    CHANGE(measure, "last period", at, baseline, site, needs_event), CHANGE(measure, "a year ago", at, baseline, site, needs_event)

static const struct simulated_measure measures[] = {
    PERIOD("depth", "depth_bias", "implant", false),
    PERIOD("depth", "depth_bias", "patient", false),
    PERIOD("depth", "depth_sd", "implant", false),
    PERIOD("depth", "depth_limit_lower", "implant", false),
    PERIOD("depth", "depth_limit_upper", "implant", false),
    PERIOD("depth", "depth_mean_absolute", "implant", false),
    PERIOD("depth", "depth_within_half", "implant", true),
    PERIOD("depth", "depth_within_half", "patient", false),
    {"depth", "depth_operator_difference", "window|operator", "period|A", 0, "", "", "implant", false, false},
    PERIOD("stability", "torque_quartile_lower", "implant", true),
    PERIOD("stability", "torque_median", "implant", true),
    PERIOD("stability", "torque_quartile_upper", "implant", true),
    {"stability", "torque_density_spearman", "window|density_scale", "period|D", 0, "", "", "implant", false, false},
    {"stability", "torque_density_tau_b", "window|density_scale", "period|D", 0, "", "", "implant", false, false},
    {"stability", "torque_density_trend", "window|density_scale", "period|D", 0, "", "", "implant", false, false},
    {"stability", "density_kappa", "window|density_scale", "period|D", 0, "", "", "implant", false, false},
    {"stability", "density_kappa_quadratic", "window|density_scale", "period|D", 0, "", "", "implant", false, false},
    {"stability", "density_same", "window|density_scale", "period|D", 0, "", "", "implant", true, false},
    PERIOD("stability", "torque_diameter_spearman", "implant", false),
    PERIOD("stability", "torque_diameter_tau_b", "implant", false),
    PERIOD("stability", "torque_length_spearman", "implant", false),
    PERIOD("stability", "torque_length_tau_b", "implant", false),
    PERIOD("stability", "low_torque", "implant", true),
    {"stability", "torque_per_mm", "window", "all", 0, "", "", "implant", false, false},
    {"stability", "torque_per_mm_origin", "window", "all", 0, "", "", "implant", false, false},
    {"stability", "torque_per_mm_censored", "window", "all", 0, "", "", "implant", false, false},
    CREST("crest_change", 12, "mean", "implant", false),
    CREST("crest_change", 12, "mean", "patient", false),
    CREST("crest_change", 12, "worse", "implant", false),
    CREST("crest_change", 36, "mean", "implant", false),
    CREST("exposure_share", 12, "worse", "implant", true),
    CREST("exposure_share", 12, "worse", "patient", false),
    CREST("exposure_median", 12, "mean", "implant", true),
    CREST("exposure_median", 12, "worse", "implant", true),
    TERM("crest_model", "intercept"),
    TERM("crest_model", "achieved_depth_mm"),
    TERM("crest_model", "tissue_mm"),
    TERM("crest_model", "achieved_depth_mm x tissue_mm"),
    TERM("crest_model", "smoking=current"),
    TERM("crest_model", "density_found=D3"),
    TERM("crest_model_cr2", "achieved_depth_mm"),
    TERM("crest_model_cr2", "tissue_mm"),
    TERM("crest_model_cr2", "achieved_depth_mm x tissue_mm"),
    TERM("crest_model_cr2", "smoking=current"),
    TERM("level_model", "achieved_depth_mm"),
    {"crest", "crest_dose_response", "window", "all", 1.0, "placement", "mean", "implant", false, false},
    {"crest", "crest_dose_response", "window", "all", 1.5, "placement", "mean", "implant", false, false},
    {"crest", "crest_dose_response", "window", "all", 2.0, "placement", "mean", "implant", false, false},
    {"crest", "crest_predicted", "window|tissue_class", "all|2 to <3 mm", 1.5, "placement", "mean", "implant", false, false},
    {"crest", "crest_yearly", "window", "all", 0, "placement", "mean", "implant", false, false},
    {"success", "success_share", "window|criteria", "all|Pisa consensus 2007", 0, "", "", "implant", true, false},
    {"success", "success_share", "window|criteria", "all|World Workshop 2017", 0, "", "", "implant", true, false},
    {"success", "success_share", "window|criteria", "all|World Workshop 2017", 0, "", "", "patient", false, false},
    SURVIVAL("survival", "last sighting", 1, "implant"),
    SURVIVAL("survival", "last sighting", 3, "implant"),
    SURVIVAL("survival", "last sighting", 5, "implant"),
    SURVIVAL("survival", "recall", 1, "implant"),
    SURVIVAL("survival", "recall", 5, "implant"),
    SURVIVAL("survival", "worst case", 5, "implant"),
    SURVIVAL("survival", "best case", 5, "implant"),
    SURVIVAL("survival", "last sighting", 1, "patient"),
    SURVIVAL("survival", "last sighting", 5, "patient"),
    {"survival", "hazard_ratio", "censoring|smoking", "last sighting|current", 0, "", "", "implant", false, true},
    SURVIVAL("survival_one_implant", "last sighting", 1, "implant"),
    SURVIVAL("survival_one_implant", "last sighting", 5, "implant"),
    SURVIVAL("late_failure", "last sighting", 5, "implant"),
    SURVIVAL("life_table_cumulative", "last sighting", 2, "implant"),
    {"survival", "incidence", "censoring|cause", "last sighting|failure", 1, "", "", "implant", false, true},
    {"survival", "incidence", "censoring|cause", "last sighting|failure", 5, "", "", "implant", false, true},
    {"survival", "incidence", "censoring|cause", "recall|death", 5, "", "", "implant", false, true},
    {"survival", "early_failure", "window", "all", 0, "", "", "implant", true, true},
    {"survival", "early_failure", "window", "all", 0, "", "", "patient", true, true},
    {"survival", "early_failure_bound", "window|bound", "all|worst case", 0, "", "", "implant", true, true},
    {"survival", "failure_before_loading", "censoring|cause", "last sighting|failure", 0.5, "", "", "implant", false, true},
    {"survival", "failure_before_loading", "censoring|cause", "last sighting|loading", 0.5, "", "", "implant", false, false},
    {"survival", "failure_rate", "window", "period", 0, "", "", "implant", false, true},
    {"survival", "failure_rate", "window|censoring", "period|recall", 0, "", "", "implant", false, true},
    {"survival", "discovery_gap", "window", "all", 0, "", "", "implant", true, true},
    {"flow", "completeness", "", "", 0, "", "", "implant", true, false},
    {"flow", "median_follow_up", "", "", 0, "", "", "implant", true, false},
    {"flow", "read_share", "window", "all", 12, "placement", "", "implant", true, false},
    READERS("reread_bias", "", ""),
    READERS("reread_limit_lower", "", ""),
    READERS("reread_limit_upper", "", ""),
    READERS("reread_error", "", ""),
    READERS("reread_icc", "", ""),
    READERS("between_error", "", ""),
    READERS("between_icc", "", ""),
    READERS("between_bias", "reader|other_reader", "R1|R2"),
    READERS("between_limit_lower", "reader|other_reader", "R1|R2"),
    READERS("between_limit_upper", "reader|other_reader", "R1|R2"),
    READERS("between_error", "reader|other_reader", "R1|R2"),
    READERS("between_icc", "reader|other_reader", "R1|R2"),
    {"readers", "change_one_reader", "window", "all", 12, "placement", "mean", "implant", false, false},
    CHANGES("depth_bias_change", 0, "", "", false),
    CHANGES("depth_within_half_change", 0, "", "", true),
    CHANGES("low_torque_change", 0, "", "", true),
    CHANGES("crest_change_change", 12, "placement", "mean", false),
    CHANGES("exposure_share_change", 12, "placement", "worse", true),
    CHANGES("early_failure_change", 0, "", "", true),
    CHANGES("failure_rate_change", 0, "", "", true),
    CHANGES("survival_one_year_change", 1, "", "", true),
    CHANGE("survival_five_years_change", "last period", 5, "", "", true),
    CHANGES("read_share_change", 12, "placement", "", false),
};
/* clang-format on */

const struct simulated_measure *simulated_measures(size_t *count)
{
    *count = sizeof measures / sizeof measures[0];
    return measures;
}

const char *name_of_part(enum part part)
{
    static const char *const names[PARTS] = {"flow",  "depth",    "stability", "slope",   "crest",
                                             "model", "survival", "hazard",    "readers", "change"};
    return names[part];
}

static bool starts_with(const char *text, const char *start)
{
    return strncmp(text, start, strlen(start)) == 0;
}

enum part part_of_measure(const struct simulated_measure *measure)
{
    const char *name = measure->measure;
    if (starts_with(name, "torque_per_mm"))
        return PART_SLOPE;
    if (starts_with(name, "hazard"))
        return PART_HAZARD;
    if (strcmp(measure->section, "yardsticks") == 0)
        return PART_CHANGE;
    if (strcmp(measure->section, "success") == 0) /* judged from the films too */
        return PART_CREST;
    if (starts_with(name, "read_share")) /* of the flow of films, counted where the crest is */
        return PART_CREST;
    if (starts_with(name, "crest_model") || starts_with(name, "level_model") ||
        starts_with(name, "crest_dose") || starts_with(name, "crest_predicted"))
        return PART_MODEL;
    for (int part = 0; part < PARTS; part++)
        if (strcmp(measure->section, name_of_part((enum part)part)) == 0)
            return (enum part)part;
    return PARTS;
}

static void add(char *text, size_t size, const char *part)
{
    size_t used = strlen(text);
    if (part[0] != '\0')
        snprintf(text + used, size - used, " %s", part);
}

const char *name_of_measure(const struct simulated_measure *measure, char *text, size_t size)
{
    char at[32] = "";
    const char *level =
        strcmp(measure->level, "all") == 0 || strcmp(measure->level, "period") == 0 ? "" : measure->level;
    if (strncmp(level, "all|", 4) == 0)
        level += 4;
    else if (strncmp(level, "period|", 7) == 0)
        level += 7;
    snprintf(text, size, "%s", measure->measure);
    if (measure->at > 0)
        snprintf(at, sizeof at, "at %g", measure->at);
    add(text, size, level);
    add(text, size, at);
    add(text, size, measure->site);
    if (strcmp(measure->unit_of_analysis, "patient") == 0)
        add(text, size, "by patient");
    return text;
}

bool is_measure(const struct rt_figure *row, const struct simulated_measure *measure)
{
    return strcmp(row->measure, measure->measure) == 0 && strcmp(row->level, measure->level) == 0 &&
           strcmp(row->grouping, measure->grouping) == 0 && strcmp(row->section, measure->section) == 0 &&
           strcmp(row->baseline, measure->baseline) == 0 && strcmp(row->site, measure->site) == 0 &&
           strcmp(row->unit_of_analysis, measure->unit_of_analysis) == 0 &&
           (isnan(row->at) ? measure->at == 0.0 : fabs(row->at - measure->at) < 1e-9);
}

void find_measures(const struct rt_figure_list *figures, const struct rt_figure **rows)
{
    size_t count;
    const struct simulated_measure *all = simulated_measures(&count);
    for (size_t i = 0; i < count; i++)
        rows[i] = NULL;
    for (size_t j = 0; j < figures->count; j++)
        for (size_t i = 0; i < count; i++)
            if (is_measure(&figures->rows[j], &all[i]))
                rows[i] = &figures->rows[j];
}
