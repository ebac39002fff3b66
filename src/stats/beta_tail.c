#include "ridgetally/stats/beta_tail.h"

#include "ridgetally/stats/root.h"

#include <gsl/gsl_sf_gamma.h>
#include <gsl/gsl_sf_log.h>
#include <math.h>
#include <stdbool.h>

/* log of the correction to Stirling's formula for gamma(x). */
static double stirling_error(double x)
{
    return x > 1e8 ? 1 / (12 * x) : log(gsl_sf_gammastar(x));
}

/* a log(a/m) + m - a, without cancellation where a and m are close. */
static double deviance_part(double a, double m)
{
    double delta = (m - a) / a;
    if (fabs(delta) < 0.5)
        return -a * gsl_sf_log_1plusx_mx(delta);
    return a * log(a / m) + m - a;
}

/* log of x^a y^b / (a B(a, b)) with y = 1 - x. */
static double log_factor(double x, double y, double a, double b)
{
    double n = a + b;
    double log_mass = stirling_error(n) - stirling_error(a) - stirling_error(b) - deviance_part(a, n * x) -
                      deviance_part(b, n * y);
    return log_mass - 0.5 * (log(2 * M_PI) + log(a) + log(b / n)) + log(b / n);
}

/* The continued fraction by Lentz's method; converges fast for x below (a + 1)/(a + b + 2), in some
 * sqrt(max(a, b)) steps. */
static double fraction(double x, double a, double b)
{
    const double tiny = 1e-300;
    double c = 1;
    double d = 1 - (a + b) * x / (a + 1);
    d = 1 / (fabs(d) < tiny ? tiny : d);
    double value = d;
    for (double m = 1; m < 1e6; m++) {
        double even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m));
        d = 1 + even * d;
        c = 1 + even / c;
        d = 1 / (fabs(d) < tiny ? tiny : d);
        c = fabs(c) < tiny ? tiny : c;
        value *= d * c;
        double odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1));
        d = 1 + odd * d;
        c = 1 + odd / c;
        d = 1 / (fabs(d) < tiny ? tiny : d);
        c = fabs(c) < tiny ? tiny : c;
        value *= d * c;
        if (fabs(d * c - 1) < 1e-16)
            break;
    }
    return value;
}

/* log of P(X < x), y = 1 - x given apart so that neither loses digits. */
static double log_below(double x, double y, double a, double b)
{
    if (x < (a + 1) / (a + b + 2))
        return log_factor(x, y, a, b) + log(fraction(x, a, b));
    return log1p(-exp(log_factor(y, x, b, a)) * fraction(y, b, a));
}

static bool usable(double a, double b)
{
    return a > 0 && b > 0 && isfinite(a) && isfinite(b);
}

double rt_beta_below(double x, double a, double b)
{
    if (!usable(a, b) || !(x >= 0 && x <= 1))
        return NAN;
    return x == 0 ? 0 : x == 1 ? 1 : exp(log_below(x, 1 - x, a, b));
}

struct target {
    double log_tail, a, b;
};

static double miss(double logit, void *parameters)
{
    const struct target *target = parameters;
    double x = 1 / (1 + exp(-logit));
    double y = 1 / (1 + exp(logit));
    return log_below(x, y, target->a, target->b) - target->log_tail;
}

/* logit of x with P(X < x) = tail; infinite where x is below or above what a double holds. */
static double logit_quantile(double tail, double a, double b)
{
    struct target target = {log(tail), a, b};
    double low = -690;
    double high = 690;
    if (miss(low, &target) >= 0)
        return -INFINITY;
    if (miss(high, &target) <= 0)
        return INFINITY;
    return rt_find_root(miss, &target, low, high);
}

double rt_beta_lower_limit(double tail, double a, double b)
{
    if (!usable(a, b) || !(tail > 0 && tail < 1))
        return NAN;
    return 1 / (1 + exp(-logit_quantile(tail, a, b)));
}

double rt_beta_upper_limit(double tail, double a, double b)
{
    if (!usable(a, b) || !(tail > 0 && tail < 1))
        return NAN;
    return 1 / (1 + exp(logit_quantile(tail, b, a)));
}
