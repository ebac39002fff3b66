/*
 * Means of several units, each with its error, drawn towards their common mean as far as their errors tell no difference.
 *
 * Between-variance t2 by moments: max(0, (Q - (k - 1))/(sum w - sum w^2/sum w)), w = 1/error^2, Q = sum w (y - mean)^2
 * (R. DerSimonian, N. Laird, Controlled Clinical Trials 7 (1986) 177-188). Common mean m with weights 1/(error^2 + t2),
 * variance 1/sum of these. Shrunken: m + B (y - m), B = t2/(t2 + error^2), with variance B error^2 + (1 - B)^2 var(m)
 * (empirical Bayes: C. N. Morris, J. Am. Stat. Assoc. 78 (1983) 47-55, without his correction for t2 being estimated).
 */
#ifndef RIDGETALLY_STATS_SHRINK_H
#define RIDGETALLY_STATS_SHRINK_H

#include "ridgetally/stats/estimate.h"

struct rt_shrinkage {
    struct rt_estimate mean; /* common mean, normal limits */
    double between_variance;
    size_t used; /* units with a value and an error above 0 */
};

/* value and error of n units; those with a NaN or an error not above 0 are left out and undefined in shrunken[n], whose
 * limits are normal. Everything undefined for fewer than two units. */
struct rt_shrinkage rt_shrink(const double *value, const double *error, size_t n,
                              struct rt_estimate *shrunken);

#endif
