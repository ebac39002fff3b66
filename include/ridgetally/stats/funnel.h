/*
 * Funnel plot limits for shares and rates: exact binomial or Poisson with interpolation between counts.
 *
 * Formula: D. J. Spiegelhalter, "Funnel plots for comparing institutional performance", Statistics in
 * Medicine 24 (2005) 1185-1202, appendix A.1.1: with r the smallest count for which P(R <= r) >= p, and alpha
 * = (P(R <= r) - p) / P(R = r), the limit is (r - alpha) / total. Over-dispersion (multiplicative, ibid.
 * section 5): the distance of a limit from the target times the square root of the design effect.
 */
#ifndef RIDGETALLY_STATS_FUNNEL_H
#define RIDGETALLY_STATS_FUNNEL_H

#include "ridgetally/stats/estimate.h"

#include <stdbool.h>

/* Limits around a target share for one unit. Lower limits may lie below 0 (shown as 0 on a page): they are
 * not cut off, so that a count of 0 can lie inside them. */
struct rt_funnel_limits {
    double lower95, upper95;   /* 2.5% in each tail */
    double lower998, upper998; /* 0.1% in each tail */
    int signal;                /* 0 inside all, 1 outside the 95% limits, 2 outside the 99.8% limits too */
    const char *reason;        /* why the limits are NaN; NULL when they are defined */
};

/* Limits for `total` trials with `count` events at a target share strictly between 0 and 1. design_effect >=
 * 1 widens them (1: independent trials). Undefined for a total of 0 or above 4e9. */
struct rt_funnel_limits rt_funnel_limits(double count, double total, double target, double design_effect);

/* The same around a target rate: Poisson limits of count/exposure for the expected count target * exposure
 * (ibid., the Poisson analogue). exposure > 0, target > 0; undefined for an expected count above 1e8. */
struct rt_funnel_limits rt_funnel_rate_limits(double count, double exposure, double target,
                                              double design_effect);

/* Design effect of the pooled share (or rate) sum(count)/sum(total) when the n rows fall into clusters: the
 * cluster sandwich variance with the factor m/(m - 1) for m clusters, over p(1-p)/sum(total), or p/sum(total)
 * for a rate. Undefined for fewer than 2 clusters or a share of 0 or 1. Not floored. Memory: RT_MEMORY. */
enum rt_status rt_share_design_effect(const double *count, const double *total, size_t n,
                                      struct rt_clusters clusters, bool rate,
                                      struct rt_estimate *design_effect, struct rt_error *error);

#endif
