/*
 * Two shares of independent trials: the fourfold table. For printed tables; rows of one patient are not independent.
 */
#ifndef RIDGETALLY_STATS_TWO_SHARES_H
#define RIDGETALLY_STATS_TWO_SHARES_H

#include "ridgetally/stats/estimate.h"

struct rt_two_shares {
    /* first minus second; limits by combining the Wilson limits of both (Newcombe 1998, Statistics in Medicine
     * 17:873-890, method 10) */
    struct rt_estimate difference;
    /* first over second; log-normal limits (Katz et al. 1978, Biometrics 34:469-474) */
    struct rt_estimate risk_ratio;
    /* odds of the first over those of the second; log-normal limits (Woolf 1955, Annals of Human Genetics 19:251-253) */
    struct rt_estimate odds_ratio;
    /* statistic, df 1 and p of Pearson's chi-square, without continuity correction */
    struct rt_estimate chi_square;
    /* p of Fisher's exact test: the hypergeometric tables no more probable than this one (to a relative 1e-7) */
    struct rt_estimate exact;
};

/* Of count1 of total1 and count2 of total2: whole numbers, 0 <= count <= total <= 1e9. Undefined parts say why. */
struct rt_two_shares rt_two_shares(double count1, double total1, double count2, double total2);

#endif
