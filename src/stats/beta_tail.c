#include "ridgetally/stats/beta_tail.h"

#include "ridgetally/stats/root.h"

#include <gsl/gsl_sf_gamma.h>
#include <gsl/gsl_sf_log.h>
#include <math.h>
#include <stdbool.h>
#include <stddef.h>

#define SETTLED 1e-8  /* of the spread: the error left after such a step is its square */
#define FAR     600.0 /* logit */

enum { MOST_STEPS = 30 };

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

/* One tail of the distribution, and what of its log_factor does not depend on x. */
struct side {
    double a, b;
    double stirling, root, odds; /* errors of Stirling's formula, log of sqrt(2 pi a b/n), log of b/n */
};

static struct side side_of(double a, double b)
{
    const double n = a + b;
    const double odds = log(b / n);
    return (struct side){.a = a,
                         .b = b,
                         .stirling = stirling_error(n) - stirling_error(a) - stirling_error(b),
                         .root = 0.5 * (log(2 * M_PI) + log(a) + odds),
                         .odds = odds};
}

/* log of x^a y^b / (a B(a, b)) with y = 1 - x. */
static double log_factor(double x, double y, const struct side *side)
{
    const double n = side->a + side->b;
    double log_mass = side->stirling - deviance_part(side->a, n * x) - deviance_part(side->b, n * y);
    return log_mass - side->root + side->odds;
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

struct target {
    double log_tail;
    struct side below, above; /* of x, and of y = 1 - x */
};

static struct target target_of(double tail, double a, double b)
{
    return (struct target){log(tail), side_of(a, b), side_of(b, a)};
}

/* log of P(X < x), y = 1 - x given apart so that neither loses digits. *density, unless NULL, becomes the logarithm of that of the
 * logit of X at x. */
static double log_below(double x, double y, const struct target *target, double *density)
{
    const double a = target->below.a;
    const double b = target->below.b;
    const bool low = x < (a + 1) / (a + b + 2);
    const double factor = low ? log_factor(x, y, &target->below) : log_factor(y, x, &target->above);
    if (density != NULL)
        *density = factor + log(low ? a : b);
    return low ? factor + log(fraction(x, a, b)) : log1p(-exp(factor) * fraction(y, b, a));
}

static bool usable(double a, double b)
{
    return a > 0 && b > 0 && isfinite(a) && isfinite(b);
}

double rt_beta_below(double x, double a, double b)
{
    if (!usable(a, b) || !(x >= 0 && x <= 1))
        return NAN;
    const struct target target = target_of(1, a, b);
    return x == 0 ? 0 : x == 1 ? 1 : exp(log_below(x, 1 - x, &target, NULL));
}

static double miss_at(double logit, const struct target *target, double *density)
{
    double x = 1 / (1 + exp(-logit));
    double y = 1 / (1 + exp(logit));
    return log_below(x, y, target, density) - target->log_tail;
}

static double miss(double logit, void *parameters)
{
    return miss_at(logit, parameters, NULL);
}

/* Newton steps from two standard errors below the mean, about. The logarithm of P(X < x) is concave in the logit, so that steps up
 * do not overshoot. NaN where they do not settle: far out, or at a few parameters far below 1. */
static double step_to_quantile(const struct target *target)
{
    const double spread = sqrt(1 / target->below.a + 1 / target->below.b);
    double logit = log(target->below.a / target->below.b) - 2 * spread;
    for (int step = 0; step < MOST_STEPS && fabs(logit) < FAR; step++) {
        double density;
        const double value = miss_at(logit, target, &density);
        const double move = -value / exp(density - (value + target->log_tail));
        logit += move;
        if (fabs(move) <= SETTLED * fmin(spread, 1))
            return fabs(logit) < FAR ? logit : NAN;
    }
    return NAN;
}

/* logit of x with P(X < x) = tail; infinite where x is below or above what a double holds. */
static double logit_quantile(double tail, double a, double b)
{
    struct target target = target_of(tail, a, b);
    const double found = step_to_quantile(&target);
    double low = -690;
    double high = 690;
    if (!isnan(found))
        return found;
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
