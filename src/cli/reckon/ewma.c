#include "ridgetally/cli/reckon.h"

#include "ridgetally/stats/control_chart.h"

static const struct rt_reckon_option options[] = {
    {"--value", RT_OPTION_NUMBERS_COLUMN, true, NULL, "values, in time order", NULL},
    {"--lambda", RT_OPTION_POSITIVE, false, "0.2", "weight of the newest value, at most 1", NULL},
    {"--width", RT_OPTION_POSITIVE, false, "3", "limits at -+ N standard deviations of the average", NULL},
    {"--centre", RT_OPTION_NUMBER, false, NULL, "centre line; the baseline's mean when not given", NULL},
    {"--sigma", RT_OPTION_POSITIVE, false, NULL,
     "standard deviation of one value; from the baseline's moving range when not given", NULL},
    {"--baseline", RT_OPTION_COUNT, false, "0", "centre and sigma from the first N values; 0: from all",
     NULL},
    RT_RECKON_BY,
    RT_RECKON_LEVELS,
    RT_RECKON_END};

static const char notes[] =
    "ewma = lambda x + (1 - lambda) times the ewma before, from the centre line on; limits centre -+ width\n"
    "sigma sqrt(lambda/(2 - lambda) (1 - (1 - lambda)^(2 i))) at point i, the exact ones (NIST/SEMATECH\n"
    "e-Handbook 6.3.2.4). sigma from the mean range of two successive values over 1.128. signal: 1 outside.\n"
    "lower_steady and upper_steady are the limits of a long series.\n";

static void reckon_points(struct rt_reckon *r, const struct rt_reckon_group *group,
                          const struct rt_ewma_point *points, const char *reason)
{
    for (size_t i = 0; i < group->count; i++)
        rt_reckon_row(r, "ewma", group->name, (double)(i + 1), points[i].ewma, reason);
    for (size_t i = 0; i < group->count; i++)
        rt_reckon_row(r, "lower", group->name, (double)(i + 1), points[i].lower, reason);
    for (size_t i = 0; i < group->count; i++)
        rt_reckon_row(r, "upper", group->name, (double)(i + 1), points[i].upper, reason);
    for (size_t i = 0; i < group->count; i++)
        rt_reckon_row(r, "signal", group->name, (double)(i + 1),
                      isfinite(points[i].lower) ? (double)points[i].signal : NAN, reason);
}

static enum rt_status reckon_group(struct rt_reckon *r, const double *all,
                                   const struct rt_reckon_group *group, struct rt_error *error)
{
    double *values = rt_reckon_pick(r, all, group);
    struct rt_ewma_point *points = rt_reckon_array(r, group->count, sizeof *points, error);
    if (values == NULL || points == NULL)
        return rt_fail_memory(error);
    struct rt_control_chart chart =
        rt_control_chart(values, group->count, (size_t)rt_reckon_number(r, "--baseline"));
    struct rt_ewma_design design = {
        .centre = rt_reckon_given(r, "--centre") ? rt_reckon_number(r, "--centre") : chart.centre,
        .sigma = rt_reckon_given(r, "--sigma") ? rt_reckon_number(r, "--sigma") : chart.sigma,
        .lambda = rt_reckon_number(r, "--lambda"),
        .width = rt_reckon_number(r, "--width"),
    };
    rt_ewma(values, group->count, &design, points);
    rt_reckon_row(r, "centre", group->name, NAN, design.centre, chart.reason);
    rt_reckon_row(r, "sigma", group->name, NAN, design.sigma, chart.reason);
    double half = design.width * design.sigma * sqrt(design.lambda / (2 - design.lambda));
    rt_reckon_row(r, "lower_steady", group->name, NAN, design.centre - half, chart.reason);
    rt_reckon_row(r, "upper_steady", group->name, NAN, design.centre + half, chart.reason);
    reckon_points(r, group, points, chart.reason);
    return RT_OK;
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    double *values = NULL;
    struct rt_reckon_group *groups = NULL;
    size_t count = 0;
    if (rt_reckon_number(r, "--lambda") > 1) {
        rt_fail(error, RT_USE, "--lambda cannot be '%.60s'", rt_reckon_text(r, "--lambda"));
        rt_error_remedy(error, "give a number above 0, at most 1");
        return RT_USE;
    }
    enum rt_status status = rt_reckon_numbers(r, "--value", &values, error);
    if (status == RT_OK)
        status = rt_reckon_groups(r, "--by", &groups, &count, error);
    for (size_t i = 0; status == RT_OK && i < count; i++)
        status = reckon_group(r, values, &groups[i], error);
    return status;
}

const struct rt_reckon_method rt_reckon_ewma = {
    "ewma",
    "exponentially weighted moving average chart",
    "centre sigma lower_steady upper_steady; ewma lower upper signal (at = point)",
    notes,
    options,
    run};
