/*
 * A mean, and the difference of two means, of clustered rows.
 *
 * The error is the CR2 sandwich of the model with one constant (or one per group) and its Satterthwaite df
 * (cluster_sandwich.h). Without clusters every row is one: the mean's error is s/sqrt(n) on n - 1 df, and the
 * difference's is that of Welch with the df of the equal-variance model.
 */
#ifndef RIDGETALLY_STATS_MEAN_H
#define RIDGETALLY_STATS_MEAN_H

#include "ridgetally/stats/estimate.h"

#include <stdbool.h>

/* Mean of the n values. Statistic and p are against 0. Undefined with a reason for no rows, one cluster, or
 * values that leave no variation between clusters. */
enum rt_status rt_mean(const double *values, size_t n, const struct rt_clusters *clusters,
                       struct rt_estimate *mean, struct rt_error *error);

/* Mean of the rows with in_second true minus mean of the others. A cluster may have rows in both groups: what
 * its rows share then cancels as it should. For two overlapping cohorts give the shared rows twice, once in
 * each group, under the same cluster. */
enum rt_status rt_mean_difference(const double *values, const bool *in_second, size_t n,
                                  const struct rt_clusters *clusters, struct rt_estimate *difference,
                                  struct rt_error *error);

#endif
