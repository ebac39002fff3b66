#include "ridgetally/stats/mean.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/cluster_sandwich.h"
#include "ridgetally/stats/sum.h"

#include <math.h>
#include <string.h>

static const char no_rows[] = "no rows";
static const char empty_group[] = "one of the two groups has no rows";
static const char no_spread[] = "all values are the same, so there is no error to judge the mean by";

static size_t group_of(const bool *in_second, size_t row)
{
    return in_second != NULL && in_second[row] ? 1 : 0;
}

/* Means by group from compensated sums, and the residuals; false when the residuals are only rounding. */
static bool centre(const double *values, const bool *in_second, size_t n, const size_t count[2],
                   double mean[2], double *residual)
{
    struct rt_sum sum[2];
    memset(sum, 0, sizeof sum);
    for (size_t i = 0; i < n; i++) {
        size_t group = group_of(in_second, i);
        rt_sum_add(&sum[group], values[i] / (double)count[group]);
    }
    mean[0] = rt_sum_value(&sum[0]);
    mean[1] = rt_sum_value(&sum[1]);
    double largest = 0;
    double largest_residual = 0;
    for (size_t i = 0; i < n; i++) {
        residual[i] = values[i] - mean[group_of(in_second, i)];
        largest = fmax(largest, fabs(values[i]));
        largest_residual = fmax(largest_residual, fabs(residual[i]));
    }
    return largest_residual > 4e-16 * largest;
}

/* Fit one constant per group (groups = 1 or 2) and judge the mean, or the second less the first. */
static enum rt_status fit(const double *values, const bool *in_second, size_t n, const size_t count[2],
                          size_t groups, const struct rt_clusters *clusters, struct rt_estimate *estimate,
                          struct rt_error *error)
{
    double *q = rt_new_array(n * groups, sizeof *q);
    double *residual = rt_new_array(n, sizeof *residual);
    struct rt_sandwich *sandwich = NULL;
    enum rt_status status = RT_OK;
    if (q == NULL || residual == NULL) {
        status = rt_fail_memory(error);
        goto done;
    }
    double mean[2] = {0, 0};
    bool varies = centre(values, in_second, n, count, mean, residual);
    *estimate = rt_undefined(varies ? NULL : no_spread);
    estimate->value = groups == 1 ? mean[0] : mean[1] - mean[0];
    if (!varies)
        goto done;
    for (size_t i = 0; i < n; i++) {
        size_t group = group_of(in_second, i);
        q[i * groups + group] = 1 / sqrt((double)count[group]);
    }
    status = rt_sandwich_build(&sandwich, q, n, groups, residual, clusters, error);
    if (status == RT_OK) {
        double z[2] = {(groups == 1 ? 1 : -1) / sqrt((double)count[0]), 0};
        if (groups == 2)
            z[1] = 1 / sqrt((double)count[1]);
        rt_sandwich_infer(sandwich, z, 0, estimate);
    }
done:
    rt_sandwich_free(sandwich);
    free(q);
    free(residual);
    return status;
}

enum rt_status rt_mean(const double *values, size_t n, const struct rt_clusters *clusters,
                       struct rt_estimate *mean, struct rt_error *error)
{
    const size_t count[2] = {n, 0};
    *mean = rt_undefined(no_rows);
    return n == 0 ? RT_OK : fit(values, NULL, n, count, 1, clusters, mean, error);
}

enum rt_status rt_mean_difference(const double *values, const bool *in_second, size_t n,
                                  const struct rt_clusters *clusters, struct rt_estimate *difference,
                                  struct rt_error *error)
{
    size_t count[2] = {0, 0};
    for (size_t i = 0; i < n; i++)
        count[in_second[i]]++;
    *difference = rt_undefined(empty_group);
    if (count[0] == 0 || count[1] == 0)
        return RT_OK;
    return fit(values, in_second, n, count, 2, clusters, difference, error);
}
