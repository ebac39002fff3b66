/*
 * The log-rank test of k groups (Mantel 1966; Peto & Peto 1972 J R Stat Soc A 135:185-207), strata, trend,
 * clusters.
 *
 * In each stratum and at each event time u with n at risk, n_g of them in group g, and d events: expected
 * events in g are d n_g / n, and the hypergeometric covariance is d (n - d) / (n - 1) (n_g / n) (1{g = h} -
 * n_h / n). Sums over times and strata give O - E and V; chi-square is (O - E)' V^- (O - E) over the groups
 * that ever were at risk at an event time, on one degree of freedom less than their number. The trend test
 * has scores s_g: (s'(O - E))^2 / s'V s on 1 degree of freedom (Tarone 1975 Biometrika 62:679-682).
 *
 * With clusters the robust score test: O - E is the score at 0 of the Cox model of the group indicators
 * (Breslow ties), the sum over rows of the score residuals
 *
 *   s_ig = dN_i (x_ig - n_g / n) - sum over event times u at which i is at risk of (x_ig - n_g(u) / n(u))
 * d(u) / n(u);
 *
 * summed within clusters to s_c, the covariance of O - E is sum over c of s_c s_c' and chi-square is
 * (O - E)' (sum s_c s_c')^- (O - E) (Lin & Wei 1989 J Am Stat Assoc 84:1074-1078 and Lin 1994 Stat Med
 * 13:2233-2247, at beta = 0).
 */
#ifndef RIDGETALLY_STATS_LOG_RANK_H
#define RIDGETALLY_STATS_LOG_RANK_H

#include "ridgetally/stats/follow_up.h"

struct rt_log_rank_input {
    struct rt_follow_up data;
    const size_t *group;   /* n codes 0..groups-1 */
    size_t groups;         /* 2 to 1000 */
    const size_t *stratum; /* n codes 0..strata-1, or NULL: one stratum */
    size_t strata;
    const double *scores; /* trend scores of the groups, or NULL: 1, 2, ..., groups */
};

struct rt_log_rank {
    double *rows;     /* groups: rows of each group */
    double *observed; /* groups */
    double *expected; /* groups */
    double *variance; /* groups x groups, row after row: hypergeometric covariance of O - E */
    double *robust;   /* groups x groups: sum of s_c s_c'; NULL without clusters */
    size_t groups;
    size_t clusters_present; /* clusters with rows; n without clusters */
    struct rt_estimate test; /* statistic, df, p: robust when there are clusters */
    struct rt_estimate
        trend; /* value s'(O - E), its standard_error, z in statistic, p: robust with clusters */
    struct rt_estimate model_test; /* by the hypergeometric covariance, whatever the clusters */
    struct rt_estimate model_trend;
};

/* O(n log n + event times x groups^2). Undefined (NaN, reason) without an event, with fewer than two groups
 * at risk, with a singular covariance (fewer clusters than needed). RT_USE for codes out of range or bad
 * rows. Release also after a failure. */
enum rt_status rt_log_rank(struct rt_log_rank *result, const struct rt_log_rank_input *input,
                           struct rt_error *error);

void rt_log_rank_release(struct rt_log_rank *result);

#endif
