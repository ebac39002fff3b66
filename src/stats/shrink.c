#include "ridgetally/stats/shrink.h"

#include <math.h>
#include <stdbool.h>

static bool is_used(double value, double error)
{
    return isfinite(value) && isfinite(error) && error > 0;
}

static struct rt_estimate normal_estimate(double value, double variance)
{
    struct rt_estimate estimate = rt_undefined(NULL);
    estimate.value = value;
    estimate.standard_error = sqrt(variance);
    estimate.lower = value - RT_Z_95 * estimate.standard_error;
    estimate.upper = value + RT_Z_95 * estimate.standard_error;
    return estimate;
}

/* Weighted mean with weights 1/(error^2 + between); *weights receives their sum. */
static double weighted_mean(const double *value, const double *error, size_t n, double between,
                            double *weights)
{
    double sum = 0;
    *weights = 0;
    for (size_t i = 0; i < n; i++) {
        if (!is_used(value[i], error[i]))
            continue;
        double weight = 1 / (error[i] * error[i] + between);
        sum += weight * value[i];
        *weights += weight;
    }
    return sum / *weights;
}

static double between_variance(const double *value, const double *error, size_t n, size_t used)
{
    double weights, squares = 0, q = 0, mean = weighted_mean(value, error, n, 0, &weights);
    for (size_t i = 0; i < n; i++) {
        if (!is_used(value[i], error[i]))
            continue;
        double weight = 1 / (error[i] * error[i]);
        squares += weight * weight;
        q += weight * (value[i] - mean) * (value[i] - mean);
    }
    return fmax(0, (q - (double)(used - 1)) / (weights - squares / weights));
}

struct rt_shrinkage rt_shrink(const double *value, const double *error, size_t n,
                              struct rt_estimate *shrunken)
{
    struct rt_shrinkage result = {rt_undefined("fewer than two units with an error"), NAN, 0};
    double weights;
    for (size_t i = 0; i < n; i++) {
        shrunken[i] = rt_undefined("no error of its own");
        result.used += is_used(value[i], error[i]);
    }
    if (result.used < 2)
        return result;
    result.between_variance = between_variance(value, error, n, result.used);
    double mean = weighted_mean(value, error, n, result.between_variance, &weights);
    result.mean = normal_estimate(mean, 1 / weights);
    for (size_t i = 0; i < n; i++) {
        if (!is_used(value[i], error[i]))
            continue;
        double own = error[i] * error[i];
        double kept = result.between_variance / (result.between_variance + own);
        shrunken[i] =
            normal_estimate(mean + kept * (value[i] - mean), kept * own + (1 - kept) * (1 - kept) / weights);
    }
    return result;
}
