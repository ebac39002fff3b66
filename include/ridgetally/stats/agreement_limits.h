/*
 * Limits of agreement with intervals, from the intervals of their two parts.
 */
#ifndef RIDGETALLY_STATS_AGREEMENT_LIMITS_H
#define RIDGETALLY_STATS_AGREEMENT_LIMITS_H

#include "ridgetally/stats/estimate.h"

/* The limits bias -+ multiple sd. Their intervals join those of bias and sd, so that each keeps its own shape (sd on the log
 * scale, bias on its own degrees of freedom): with l and u the ends, r the correlation of the two errors, k the multiple,
 *
 *   lower limit: below by sqrt((bias - l_bias)^2 + k^2 (u_sd - sd)^2 - 2 r k (bias - l_bias)(u_sd - sd)),
 *                above by the same of (u_bias - bias) and (sd - l_sd); upper limit likewise with + 2 r k.
 *
 * Zou (2013), Stat. Methods Med. Res. 22:630-642; with the correlation Zou & Donner (2008), Stat. Med. 27:1693-1702.
 * standard_error: of the limit, by the same correlation. df is that of sd. Undefined with the reason of the part that is. */
void rt_limits_of_agreement(const struct rt_estimate *bias, const struct rt_estimate *sd, double multiple,
                            double correlation, struct rt_estimate *lower, struct rt_estimate *upper);

#endif
