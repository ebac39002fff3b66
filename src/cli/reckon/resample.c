#include "ridgetally/cli/reckon.h"

#include "ridgetally/stats/resample.h"

#include <string.h>

static const struct rt_reckon_option options[] = {
    {"--value", RT_OPTION_NUMBERS_COLUMN, true, NULL, "column of numbers", NULL},
    {"--statistic", RT_OPTION_CHOICE, false, "mean", "what to resample", "mean|median"},
    {"--seed", RT_OPTION_COUNT, false, "1", "start of the random numbers, 0 to 1000000000", NULL},
    {"--times", RT_OPTION_COUNT, false, "2000", "resamples, 1 to 10000000", NULL},
    RT_RECKON_BY,
    RT_RECKON_CLUSTER,
    RT_RECKON_LEVELS,
    RT_RECKON_END};

static const char notes[] =
    "Whole clusters (rows without --cluster) are drawn with replacement, as many as there are. lower and "
    "upper: 2.5% and\n"
    "97.5% quantiles (type 6) of the replicates; bca_lower and bca_upper: bias-corrected and accelerated "
    "(Efron 1987), the\n"
    "acceleration from leaving out one cluster at a time. standard_error = sd of the replicates.\n"
    "Random numbers: MT19937 as in GSL; each group starts afresh from the seed, so it does not depend on the "
    "others.\n";

static enum rt_status reckon_group(struct rt_reckon *r, const double *values,
                                   const struct rt_reckon_group *group, struct rt_error *error)
{
    enum rt_resample_statistic statistic =
        strcmp(rt_reckon_text(r, "--statistic"), "median") == 0 ? RT_RESAMPLE_MEDIAN : RT_RESAMPLE_MEAN;
    double *own = rt_reckon_pick(r, values, group);
    if (own == NULL)
        return rt_fail_memory(error);
    struct rt_resample result;
    enum rt_status status = rt_resample(own, group->count, &group->clusters, statistic,
                                        (unsigned long)rt_reckon_number(r, "--seed"),
                                        (size_t)rt_reckon_number(r, "--times"), &result, error);
    if (status != RT_OK)
        return status;
    const struct rt_estimate *percentile = &result.percentile;
    rt_reckon_row(r, "estimate", group->name, NAN, percentile->value, percentile->reason);
    rt_reckon_row(r, "standard_error", group->name, NAN, percentile->standard_error, percentile->reason);
    rt_reckon_row(r, "lower", group->name, NAN, percentile->lower, percentile->reason);
    rt_reckon_row(r, "upper", group->name, NAN, percentile->upper, percentile->reason);
    rt_reckon_row(r, "bca_lower", group->name, NAN, result.bca_lower, result.bca_reason);
    rt_reckon_row(r, "bca_upper", group->name, NAN, result.bca_upper, result.bca_reason);
    rt_reckon_row(r, "acceleration", group->name, NAN, result.acceleration, result.bca_reason);
    rt_reckon_row(r, "bias_correction", group->name, NAN, result.bias_correction, result.bca_reason);
    return RT_OK;
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    double *values = NULL;
    struct rt_reckon_group *groups = NULL;
    size_t count = 0;
    double times = rt_reckon_number(r, "--times");
    if (times < 1 || times > RT_RESAMPLE_TIMES_MAX) {
        rt_fail(error, RT_USE, "--times cannot be %.15g", times);
        rt_error_remedy(error, "give 1 to %d", RT_RESAMPLE_TIMES_MAX);
        return RT_USE;
    }
    enum rt_status status = rt_reckon_numbers(r, "--value", &values, error);
    if (status == RT_OK)
        status = rt_reckon_groups(r, "--by", &groups, &count, error);
    for (size_t g = 0; status == RT_OK && g < count; g++)
        status = reckon_group(r, values, &groups[g], error);
    return status;
}

const struct rt_reckon_method rt_reckon_resample = {
    "resample",
    "mean or median with bootstrap intervals by cluster",
    "estimate standard_error lower upper bca_lower bca_upper acceleration bias_correction (group)",
    notes,
    options,
    run};
