/*
 * Two survival curves at one time: S1(t) - S2(t).
 *
 * Rows of the two groups that share no cluster are independent: se = sqrt(se1^2 + se2^2). Where clusters
 * (patients) have rows in both, the errors are not independent; with psi_1c and psi_2c the influence of
 * cluster c on each curve (see survival_curve.h) se = sqrt(sum over c of (psi_1c - psi_2c)^2), which covers
 * both cases. Interval and p are by the normal law (Klein, Logan, Harhoff & Andersen 2007 Stat Med
 * 26:4505-4519, the untransformed comparison).
 *
 * Where one curve is 0 or 1 its error says nothing and the difference stands without this interval; the
 * recovered limits (Newcombe 1998 Stat Med 17:873-890, method 10; Zou & Donner 2008 Stat Med 27:1693-1702)
 * are then built from each curve's own limits, double log or exact binomial where the curve is 0 or 1, with
 * the correlation of the two.
 */
#ifndef RIDGETALLY_STATS_CURVE_DIFFERENCE_H
#define RIDGETALLY_STATS_CURVE_DIFFERENCE_H

#include "ridgetally/stats/survival_curve.h"

struct rt_curve_difference {
    struct rt_estimate difference; /* S1 - S2 with error, z in statistic, p, limits */
    double recovered_lower; /* limits recovered from those of the two curves; NaN when a curve has none */
    double recovered_upper;
    double correlation;   /* of the two curves' errors; 0 for independent groups */
    size_t at_risk[2];    /* rows at risk at t */
    double survival[2];   /* S1(t), S2(t) */
    size_t clusters_both; /* clusters with rows in both groups */
};

/* Both curves must have been computed from data with the same cluster codes (or both without). t >= 0. RT_USE
 * when only one curve has clusters or their counts differ. */
enum rt_status rt_curve_difference(const struct rt_survival_curve *first,
                                   const struct rt_survival_curve *second, double t,
                                   struct rt_curve_difference *result, struct rt_error *error);

/* The same for the restricted means to `until`: difference of the areas under the curves. */
enum rt_status rt_restricted_mean_difference(const struct rt_survival_curve *first,
                                             const struct rt_survival_curve *second, double until,
                                             struct rt_estimate *difference, struct rt_error *error);

#endif
