/*
 * Exact distributions of rank statistics when nothing is associated and no two values are equal.
 */
#ifndef RIDGETALLY_STATS_RANK_NULL_H
#define RIDGETALLY_STATS_RANK_NULL_H

#include "ridgetally/base/error.h"

#include <stdbool.h>
#include <stddef.h>

/* A distribution on 0, 1, ..., count - 1. */
struct rt_mass {
    double *p; /* owned; free with rt_mass_release */
    size_t count;
};

void rt_mass_release(struct rt_mass *mass);

/* Jonckheere's J for samples of the given sizes (empty ones are allowed): the number of pairs from two
 * samples whose later sample holds the larger value, 0 to the sum of products of sizes. Two samples:
 * Mann-Whitney's U. n samples of size 1: the number of concordant pairs in Kendall's tau. Built from sums of
 * positive terms only, so small tails keep their relative precision. J is a sum of independent U of each
 * sample against all earlier ones: Hollander & Wolfe (1999), ch. 4 and 6; recursion of U: Mann & Whitney
 * (1947), Ann. Math. Stat. 18:50-60. */
enum rt_status rt_jonckheere_null(const size_t *sizes, size_t samples, struct rt_mass *mass,
                                  struct rt_error *error);

/* Wilcoxon's V for n differences without ties and zeros: each rank 1..n counts with chance 1/2. */
enum rt_status rt_signed_rank_null(size_t n, struct rt_mass *mass, struct rt_error *error);

/* P(X <= value), P(X >= value) and min(1, twice the smaller) of a symmetric distribution. */
double rt_mass_lower_tail(const struct rt_mass *mass, size_t value);
double rt_mass_two_sided(const struct rt_mass *symmetric, size_t value);

/* The smallest value whose lower tail reaches p <= 0.5. */
size_t rt_mass_quantile(const struct rt_mass *mass, double p);

/* Two-sided p of Spearman's rho from D = sum of squared rank differences, n rows without ties: exact by
 * counting all orders for n <= 9, an Edgeworth series for n <= 1290 (Best & Roberts 1975, Appl. Stat.
 * 24:377-379, algorithm AS 89), beyond that t on n - 2 df. */
double rt_spearman_null_p(double squared_differences, size_t n);

#endif
