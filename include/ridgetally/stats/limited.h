/*
 * Normal linear model of a response with readings that reached a limit (right-censored: the true value is at
 * least what was read), by maximum likelihood.
 *
 * In gamma = b/sigma, h = 1/sigma the log likelihood sum of [log h - (h y - x'gamma)^2/2] over full readings
 * plus sum of log Q(h y - x'gamma) over capped ones is concave and has one maximum, found by Newton's method.
 * Errors from the observed information in (b, log sigma); with clusters the sandwich from the cluster sums of
 * the scores, without small-sample factor. Tests and limits are normal.
 *
 * Source: Tobin (1958), Econometrica 26:24-36; Olsen (1978), Econometrica 46:1211-1215 (the concave form); Lin
 * & Wei (1989), J. Am. Stat. Assoc. 84:1074-1078 (the sandwich).
 */
#ifndef RIDGETALLY_STATS_LIMITED_H
#define RIDGETALLY_STATS_LIMITED_H

#include "ridgetally/stats/estimate.h"
#include "ridgetally/stats/linear.h"

#include <stdbool.h>

struct rt_limited {
    size_t n, p;
    size_t capped;                   /* readings at a limit */
    size_t clusters;                 /* with a row; 0 when fitted without */
    struct rt_estimate *coefficient; /* p: z tests and normal limits */
    double sigma;                    /* maximum likelihood: no degrees of freedom taken off */
    double log_likelihood;
    const char *reason; /* why nothing is defined; NULL otherwise */
    /* For combinations; not for callers. */
    struct rt_linear linear;
    double *coefficients; /* rank */
    double *variance;     /* rank by rank, of the coordinates */
    double *left_out;     /* rank by rank: the same from leaving out one cluster at a time */
    bool left_out_known;
    const char *no_error; /* why errors are undefined though the estimates are not */
};

/* Fit y (n; the limit where capped[i]) on x (n by p, row after row). clusters NULL: errors from the information.
 * Undefined, with reason: every reading capped; full readings that lie exactly on the model; a coefficient that
 * runs off because all readings it rests on are capped. Release with rt_limited_release. */
enum rt_status rt_limited_fit(struct rt_limited *fit, const double *y, const bool *capped, const double *x,
                              size_t n, size_t p, const struct rt_clusters *clusters, struct rt_error *error);

/* weights'b (p weights), its error, z test against `null` and limits. */
struct rt_estimate rt_limited_combination(struct rt_limited *fit, const double *weights, double null);

/* The coefficient of a column with the error from leaving out one cluster at a time, in one Newton step from the maximum
 * with the information of the others (Lipsitz, Dear & Zhao 1994, Biometrics 50:842-846), t on clusters - 1 df: for few
 * clusters, where the sandwich is too small. Without clusters the coefficient as fitted. Limits are undefined where one
 * cluster alone decides a coefficient. */
struct rt_estimate rt_limited_left_out(struct rt_limited *fit, size_t column);

void rt_limited_release(struct rt_limited *fit);

#endif
