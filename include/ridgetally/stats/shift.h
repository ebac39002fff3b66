/*
 * Two groups by ranks: Mann-Whitney and the Hodges-Lehmann shift.
 */
#ifndef RIDGETALLY_STATS_SHIFT_H
#define RIDGETALLY_STATS_SHIFT_H

#include "ridgetally/stats/estimate.h"

#include <stdbool.h>
#include <stddef.h>

struct rt_shift {
    size_t n_first;
    size_t n_second;
    double mann_whitney; /* U: pairs in which the second group's value is larger, ties half */
    struct rt_estimate
        superiority; /* U over the number of pairs: the chance of a larger value in the second group */
    struct rt_estimate shift; /* Hodges-Lehmann, second minus first; statistic, df and p are those of U */
};

/* Compare y between rows with second[i] false and true. y_capped marks right-censored y and may be NULL; a pair whose
 * order is unknown counts half.
 *
 * shift = median of all differences second - first (Hodges & Lehmann 1963, Ann. Math. Stat. 34:598-611); with caps the
 * shift at which U would be half the pairs.
 *
 * Without clusters. p exact when both groups have fewer than 50 rows and nothing is tied or capped; else normal with
 * tie-corrected variance and a continuity correction of 1/2 (the defaults of R's wilcox.test). Limits: differences of
 * rank k and n1 n2 + 1 - k, k the exact 0.025 quantile of U under no shift when p is exact, else
 * floor(n1 n2/2 - z sd), sd^2 = n1 n2 (n1 + n2 + 1)/12 (Hollander & Wolfe 1999, sec. 4.3; with caps: the variance of the
 * pair scores). Undefined where k < 1: no difference is extreme enough.
 *
 * With clusters: e = delete-one-cluster jackknife error of U/pairs taken at the shift, where the groups are aligned;
 * t = (U/pairs - 1/2)/e on clusters - 1 df; limits: differences of rank k = floor(n1 n2 (1/2 - t(0.975) e)) and
 * n1 n2 + 1 - k. So p < 0.05 and limits that leave out 0 go together, and complete separation is no exception. superiority
 * has its own jackknife error at the data, limits on Fisher's z scale of 2 superiority - 1.
 *
 * Undefined: an empty group. O(n log n) time (64 passes), O(n) memory. */
enum rt_status rt_shift(const double *y, const bool *y_capped, const bool *second, size_t n,
                        const struct rt_clusters *clusters, struct rt_shift *result, struct rt_error *error);

#endif
