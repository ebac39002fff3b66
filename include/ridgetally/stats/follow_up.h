/*
 * Follow-up data of the survival family, and the time line all its methods count on.
 *
 * Ties are decided once, before anything is counted: times that differ by no more than 1e-9 of the larger one
 * are one time (a difference of binary noise, such as 0.1 + 0.2 and 0.3, is not an order of events), and the
 * smallest of them stands for all. Entry and exit times share this rule. The survival package for R does the
 * same with its aeqSurv, by a tolerance of 1.5e-8 of the mean time.
 *
 * At a time u those are at risk who entered before u and leave at u or later: who enters at u is not yet at
 * risk at u, who is censored at u still is.
 */
#ifndef RIDGETALLY_STATS_FOLLOW_UP_H
#define RIDGETALLY_STATS_FOLLOW_UP_H

#include "ridgetally/base/error.h"
#include "ridgetally/stats/estimate.h"

#include <stdbool.h>
#include <stddef.h>

/* n rows (implants). The arrays belong to the caller and must outlive everything built from them. */
struct rt_follow_up {
    size_t n;
    const double *time;  /* n times of leaving, finite, >= 0 */
    const double *entry; /* n times of entering, below time; 0 or less: at risk from the very start, time 0
                            included. NULL: everybody from the start */
    const int *event;    /* n codes: 0 censored, 1 the event; incidence: 1..causes, the cause */
    struct rt_clusters clusters;
};

/* The distinct times of leaving and who comes and goes at each. */
struct rt_timeline {
    size_t n;      /* rows */
    size_t count;  /* distinct times of leaving */
    double *time;  /* count, ascending */
    size_t *exit;  /* n: the row's time of leaving, as an index into time */
    size_t *first; /* n: index of the first time at which the row is at risk; <= exit */
    size_t
        *by_exit; /* the rows in order of leaving: by_exit[exit_start[k] .. exit_start[k+1]-1] leave at k */
    size_t *exit_start; /* count + 1 */
    size_t late_count;  /* rows that enter late */
    double *late_entry; /* late_count times of entering, ascending */
    size_t *by_entry;   /* late_count rows in the same order */
    size_t *at_risk;    /* count: rows at risk at each time */
};

/* Check the data and lay out its time line, O(n log n). events_up_to is the largest event code allowed.
 * RT_USE, with the row number (from 1), for a time that is negative or not finite, an entry at or after the
 * exit, an event code out of range, a cluster code out of range. n may be 0. Release the time line also after
 * a failure. */
enum rt_status rt_timeline_build(struct rt_timeline *timeline, const struct rt_follow_up *data,
                                 int events_up_to, struct rt_error *error);

void rt_timeline_release(struct rt_timeline *timeline);

/* The rows of a time line sorted into strata, for methods that compare within strata only. */
struct rt_stratified {
    size_t strata;
    size_t *by_exit;     /* n rows, by stratum and in it by time of leaving */
    size_t *exit_start;  /* strata + 1 */
    size_t *by_entry;    /* late rows, by stratum and in it by time of entering */
    size_t *entry_start; /* strata + 1 */
};

/* stratum: n codes below strata, or NULL for one stratum. RT_USE for a code out of range. Release also after
 * a failure. */
enum rt_status rt_stratify(struct rt_stratified *stratified, const struct rt_timeline *timeline,
                           const size_t *stratum, size_t strata, struct rt_error *error);

void rt_stratified_release(struct rt_stratified *stratified);

/* How many of the distinct times are at or before t (times tied with t included). */
size_t rt_timeline_until(const struct rt_timeline *timeline, double t);

/* Rows at risk at any t >= 0: entered before t (at t = 0: from the start), leaving at t or later. */
size_t rt_timeline_at_risk(const struct rt_timeline *timeline, double t);

/* Clusters with at least one row at risk at t; rows when there are no clusters. */
enum rt_status rt_clusters_at_risk(const struct rt_timeline *timeline, const struct rt_follow_up *data,
                                   double t, size_t *clusters, struct rt_error *error);

/* Clusters that have at least one row; n when there are no clusters. SIZE_MAX when memory ran out. */
size_t rt_clusters_present(const struct rt_clusters *clusters, size_t n);

/* Number of units an influence array has: clusters.count, or n without clusters. */
size_t rt_influence_length(const struct rt_follow_up *data);

/* Are the two times one time by the rule above? */
bool rt_times_tied(double a, double b);

#endif
