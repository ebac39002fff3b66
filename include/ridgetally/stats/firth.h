/*
 * Logistic regression with Jeffreys' penalty: finite for separated data and for groups without events.
 *
 * Maximises l*(b) = log likelihood + 1/2 log|X'WX|, W = pi (1 - pi), by Newton steps with the exact curvature
 * of l*. Limits of a coefficient are the points where twice the loss of l*, the other coefficients maximised
 * again under the same penalty, equals the 0.95 quantile of chi-square(1); p is the penalised likelihood-ratio
 * test of 0. With few events l* can have several local maxima; it is searched from many starts and the largest
 * counts. standard_error is that of the information matrix X'WX at the estimate.
 *
 * With clusters the likelihood ratio of a coefficient is divided by its design effect, at least 1: the larger
 * of (a) the cluster-robust over the information-based variance at the estimate and (b) the between-cluster
 * sum of squares of its efficient score over the efficient information where it is held at 0; both with
 * G/(G - 1) for G clusters. That is approximate, and `approximate` says so.
 *
 * Source: Firth (1993), Biometrika 80:27-38; Heinze & Schemper (2002), Stat. Med. 21:2409-2419; design effect:
 * in the manner of Rao & Scott (1984), Ann. Stat. 12:46-60.
 */
#ifndef RIDGETALLY_STATS_FIRTH_H
#define RIDGETALLY_STATS_FIRTH_H

#include "ridgetally/stats/estimate.h"

#include <stdbool.h>

struct rt_firth {
    size_t n, p, rank;
    size_t events;
    size_t clusters; /* with a row; 0 when fitted without */
    struct rt_estimate
        *coefficient;      /* p: log odds ratios; statistic = likelihood ratio over the design effect,
                                         df = 1 */
    double *design_effect; /* p: 1 without clusters; NaN where the coefficient is undefined */
    double penalised_log_likelihood; /* at the estimate */
    bool approximate;                /* p and limits rest on the design effect */
    bool estimates_only;             /* no statistic, p nor limits were asked for */
    const char *reason;              /* why everything is undefined; NULL otherwise */
};

/* Fit event (n, 0 or 1) on x (n by p, row after row). clusters NULL: plain. Aliased columns are undefined with the
 * reason. Release with rt_firth_release. */
enum rt_status rt_firth_fit(struct rt_firth *fit, const int *event, const double *x, size_t n, size_t p,
                            const struct rt_clusters *clusters, struct rt_error *error);

/* The coefficients and their standard errors alone, as a model for prediction needs them: the rest of each estimate is NaN.
 * Much faster, since no profile is followed. */
enum rt_status rt_firth_estimates(struct rt_firth *fit, const int *event, const double *x, size_t n, size_t p,
                                  struct rt_error *error);

void rt_firth_release(struct rt_firth *fit);

#endif
