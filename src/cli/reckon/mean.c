#include "ridgetally/cli/reckon_model.h"

#include "ridgetally/stats/mean.h"

static const struct rt_reckon_option options[] = {
    {"--value", RT_OPTION_NUMBERS_COLUMN, true, NULL, "column of numbers", NULL},
    RT_RECKON_BY,
    RT_RECKON_CLUSTER,
    RT_RECKON_LEVELS,
    RT_RECKON_END};

static const char notes[] =
    "Error: CR2 cluster-robust (Bell & McCaffrey 2002) with Satterthwaite df (Pustejovsky & Tipton 2018), "
    "limits by t.\n"
    "Without --cluster each row is a cluster: s/sqrt(n) on n - 1 df.\n"
    "difference (when --by has two levels): second level less first; a cluster may have rows in both.\n";

static enum rt_status write_difference(struct rt_reckon *r, const double *values,
                                       const struct rt_reckon_group *groups, struct rt_error *error)
{
    const bool *in_second = rt_reckon_rows_of(r, &groups[1], error);
    if (in_second == NULL)
        return RT_MEMORY;
    struct rt_estimate d;
    enum rt_status status = rt_mean_difference(values, in_second, r->n, &r->clusters, &d, error);
    if (status != RT_OK)
        return status;
    rt_reckon_difference_rows(r, &d);
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
    for (size_t g = 0; status == RT_OK && g < count; g++) {
        const double *own = rt_reckon_pick(r, values, &groups[g]);
        struct rt_estimate mean;
        if (own == NULL)
            return rt_fail_memory(error);
        status = rt_mean(own, groups[g].count, &groups[g].clusters, &mean, error);
        if (status != RT_OK)
            return status;
        rt_reckon_row(r, "estimate", groups[g].name, NAN, mean.value, mean.reason);
        rt_reckon_row(r, "standard_error", groups[g].name, NAN, mean.standard_error, mean.reason);
        rt_reckon_row(r, "df", groups[g].name, NAN, mean.df, mean.reason);
        rt_reckon_row(r, "lower", groups[g].name, NAN, mean.lower, mean.reason);
        rt_reckon_row(r, "upper", groups[g].name, NAN, mean.upper, mean.reason);
    }
    return status == RT_OK && count == 2 ? write_difference(r, values, groups, error) : status;
}

const struct rt_reckon_method rt_reckon_mean = {"mean",
                                                "mean with a clustered interval",
                                                "estimate standard_error df lower upper (group); of two "
                                                "groups difference, its _standard_error _df _lower _upper _p",
                                                notes,
                                                options,
                                                run};
