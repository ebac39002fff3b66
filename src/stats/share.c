#include "ridgetally/stats/share.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/jackknife.h"
#include "ridgetally/stats/mean.h"
#include "ridgetally/stats/order.h"
#include "ridgetally/stats/proportion.h"
#include "ridgetally/stats/sum.h"

#include <math.h>

static const char no_rows[] = "no rows";
static const char one_cluster[] = "needs at least two patients (clusters)";
static const char no_event[] =
    "no event: the limits are exact binomial with n = patients (clusters), conservative";
static const char all_events[] =
    "only events: the limits are exact binomial with n = patients (clusters), conservative";
static const char hidden_error[] =
    "one group has no event, or only events, so its part of the error cannot be "
    "seen: the limits join those of the two shares";

static void set_limits(struct rt_share *share, struct rt_limits limits)
{
    share->estimate.lower = limits.lower;
    share->estimate.upper = limits.upper;
}

/* Design variance of the share: between-cluster sums of deviations. */
static double design_variance(const int *event, size_t n, double p, const struct rt_cluster_rows *rows)
{
    double sum = 0;
    for (size_t c = 0; c < rows->count; c++) {
        double total = 0;
        for (size_t i = rows->start[c]; i < rows->start[c + 1]; i++)
            total += event[rows->row[i]] - p;
        sum += total * total;
    }
    double count = (double)rows->count;
    return count / (count - 1) * sum / ((double)n * (double)n);
}

static void korn_graubard(const int *event, size_t n, bool clustered, const struct rt_cluster_rows *rows,
                          struct rt_share *share)
{
    double p = share->estimate.value;
    share->design_df = (double)(rows->count - 1);
    double variance = design_variance(event, n, p, rows);
    share->design_error = sqrt(variance);
    double ratio = rt_t_975((double)n - 1) / rt_t_975(share->design_df);
    share->effective_size = clustered ? p * (1 - p) / variance * ratio * ratio : (double)n;
    /* Clusters that all have the same share show no variance: no more than the rows themselves can be claimed. */
    if (!(variance > 1e-24))
        share->effective_size = (double)n;
    set_limits(share, rt_exact_limits(share->effective_size * p, share->effective_size));
}

static enum rt_status judge(const int *event, const double *values, size_t n,
                            const struct rt_clusters *clusters, struct rt_share *share,
                            struct rt_error *error)
{
    struct rt_cluster_rows rows = {0};
    enum rt_status status = rt_gather_clusters(clusters, n, &rows, error);
    if (status != RT_OK)
        return status;
    share->clusters = rows.count;
    if (share->events == 0 || share->events == n) {
        share->exact_on_clusters = true;
        share->effective_size = (double)rows.count;
        share->estimate = rt_undefined(share->events == 0 ? no_event : all_events);
        share->estimate.value = share->events == 0 ? 0 : 1;
        set_limits(share, rt_exact_limits(share->estimate.value * (double)rows.count, (double)rows.count));
    } else {
        status = rt_mean(values, n, clusters, &share->estimate, error);
        share->estimate.value = (double)share->events / (double)n;
        share->estimate.statistic = share->estimate.p = share->estimate.lower = share->estimate.upper = NAN;
        if (rows.count < 2)
            share->estimate.reason = one_cluster;
        else
            korn_graubard(event, n, rt_has_clusters(clusters), &rows, share);
    }
    rt_cluster_rows_release(&rows);
    return status;
}

enum rt_status rt_share(const int *event, size_t n, const struct rt_clusters *clusters,
                        struct rt_share *share, struct rt_error *error)
{
    *share = (struct rt_share){
        .estimate = rt_undefined(no_rows), .design_error = NAN, .design_df = NAN, .effective_size = NAN};
    if (n == 0)
        return RT_OK;
    double *values = rt_new_array(n, sizeof *values);
    if (values == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < n; i++) {
        values[i] = event[i] != 0;
        share->events += event[i] != 0;
    }
    enum rt_status status = judge(event, values, n, clusters, share, error);
    free(values);
    return status;
}

struct rt_estimate rt_mean_of_shares(const double *shares, size_t n)
{
    struct rt_estimate mean = rt_undefined(n == 0 ? no_rows : NULL);
    struct rt_sum sum = {0, 0}, squares = {0, 0};
    const double count = (double)n;
    if (n == 0)
        return mean;
    for (size_t i = 0; i < n; i++)
        rt_sum_add(&sum, shares[i]);
    mean.value = fmin(1, rt_sum_value(&sum) / count);
    for (size_t i = 0; i < n; i++)
        rt_sum_add(&squares, (shares[i] - mean.value) * (shares[i] - mean.value));
    if (n < 2) {
        mean.reason = one_cluster;
        return mean;
    }
    const double variance = rt_sum_value(&squares) / (count - 1) / count;
    mean.standard_error = sqrt(variance);
    mean.df = count - 1;
    const bool varies = variance > 1e-24;
    const double size = varies ? mean.value * (1 - mean.value) / variance : count;
    const struct rt_limits limits = rt_exact_limits(size * mean.value, size);
    mean.lower = limits.lower;
    mean.upper = limits.upper;
    return mean;
}

/* Scratch of a difference: the rows of one group, or all as numbers. */
struct parts {
    double *values;
    int *event;
    size_t *cluster;
};

static enum rt_status share_of_group(const int *event, const bool *in_second, size_t n, bool second,
                                     const struct rt_clusters *clusters, struct parts *parts,
                                     struct rt_share *share, struct rt_error *error)
{
    size_t count = 0;
    bool clustered = rt_has_clusters(clusters);
    for (size_t i = 0; i < n; i++) {
        if (in_second[i] != second)
            continue;
        parts->event[count] = event[i] != 0;
        parts->cluster[count++] = clustered ? clusters->of[i] : i;
    }
    struct rt_clusters own = {parts->cluster, clustered ? clusters->count : n};
    return rt_share(parts->event, count, clustered ? &own : NULL, share, error);
}

static void square_and_add(const struct rt_share share[2], struct rt_estimate *difference)
{
    const struct rt_estimate *first = &share[0].estimate;
    const struct rt_estimate *second = &share[1].estimate;
    *difference = rt_undefined(hidden_error);
    difference->value = second->value - first->value;
    difference->lower = difference->value - hypot(second->value - second->lower, first->upper - first->value);
    difference->upper = difference->value + hypot(second->upper - second->value, first->value - first->lower);
}

enum rt_status rt_share_difference(const int *event, const bool *in_second, size_t n,
                                   const struct rt_clusters *clusters, struct rt_estimate *difference,
                                   struct rt_error *error)
{
    struct parts parts = {rt_new_array(n, sizeof *parts.values), rt_new_array(n, sizeof *parts.event),
                          rt_new_array(n, sizeof *parts.cluster)};
    struct rt_share share[2];
    enum rt_status status = RT_OK;
    if (parts.values == NULL || parts.event == NULL || parts.cluster == NULL)
        status = rt_fail_memory(error);
    for (int second = 0; status == RT_OK && second < 2; second++)
        status = share_of_group(event, in_second, n, second != 0, clusters, &parts, &share[second], error);
    for (size_t i = 0; status == RT_OK && i < n; i++)
        parts.values[i] = event[i] != 0;
    if (status == RT_OK)
        status = rt_mean_difference(parts.values, in_second, n, clusters, difference, error);
    if (status == RT_OK && !isnan(difference->value) &&
        (share[0].exact_on_clusters || share[1].exact_on_clusters))
        square_and_add(share, difference);
    free(parts.values);
    free(parts.event);
    free(parts.cluster);
    return status;
}
