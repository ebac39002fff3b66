#include "ridgetally/stats/mean.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/cluster_sandwich.h"
#include "ridgetally/stats/order.h"
#include "ridgetally/stats/student.h"
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

/* Residuals and rows of a cluster. */
struct cluster_sum {
    double residual, rows;
};

/* The sum of (residuals)^2/(1 - h) over the clusters, h = rows/n, and the sums of h^2 and (h^2/(1 - h)), (h^2/(1 - h))^2. Returns how many
 * clusters there are. */
static size_t add_clusters(const struct cluster_sum *sums, size_t count, double n, double *square, double *h2,
                           double *w2, double *w4)
{
    size_t present = 0;
    *square = *h2 = *w2 = *w4 = 0;
    for (size_t c = 0; c < count; c++) {
        if (!(sums[c].rows > 0))
            continue;
        const double h = sums[c].rows / n, w = h * h / (1 - h);
        present++;
        *square += sums[c].residual * sums[c].residual / (1 - h);
        *h2 += h * h;
        *w2 += w;
        *w4 += w * w;
    }
    return present;
}

/* Judge a mean. Q is 1/sqrt(n) throughout, so T of a cluster is h, its share of the rows, and what cluster_sandwich.h says of one
 * column comes down to sums over clusters: the variance is the sum of (residuals)^2/(1 - h) over n^2, and
 * df = 1/((sum h^2/(1 - h))^2 - sum (h^2/(1 - h))^2 + sum h^2). *judged is false where there is no error to be given, or a code is out of
 * range: the general form says why. */
static enum rt_status judge_mean(const double *residual, size_t n, const struct rt_clusters *clusters,
                                 struct rt_estimate *estimate, bool *judged, struct rt_error *error)
{
    const bool given = rt_has_clusters(clusters);
    const size_t count = given ? clusters->count : n;
    struct cluster_sum *sums = rt_new_array(count + 1, sizeof *sums);
    double square, h2, w2, w4, mean_square = 0;
    *judged = false;
    if (sums == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < n; i++) {
        const size_t c = given ? clusters->of[i] : i;
        if (c >= count) {
            free(sums);
            return RT_OK;
        }
        sums[c].residual += residual[i];
        sums[c].rows++;
        mean_square += residual[i] * residual[i] / (double)n;
    }
    const size_t present = add_clusters(sums, count, (double)n, &square, &h2, &w2, &w4);
    free(sums);
    if (present < 2 || !(square > 1e-24 * (double)n * mean_square))
        return RT_OK;
    estimate->standard_error = sqrt(square) / (double)n;
    estimate->df = 1 / (w2 * w2 - w4 + h2);
    rt_student_inference(estimate, 0);
    *judged = true;
    return RT_OK;
}

/* Fit one constant per group (groups = 1 or 2) and judge the mean, or the second less the first. */
static enum rt_status fit(const double *values, const bool *in_second, size_t n, const size_t count[2],
                          size_t groups, const struct rt_clusters *clusters, struct rt_estimate *estimate,
                          struct rt_error *error)
{
    double *q = NULL;
    double *residual = rt_new_array(n, sizeof *residual);
    struct rt_sandwich *sandwich = NULL;
    enum rt_status status = RT_OK;
    bool judged = false;
    if (residual == NULL) {
        status = rt_fail_memory(error);
        goto done;
    }
    double mean[2] = {0, 0};
    bool varies = centre(values, in_second, n, count, mean, residual);
    *estimate = rt_undefined(varies ? NULL : no_spread);
    estimate->value = groups == 1 ? mean[0] : mean[1] - mean[0];
    if (varies && groups == 1)
        status = judge_mean(residual, n, clusters, estimate, &judged, error);
    if (!varies || judged || status != RT_OK)
        goto done;
    q = rt_new_array(n * groups, sizeof *q);
    if (q == NULL) {
        status = rt_fail_memory(error);
        goto done;
    }
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
