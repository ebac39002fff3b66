/*
 * Medians and other quantiles with intervals that respect clusters, with and without capped values.
 */
#ifndef RIDGETALLY_STATS_QUANTILE_H
#define RIDGETALLY_STATS_QUANTILE_H

#include "ridgetally/stats/estimate.h"

#include <stdbool.h>
#include <stddef.h>

/* The quantile at p (0 < p < 1) of n values: type 7 (rt_quantile_sorted). Limits by Woodruff's inversion
 * (1952, JASA 47:635-646): the share F of values at or below the quantile has the clustered error e =
 * sqrt(C/(C - 1) sum over clusters of (sum over rows of (at or below - F))^2)/n, C clusters; the limits are
 * the type 7 quantiles at p -+ t(0.975, C - 1) e. Without clusters every row is its own (C = n).
 * standard_error = (upper - lower)/(2 t), df = C - 1. A limit is undefined where p -+ t e leaves 0..1: the
 * values do not reach that far. O(n log n). */
enum rt_status rt_quantile(const double *values, size_t n, double p, const struct rt_clusters *clusters,
                           struct rt_estimate *estimate, struct rt_error *error);

/* The same for values >= 0 of which some are capped (the true value is at least the one given): F = 1 - S with S
 * the Kaplan-Meier curve over the values, capped ones censored. The quantile is the first value with S <= 1 -
 * p, or the midpoint of the span on which S equals 1 - p. Clustered error of S at it: grouped infinitesimal
 * jackknife times sqrt(C/(C - 1)); the limits are the same inverse of S at (1 - p) -+ t e. With value
 * undefined ("not reached") the quantile lies above `beyond`, the largest value given; an undefined upper
 * limit likewise. beyond may be NULL. */
enum rt_status rt_capped_quantile(const double *values, const bool *capped, size_t n, double p,
                                  const struct rt_clusters *clusters, struct rt_estimate *estimate,
                                  double *beyond, struct rt_error *error);

#endif
