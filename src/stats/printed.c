#include "ridgetally/stats/printed.h"

#include "ridgetally/stats/jackknife.h"
#include "ridgetally/stats/student.h"
#include "ridgetally/stats/tail.h"

#include <gsl/gsl_cdf.h>
#include <math.h>

struct rt_estimate rt_from_limits(double estimate, double lower, double upper, bool is_ratio, double df)
{
    if (is_ratio && !(estimate > 0 && lower > 0))
        return rt_undefined("a ratio and its limits are above 0");
    if (!(lower < upper))
        return rt_undefined("the lower limit is not below the upper one");
    if (!(df > 0))
        return rt_undefined("the degrees of freedom are not above 0");
    struct rt_estimate result = rt_undefined(NULL);
    result.value = is_ratio ? log(estimate) : estimate;
    result.df = df;
    result.standard_error = (is_ratio ? log(upper / lower) : upper - lower) / (2 * rt_t_975(df));
    rt_student_inference(&result, 0);
    result.value = estimate;
    result.lower = lower;
    result.upper = upper;
    return result;
}

struct rt_estimate rt_from_statistic(enum rt_printed_statistic kind, double value, double df, double df2)
{
    bool counted = kind != RT_PRINTED_Z;
    if (counted && !(df > 0 && (kind != RT_PRINTED_F || df2 > 0)))
        return rt_undefined("the degrees of freedom are not above 0");
    if ((kind == RT_PRINTED_F || kind == RT_PRINTED_CHI_SQUARE) && value < 0)
        return rt_undefined("this statistic is never negative");
    if (kind == RT_PRINTED_CORRELATION && !(fabs(value) < 1))
        return rt_undefined("the correlation is not between -1 and 1");
    struct rt_estimate result = rt_undefined(NULL);
    result.statistic = value;
    result.df = counted ? df : INFINITY;
    if (kind == RT_PRINTED_CORRELATION)
        result.statistic = value * sqrt(df / ((1 - value) * (1 + value)));
    if (kind == RT_PRINTED_F)
        result.p = gsl_cdf_fdist_Q(value, df, df2);
    else if (kind == RT_PRINTED_CHI_SQUARE)
        result.p = rt_chi_square_p(value, df);
    else
        result.p = rt_t_p(result.statistic, result.df);
    return result;
}
