#include "ridgetally/stats/jackknife.h"

#include <gsl/gsl_cdf.h>
#include <math.h>

static const char too_few[] = "needs at least two patients (clusters)";
static const char no_error[] =
    "leaving out any one patient changes nothing, so there is no error to judge by";
static const char fragile[] = "leaving out one patient leaves the quantity undefined";

double rt_jackknife_error(const double *replicates, size_t count)
{
    if (count < 2)
        return NAN;
    double mean = 0;
    double largest = 0;
    for (size_t c = 0; c < count; c++) {
        mean += (replicates[c] - mean) / (double)(c + 1);
        largest = fmax(largest, fabs(replicates[c]));
    }
    double sum = 0;
    for (size_t c = 0; c < count; c++)
        sum += (replicates[c] - mean) * (replicates[c] - mean);
    double error = sqrt((double)(count - 1) / (double)count * sum);
    /* Below this the replicates differ by rounding alone. */
    return error < 1e-14 * largest * sqrt((double)count) ? 0 : error;
}

double rt_jackknife_correlation(const double *a, const double *b, size_t count)
{
    double mean_a = 0;
    double mean_b = 0;
    for (size_t c = 0; c < count; c++) {
        mean_a += (a[c] - mean_a) / (double)(c + 1);
        mean_b += (b[c] - mean_b) / (double)(c + 1);
    }
    double aa = 0;
    double bb = 0;
    double ab = 0;
    for (size_t c = 0; c < count; c++) {
        aa += (a[c] - mean_a) * (a[c] - mean_a);
        bb += (b[c] - mean_b) * (b[c] - mean_b);
        ab += (a[c] - mean_a) * (b[c] - mean_b);
    }
    return aa > 0 && bb > 0 ? fmax(-1, fmin(1, ab / (sqrt(aa) * sqrt(bb)))) : NAN;
}

double rt_t_p(double statistic, double df)
{
    if (isnan(statistic))
        return NAN;
    double tail =
        isnan(df) || isinf(df) ? gsl_cdf_ugaussian_Q(fabs(statistic)) : gsl_cdf_tdist_Q(fabs(statistic), df);
    return fmin(1, 2 * tail);
}

double rt_t_975(double df)
{
    return isnan(df) || isinf(df) ? RT_Z_95 : gsl_cdf_tdist_Qinv(0.025, df);
}

/* The error of the replicates in an otherwise empty estimate, or the reason why there is none. */
static struct rt_estimate start(double value, const double *replicates, size_t count)
{
    struct rt_estimate estimate = rt_undefined(NULL);
    estimate.value = value;
    estimate.standard_error = rt_jackknife_error(replicates, count);
    if (count < 2)
        estimate.reason = too_few;
    else if (isnan(estimate.standard_error))
        estimate.reason = fragile;
    else
        estimate.df = (double)(count - 1);
    return estimate;
}

struct rt_estimate rt_jackknife_estimate(double value, double null, const double *replicates, size_t count)
{
    struct rt_estimate estimate = start(value, replicates, count);
    if (estimate.reason != NULL)
        return estimate;
    if (estimate.standard_error == 0) {
        estimate.reason = no_error;
        return estimate;
    }
    double half = rt_t_975(estimate.df) * estimate.standard_error;
    estimate.lower = value - half;
    estimate.upper = value + half;
    estimate.statistic = (value - null) / estimate.standard_error;
    estimate.p = rt_t_p(estimate.statistic, estimate.df);
    return estimate;
}

struct rt_estimate rt_jackknife_bounded(double value, const double *replicates, size_t count)
{
    struct rt_estimate estimate = start(value, replicates, count);
    if (estimate.reason != NULL)
        return estimate;
    if (fabs(value) >= 1) {
        estimate.reason = "the value stands at its bound, where no error can be given";
        return estimate;
    }
    double z = atanh(value);
    double error = estimate.standard_error / ((1 - value) * (1 + value));
    if (error == 0) {
        estimate.reason = no_error;
        return estimate;
    }
    double half = rt_t_975(estimate.df) * error;
    estimate.lower = tanh(z - half);
    estimate.upper = tanh(z + half);
    estimate.statistic = z / error;
    estimate.p = rt_t_p(estimate.statistic, estimate.df);
    return estimate;
}

struct rt_estimate rt_jackknife_positive(double value, const double *replicates, size_t count)
{
    struct rt_estimate estimate = start(value, replicates, count);
    if (estimate.reason != NULL)
        return estimate;
    if (!(value > 0) || estimate.standard_error == 0) {
        estimate.reason = value > 0 ? no_error : "a spread of zero has no interval";
        return estimate;
    }
    double factor = exp(rt_t_975(estimate.df) * estimate.standard_error / value);
    estimate.lower = value / factor;
    estimate.upper = value * factor;
    return estimate;
}
