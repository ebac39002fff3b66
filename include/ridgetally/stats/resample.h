/*
 * The bootstrap by patient: intervals for a mean or median from resampling whole clusters.
 */
#ifndef RIDGETALLY_STATS_RESAMPLE_H
#define RIDGETALLY_STATS_RESAMPLE_H

#include "ridgetally/stats/estimate.h"

#include <stddef.h>

enum rt_resample_statistic { RT_RESAMPLE_MEAN, RT_RESAMPLE_MEDIAN };

enum { RT_RESAMPLE_TIMES_MAX = 10000000 };

struct rt_resample {
    struct rt_estimate
        percentile;   /* value = statistic of the sample, standard_error = sd of the replicates, percentile
                                      limits (2.5% and 97.5%, quantile type 6) */
    double bca_lower; /* bias-corrected and accelerated limits */
    double bca_upper;
    const char *bca_reason; /* why they are NaN; NULL */
    double
        bias_correction; /* z0 = normal quantile of the share of replicates below the value, equal ones half */
    double acceleration; /* a = sum u^3/(6 (sum u^2)^1.5), u = mean - statistic with one cluster left out */
};

/* Draw `times` samples of as many clusters as there are, with replacement, and take the statistic of all their rows.
 * Without clusters rows are drawn. Efron (1987), JASA 82:171-185; Davison & Hinkley (1997), sec. 5.3.2; whole clusters:
 * Davison & Hinkley, sec. 3.8.
 *
 * Deterministic: GSL's MT19937 (Matsumoto & Nishimura 1998) from the given seed (0 is GSL's 4357); replicate after replicate, draw after
 * draw, the cluster number is gsl_rng_uniform_int(clusters), clusters numbered by their code.
 * O(times (n + clusters)) time, O(n + times) memory. Undefined with fewer than two clusters. RT_USE: times 0 or above
 * RT_RESAMPLE_TIMES_MAX. */
enum rt_status rt_resample(const double *values, size_t n, const struct rt_clusters *clusters,
                           enum rt_resample_statistic statistic, unsigned long seed, size_t times,
                           struct rt_resample *result, struct rt_error *error);

#endif
