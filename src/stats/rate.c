#include "ridgetally/stats/rate.h"

#include "ridgetally/stats/estimate.h"
#include "ridgetally/stats/root.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdbool.h>

struct target {
    double shape;
    bool upper; /* the upper tail is meant */
};

static double miss(double log_x, void *parameters)
{
    const struct target *target = parameters;
    double x = exp(log_x);
    return target->upper ? 0.025 - gsl_cdf_gamma_Q(x, target->shape, 1)
                         : gsl_cdf_gamma_P(x, target->shape, 1) - 0.025;
}

/* Cornish-Fisher expansion (Abramowitz & Stegun 1964, 26.4.11 ff.): relative error below 1e-13 from a shape
 * of 1e5, where the incomplete gamma functions of GSL begin to give up. */
static double expansion(double shape, double z)
{
    double root = sqrt(shape);
    double z2 = z * z;
    return shape + z * root + (z2 - 1) / 3 + z * (z2 - 7) / (36 * root) -
           (z2 * (3 * z2 + 7) - 16) / (810 * shape);
}

/* Quantile of gamma(shape) with 0.025 below, or above. gsl_cdf_gamma_Pinv does not converge for all shapes. */
static double quantile(double shape, bool upper)
{
    if (shape >= 1e5)
        return expansion(shape, upper ? RT_Z_95 : -RT_Z_95);
    struct target target = {shape, upper};
    double spread = 5 / sqrt(shape);
    double low = upper ? log(shape) - spread - 3 : log(shape) - spread - 4 / shape;
    return exp(rt_find_root(miss, &target, low, log(shape) + spread));
}

struct rt_limits rt_poisson_limits(double count)
{
    if (!(count >= 0) || isinf(count))
        return (struct rt_limits){NAN, NAN};
    struct rt_limits limits = {0, quantile(count + 1, true)};
    if (count > 0)
        limits.lower = quantile(count, false);
    return limits;
}

struct rt_limits rt_rate_limits(double count, double exposure)
{
    if (!(exposure > 0) || isinf(exposure))
        return (struct rt_limits){NAN, NAN};
    struct rt_limits limits = rt_poisson_limits(count);
    return (struct rt_limits){limits.lower / exposure, limits.upper / exposure};
}
