#include "ridgetally/stats/agreement_limits.h"

#include <math.h>

/* Length of the sum of two parts a and b whose errors have correlation r. */
static double joined(double a, double b, double r)
{
    double square = a * a + b * b + 2 * r * a * b;
    return square < 0 ? 0 : sqrt(square); /* NaN stays NaN */
}

/* bias + times sd, times = -multiple or multiple. */
static struct rt_estimate limit_of(const struct rt_estimate *bias, const struct rt_estimate *sd, double times,
                                   double r)
{
    struct rt_estimate limit = rt_undefined(NULL);
    double k = fabs(times);
    double sign = times < 0 ? -1 : 1;
    double sd_down = k * (sign < 0 ? sd->upper - sd->value : sd->value - sd->lower);
    double sd_up = k * (sign < 0 ? sd->value - sd->lower : sd->upper - sd->value);
    limit.value = bias->value + times * sd->value;
    limit.df = sd->df;
    limit.standard_error = joined(bias->standard_error, k * sd->standard_error, sign * r);
    limit.lower = limit.value - joined(bias->value - bias->lower, sd_down, sign * r);
    limit.upper = limit.value + joined(bias->upper - bias->value, sd_up, sign * r);
    if (isnan(limit.lower) || isnan(limit.upper)) {
        limit.lower = limit.upper = NAN;
        limit.reason = bias->reason != NULL ? bias->reason : sd->reason;
    }
    return limit;
}

void rt_limits_of_agreement(const struct rt_estimate *bias, const struct rt_estimate *sd, double multiple,
                            double correlation, struct rt_estimate *lower, struct rt_estimate *upper)
{
    double r = isnan(correlation) ? 0 : correlation;
    *lower = limit_of(bias, sd, -multiple, r);
    *upper = limit_of(bias, sd, multiple, r);
}
