/*
 * Two means from their printed summaries.
 */
#ifndef RIDGETALLY_STATS_WELCH_H
#define RIDGETALLY_STATS_WELCH_H

#include "ridgetally/stats/estimate.h"

struct rt_summary {
    double n; /* cases */
    double mean;
    double sd; /* standard deviation, not standard error */
};

struct rt_welch {
    struct rt_estimate difference; /* first minus second; t, df, two-sided p, 95% limits */
    double pooled_sd;
    double cohen_d;              /* difference over pooled_sd */
    struct rt_estimate hedges_g; /* standardised, bias-corrected; limits by the normal */
};

/* Welch (1947), Biometrika 34:28-35: standard error sqrt(s1^2/n1 + s2^2/n2), df by Satterthwaite.
 * Hedges (1981), J. Educ. Stat. 6:107-128: g = J d, d = difference/pooled sd, J = gamma(m/2)/(sqrt(m/2) gamma((m-1)/2))
 * on m = n1 + n2 - 2 df, exact; variance J^2 ((n1 + n2)/(n1 n2) + d^2/(2 (n1 + n2))) (Borenstein et al. 2009, ch. 4).
 * Undefined: fewer than two cases in a group, both sds 0. RT_USE: a negative sd or n that is not a whole number >= 0. */
enum rt_status rt_welch(const struct rt_summary *first, const struct rt_summary *second,
                        struct rt_welch *result, struct rt_error *error);

#endif
