#include "ridgetally/figure/standing_out.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static bool is(const struct rt_figure *row, const char *measure)
{
    return strcmp(row->measure, measure) == 0;
}

static const char *last_part(const char *level)
{
    const char *bar = strrchr(level, '|');
    return bar == NULL ? level : bar + 1;
}

static bool first_part_is(const char *level, const char *part)
{
    const size_t length = strlen(part);
    return strncmp(level, part, length) == 0 && (level[length] == '|' || level[length] == '\0');
}

/* --- screened --------------------------------------------------------------------------------------------- */

/* The question of another measure in another form; agreement beyond chance; what a method assumes. */
static bool asks_nothing_new(const struct rt_figure *row)
{
    static const char *const measures[] = {
        "torque_density_tau_b", "torque_density_trend",    "torque_diameter_tau_b", "torque_length_tau_b",
        "crest_model_cr2",      "crest_model_operator",    "level_model",           "rule_sum_slope",
        "density_kappa",        "density_kappa_quadratic", "proportional_hazards"};
    for (size_t i = 0; i < sizeof measures / sizeof measures[0]; i++)
        if (is(row, measures[i]))
            return true;
    return false;
}

/* The records, or the end of follow-up, that stand beside those the question is asked of. */
static bool is_beside(const struct rt_figure *row)
{
    static const char *const cohorts[] = {"period", "recall", "worst case", "best case"};
    const bool by_cohort =
        first_part_is(row->grouping, "window") || first_part_is(row->grouping, "censoring");
    for (size_t i = 0; i < sizeof cohorts / sizeof cohorts[0]; i++)
        if (by_cohort && first_part_is(row->level, cohorts[i]))
            return true;
    return strcmp(row->site, "worse") == 0 || strcmp(row->baseline, "loading") == 0 ||
           strcmp(row->unit_of_analysis, "patient") == 0;
}

bool rt_is_screened(const struct rt_figure *row)
{
    const bool intercept =
        strcmp(last_part(row->grouping), "term") == 0 && strcmp(last_part(row->level), "intercept") == 0;
    return !isnan(row->p) && !asks_nothing_new(row) && !is_beside(row) && !intercept;
}

/* --- clear ------------------------------------------------------------------------------------------------ */

/* The comparison a hazard ratio belongs to, as score tests name it: density is compared within a scale. */
static const char *compared_group(const struct rt_figure *ratio)
{
    const char *group = last_part(ratio->grouping);
    if (strcmp(group, "density_found") != 0)
        return group;
    return strncmp(last_part(ratio->level), "LZ", 2) == 0 ? "density_found=LZ" : "density_found=D";
}

/* The same for either kind of row. */
static const char *group_of(const struct rt_figure *row)
{
    return is(row, "hazard_ratio") ? compared_group(row) : last_part(row->level);
}

static bool below_limit(const struct rt_figure *row)
{
    return row->state == RT_FIGURE_OK && row->p_adjusted < 0.05;
}

/* Is the score test of the hazard ratio's group clear? */
static bool group_differs(const struct rt_figure_list *figures, const struct rt_figure *ratio)
{
    for (size_t i = 0; i < figures->count; i++) {
        const struct rt_figure *row = &figures->rows[i];
        if (is(row, "survival_comparison") && rt_is_screened(row) && below_limit(row) &&
            strcmp(last_part(row->level), compared_group(ratio)) == 0)
            return true;
    }
    return false;
}

static bool is_clear(const struct rt_figure_list *figures, const struct rt_figure *row)
{
    if (!below_limit(row) || !rt_is_screened(row))
        return false;
    if (is(row, "hazard_ratio"))
        return group_differs(figures, row);
    return !is(row, "rule_verdict") || row->value != 0.0; /* 0: cannot tell */
}

/* --- questions -------------------------------------------------------------------------------------------- */

static bool about_survival(const struct rt_figure *row)
{
    return is(row, "hazard_ratio") || is(row, "survival_comparison");
}

static bool about_depth_of_operators(const struct rt_figure *row)
{
    return is(row, "depth_operator_difference") || is(row, "difference_depth_error");
}

bool rt_same_question(const struct rt_figure *a, const struct rt_figure *b)
{
    if (about_survival(a) && about_survival(b))
        return strcmp(group_of(a), group_of(b)) == 0;
    if (about_depth_of_operators(a) && about_depth_of_operators(b))
        return true;
    if (strcmp(a->section, b->section) != 0 || strcmp(a->measure, b->measure) != 0)
        return false;
    return !is(a, "rule_verdict") || strcmp(a->level, b->level) == 0;
}

/* Of two clear rows of a question, a the earlier: does b speak for it? */
static bool is_clearer(const struct rt_figure *b, const struct rt_figure *a)
{
    if (is(a, "survival_comparison") != is(b, "survival_comparison"))
        return is(a, "survival_comparison");
    if (a->p_adjusted != b->p_adjusted)
        return b->p_adjusted < a->p_adjusted;
    return b->p < a->p;
}

/* The clear row that speaks for the question of the one at place first. */
static const struct rt_figure *clearest(const struct rt_standing_out *out, size_t first)
{
    const struct rt_figure *speaker = out->clear[first];
    for (size_t i = first + 1; i < out->clear_count; i++)
        if (rt_same_question(speaker, out->clear[i]) && is_clearer(out->clear[i], speaker))
            speaker = out->clear[i];
    return speaker;
}

static bool is_first(const struct rt_standing_out *out, size_t place)
{
    for (size_t i = 0; i < place; i++)
        if (rt_same_question(out->clear[i], out->clear[place]))
            return false;
    return true;
}

static int by_place(const void *left, const void *right)
{
    const struct rt_figure *const *a = left, *const *b = right;
    return (*a > *b) - (*a < *b); /* rows of one array */
}

enum rt_status rt_find_standing_out(const struct rt_figure_list *figures, struct rt_standing_out *out,
                                    struct rt_error *error)
{
    *out = (struct rt_standing_out){.clear = rt_new_array(figures->count, sizeof(struct rt_figure *)),
                                    .named = rt_new_array(figures->count, sizeof(struct rt_figure *))};
    if (out->clear == NULL || out->named == NULL) {
        rt_release_standing_out(out);
        return rt_fail_memory(error);
    }
    for (size_t i = 0; i < figures->count; i++) {
        const struct rt_figure *row = &figures->rows[i];
        out->screened += rt_is_screened(row);
        if (is_clear(figures, row))
            out->clear[out->clear_count++] = row;
    }
    for (size_t i = 0; i < out->clear_count; i++)
        if (is_first(out, i))
            out->named[out->named_count++] = clearest(out, i);
    if (out->named_count > 1)
        qsort(out->named, out->named_count, sizeof(struct rt_figure *), by_place);
    return RT_OK;
}

void rt_release_standing_out(struct rt_standing_out *out)
{
    free(out->clear);
    free(out->named);
    *out = (struct rt_standing_out){0};
}
