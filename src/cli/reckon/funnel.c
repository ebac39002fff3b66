#include "ridgetally/cli/reckon.h"

#include "ridgetally/stats/funnel.h"

#include <stdio.h>
#include <string.h>

static const struct rt_reckon_option options[] = {
    {"--count", RT_OPTION_NUMBERS_COLUMN, true, NULL, "events of each row", NULL},
    {"--total", RT_OPTION_NUMBERS_COLUMN, true, NULL, "trials of each row", NULL},
    {"--kind", RT_OPTION_CHOICE, false, "share", "share of trials, or rate: --total is then an exposure",
     "share|rate"},
    {"--target", RT_OPTION_POSITIVE, false, NULL,
     "what the limits stand around; the pooled value when not given", NULL},
    {"--by", RT_OPTION_CATEGORIES_COLUMNS, false, NULL,
     "the units (rows of one unit are added); each row when not given", NULL},
    RT_RECKON_CLUSTER,
    RT_RECKON_LEVELS,
    RT_RECKON_END};

static const char notes[] =
    "Exact binomial (share) or Poisson (rate) limits, interpolated between counts (Spiegelhalter 2005,\n"
    "Statistics in Medicine 24:1185). signal: 0 inside the 95% limits, 1 outside them, 2 outside the 99.8%\n"
    "limits too. Lower limits are not cut off at 0. With --cluster the distance of each limit from the\n"
    "target is multiplied by the square root of design_effect, the variance of the pooled value by clusters\n"
    "over that of independent events (never below 1).\n";

struct input {
    double *count, *total;
    bool rate;
    double target;
    double design_effect;  /* 1 without clusters */
    const char *no_target; /* why target is not usable */
};

static enum rt_status check_row(struct rt_reckon *r, const struct input *input, size_t row,
                                struct rt_error *error)
{
    const char *total = rt_reckon_text(r, "--total");
    if (input->rate && input->total[row] < 0)
        return rt_reckon_fail_cell(r, row, total, "is no exposure", "write a number, 0 or more", error);
    if (!input->rate && input->count[row] > input->total[row])
        return rt_reckon_fail_cell(r, row, rt_reckon_text(r, "--count"), "is more events than trials",
                                   "check both numbers of the row", error);
    return RT_OK;
}

static enum rt_status find_target(struct rt_reckon *r, struct input *input, struct rt_error *error)
{
    double events = 0;
    double trials = 0;
    for (size_t i = 0; i < r->n; i++) {
        events += input->count[i];
        trials += input->total[i];
    }
    input->target = rt_reckon_given(r, "--target") ? rt_reckon_number(r, "--target") : events / trials;
    input->no_target =
        trials > 0 ? "the pooled value leaves no room for limits: give a --target" : "no trials";
    if (!input->rate && rt_reckon_given(r, "--target") && input->target >= 1) {
        rt_fail(error, RT_USE, "--target cannot be '%.60s' for a share", rt_reckon_text(r, "--target"));
        rt_error_remedy(error, "give a number above 0 and below 1, or --kind rate");
        return RT_USE;
    }
    return RT_OK;
}

static enum rt_status read_input(struct rt_reckon *r, struct input *input, struct rt_error *error)
{
    *input = (struct input){.rate = strcmp(rt_reckon_text(r, "--kind"), "rate") == 0, .design_effect = 1};
    enum rt_status status = rt_reckon_counts(r, "--count", &input->count, error);
    if (status == RT_OK)
        status = input->rate ? rt_reckon_numbers(r, "--total", &input->total, error)
                             : rt_reckon_counts(r, "--total", &input->total, error);
    for (size_t i = 0; status == RT_OK && i < r->n; i++)
        status = check_row(r, input, i, error);
    return status == RT_OK ? find_target(r, input, error) : status;
}

/* Writes the row of the design effect and keeps the factor for the limits. */
static enum rt_status reckon_design_effect(struct rt_reckon *r, struct input *input, struct rt_error *error)
{
    struct rt_estimate effect;
    if (r->clusters.of == NULL)
        return RT_OK;
    enum rt_status status =
        rt_share_design_effect(input->count, input->total, r->n, r->clusters, input->rate, &effect, error);
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
    struct rt_funnel_limits limits =
        input->rate ? rt_funnel_rate_limits(count, total, input->target, input->design_effect)
                    : rt_funnel_limits(count, total, input->target, input->design_effect);
    if (limits.reason != NULL && total > 0 && !(input->target > 0 && (input->rate || input->target < 1)))
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
        snprintf(name, 24, "%zu", r->rows[i] + 1);
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
    "limits of a funnel plot of shares or rates",
    "estimate lower95 upper95 lower998 upper998 signal (group = unit); design_effect",
    notes,
    options,
    run};
