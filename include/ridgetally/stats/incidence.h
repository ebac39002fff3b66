/*
 * Cumulative incidence of competing causes (Aalen & Johansen 1978 Scand J Stat 5:141-150).
 *
 * F_k(t) = sum over event times u <= t of S(u-) d_k(u) / n(u), S the survival from any cause. Its standard
 * error is
 *
 *   without clusters: delta method (Gaynor et al. 1993 J Am Stat Assoc 88:400-409; Marubini & Valsecchi 1995,
 * Analysing Survival Data from Clinical Trials, sec. 10.3), variance = sum over u <= t of (F(t) - F(u))^2 d /
 * (n (n - d)) + S(u-)^2 d_k (n - d_k) / n^3 - 2 (F(t) - F(u)) S(u-) d_k / n^2, computed by the equal
 * recursion for the covariance of (S, F), which has no difference of large sums; with clusters: grouped
 * infinitesimal jackknife, the root of the summed squares of the clusters' influence on F_k(t) (see
 * cluster_influence.h), no small-sample factor.
 *
 * Limits are of the double-log form F^exp(-+ z se / (F log F)), not defined where F is 0 or 1 (Choudhury 2002
 * Stat Med 21:1129-1144).
 */
#ifndef RIDGETALLY_STATS_INCIDENCE_H
#define RIDGETALLY_STATS_INCIDENCE_H

#include "ridgetally/stats/survival_curve.h"

struct rt_incidence {
    struct rt_follow_up data; /* the caller's arrays, not copied */
    struct rt_timeline timeline;
    enum rt_curve_interval form;
    size_t causes;
    size_t count;             /* distinct times with an event or a censoring */
    const double *time;       /* count */
    const size_t *at_risk;    /* count */
    size_t *clusters_at_risk; /* count */
    size_t *events;           /* count, any cause */
    double *event_free;       /* count: S(t) */
    size_t *cause_events;     /* causes x count: [(cause - 1) * count + k] */
    double *incidence;        /* causes x count */
    double *standard_error;   /* causes x count */
    double *lower, *upper;    /* causes x count */
    size_t clusters_present;
    const char *reason; /* why errors are undefined everywhere; NULL */
};

/* Event codes are 0 (censored) and 1..causes. O(causes n + n log n). Release also after a failure. */
enum rt_status rt_incidence(struct rt_incidence *result, const struct rt_follow_up *data, size_t causes,
                            enum rt_curve_interval form, struct rt_error *error);

void rt_incidence_release(struct rt_incidence *result);

/* F_cause(t) at any t >= 0, as rt_survival_at. Not defined after the last time while somebody was still
 * event-free. */
struct rt_estimate rt_incidence_at(const struct rt_incidence *result, size_t cause, double t);

/* The same with an upper limit that goes on rising while nobody leaves for the cause but fewer remain under observation:
 * from the error times sqrt(N at the last such event/N at t), N = at risk/event-free share, the size of a cohort without
 * censoring that would leave as many at risk (ours, after the effective sample sizes of Dorey & Korn 1987, Stat. Med.
 * 6:679-687). */
struct rt_estimate rt_incidence_late_at(const struct rt_incidence *result, size_t cause, double t);

/* Influence of every cluster (every row without clusters) on F_cause(t), rt_influence_length() values. */
enum rt_status rt_incidence_influence(const struct rt_incidence *result, size_t cause, double t,
                                      double *influence, struct rt_error *error);

#endif
