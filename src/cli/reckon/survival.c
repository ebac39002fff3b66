#include "ridgetally/cli/reckon_follow_up.h"

static const struct rt_reckon_option options[] = {
    RT_RECKON_TIME,
    RT_RECKON_EVENT,
    RT_RECKON_ENTRY,
    RT_RECKON_INTERVAL,
    RT_RECKON_AT_TIMES,
    {"--q", RT_OPTION_NUMBER_LIST, false, NULL, "also the times by which these shares have failed", NULL},
    {"--until", RT_OPTION_POSITIVE, false, NULL, "also the mean time without event up to here", NULL},
    RT_RECKON_BY,
    RT_RECKON_CLUSTER,
    RT_RECKON_LEVELS,
    RT_RECKON_END};

static const char notes[] =
    "at = time (of `quantile` rows: the share). Kaplan & Meier (1958); error by Greenwood, on the "
    "probability "
    "scale; with\n"
    "--cluster the grouped infinitesimal jackknife without small-sample factor (Lin & Wei 1989). Rows stand "
    "at every time\n"
    "with an event or a censoring, or at the times of --at, where events_to_date counts all events so far. "
    "Limits are empty\n"
    "where the curve is 0 or 1; with --at the exact binomial limits stand there, n = clusters (rows) at "
    "risk.\n"
    "Median: first time at or below one half, the midpoint where the curve equals it over a span; limits "
    "from "
    "the band.\n" RT_RECKON_TIES_NOTE;

static const char AT_ZERO[] = "the curve is 0 there";
static const char AT_ONE[] = "no event by then";

static const char *why(const struct rt_survival_curve *curve, double survival)
{
    if (curve->reason != NULL)
        return curve->reason;
    return survival == 0 ? AT_ZERO : survival == 1 ? AT_ONE : NULL;
}

static void write_all_times(struct rt_reckon *r, const char *group, const struct rt_survival_curve *curve)
{
    for (size_t k = 0; k < curve->count; k++) {
        double at = curve->time[k];
        const char *reason = why(curve, curve->survival[k]);
        rt_reckon_row(r, "events", group, at, (double)curve->events[k], NULL);
        rt_reckon_row(r, "at_risk", group, at, (double)curve->at_risk[k], NULL);
        rt_reckon_row(r, "survival", group, at, curve->survival[k], NULL);
        rt_reckon_row(r, "standard_error", group, at, curve->standard_error[k], reason);
        rt_reckon_row(r, "lower", group, at, curve->lower[k], reason);
        rt_reckon_row(r, "upper", group, at, curve->upper[k], reason);
        if (r->clusters.of != NULL)
            rt_reckon_row(r, "clusters_at_risk", group, at, (double)curve->clusters_at_risk[k], NULL);
    }
}

/* Events at time t exactly and up to it. */
static void count_events(const struct rt_survival_curve *curve, double t, size_t *here, size_t *to_date)
{
    *here = 0;
    *to_date = 0;
    size_t until = rt_timeline_until(&curve->timeline, t);
    for (size_t k = 0; k < until; k++)
        *to_date += curve->events[k];
    if (until > 0 && rt_times_tied(curve->time[until - 1], t))
        *here = curve->events[until - 1];
}

/* Clusters at risk at t, or when the last of them failed where the curve has come to 0. */
static enum rt_status count_clusters(const struct rt_survival_curve *curve, double t, double survival,
                                     size_t *clusters, struct rt_error *error)
{
    enum rt_status status = rt_clusters_at_risk(&curve->timeline, &curve->data, t, clusters, error);
    for (size_t k = rt_timeline_until(&curve->timeline, t); survival == 0 && k-- > 0;)
        if (curve->events[k] > 0) {
            *clusters = curve->clusters_at_risk[k];
            break;
        }
    return status;
}

static enum rt_status write_chosen_times(struct rt_reckon *r, const char *group,
                                         const struct rt_survival_curve *curve, struct rt_error *error)
{
    size_t count = 0;
    const double *times = rt_reckon_number_list(r, "--at", &count, error);
    enum rt_status status = times == NULL ? RT_MEMORY : RT_OK;
    for (size_t i = 0; status == RT_OK && i < count; i++) {
        double at = times[i];
        size_t here = 0;
        size_t to_date = 0;
        size_t clusters = 0;
        struct rt_estimate value = rt_survival_at(curve, at);
        count_events(curve, at, &here, &to_date);
        status = count_clusters(curve, at, value.value, &clusters, error);
        rt_reckon_row(r, "events", group, at, (double)here, NULL);
        rt_reckon_row(r, "events_to_date", group, at, (double)to_date, NULL);
        rt_reckon_row(r, "at_risk", group, at, (double)rt_timeline_at_risk(&curve->timeline, at), NULL);
        rt_reckon_row(r, "survival", group, at, value.value, value.reason);
        rt_reckon_row(r, "standard_error", group, at, value.standard_error, value.reason);
        rt_reckon_row(r, "lower", group, at, value.lower, value.reason);
        rt_reckon_row(r, "upper", group, at, value.upper, value.reason);
        if (value.value == 0 || value.value == 1) {
            struct rt_estimate exact = rt_survival_exact(value.value, clusters);
            rt_reckon_row(r, "exact_lower", group, at, exact.lower, exact.reason);
            rt_reckon_row(r, "exact_upper", group, at, exact.upper, exact.reason);
        }
    }
    return status;
}

static enum rt_status write_quantiles(struct rt_reckon *r, const char *group,
                                      const struct rt_survival_curve *curve, struct rt_error *error)
{
    struct rt_estimate median = rt_survival_quantile(curve, 0.5);
    rt_reckon_interval(r, "median", group, &median);
    size_t count = 0;
    const double *shares = rt_reckon_number_list(r, "--q", &count, error);
    if (shares == NULL)
        return RT_MEMORY;
    for (size_t i = 0; i < count; i++) {
        if (!(shares[i] > 0 && shares[i] < 1))
            return rt_fail(error, RT_USE, "--q cannot be %.15g: give shares above 0 and below 1", shares[i]);
        struct rt_estimate q = rt_survival_quantile(curve, shares[i]);
        rt_reckon_row(r, "quantile", group, shares[i], q.value, q.reason);
        rt_reckon_row(r, "quantile_lower", group, shares[i], q.lower, q.reason);
        rt_reckon_row(r, "quantile_upper", group, shares[i], q.upper, q.reason);
    }
    return RT_OK;
}

static enum rt_status write_mean(struct rt_reckon *r, const char *group,
                                 const struct rt_survival_curve *curve, struct rt_error *error)
{
    struct rt_estimate mean;
    enum rt_status status = rt_restricted_mean(curve, rt_reckon_number(r, "--until"), &mean, NULL, error);
    if (status != RT_OK)
        return status;
    rt_reckon_row(r, "restricted_mean", group, NAN, mean.value, mean.reason);
    rt_reckon_row(r, "restricted_mean_error", group, NAN, mean.standard_error, mean.reason);
    rt_reckon_row(r, "restricted_mean_lower", group, NAN, mean.lower, mean.reason);
    rt_reckon_row(r, "restricted_mean_upper", group, NAN, mean.upper, mean.reason);
    return RT_OK;
}

static enum rt_status reckon_group(struct rt_reckon *r, const struct rt_reckon_times *times,
                                   const struct rt_reckon_group *group, struct rt_error *error)
{
    struct rt_follow_up data;
    struct rt_survival_curve curve = {0};
    enum rt_status status = rt_reckon_follow_up(r, times, group, &data, error);
    if (status == RT_OK)
        status = rt_survival_curve(&curve, &data, rt_reckon_interval_form(r), error);
    if (status == RT_OK && rt_reckon_given(r, "--at"))
        status = write_chosen_times(r, group->name, &curve, error);
    else if (status == RT_OK)
        write_all_times(r, group->name, &curve);
    if (status == RT_OK)
        status = write_quantiles(r, group->name, &curve, error);
    if (status == RT_OK && rt_reckon_given(r, "--until"))
        status = write_mean(r, group->name, &curve, error);
    rt_survival_curve_release(&curve);
    return status;
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    struct rt_reckon_times times;
    struct rt_reckon_group *groups = NULL;
    size_t count = 0;
    enum rt_status status = rt_reckon_read_times(r, &times, error);
    if (status == RT_OK)
        status = rt_reckon_groups(r, "--by", &groups, &count, error);
    for (size_t g = 0; status == RT_OK && g < count; g++)
        status = reckon_group(r, &times, &groups[g], error);
    return status;
}

const struct rt_reckon_method rt_reckon_survival = {
    "survival",
    "survival curves, their medians and restricted means",
    "events at_risk survival standard_error lower upper (at = time); median median_lower median_upper;\n"
    "with --until restricted_mean restricted_mean_error restricted_mean_lower restricted_mean_upper;\n"
    "with --at also events_to_date exact_lower exact_upper; with --q quantile quantile_lower quantile_upper\n"
    "(at = share); with --cluster also clusters_at_risk",
    notes,
    options,
    run};
