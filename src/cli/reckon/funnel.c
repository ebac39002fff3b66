#include "ridgetally/cli/reckon.h"

#include "ridgetally/stats/funnel.h"

#include <stdio.h>

static const struct rt_reckon_option options[] = {
    {"--count", RT_OPTION_NUMBERS_COLUMN, true, NULL, "events of each row", NULL},
    {"--total", RT_OPTION_NUMBERS_COLUMN, true, NULL, "trials of each row", NULL},
    {"--target", RT_OPTION_SHARE, false, NULL,
     "share the limits stand around; the pooled share when not given", NULL},
    {"--by", RT_OPTION_CATEGORIES_COLUMNS, false, NULL,
     "the units (rows of one unit are added); each row when not given", NULL},
    RT_RECKON_CLUSTER,
    RT_RECKON_LEVELS,
    RT_RECKON_END};

static const char notes[] =
    "Exact binomial limits, interpolated between counts (Spiegelhalter 2005, Statistics in Medicine "
    "24:1185). signal: 0\n"
    "inside the 95% limits, 1 outside them, 2 outside the 99.8% limits too. Lower limits are not cut off at "
    "0.\n"
    "With --cluster the distance of each limit from the target is multiplied by the square root of "
    "design_effect, the\n"
    "variance of the pooled share by clusters over that of independent trials (never below 1).\n";

struct input {
    double *count, *total;
    double target;
    double design_effect;  /* 1 without clusters */
    const char *no_target; /* why target is NaN */
};

static enum rt_status read_input(struct rt_reckon *r, struct input *input, struct rt_error *error)
{
    enum rt_status status = rt_reckon_counts(r, "--count", &input->count, error);
    if (status == RT_OK)
        status = rt_reckon_counts(r, "--total", &input->total, error);
    double events = 0;
    double trials = 0;
    for (size_t i = 0; status == RT_OK && i < r->n; i++) {
        if (input->count[i] > input->total[i])
            status = rt_reckon_fail_cell(r, i, rt_reckon_text(r, "--count"), "is more events than trials",
                                         "check both numbers of the row", error);
        events += input->count[i];
        trials += input->total[i];
    }
    input->target = rt_reckon_given(r, "--target") ? rt_reckon_number(r, "--target") : events / trials;
    input->design_effect = 1;
    input->no_target = trials > 0 ? "the pooled share is 0 or 1: give a --target" : "no trials";
    return status;
}

/* Writes the row of the design effect and keeps the factor for the limits. */
static enum rt_status reckon_design_effect(struct rt_reckon *r, struct input *input, struct rt_error *error)
{
    struct rt_estimate effect;
    if (r->clusters.of == NULL)
        return RT_OK;
    enum rt_status status =
        rt_share_design_effect(input->count, input->total, r->n, r->clusters, &effect, error);
    if (status != RT_OK)
        return status;
    rt_reckon_row(r, "design_effect", NULL, NAN, effect.value, effect.reason);
    input->design_effect = effect.value > 1 ? effect.value : 1;
    return RT_OK;
}

static void reckon_unit(struct rt_reckon *r, const struct input *input, const struct rt_reckon_group *unit)
{
    double count = 0;
    double total = 0;
    for (size_t i = 0; i < unit->count; i++) {
        count += input->count[unit->rows[i]];
        total += input->total[unit->rows[i]];
    }
    struct rt_funnel_limits limits = rt_funnel_limits(count, total, input->target, input->design_effect);
    if (limits.reason != NULL && !(input->target > 0 && input->target < 1))
        limits.reason = input->no_target;
    double signal = limits.reason == NULL ? (double)limits.signal : NAN;
    rt_reckon_row(r, "estimate", unit->name, NAN, total > 0 ? count / total : NAN, "no trials in this group");
    rt_reckon_row(r, "lower95", unit->name, NAN, limits.lower95, limits.reason);
    rt_reckon_row(r, "upper95", unit->name, NAN, limits.upper95, limits.reason);
    rt_reckon_row(r, "lower998", unit->name, NAN, limits.lower998, limits.reason);
    rt_reckon_row(r, "upper998", unit->name, NAN, limits.upper998, limits.reason);
    rt_reckon_row(r, "signal", unit->name, NAN, signal, limits.reason);
}

static enum rt_status reckon_rows(struct rt_reckon *r, const struct input *input, struct rt_error *error)
{
    for (size_t i = 0; i < r->n; i++) {
        char *name = rt_reckon_array(r, 24, 1, error);
        if (name == NULL)
            return RT_MEMORY;
        snprintf(name, 24, "%zu", i + 1);
        reckon_unit(r, input, &(struct rt_reckon_group){.name = name, .rows = &i, .count = 1});
    }
    return RT_OK;
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    struct input input;
    enum rt_status status = read_input(r, &input, error);
    if (status == RT_OK)
        status = reckon_design_effect(r, &input, error);
    if (status != RT_OK || rt_reckon_text(r, "--by") == NULL)
        return status == RT_OK ? reckon_rows(r, &input, error) : status;
    struct rt_reckon_group *groups = NULL;
    size_t count = 0;
    status = rt_reckon_groups(r, "--by", &groups, &count, error);
    for (size_t i = 0; status == RT_OK && i < count; i++)
        reckon_unit(r, &input, &groups[i]);
    return status;
}

const struct rt_reckon_method rt_reckon_funnel = {
    "funnel",
    "limits of a funnel plot of shares",
    "estimate lower95 upper95 lower998 upper998 signal (group = unit); design_effect",
    notes,
    options,
    run};
