#include "ridgetally/stats/tail.h"

#include <gsl/gsl_cdf.h>
#include <math.h>

double rt_normal_p(double z)
{
    return isnan(z) ? NAN : 2 * gsl_cdf_ugaussian_Q(fabs(z));
}

double rt_chi_square_p(double x, double df)
{
    if (isnan(x) || !(df > 0))
        return NAN;
    return x <= 0 ? 1 : gsl_cdf_chisq_Q(x, df);
}

void rt_normal_inference(struct rt_estimate *estimate)
{
    estimate->df = INFINITY;
    if (isnan(estimate->value) || !(estimate->standard_error > 0))
        return;
    estimate->statistic = estimate->value / estimate->standard_error;
    estimate->p = rt_normal_p(estimate->statistic);
    estimate->lower = estimate->value - RT_Z_95 * estimate->standard_error;
    estimate->upper = estimate->value + RT_Z_95 * estimate->standard_error;
}

struct rt_estimate rt_chi_square_test(double chi_square, double df)
{
    struct rt_estimate test = rt_undefined(NULL);
    test.statistic = chi_square;
    test.df = df;
    test.p = rt_chi_square_p(chi_square, df);
    return test;
}
