/*
 * Delete-one-cluster jackknife: the error of a statistic from its values with one cluster (patient) left out.
 * Source: Efron & Stein (1981), Ann. Stat. 9:586-596; Lipsitz, Dear & Zhao (1994), Biometrics 50:842-846.
 */
#ifndef RIDGETALLY_STATS_JACKKNIFE_H
#define RIDGETALLY_STATS_JACKKNIFE_H

#include "ridgetally/stats/estimate.h"

#include <stddef.h>

/* sqrt((count - 1)/count * sum (r - mean r)^2) over the replicates. NaN when count < 2 or a replicate is NaN.
 * An error that is only rounding noise of the replicates is given as 0. */
double rt_jackknife_error(const double *replicates, size_t count);

/* An estimate from value and its jackknife error: t = (value - null)/error on count - 1 df, limits
 * value -+ t(0.975) error. With an error of 0 statistic, p and limits are undefined, here and below. */
struct rt_estimate rt_jackknife_estimate(double value, double null, const double *replicates, size_t count);

/* The same for a value bounded by -1 and 1 with null 0, on Fisher's z scale: z = atanh(value), error of z =
 * error/(1 - value^2), t = z/error of z on count - 1 df, limits tanh(z -+ t(0.975) error of z).
 * standard_error stays that of value. At -1 or 1 only the value is defined. */
struct rt_estimate rt_jackknife_bounded(double value, const double *replicates, size_t count);

/* The same for a positive value (a standard deviation), on the log scale: limits value exp(-+ t error/value).
 * No statistic nor p. */
struct rt_estimate rt_jackknife_positive(double value, const double *replicates, size_t count);

/* The jackknife correlation of two statistics from their replicates; NaN when one of them does not vary. */
double rt_jackknife_correlation(const double *a, const double *b, size_t count);

/* Two-sided p of a t statistic; df infinite or NaN: normal. Computed from the tail, so tiny p keep their
 * digits. */
double rt_t_p(double statistic, double df);

/* The 0.975 quantile of t; df infinite or NaN: normal. */
double rt_t_975(double df);

#endif
