/*
 * Several groups by ranks: Kruskal-Wallis (any difference) and Jonckheere-Terpstra (a trend over ordered
 * levels).
 */
#ifndef RIDGETALLY_STATS_ORDERED_H
#define RIDGETALLY_STATS_ORDERED_H

#include "ridgetally/stats/estimate.h"

#include <stdbool.h>
#include <stddef.h>

struct rt_ordered {
    size_t n;
    struct rt_estimate kruskal_wallis; /* value = statistic = H (or the Wald statistic); df; p */
    struct rt_estimate jonckheere; /* value = J, standard_error = sd of J without a trend; statistic, df, p */
    struct rt_estimate concordance; /* J over its largest possible value, 0..1, 0.5 = no trend; limits with
                                          clusters only */
};

/* Compare y over groups: level[i] in 0..levels-1, in the order of the trend. Levels without a row count for
 * nothing. y_capped marks right-censored y and may be NULL (pair scores, see pair_score.h).
 *
 * Kruskal-Wallis: H = (n - 1) sum over groups of n_g (mean rank - (n + 1)/2)^2 / sum over rows of (rank - (n
 * + 1)/2)^2, which is the tie-corrected H; chi-square on groups - 1 df (Kruskal & Wallis 1952, JASA
 * 47:583-621). With caps the ranks are pair-score ranks (Breslow 1970, Biometrika 57:579-594, permutation
 * variance).
 *
 * Jonckheere: J = pairs from two groups whose later group holds the larger y, half for a tie or an unknown
 * order; z = (J - mean)/sd with the tie-corrected variance (Hollander & Wolfe 1999, eq. 6.19), no continuity
 * correction, two-sided. p is exact when n < 50 and nothing is tied or capped.
 *
 * With clusters, delete-one-cluster jackknife. Kruskal-Wallis: covariance of the groups' relative effects
 * (mean rank - 1/2)/n; Wald statistic W on groups - 1 = q contrasts, p from W (C - q)/(q (C - 1)) on F(q, C -
 * q), C clusters (Hotelling). Jonckheere: error of 2 concordance - 1 on Fisher's z scale, t on C - 1 df. Cost
 * as rt_pair_sums_leave_out plus n times levels. */
enum rt_status rt_ordered(const double *y, const bool *y_capped, const size_t *level, size_t levels, size_t n,
                          const struct rt_clusters *clusters, struct rt_ordered *result,
                          struct rt_error *error);

/* mean_rank[level] = mean (pair-score) rank of the level's rows among all n; NaN for a level without a row. */
enum rt_status rt_mean_ranks(const double *y, const bool *y_capped, const size_t *level, size_t levels,
                             size_t n, double *mean_rank, struct rt_error *error);

#endif
