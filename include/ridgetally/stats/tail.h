/*
 * Tail probabilities of tests, kept accurate far out in the tail, and the normal inference all of them end
 * in.
 */
#ifndef RIDGETALLY_STATS_TAIL_H
#define RIDGETALLY_STATS_TAIL_H

#include "ridgetally/stats/estimate.h"

/* Two-sided p of a standard normal z; NaN for NaN. */
double rt_normal_p(double z);

/* P(X > x) of chi-square with df degrees of freedom; NaN for NaN or df <= 0. */
double rt_chi_square_p(double x, double df);

/* From value and standard_error: z = value / se, two-sided p, 95% normal limits, df infinite. A standard
 * error that is NaN or not above 0 leaves statistic, p and limits NaN. */
void rt_normal_inference(struct rt_estimate *estimate);

/* A chi-square test as an estimate: statistic, df, p; the other members NaN. */
struct rt_estimate rt_chi_square_test(double chi_square, double df);

#endif
