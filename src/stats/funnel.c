#include "ridgetally/stats/funnel.h"

#include "ridgetally/base/memory.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <math.h>
#include <stdbool.h>

enum { LARGEST_TOTAL = 2000000000 };

/* Smallest r in 0..n with tail mass on the far side small enough: P(R <= r) >= tail (lower) or P(R > r) <=
 * tail. */
static unsigned find_count(unsigned n, double target, double tail, bool lower)
{
    unsigned low = 0;
    unsigned high = n;
    while (low < high) {
        unsigned middle = low + (high - low) / 2;
        bool reached = lower ? gsl_cdf_binomial_P(middle, target, n) >= tail
                             : gsl_cdf_binomial_Q(middle, target, n) <= tail;
        if (reached)
            high = middle;
        else
            low = middle + 1;
    }
    return low;
}

/* The interpolated limit as a share. Each side works with its own tail, so nothing close to 1 is subtracted.
 */
static double limit(unsigned n, double target, double tail, bool lower)
{
    unsigned r = find_count(n, target, tail, lower);
    double beyond = lower ? gsl_cdf_binomial_P(r, target, n) - tail : tail - gsl_cdf_binomial_Q(r, target, n);
    return ((double)r - beyond / gsl_ran_binomial_pdf(r, target, n)) / (double)n;
}

struct rt_funnel_limits rt_funnel_limits(double count, double total, double target, double design_effect)
{
    struct rt_funnel_limits limits = {NAN, NAN, NAN, NAN, 0, NULL};
    if (!(total > 0))
        limits.reason = "no trials in this group";
    else if (total > LARGEST_TOTAL)
        limits.reason = "more than 2000000000 trials in this group";
    else if (!(target > 0 && target < 1))
        limits.reason = "the target is not strictly between 0 and 1";
    if (limits.reason != NULL)
        return limits;
    unsigned n = (unsigned)total;
    double stretch = sqrt(design_effect > 1 ? design_effect : 1.0);
    limits.lower95 = target + stretch * (limit(n, target, 0.025, true) - target);
    limits.upper95 = target + stretch * (limit(n, target, 0.025, false) - target);
    limits.lower998 = target + stretch * (limit(n, target, 0.001, true) - target);
    limits.upper998 = target + stretch * (limit(n, target, 0.001, false) - target);
    double share = count / total;
    limits.signal = (share < limits.lower95 || share > limits.upper95) +
                    (share < limits.lower998 || share > limits.upper998);
    return limits;
}

enum rt_status rt_share_design_effect(const double *count, const double *total, size_t n,
                                      struct rt_clusters clusters, struct rt_estimate *design_effect,
                                      struct rt_error *error)
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
    else if (!(share > 0 && share < 1))
        *design_effect = rt_undefined("no events, or nothing but events");
    else {
        *design_effect = rt_undefined(NULL);
        design_effect->value =
            squares * (double)groups / (double)(groups - 1) / (share * (1 - share) * trials);
    }
    return RT_OK;
}
