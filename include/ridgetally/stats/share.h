/*
 * The share of rows with an event (0 or 1), clustered, and the difference of two shares.
 *
 * Interval, with C clusters and some but not all events (Korn & Graubard 1998, Survey Methodology
 * 24:193-201): the design variance v = C/(C - 1) * sum over clusters of (sum of (y - p))^2 / n^2 gives the
 * effective sample size
 *
 *     n* = p (1 - p) / v * (t(0.975, n - 1) / t(0.975, C - 1))^2
 *
 * and the limits are the exact binomial ones for n* p events of n*. Without clusters, n* = n (plain exact
 * limits). With no event, or only events, no variance can be seen: exact binomial with n = C, conservative.
 */
#ifndef RIDGETALLY_STATS_SHARE_H
#define RIDGETALLY_STATS_SHARE_H

#include "ridgetally/stats/estimate.h"

#include <stdbool.h>

struct rt_share {
    struct rt_estimate
        estimate; /* value; CR2 standard_error and Satterthwaite df (as rt_mean); limits as above.
                                    statistic and p are NaN: a share has no natural null. reason names what is
                                    undefined, or that the limits are exact on clusters */
    size_t events;
    size_t clusters;        /* with a row */
    double design_error;    /* sqrt(v) */
    double design_df;       /* C - 1 */
    double effective_size;  /* n*, or C when exact */
    bool exact_on_clusters; /* no event, or only events */
};

/* Share of the n rows with event 1. */
enum rt_status rt_share(const int *event, size_t n, const struct rt_clusters *clusters,
                        struct rt_share *share, struct rt_error *error);

/* Mean of n shares (0 to 1), one of each patient, with the exact binomial limits for n* mean events of n* =
 * mean (1 - mean)/(variance of the mean): Korn & Graubard (1998) with patients of equal weight. Shares that are all the
 * same show no variance: n* = n. Limits need two patients; no statistic nor p. */
struct rt_estimate rt_mean_of_shares(const double *shares, size_t n);

/* Share in the rows with in_second true minus share in the others, by CR2 (as rt_mean_difference). Where one of
 * the groups has no event or only events its part of the error cannot be seen: standard error, df and p are then
 * undefined, and the limits join those of the two shares by square-and-add (Newcombe 1998, Stat. Med. 17:873-890,
 * method 10, with the intervals of rt_share). */
enum rt_status rt_share_difference(const int *event, const bool *in_second, size_t n,
                                   const struct rt_clusters *clusters, struct rt_estimate *difference,
                                   struct rt_error *error);

#endif
