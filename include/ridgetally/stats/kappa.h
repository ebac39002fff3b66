/*
 * Chance-corrected agreement of two classifications of the same cases: Cohen's kappa, plain or weighted.
 */
#ifndef RIDGETALLY_STATS_KAPPA_H
#define RIDGETALLY_STATS_KAPPA_H

#include "ridgetally/stats/estimate.h"

#include <stddef.h>

/* How much a disagreement of |i - j| levels out of k counts as agreement. */
enum rt_kappa_weights {
    RT_KAPPA_UNWEIGHTED, /* 0 */
    RT_KAPPA_LINEAR,     /* 1 - |i - j|/(k - 1) */
    RT_KAPPA_QUADRATIC   /* 1 - (i - j)^2/(k - 1)^2 */
};

struct rt_kappa {
    size_t n;
    double observed;          /* weighted share of agreement */
    double null_error;        /* large-sample error at kappa = 0; NaN with clusters */
    double expected;          /* the same under independence */
    struct rt_estimate kappa; /* (observed - expected)/(1 - expected) */
};

/* Agreement of a[i] and b[i], both codes in 0..levels-1; levels that never occur keep their place in the
 * weights. Source: Cohen (1960), Educ. Psychol. Meas. 20:37-46; Cohen (1968), Psychol. Bull. 70:213-220.
 *
 * Without clusters: large-sample error, limits kappa -+ z error, statistic = kappa over its error at kappa =
 * 0, normal p: Fleiss, Cohen & Everitt (1969), Psychol. Bull. 72:323-327. Limits are cut at -1 and 1. With
 * clusters: delete-one-cluster jackknife, limits and t on Fisher's z scale (rt_jackknife_bounded). O(n +
 * clusters times levels^2).
 *
 * Undefined: no rows; all rows of both in one level (expected agreement 1). */
enum rt_status rt_kappa(const size_t *a, const size_t *b, size_t n, size_t levels,
                        enum rt_kappa_weights weights, const struct rt_clusters *clusters,
                        struct rt_kappa *result, struct rt_error *error);

#endif
