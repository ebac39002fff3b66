/*
 * All differences between two samples, second minus first, without listing them: counts and order statistics from the
 * sorted samples. Values may be capped (right-censored), as in pair_score.h.
 */
#ifndef RIDGETALLY_STATS_PAIR_DIFFERENCE_H
#define RIDGETALLY_STATS_PAIR_DIFFERENCE_H

#include <stddef.h>
#include <stdint.h>

/* Values of one sample or of a part of it, ascending, exact and capped ones apart. Borrowed. */
struct rt_sorted_sample {
    const double *exact;
    size_t exact_count;
    const double *capped;
    size_t capped_count;
};

/* Sum over the values of the first sample of the score of one value of the second: 2 when their difference surely
 * exceeds shift, 0 when it surely falls short, else 1. O(log n). */
int64_t rt_score_of_second(double second, int capped, const struct rt_sorted_sample *first, double shift);

/* The same for one value of the first sample over the values of the second. */
int64_t rt_score_of_first(double first, int capped, const struct rt_sorted_sample *second, double shift);

/* The smallest difference d such that the score lost from -infinity up to and including d is at least `lost` (in the
 * halves of rt_score_of_second). Without caps and with lost = 2 k this is the k-th smallest of all differences, exactly.
 * NaN when it is never reached. O(64 n log n) time, no memory. */
double rt_difference_at(const struct rt_sorted_sample *first, const struct rt_sorted_sample *second,
                        int64_t lost);

/* The k-th smallest (from 1) of the n(n + 1)/2 Walsh averages (d[i] + d[j])/2, i <= j, of n ascending values, exactly; NaN
 * when there are fewer. O(64 n) time, no memory. */
double rt_average_at(const double *d, size_t n, int64_t k);

#endif
