/*
 * How many cases until an interval is narrow enough, or a difference can be seen.
 *
 * Cases come in clusters (patients): `per_cluster` of them each on average, with the intra-class correlation `icc`. The
 * design effect 1 + (per_cluster - 1) icc (L. Kish, Survey Sampling, 1965, section 5.4) multiplies every variance; t
 * distributions have the clusters' degrees of freedom.
 */
#ifndef RIDGETALLY_STATS_PRECISION_H
#define RIDGETALLY_STATS_PRECISION_H

#include "ridgetally/stats/estimate.h"

struct rt_clustering {
    double per_cluster; /* >= 1 */
    double icc;         /* 0..1 */
};

struct rt_cases_needed {
    double cases;    /* of each group; NaN with a reason when no number up to 1e9 will do */
    double clusters; /* of each group: cases / per_cluster, rounded up */
    const char *reason;
};

/* 1 + (per_cluster - 1) icc. */
double rt_design_effect(const struct rt_clustering *clustering);

/* Cases until the 95% interval of a mean, 2 t(0.975; clusters - 1) sd sqrt(design effect / cases) wide, is at most `width`
 * wide. sd >= 0, width > 0. */
struct rt_cases_needed rt_cases_for_mean(double sd, double width, const struct rt_clustering *clustering);

/* Cases until the 95% Wilson interval (E. B. Wilson, JASA 22 (1927) 209-212) of a share, with cases / design effect trials, is
 * at most `width` wide. share 0..1, width > 0. */
struct rt_cases_needed rt_cases_for_share(double share, double width, const struct rt_clustering *clustering);

/* Cases of each of `groups` (1: against a known value; 2: between equal groups) until a difference of means is significant
 * at 5%, two-sided, in its own direction with probability `power`: noncentral t on groups (clusters - 1) df. */
struct rt_cases_needed rt_cases_for_mean_difference(double sd, double difference, double power, int groups,
                                                    const struct rt_clustering *clustering);

/* The same between the shares `share` and `share + difference`, by the normal approximation with the variance pooled
 * under no difference (J. L. Fleiss, Statistical Methods for Rates and Proportions, 1981, section 3.2, without
 * continuity correction). */
struct rt_cases_needed rt_cases_for_share_difference(double share, double difference, double power,
                                                     int groups, const struct rt_clustering *clustering);

/* Probability that a noncentral t variable (df > 0, noncentrality delta) exceeds t, by integration over the chi
 * distribution of the estimated standard deviation. */
double rt_noncentral_t_above(double t, double df, double delta);

#endif
