/*
 * A rate of events over time at risk, with clusters.
 */
#ifndef RIDGETALLY_STATS_CLUSTERED_RATE_H
#define RIDGETALLY_STATS_CLUSTERED_RATE_H

#include "ridgetally/stats/estimate.h"

#include <stddef.h>

/* r = sum of events / sum of exposure over count clusters, as a ratio estimator: error
 * sqrt(G/(G - 1) sum over clusters of (d - r t)^2) / sum of t with G clusters (Cochran 1977, Sampling Techniques, 3rd
 * ed., sec. 2.11 and 6.4), limits r exp(-+ t(G - 1) error/r). events[count] and exposure[count] (>= 0) are the sums
 * of each cluster. Undefined: no exposure; limits with fewer than two clusters, without events. */
enum rt_status rt_clustered_rate(const double *events, const double *exposure, size_t count,
                                 struct rt_estimate *rate, struct rt_error *error);

#endif
