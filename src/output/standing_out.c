/* What stands out: which rows, and in which words. */
#include "plan.h"

#include "ridgetally/figure/wording.h"

#include <math.h>
#include <string.h>

/* True when the row's twin of the 12 months stands out as well. */
static bool stands_in_year(const struct plan *plan, const struct rt_figure *row)
{
    struct key key = key_of(row->section, row->measure, row->grouping, "");
    key.level = rt_document_text(plan->document, "12 months%s", row->level + strlen("all"));
    key.baseline = row->baseline;
    key.site = row->site;
    key.at = row->at;
    const struct rt_figure *twin = find_row(plan, key);
    return twin != NULL && twin->state == RT_FIGURE_OK && twin->p_adjusted < 0.05;
}

/* An operator's depth over all records, where that of the 12 months stands out already. */
static bool operator_in_year(const struct plan *plan, const struct rt_figure *row)
{
    if (strcmp(row->measure, "difference_depth_error") != 0)
        return false;
    const char *level = rt_document_text(plan->document, "12 months|%s", row->level);
    const struct rt_figure *year =
        find_row(plan, key_of("depth", "depth_operator_difference", "window|operator", level));
    return year != NULL && year->state == RT_FIGURE_OK && year->p_adjusted < 0.05;
}

/* The same question asked again in another form, window or class: only its first form stands out. */
static bool repeats_another(const struct plan *plan, const struct rt_figure *row)
{
    static const char *const again[] = {
        "torque_density_tau_b",    "torque_density_trend",   "torque_diameter_tau_b", "torque_length_tau_b",
        "torque_per_mm_origin",    "torque_per_mm_censored", "crest_model_cr2",       "level_model",
        "density_kappa_quadratic", "crest_model_operator",   "rule_sum_slope"};
    static const char *const whole_only[] = {"depth_bias", "crest_change"};
    for (size_t i = 0; i < sizeof again / sizeof again[0]; i++)
        if (strcmp(row->measure, again[i]) == 0)
            return true;
    for (size_t i = 0; i < sizeof whole_only / sizeof whole_only[0]; i++)
        if (strcmp(row->measure, whole_only[i]) == 0 && strchr(row->grouping, '|') != NULL)
            return true;
    const char *cohort = level_part(plan, row->level, 0);
    if (operator_in_year(plan, row))
        return true;
    if (strcmp(cohort, "all") == 0 && stands_in_year(plan, row))
        return true;
    bool other = strcmp(cohort, "period") == 0 || strcmp(cohort, "recall") == 0 ||
                 strcmp(cohort, "worst case") == 0 || strcmp(cohort, "best case") == 0;
    return other || strcmp(last_level_part(plan, row->level), "intercept") == 0 ||
           strcmp(row->site, "worse") == 0 || strcmp(row->baseline, "loading") == 0 ||
           strcmp(row->unit_of_analysis, "patient") == 0;
}

static bool is_change(const struct rt_figure *row)
{
    return strcmp(row->section, "yardsticks") == 0 && strcmp(row->grouping, "change") == 0;
}

/* What a house rule's verdict rests on: no verdict without the size of the thing. */
static const struct rt_figure *effect_of(const struct plan *plan, const struct rt_figure *row)
{
    static const char *const measures[] = {"rule_difference_adjusted", "rule_slope_adjusted", "rule_knee"};
    for (size_t i = 0; i < sizeof measures / sizeof measures[0]; i++) {
        const struct rt_figure *effect = find_row(plan, key_of("rules", measures[i], "rule", row->level));
        if (effect != NULL && effect->state == RT_FIGURE_OK)
            return effect;
    }
    return row;
}

/* A wording of the measure's own where there is one, else measure, group, size with interval and adjusted p.
 */
static const char *point_key(const struct plan *plan, const struct rt_figure *row)
{
    bool test_only = isnan(row->lower) && isnan(row->upper) && strcmp(row->measure, "rule_verdict") != 0;
    const char *direction = test_only ? "test" : row->value > 0.0 ? "more" : "less";
    const char *own = rt_document_text(plan->document, "standout.%s.%s", row->measure, direction);
    if (is_change(row))
        own = rt_document_text(plan->document, "standout.change.%s", direction);
    if (rt_has_wording(own))
        return own;
    return test_only ? "front.point.test" : "front.point";
}

/* The row's level in words; a house rule by the name it has on the page. */
static const char *level_name(const struct plan *plan, const struct rt_figure *row)
{
    const char *key = rt_document_text(plan->document, "rules.%s.name", row->level);
    bool rule = strcmp(row->measure, "rule_verdict") == 0 && rt_has_wording(key);
    return rule ? rt_document_words(plan->document, key) : last_words(plan, row);
}

void add_standing_out(const struct plan *plan, struct rt_chapter *chapter, const struct rt_figure *row)
{
    struct rt_document *document = plan->document;
    struct rt_sentence *point = rt_add_point(document, chapter, point_key(plan, row));
    const char *unit = strcmp(row->unit, "share") == 0 ? "" : row->unit;
    const char *about = strchr(row->grouping, '|') != NULL ? row_words(plan, row) : time_words(plan, row);
    rt_bind_figure(document, point, "row", row);
    rt_bind_words(document, point, "unit", unit[0] == '\0' ? "" : rt_document_text(document, " %s", unit));
    const char *label = measure_label(row);
    rt_bind_words(document, point, "measure",
                  rt_document_text(document, "%.*s",
                                   (int)(strstr(label, ", now minus then") != NULL
                                             ? strstr(label, ", now minus then") - label
                                             : (long)strlen(label)),
                                   label));
    if (strcmp(row->measure, "rule_verdict") == 0) {
        const struct rt_figure *effect = effect_of(plan, row);
        bool named = strcmp(effect->unit, "share") != 0 && effect->unit[0] != '\0';
        rt_bind_figure(document, point, "effect", effect);
        rt_bind_words(document, point, "effect_unit",
                      named ? rt_document_text(document, " %s", effect->unit) : "");
    }
    rt_bind_words(document, point, "level", level_name(plan, row));
    rt_bind_words(document, point, "remark", reference_words(plan, row));
    rt_bind_words(document, point, "about",
                  about[0] == '\0' ? "" : rt_document_text(document, " (%s)", about));
}

bool stands_out(const struct plan *plan, const struct rt_figure *row)
{
    return row->state == RT_FIGURE_OK && row->p_adjusted < 0.05 && !repeats_another(plan, row);
}
