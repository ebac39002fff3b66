/*
 * Rank correlation: Spearman's rho and Kendall's tau-b, with ties, caps and clusters.
 */
#ifndef RIDGETALLY_STATS_RANK_H
#define RIDGETALLY_STATS_RANK_H

#include "ridgetally/stats/estimate.h"

#include <stdbool.h>
#include <stddef.h>

struct rt_rank_correlation {
    size_t n;
    double pair_score; /* Kendall's S: concordant minus discordant pairs */
    struct rt_estimate spearman;
    struct rt_estimate tau_b;
};

/* Correlate n rows of x and y. y_capped marks right-censored y (the value is a limit reached) and may be
 * NULL.
 *
 * Values. tau-b = sum of x score times y score over pairs / sqrt(decided x pairs times decided y pairs)
 * (Kendall 1945); Spearman = Pearson's correlation of the mid-ranks. With caps, pairs whose order is unknown
 * score 0 and the ranks of y are pair-score ranks (see pair_score.h).
 *
 * Without clusters (NULL). Spearman's limits tanh(atanh r -+ z sqrt((1 + r^2/2)/(n - 3))), tau-b's
 * tanh(atanh tau -+ z sqrt(0.437/(n - 4))): Bonett & Wright (2000), Psychometrika 65:23-28. p of Spearman:
 * exact (n <= 9) or Edgeworth (n <= 1290) when nothing is tied or capped, else t = r sqrt((n - 2)/(1 - r^2))
 * on n - 2 df. p of tau-b: exact when n < 50 and nothing is tied or capped, else the normal with the variance
 * of the pair scores (tie-corrected, no continuity correction). These are the defaults of R's cor.test.
 *
 * With clusters: delete-one-cluster jackknife error of the correlation, limits, t and p on Fisher's z scale
 * with clusters - 1 df (rt_jackknife_bounded). O(n log n) for clusters of bounded size; see
 * rt_pair_sums_leave_out.
 *
 * Undefined: a constant column, fewer than 2 rows; limits with n <= 3 (Spearman) or n <= 4 (tau-b), or at -1
 * and 1. */
enum rt_status rt_rank_correlation(const double *x, const double *y, const bool *y_capped, size_t n,
                                   const struct rt_clusters *clusters, struct rt_rank_correlation *result,
                                   struct rt_error *error);

#endif
