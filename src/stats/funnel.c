#include "ridgetally/stats/funnel.h"

#include "ridgetally/base/memory.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <math.h>
#include <stdbool.h>

enum { LARGEST_TOTAL = 2000000000, LARGEST_MEAN = 100000000 };

/* Distribution of the count of one unit: binomial for a share, Poisson for a rate. */
struct counts {
    bool poisson;
    unsigned n;   /* trials */
    double share; /* per trial */
    double mean;  /* Poisson */
};

static double at_most(const struct counts *counts, unsigned r)
{
    return counts->poisson ? gsl_cdf_poisson_P(r, counts->mean)
                           : gsl_cdf_binomial_P(r, counts->share, counts->n);
}

static double above(const struct counts *counts, unsigned r)
{
    return counts->poisson ? gsl_cdf_poisson_Q(r, counts->mean)
                           : gsl_cdf_binomial_Q(r, counts->share, counts->n);
}

static double exactly(const struct counts *counts, unsigned r)
{
    return counts->poisson ? gsl_ran_poisson_pdf(r, counts->mean)
                           : gsl_ran_binomial_pdf(r, counts->share, counts->n);
}

/* Smallest r with P(R <= r) >= tail (lower side) or P(R > r) <= tail (upper side). */
static unsigned find_count(const struct counts *counts, double tail, bool lower)
{
    unsigned low = 0;
    unsigned high = counts->poisson ? (unsigned)(counts->mean + 40 * sqrt(counts->mean) + 40) : counts->n;
    while (low < high) {
        unsigned middle = low + (high - low) / 2;
        if (lower ? at_most(counts, middle) >= tail : above(counts, middle) <= tail)
            high = middle;
        else
            low = middle + 1;
    }
    return low;
}

/* The interpolated limit as a count. Each side works with its own tail, so nothing close to 1 is subtracted.
 */
static double limit(const struct counts *counts, double tail, bool lower)
{
    unsigned r = find_count(counts, tail, lower);
    double beyond = lower ? at_most(counts, r) - tail : tail - above(counts, r);
    return (double)r - beyond / exactly(counts, r);
}

static struct rt_funnel_limits limits_of(const struct counts *counts, double value, double size,
                                         double target, double design_effect)
{
    double stretch = sqrt(design_effect > 1 ? design_effect : 1.0);
    struct rt_funnel_limits limits = {
        .lower95 = target + stretch * (limit(counts, 0.025, true) / size - target),
        .upper95 = target + stretch * (limit(counts, 0.025, false) / size - target),
        .lower998 = target + stretch * (limit(counts, 0.001, true) / size - target),
        .upper998 = target + stretch * (limit(counts, 0.001, false) / size - target),
    };
    limits.signal = (value < limits.lower95 || value > limits.upper95) +
                    (value < limits.lower998 || value > limits.upper998);
    return limits;
}

static struct rt_funnel_limits undefined(const char *reason)
{
    return (struct rt_funnel_limits){NAN, NAN, NAN, NAN, 0, reason};
}

struct rt_funnel_limits rt_funnel_limits(double count, double total, double target, double design_effect)
{
    if (!(total > 0))
        return undefined("no trials in this group");
    if (total > LARGEST_TOTAL)
        return undefined("more than 2000000000 trials in this group");
    if (!(target > 0 && target < 1))
        return undefined("the target is not strictly between 0 and 1");
    struct counts counts = {.n = (unsigned)total, .share = target};
    return limits_of(&counts, count / total, total, target, design_effect);
}

struct rt_funnel_limits rt_funnel_rate_limits(double count, double exposure, double target,
                                              double design_effect)
{
    if (!(exposure > 0))
        return undefined("no exposure in this group");
    if (!(target > 0))
        return undefined("the target is not above 0");
    if (target * exposure > LARGEST_MEAN)
        return undefined("more than 100000000 events expected in this group");
    struct counts counts = {.poisson = true, .mean = target * exposure};
    return limits_of(&counts, count / exposure, exposure, target, design_effect);
}

enum rt_status rt_share_design_effect(const double *count, const double *total, size_t n,
                                      struct rt_clusters clusters, bool rate,
                                      struct rt_estimate *design_effect, struct rt_error *error)
{
    size_t groups = clusters.of == NULL ? n : clusters.count;
    double *residual = rt_new_array(groups, sizeof *residual);
    if (residual == NULL)
        return rt_fail_memory(error);
    double events = 0;
    double trials = 0;
    for (size_t i = 0; i < n; i++) {
        events += count[i];
        trials += total[i];
    }
    double share = events / trials;
    double squares = 0;
    for (size_t i = 0; i < n; i++)
        residual[clusters.of == NULL ? i : clusters.of[i]] += count[i] - share * total[i];
    for (size_t g = 0; g < groups; g++)
        squares += residual[g] * residual[g];
    free(residual);
    if (groups < 2)
        *design_effect = rt_undefined("fewer than 2 clusters");
    else if (!(share > 0 && (rate || share < 1)))
        *design_effect = rt_undefined("no events, or nothing but events");
    else {
        *design_effect = rt_undefined(NULL);
        design_effect->value =
            squares * (double)groups / (double)(groups - 1) / (share * (rate ? 1 : 1 - share) * trials);
    }
    return RT_OK;
}
