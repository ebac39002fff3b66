/*
 * Paired differences by ranks: Wilcoxon's signed rank and the pseudomedian.
 */
#ifndef RIDGETALLY_STATS_SIGNED_RANK_H
#define RIDGETALLY_STATS_SIGNED_RANK_H

#include "ridgetally/stats/estimate.h"

#include <stddef.h>

struct rt_signed_rank {
    double positive_ranks; /* V: sum of the ranks of |d| over positive d, zeros left out */
    struct rt_estimate
        pseudomedian; /* median of all Walsh averages (d_i + d_j)/2, i <= j; statistic and p of V */
};

/* Judge n independent differences. p exact when n < 50 and no |d| is tied or 0; else normal with tie-corrected variance and
 * a continuity correction of 1/2 (the defaults of R's wilcox.test). Limits: Walsh averages of rank k from either end, k the
 * exact 0.025 quantile of V when p is exact, else floor(M/2 - z sqrt(n(n+1)(2n+1)/24)), M = n(n+1)/2 (Hollander & Wolfe
 * 1999, sec. 3.3); undefined where k < 1. Wilcoxon (1945), Biometrics Bull. 1:80-83; Hodges & Lehmann (1963).
 * O(n log n) time (64 passes), O(n) memory. */
enum rt_status rt_signed_rank(const double *differences, size_t n, struct rt_signed_rank *result,
                              struct rt_error *error);

#endif
