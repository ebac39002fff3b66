/*
 * Events per exposure (for example failures per implant-year) with exact Poisson limits.
 */
#ifndef RIDGETALLY_STATS_RATE_H
#define RIDGETALLY_STATS_RATE_H

#include "ridgetally/stats/proportion.h"

/* Exact limits of the mean of a Poisson count: half the 0.025 quantile of chi-square on 2 count df, half the
 * 0.975 quantile on 2 count + 2 df; the lower one is 0 for a count of 0.
 * Source: Garwood (1936), Biometrika 28:437-442. NaN for a count below 0. */
struct rt_limits rt_poisson_limits(double count);

/* The same divided by exposure; NaN when exposure is not above 0. */
struct rt_limits rt_rate_limits(double count, double exposure);

#endif
