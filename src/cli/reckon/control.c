#include "ridgetally/cli/reckon.h"

#include "ridgetally/stats/control_chart.h"

static const struct rt_reckon_option options[] = {
    {"--value", RT_OPTION_NUMBERS_COLUMN, true, NULL, "values, in time order", NULL},
    {"--baseline", RT_OPTION_COUNT, false, "0", "limits from the first N values; 0: from all", NULL},
    RT_RECKON_BY,
    RT_RECKON_LEVELS,
    RT_RECKON_END};

static const char notes[] =
    "Individuals chart (NIST/SEMATECH e-Handbook 6.3.2.2): centre = mean, limits centre -+ 3/1.128 times\n"
    "moving_range, the mean range of two successive values; moving_range_upper = 3.267 times it. range is\n"
    "that of each point with the one before. signal: 1 for a point outside the limits.\n";

static enum rt_status reckon_group(struct rt_reckon *r, const double *all,
                                   const struct rt_reckon_group *group, struct rt_error *error)
{
    double *values = rt_reckon_pick(r, all, group);
    if (values == NULL)
        return rt_fail_memory(error);
    struct rt_control_chart chart =
        rt_control_chart(values, group->count, (size_t)rt_reckon_number(r, "--baseline"));
    rt_reckon_row(r, "centre", group->name, NAN, chart.centre, chart.reason);
    rt_reckon_row(r, "lower", group->name, NAN, chart.lower, chart.reason);
    rt_reckon_row(r, "upper", group->name, NAN, chart.upper, chart.reason);
    rt_reckon_row(r, "moving_range", group->name, NAN, chart.moving_range, chart.reason);
    rt_reckon_row(r, "sigma", group->name, NAN, chart.sigma, chart.reason);
    rt_reckon_row(r, "moving_range_upper", group->name, NAN, chart.moving_range_upper, chart.reason);
    for (size_t i = 1; i < group->count; i++)
        rt_reckon_row(r, "range", group->name, (double)(i + 1), fabs(values[i] - values[i - 1]), NULL);
    for (size_t i = 0; i < group->count; i++) {
        double signal = rt_control_signal(&chart, values[i]) ? 1 : 0;
        rt_reckon_row(r, "signal", group->name, (double)(i + 1), chart.reason == NULL ? signal : NAN,
                      chart.reason);
    }
    return RT_OK;
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    double *values = NULL;
    struct rt_reckon_group *groups = NULL;
    size_t count = 0;
    enum rt_status status = rt_reckon_numbers(r, "--value", &values, error);
    if (status == RT_OK)
        status = rt_reckon_groups(r, "--by", &groups, &count, error);
    for (size_t i = 0; status == RT_OK && i < count; i++)
        status = reckon_group(r, values, &groups[i], error);
    return status;
}

const struct rt_reckon_method rt_reckon_control = {
    "control",
    "individuals and moving-range chart",
    "centre lower upper moving_range sigma moving_range_upper; range signal (at = point)",
    notes,
    options,
    run};
