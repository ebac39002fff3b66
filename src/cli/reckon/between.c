#include "ridgetally/cli/reckon_follow_up.h"

#include "ridgetally/stats/curve_difference.h"

static const struct rt_reckon_option options[] = {
    RT_RECKON_TIME,
    RT_RECKON_EVENT,
    RT_RECKON_ENTRY,
    RT_RECKON_INTERVAL,
    {"--by", RT_OPTION_CATEGORIES_COLUMNS, true, NULL, "the two groups, first level minus second", NULL},
    {"--at", RT_OPTION_NUMBER, true, NULL, "time at which the curves are compared", NULL},
    {"--until", RT_OPTION_POSITIVE, false, NULL, "also the difference of the mean times up to here", NULL},
    RT_RECKON_CLUSTER,
    RT_RECKON_LEVELS,
    RT_RECKON_END};

static const char notes[] =
    "difference = curve of the first level minus curve of the second at --at. Error from both curves' "
    "errors, "
    "or with\n"
    "--cluster from each cluster's summed influence on the difference, so that clusters in both groups count "
    "once; normal\n"
    "limits and p. Where one curve is 0 or 1 its error says nothing: the difference stands with the limits "
    "recovered from\n"
    "each curve's own (recovered_lower, recovered_upper; exact binomial at 0 and 1; Zou & Donner 2008), "
    "which "
    "are always\n"
    "given. survival, at_risk: of each group at that time.\n" RT_RECKON_TIES_NOTE;

struct pair {
    struct rt_reckon_group *groups;
    struct rt_survival_curve curves[2];
};

/* The curve of one group with the cluster codes of all rows, so that the groups share them. */
static enum rt_status compute_curve(struct rt_reckon *r, const struct rt_reckon_times *times,
                                    struct pair *pair, size_t g, struct rt_error *error)
{
    struct rt_follow_up data;
    enum rt_status status = rt_reckon_follow_up(r, times, &pair->groups[g], &data, error);
    if (status == RT_OK && r->clusters.of != NULL) {
        data.clusters.of = rt_reckon_pick_codes(r, r->clusters.of, &pair->groups[g]);
        data.clusters.count = r->clusters.count;
        if (data.clusters.of == NULL)
            status = rt_fail_memory(error);
    }
    return status == RT_OK ? rt_survival_curve(&pair->curves[g], &data, rt_reckon_interval_form(r), error)
                           : status;
}

static void write(struct rt_reckon *r, const struct pair *pair, const struct rt_curve_difference *result)
{
    const struct rt_estimate *d = &result->difference;
    rt_reckon_row(r, "difference", NULL, NAN, d->value, d->reason);
    rt_reckon_row(r, "standard_error", NULL, NAN, d->standard_error, d->reason);
    rt_reckon_row(r, "lower", NULL, NAN, d->lower, d->reason);
    rt_reckon_row(r, "upper", NULL, NAN, d->upper, d->reason);
    rt_reckon_row(r, "p", NULL, NAN, d->p, d->reason);
    rt_reckon_row(r, "statistic", NULL, NAN, d->statistic, d->reason);
    const char *reason = d->reason != NULL ? d->reason : "one of the curves has no limits there";
    rt_reckon_row(r, "recovered_lower", NULL, NAN, result->recovered_lower, reason);
    rt_reckon_row(r, "recovered_upper", NULL, NAN, result->recovered_upper, reason);
    for (size_t g = 0; g < 2; g++) {
        rt_reckon_row(r, "survival", pair->groups[g].name, NAN, result->survival[g], d->reason);
        rt_reckon_row(r, "at_risk", pair->groups[g].name, NAN, (double)result->at_risk[g], NULL);
    }
    if (r->clusters.of == NULL)
        return;
    rt_reckon_row(r, "correlation", NULL, NAN, result->correlation, NULL);
    rt_reckon_row(r, "clusters_in_both", NULL, NAN, (double)result->clusters_both, NULL);
}

static enum rt_status compare(struct rt_reckon *r, const struct pair *pair, struct rt_error *error)
{
    struct rt_curve_difference result;
    enum rt_status status =
        rt_curve_difference(&pair->curves[0], &pair->curves[1], rt_reckon_number(r, "--at"), &result, error);
    if (status != RT_OK)
        return status;
    write(r, pair, &result);
    if (!rt_reckon_given(r, "--until"))
        return RT_OK;
    struct rt_estimate mean;
    status = rt_restricted_mean_difference(&pair->curves[0], &pair->curves[1], rt_reckon_number(r, "--until"),
                                           &mean, error);
    if (status != RT_OK)
        return status;
    rt_reckon_row(r, "mean_difference", NULL, NAN, mean.value, mean.reason);
    rt_reckon_row(r, "mean_difference_error", NULL, NAN, mean.standard_error, mean.reason);
    rt_reckon_row(r, "mean_difference_lower", NULL, NAN, mean.lower, mean.reason);
    rt_reckon_row(r, "mean_difference_upper", NULL, NAN, mean.upper, mean.reason);
    rt_reckon_row(r, "mean_difference_p", NULL, NAN, mean.p, mean.reason);
    return RT_OK;
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    struct rt_reckon_times times;
    struct pair pair = {0};
    size_t count = 0;
    enum rt_status status = rt_reckon_read_times(r, &times, error);
    if (status == RT_OK)
        status = rt_reckon_groups(r, "--by", &pair.groups, &count, error);
    if (status == RT_OK && count != 2) {
        status = rt_fail(error, RT_INPUT, "--by must give two groups, not %zu", count);
        rt_error_remedy(error, "name a column of two levels");
    }
    for (size_t g = 0; g < 2 && status == RT_OK; g++)
        status = compute_curve(r, &times, &pair, g, error);
    if (status == RT_OK)
        status = compare(r, &pair, error);
    rt_survival_curve_release(&pair.curves[0]);
    rt_survival_curve_release(&pair.curves[1]);
    return status;
}

const struct rt_reckon_method rt_reckon_between = {
    "between",
    "two survival curves compared at one time",
    "difference standard_error lower upper p statistic recovered_lower recovered_upper; survival at_risk\n"
    "(group); with --until mean_difference mean_difference_error mean_difference_lower\n"
    "mean_difference_upper mean_difference_p; with --cluster also correlation clusters_in_both",
    notes,
    options,
    run};
