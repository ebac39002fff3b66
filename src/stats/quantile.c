#include "ridgetally/stats/quantile.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/jackknife.h"
#include "ridgetally/stats/order.h"
#include "ridgetally/stats/survival_curve.h"

#include <math.h>
#include <stdlib.h>

static const char no_values[] = "no values";
static const char one_cluster[] = "limits need at least two patients (clusters)";
static const char too_short[] = "too few values: the interval reaches beyond the data";

/* Clustered error of the mean of n influences that sum to about 0: sqrt(C/(C - 1) sum (cluster sum)^2)/n. */
static double clustered_error(const double *influence, size_t n, const struct rt_cluster_rows *rows)
{
    double sum = 0;
    for (size_t c = 0; c < rows->count; c++) {
        double cluster = 0;
        for (size_t k = rows->start[c]; k < rows->start[c + 1]; k++)
            cluster += influence[rows->row[k]];
        sum += cluster * cluster;
    }
    double count = (double)rows->count;
    return rows->count < 2 ? NAN : sqrt(count / (count - 1) * sum) / (double)n;
}

/* Fill error, df and what follows from limits that may be NaN. */
static void finish(struct rt_estimate *estimate, double t)
{
    estimate->standard_error = (estimate->upper - estimate->lower) / (2 * t);
    if (isnan(estimate->lower) || isnan(estimate->upper))
        estimate->reason = too_short;
}

static enum rt_status invert(const double *values, const double *sorted, size_t n, double p,
                             const struct rt_cluster_rows *rows, struct rt_estimate *estimate,
                             struct rt_error *error)
{
    double *influence = rt_new_array(n, sizeof *influence);
    if (influence == NULL)
        return rt_fail_memory(error);
    double below = 0;
    for (size_t i = 0; i < n; i++)
        below += values[i] <= estimate->value;
    for (size_t i = 0; i < n; i++)
        influence[i] = (values[i] <= estimate->value) - below / (double)n;
    estimate->df = (double)rows->count - 1;
    double t = rt_t_975(estimate->df);
    double half = t * clustered_error(influence, n, rows);
    estimate->lower = rt_quantile_sorted(sorted, n, p - half, RT_QUANTILE_TYPE_7);
    estimate->upper = rt_quantile_sorted(sorted, n, p + half, RT_QUANTILE_TYPE_7);
    finish(estimate, t);
    free(influence);
    return RT_OK;
}

enum rt_status rt_quantile(const double *values, size_t n, double p, const struct rt_clusters *clusters,
                           struct rt_estimate *estimate, struct rt_error *error)
{
    *estimate = rt_undefined(no_values);
    if (!(p > 0 && p < 1))
        return rt_fail(error, RT_USE, "a quantile is asked for at a share between 0 and 1");
    if (n == 0)
        return RT_OK;
    struct rt_cluster_rows rows = {0};
    double *sorted = NULL;
    enum rt_status status = rt_gather_clusters(clusters, n, &rows, error);
    if (status == RT_OK)
        status = rt_sorted_copy(values, n, &sorted, error);
    if (status == RT_OK) {
        estimate->value = rt_quantile_sorted(sorted, n, p, RT_QUANTILE_TYPE_7);
        estimate->reason = rows.count < 2 ? one_cluster : NULL;
    }
    if (status == RT_OK && estimate->reason == NULL)
        status = invert(values, sorted, n, p, &rows, estimate, error);
    free(sorted);
    rt_cluster_rows_release(&rows);
    return status;
}

/* The value by which the curve has come down to 1 - share; NaN where share is outside 0..1 or not reached. */
static double value_at_share(const struct rt_survival_curve *curve, double share)
{
    return share > 0 && share < 1 ? rt_survival_quantile(curve, share).value : NAN;
}

static void invert_curve(const struct rt_survival_curve *curve, double p, struct rt_estimate *estimate)
{
    static const char not_reached[] = "not reached: too many capped values below it";
    estimate->value = value_at_share(curve, p);
    estimate->reason = isnan(estimate->value) ? not_reached : NULL;
    if (estimate->reason == NULL && curve->clusters_present < 2)
        estimate->reason = one_cluster;
    if (estimate->reason != NULL)
        return;
    double clusters = (double)curve->clusters_present;
    estimate->df = clusters - 1;
    double error = rt_survival_at(curve, estimate->value).standard_error * sqrt(clusters / (clusters - 1));
    double t = rt_t_975(estimate->df);
    if (isnan(error)) {
        estimate->reason = too_short;
        return;
    }
    estimate->lower = value_at_share(curve, p - t * error);
    estimate->upper = value_at_share(curve, p + t * error);
    finish(estimate, t);
}

enum rt_status rt_capped_quantile(const double *values, const bool *capped, size_t n, double p,
                                  const struct rt_clusters *clusters, struct rt_estimate *estimate,
                                  double *beyond, struct rt_error *error)
{
    *estimate = rt_undefined(no_values);
    if (beyond != NULL)
        *beyond = NAN;
    if (!(p > 0 && p < 1))
        return rt_fail(error, RT_USE, "a quantile is asked for at a share between 0 and 1");
    int *exact = rt_new_array(n, sizeof *exact);
    if (exact == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < n; i++) {
        exact[i] = !capped[i];
        if (beyond != NULL && !(values[i] <= *beyond))
            *beyond = values[i];
    }
    struct rt_follow_up data = {.n = n, .time = values, .event = exact};
    if (rt_has_clusters(clusters))
        data.clusters = *clusters;
    struct rt_survival_curve curve = {0};
    enum rt_status status = rt_survival_curve(&curve, &data, RT_INTERVAL_UNTRANSFORMED, error);
    if (status == RT_OK && n > 0)
        invert_curve(&curve, p, estimate);
    rt_survival_curve_release(&curve);
    free(exact);
    return status;
}
