/*
 * Orders, ranks, quantiles and rows by cluster: the small tools that several methods share.
 */
#ifndef RIDGETALLY_STATS_ORDER_H
#define RIDGETALLY_STATS_ORDER_H

#include "ridgetally/base/error.h"
#include "ridgetally/stats/estimate.h"

#include <stdbool.h>
#include <stddef.h>

/* order[0..n-1] becomes the row numbers in ascending order of values; equal values keep their row order. */
enum rt_status rt_sort_order(const double *values, size_t n, size_t *order, struct rt_error *error);

/* Sort values ascending in place. */
void rt_sort_values(double *values, size_t n);

/* A sorted copy of values, which the caller frees. */
enum rt_status rt_sorted_copy(const double *values, size_t n, double **sorted, struct rt_error *error);

/* ranks[i] = rank of values[i] from 1 to n; equal values share the mean of their ranks (mid-ranks). */
enum rt_status rt_mid_ranks(const double *values, size_t n, double *ranks, struct rt_error *error);

/* code[i] = 0-based place of values[i] among the distinct values, ascending; *count = how many are distinct.
 */
enum rt_status rt_dense_ranks(const double *values, size_t n, size_t *code, size_t *count,
                              struct rt_error *error);

/* How a quantile lies between order statistics: Hyndman & Fan (1996), Am. Stat. 50:361-365. */
enum rt_quantile_rule {
    RT_QUANTILE_TYPE_6, /* place p(n + 1) */
    RT_QUANTILE_TYPE_7  /* place p(n - 1) + 1; the usual default, and the median at p = 0.5 */
};

/* The quantile at p (0..1) of n >= 1 ascending values; NaN when n is 0. */
double rt_quantile_sorted(const double *sorted, size_t n, double p, enum rt_quantile_rule rule);

/* Rows gathered by cluster. Clusters without a row are left out, so every one here has at least one. */
struct rt_cluster_rows {
    size_t count;  /* clusters with at least one row */
    size_t *start; /* count + 1 offsets into row */
    size_t *row;   /* n row numbers; cluster c holds row[start[c]] .. row[start[c + 1] - 1], ascending */
    size_t *of;    /* n: the compacted cluster number of each row */
};

/* Gather n rows by cluster in O(n + count). clusters NULL, or its `of` NULL: every row is a cluster of its
 * own. RT_USE when a code is not below clusters->count. Release with rt_cluster_rows_release. */
enum rt_status rt_gather_clusters(const struct rt_clusters *clusters, size_t n, struct rt_cluster_rows *rows,
                                  struct rt_error *error);

void rt_cluster_rows_release(struct rt_cluster_rows *rows);

/* True when the caller gave clusters at all. */
bool rt_has_clusters(const struct rt_clusters *clusters);

#endif
