#include "ridgetally/stats/welch.h"

#include "ridgetally/stats/jackknife.h"

#include <math.h>
#include <stdbool.h>

static bool is_summary(const struct rt_summary *summary)
{
    return summary->n >= 0 && summary->n == floor(summary->n) && isfinite(summary->n) &&
           isfinite(summary->mean) && summary->sd >= 0 && isfinite(summary->sd);
}

/* J = gamma(m/2)/(sqrt(m/2) gamma((m - 1)/2)). From m = 200 on by the series of gamma(x + 1/2)/gamma(x) in 1/x, whose
 * first term left out is below 1e-12 there (Abramowitz & Stegun 1964, 6.1.47; Graham, Knuth & Patashnik 1994, ex. 9.60). */
static double small_sample_factor(double m)
{
    double half = m / 2;
    if (m < 200)
        return tgamma(half) / tgamma(half - 0.5) / sqrt(half);
    double x = half - 0.5;
    double series = 1 + (-1 / 8.0 + (1 / 128.0 + (5 / 1024.0 - 21 / 32768.0 / x) / x) / x) / x;
    return sqrt(x / half) * series;
}

static void test_difference(const struct rt_summary *first, const struct rt_summary *second,
                            struct rt_estimate *d)
{
    double a = first->sd * first->sd / first->n;
    double b = second->sd * second->sd / second->n;
    double p = a / (a + b); /* shares of the variance: their squares neither vanish nor overflow */
    double q = b / (a + b);
    d->standard_error = sqrt(a + b);
    d->df = 1 / (p * p / (first->n - 1) + q * q / (second->n - 1));
    d->statistic = d->value / d->standard_error;
    d->p = rt_t_p(d->statistic, d->df);
    double half = rt_t_975(d->df) * d->standard_error;
    d->lower = d->value - half;
    d->upper = d->value + half;
}

static void standardise(const struct rt_summary *first, const struct rt_summary *second,
                        struct rt_welch *result)
{
    double m = first->n + second->n - 2;
    double sum = first->n + second->n;
    double squares = (first->n - 1) * first->sd * first->sd + (second->n - 1) * second->sd * second->sd;
    double factor = small_sample_factor(m);
    double d = (first->mean - second->mean) / sqrt(squares / m);
    struct rt_estimate *g = &result->hedges_g;
    result->pooled_sd = sqrt(squares / m);
    result->cohen_d = d;
    g->value = factor * d;
    g->standard_error = factor * sqrt(sum / (first->n * second->n) + d * d / (2 * sum));
    g->df = INFINITY;
    g->lower = g->value - RT_Z_95 * g->standard_error;
    g->upper = g->value + RT_Z_95 * g->standard_error;
}

enum rt_status rt_welch(const struct rt_summary *first, const struct rt_summary *second,
                        struct rt_welch *result, struct rt_error *error)
{
    result->difference = result->hedges_g = rt_undefined(NULL);
    result->pooled_sd = result->cohen_d = NAN;
    if (!is_summary(first) || !is_summary(second))
        return rt_fail(error, RT_USE,
                       "a summary needs a whole number of cases and a standard deviation of 0 or more");
    const char *reason = NULL;
    if (first->n < 2 || second->n < 2)
        reason = "each group needs at least two cases";
    else if (first->sd == 0 && second->sd == 0)
        reason = "both standard deviations are 0";
    result->difference.reason = result->hedges_g.reason = reason;
    if (first->n > 0 && second->n > 0)
        result->difference.value = first->mean - second->mean;
    if (reason != NULL)
        return RT_OK;
    test_difference(first, second, &result->difference);
    standardise(first, second, result);
    return RT_OK;
}
