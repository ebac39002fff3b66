/*
 * Pair scores: the common ground of Spearman, tau-b, Mann-Whitney, Kruskal-Wallis and Jonckheere.
 *
 * A pair of rows (i, j) scores +1 when row i is surely the larger, -1 when it is surely the smaller, else 0.
 * Ties score 0. y may be capped (right-censored: the true value is at least the one given); then a pair whose
 * order is not known scores 0 too: two capped rows, or a capped row below the other's exact value. A capped
 * row is larger than an exact one of the same value (Gehan 1965, Biometrika 52:203-223).
 *
 * With a(i) = sum over j of the x scores of (i, j) and b(i) the same for y, (a(i) + n + 1)/2 is the mid-rank
 * of row i when nothing is capped, and its "pair-score rank" otherwise.
 */
#ifndef RIDGETALLY_STATS_PAIR_SCORE_H
#define RIDGETALLY_STATS_PAIR_SCORE_H

#include "ridgetally/base/error.h"
#include "ridgetally/stats/order.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { RT_PAIR_ROWS_MAX = 2000000 }; /* sums of cubes stay exact in 64 bits up to here */

/* Sums over all ordered pairs (i, j), i != j, of one sample; whole numbers, held exactly. */
struct rt_pair_sums {
    int64_t n;
    int64_t cross;     /* x score times y score: 2 (concordant - discordant) */
    int64_t x_decided; /* pairs with a non-zero x score */
    int64_t y_decided;
    int64_t a_squared; /* sum over rows of a(i)^2 */
    int64_t b_squared;
    int64_t a_times_b;
};

struct rt_pair_scores {
    size_t n;
    size_t x_count;        /* distinct x */
    size_t y_count;        /* distinct y, capped or not */
    size_t *x;             /* n: place of x among the distinct values */
    size_t *y;             /* n: place of y */
    const bool *capped;    /* the caller's; NULL: none */
    int64_t *x_below;      /* x_count + 1: rows with a smaller x than each place */
    int64_t *exact_below;  /* y_count + 1: exact rows below each place */
    int64_t *capped_below; /* y_count + 1: capped rows below each place */
    size_t *x_order;       /* rows ascending in x */
    int64_t *a;            /* n: sum of x scores of each row */
    int64_t *b;            /* n: sum of y scores */
    int64_t *s;            /* n: sum over the other rows of x score times y score */
    struct rt_pair_sums sums;
};

/* Score n rows in O(n log n). y_capped may be NULL and must outlive the scores. RT_USE above RT_PAIR_ROWS_MAX
 * rows. Release with rt_pair_scores_release. */
enum rt_status rt_pair_scores(const double *x, const double *y, const bool *y_capped, size_t n,
                              struct rt_pair_scores *scores, struct rt_error *error);

void rt_pair_scores_release(struct rt_pair_scores *scores);

/* The score of y for the pair of rows (i, j). */
int rt_pair_score_y(const struct rt_pair_scores *scores, size_t i, size_t j);

/* without[c] = the sums of the sample with cluster c left out, for every cluster. O(n log n + sum of squared
 * cluster sizes times log n); a cluster of more than 1,024 rows costs O(n log n) by itself. */
enum rt_status rt_pair_sums_leave_out(const struct rt_pair_scores *scores,
                                      const struct rt_cluster_rows *clusters, struct rt_pair_sums *without,
                                      struct rt_error *error);

/* tau-b of the sums: cross / sqrt(x_decided y_decided). NaN when one of them is 0. Kendall (1945), Biometrika
 * 33:239-251. */
double rt_pair_tau_b(const struct rt_pair_sums *sums);

/* Pearson's correlation of the (pair-score) ranks: Spearman's rho. NaN when one side is constant. */
double rt_pair_spearman(const struct rt_pair_sums *sums);

/* Variance of cross under random pairing, ties and caps accounted for:
 * 4 (A - X)(B - Y)/(n(n-1)(n-2)) + 2 X Y/(n(n-1)), A = a_squared, B = b_squared, X, Y = decided pairs. Daniels (1944),
 * Biometrika 33:129-135. */
double rt_pair_variance(const struct rt_pair_sums *sums);

/* cross over the root of its variance: the tie-corrected z of Kendall's S. NaN when the variance is 0. */
double rt_pair_statistic(const struct rt_pair_sums *sums);

#endif
