/*
 * The survival curve of Kaplan and Meier (1958 J Am Stat Assoc 53:457-481) with delayed entry and clusters.
 *
 * S(t) is the product over event times u <= t of 1 - d(u) / n(u), d events among n at risk. Its standard
 * error, on the scale of S, is
 *
 *   without clusters: Greenwood, S(t) sqrt(sum over u <= t of d / (n (n - d)))
 *   with clusters:    grouped infinitesimal jackknife, sqrt(sum over clusters c of psi_c(t)^2), psi_c the sum
 * over the rows i of c of psi_i(t) = -S(t) sum over u <= t of (n dN_i(u) - d Y_i(u)) / (n (n - d)), dN_i = 1
 * where row i has its event, Y_i = 1 while it is at risk; no small-sample factor (Efron 1981 J Am Stat Assoc
 * 76:312-319; Lin & Wei 1989 J Am Stat Assoc 84:1074-1078; Therneau & Grambsch 2000, Modeling Survival Data,
 * ch. 7-8).
 *
 * Intervals are 95% with the normal quantile, in three forms; a limit is not defined where S is 0 or 1:
 *
 *   double log:     S^exp(-+ z se / (S log S))  (Kalbfleisch & Prentice 2002, The Statistical Analysis of
 * Failure Time Data, 2nd ed., sec. 1.4) log:            S exp(-+ z se / S), at most 1 untransformed:  S -+ z
 * se, within 0 and 1
 *
 * Where nobody or everybody has failed these say nothing: rt_survival_exact() gives the exact binomial
 * interval.
 */
#ifndef RIDGETALLY_STATS_SURVIVAL_CURVE_H
#define RIDGETALLY_STATS_SURVIVAL_CURVE_H

#include "ridgetally/stats/follow_up.h"

enum rt_curve_interval { RT_INTERVAL_DOUBLE_LOG = 0, RT_INTERVAL_LOG, RT_INTERVAL_UNTRANSFORMED };

/* A curve as a step function: row k holds from time[k] on. Members that are not defined are NaN. */
struct rt_survival_curve {
    struct rt_follow_up data; /* the caller's arrays, not copied */
    struct rt_timeline timeline;
    enum rt_curve_interval form;
    size_t count;             /* distinct times with an event or a censoring */
    const double *time;       /* count; timeline.time */
    const size_t *at_risk;    /* count; timeline.at_risk */
    size_t *clusters_at_risk; /* count: clusters with a row at risk; equals at_risk without clusters */
    size_t *events;           /* count */
    size_t *censored;         /* count */
    double *survival;         /* count */
    double *standard_error;   /* count; NaN where S is 0 */
    double *lower, *upper;    /* count; NaN where S is 0 or 1 */
    size_t event_total;
    size_t clusters_present; /* clusters with rows; n without clusters */
    const char *reason;      /* why errors or limits are undefined everywhere; NULL */
};

/* Compute the curve of all rows, O(n log n) time, O(n) memory. n = 0 gives count = 0. With clusters of which
 * only one has rows, errors and limits are NaN. RT_USE as rt_timeline_build. Release also after a failure. */
enum rt_status rt_survival_curve(struct rt_survival_curve *curve, const struct rt_follow_up *data,
                                 enum rt_curve_interval form, struct rt_error *error);

void rt_survival_curve_release(struct rt_survival_curve *curve);

/* The curve at any t >= 0. Not defined (value NaN) after the last time unless the curve has come to 0 there:
 * nobody is followed that long. standard_error is 0 before the first event, where limits are NaN. */
struct rt_estimate rt_survival_at(const struct rt_survival_curve *curve, double t);

/* The same with a lower limit that goes on falling while nobody fails but the numbers at risk shrink: from the error times
 * sqrt(at risk at the last event/at risk at t). Value, error and upper limit are those of rt_survival_at, and at an event
 * all are. Dorey & Korn (1987), Stat. Med. 6:679-687 (effective sample sizes); R's survfit calls it "modified". */
struct rt_estimate rt_survival_late_at(const struct rt_survival_curve *curve, double t);

/* The time at which a share q of the rows has failed, 0 < q < 1 (median: 0.5), and the limits from the same
 * rule applied to the band (Brookmeyer & Crowley 1982 Biometrics 38:29-41, in the curve's interval form): the
 * first time at which the curve is at or below 1 - q; where it equals 1 - q over a span, the middle of the
 * span. NaN where the curve or the band does not come down that far. standard_error is NaN. */
struct rt_estimate rt_survival_quantile(const struct rt_survival_curve *curve, double q);

/* Mean time without event within [0, until]: the area under the curve. Its error is sqrt(sum over event times
 * u of A(u)^2 d / (n (n - d))), A(u) the area from u to `until` (Klein & Moeschberger 2003, Survival
 * Analysis, 2nd ed., sec. 4.5), or with clusters the root of the summed squares of the clusters' influence.
 * Limits are value -+ z se. Not defined where `until` lies after the last time and the curve has not come to
 * 0. influence receives rt_influence_length() values (their sum is 0, the sum of their squares the clustered
 * variance); may be NULL. */
enum rt_status rt_restricted_mean(const struct rt_survival_curve *curve, double until,
                                  struct rt_estimate *mean, double *influence, struct rt_error *error);

/* psi_c(t) of every cluster (every row without clusters), into influence[rt_influence_length()]. Curves of
 * overlapping cohorts whose rows carry the same cluster codes can be compared by it: the variance of S1(t) -
 * S2(t) is the sum of squares of the differences of their influence. All zero where S(t) is 0 or 1. */
enum rt_status rt_survival_influence(const struct rt_survival_curve *curve, double t, double *influence,
                                     struct rt_error *error);

/* Exact two-sided 95% binomial limits (Clopper & Pearson 1934 Biometrika 26:404-413) for a curve that is 1
 * (no event so far) or 0 at t, with n = clusters at risk at t: conservative. Other curve values, or nobody at
 * risk, give NaN limits and a reason. */
struct rt_estimate rt_survival_exact(double survival, size_t clusters_at_risk);

/* Limits of a probability on a curve in one of the three forms; NaN where probability is 0 or 1 or error is
 * NaN. */
void rt_curve_limits(enum rt_curve_interval form, double probability, double standard_error, double *lower,
                     double *upper);

#endif
