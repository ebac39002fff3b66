/*
 * Tails and tail quantiles of the beta distribution with any positive parameters, up to 1e10 and far out in
 * the tails, on which the exact binomial limits stand.
 *
 * Continued fraction (Press et al. 2007, Numerical Recipes, 3rd ed., section 6.4) with the saddle-point form
 * of its factor (Loader 2000, Fast and accurate computation of binomial probabilities), which keeps its
 * digits for large parameters; the quantile is a root on the logit scale. Written here because gsl_cdf_beta_P
 * gives up beyond some 1e5 and gsl_cdf_beta_Pinv does not always end.
 */
#ifndef RIDGETALLY_STATS_BETA_TAIL_H
#define RIDGETALLY_STATS_BETA_TAIL_H

/* P(X < x) for X ~ beta(a, b); NaN for a or b not above 0 or x outside 0..1. */
double rt_beta_below(double x, double a, double b);

/* x with P(X < x) = tail, and x with P(X > x) = tail; 0 < tail < 1, NaN otherwise. */
double rt_beta_lower_limit(double tail, double a, double b);
double rt_beta_upper_limit(double tail, double a, double b);

#endif
