#include "ridgetally/cli/reckon.h"

#include "ridgetally/stats/quantile.h"

static const struct rt_reckon_option options[] = {
    {"--value", RT_OPTION_TEXT_COLUMN, true, NULL, "column of numbers; `>v` marks a limit reached", NULL},
    {"--q", RT_OPTION_NUMBER_LIST, false, "0.5", "shares below the quantiles, each above 0 and below 1",
     NULL},
    RT_RECKON_BY,
    RT_RECKON_CLUSTER,
    RT_RECKON_LEVELS,
    RT_RECKON_END};

static const char notes[] =
    "at = share. Quantiles of type 7 (Hyndman & Fan 1996). Limits by Woodruff's inversion (1952): the type 7 "
    "quantiles at\n"
    "q -+ t(C - 1) error of the share at or below the quantile, C clusters (rows without --cluster), "
    "small-sample factor\n"
    "C/(C - 1); empty where that leaves 0..1. standard_error = (upper - lower)/(2 t).\n"
    "When the column holds a limit (`>70`), all groups are done by Kaplan-Meier over the values, limits "
    "censored: the\n"
    "first value with S <= 1 - q, the midpoint where S equals it over a span; error of S by the grouped "
    "infinitesimal\n"
    "jackknife with the same factor.\n";

struct input {
    double *values;
    bool *capped;
    const double *shares;
    size_t share_count;
};

static enum rt_status read_input(struct rt_reckon *r, struct input *input, struct rt_error *error)
{
    input->shares = rt_reckon_number_list(r, "--q", &input->share_count, error);
    if (input->shares == NULL)
        return RT_MEMORY;
    for (size_t k = 0; k < input->share_count; k++) {
        if (!(input->shares[k] > 0 && input->shares[k] < 1)) {
            rt_fail(error, RT_USE, "--q cannot be %.15g", input->shares[k]);
            rt_error_remedy(error, "give shares above 0 and below 1, like 0.25,0.5");
            return RT_USE;
        }
    }
    enum rt_status status = rt_reckon_capped_numbers(r, "--value", &input->values, &input->capped, error);
    for (size_t i = 0; status == RT_OK && input->capped != NULL && i < r->n; i++)
        if (input->values[i] < 0)
            status = rt_reckon_fail_cell(r, i, rt_reckon_text(r, "--value"), "is negative",
                                         "quantiles with limits reached take values from 0 up", error);
    return status;
}

static enum rt_status reckon_group(struct rt_reckon *r, const struct input *input,
                                   const struct rt_reckon_group *group, struct rt_error *error)
{
    double *values = rt_reckon_pick(r, input->values, group);
    bool *capped = rt_reckon_pick_flags(r, input->capped, group);
    if (values == NULL || (capped == NULL && input->capped != NULL))
        return rt_fail_memory(error);
    enum rt_status status = RT_OK;
    for (size_t k = 0; status == RT_OK && k < input->share_count; k++) {
        struct rt_estimate q;
        double at = input->shares[k];
        if (capped == NULL)
            status = rt_quantile(values, group->count, at, &group->clusters, &q, error);
        else
            status = rt_capped_quantile(values, capped, group->count, at, &group->clusters, &q, NULL, error);
        if (status != RT_OK)
            return status;
        rt_reckon_row(r, "estimate", group->name, at, q.value, q.reason);
        rt_reckon_row(r, "standard_error", group->name, at, q.standard_error, q.reason);
        rt_reckon_row(r, "df", group->name, at, q.df, q.reason);
        rt_reckon_row(r, "lower", group->name, at, q.lower, q.reason);
        rt_reckon_row(r, "upper", group->name, at, q.upper, q.reason);
    }
    return status;
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    struct input input = {0};
    struct rt_reckon_group *groups = NULL;
    size_t count = 0;
    enum rt_status status = read_input(r, &input, error);
    if (status == RT_OK)
        status = rt_reckon_groups(r, "--by", &groups, &count, error);
    for (size_t g = 0; status == RT_OK && g < count; g++)
        status = reckon_group(r, &input, &groups[g], error);
    return status;
}

const struct rt_reckon_method rt_reckon_quantile = {
    "quantile",
    "medians and other quantiles, by group",
    "estimate standard_error df lower upper (group, at = share)",
    notes,
    options,
    run};
