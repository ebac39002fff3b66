/*
 * Linear model with a random intercept for each cluster (patient), and for each unit (implant) inside it when
 * asked, by restricted maximum likelihood (REML).
 *
 * With theta the variances of the random intercepts over the residual variance s^2, V = s^2 (I + theta_1 Z1
 * Z1' + theta_2 Z2 Z2') is block diagonal. The residual variance and the coefficients are profiled out; what
 * is left is minimised over theta >= 0 with exact first and second derivatives:
 *
 *     log|V / s^2| + log|X'V^-1 X s^2| + (n - rank)(1 + log(2 pi RSS / (n - rank))).
 *
 * Every sum runs over clusters and units with means of their rows: O(n p^2) once and O(units p^2) per
 * evaluation; no matrix of rows by rows. A variance at its bound 0 is reported as 0 (`boundary`) and taken as
 * known in the degrees of freedom.
 *
 * Errors from (X'V^-1 X)^-1; Satterthwaite df = 2 f^2/(g'Cg) with f the variance of the combination, g its
 * gradient and C = 2 H^-1 from the Hessian H of the REML deviance in the variance parameters.
 *
 * Source: Patterson & Thompson (1971), Biometrika 58:545-554; Bates, Maechler, Bolker & Walker (2015), J. Stat.
 * Softw. 67(1) (profiled criterion); Kuznetsova, Brockhoff & Christensen (2017), J. Stat. Softw. 82(13) (df).
 */
#ifndef RIDGETALLY_STATS_MIXED_H
#define RIDGETALLY_STATS_MIXED_H

#include "ridgetally/stats/estimate.h"
#include "ridgetally/stats/linear.h"

#include <stdbool.h>

struct rt_mixed {
    size_t n, p;
    size_t clusters;                 /* with a row */
    size_t units;                    /* with a row; 0 in a model of one level */
    struct rt_estimate *coefficient; /* p: t tests and limits on Satterthwaite df */
    double sd_between;               /* of the cluster's intercept */
    double sd_unit;       /* of the unit's intercept inside its cluster; NaN in a model of one level */
    double sd_within;     /* residual */
    double icc;           /* of two rows of one cluster (of different units): between / total variance */
    double icc_unit;      /* of two rows of one unit; NaN in a model of one level */
    double reml;          /* -2 log restricted likelihood, all constants included */
    double design_effect; /* 1 + (sum of squared cluster sizes / n - 1) icc: of a mean of all rows */
    bool boundary;        /* a variance of a random intercept is estimated as 0 */
    const char *reason;   /* why the variances and all errors are undefined; NULL when they are not */
    /* For combinations; not for callers. */
    struct rt_linear linear;
    struct rt_mixed_point *point;
    double *coefficients; /* rank */
    double scale;         /* residuals were divided by it */
};

/* Fit y (n) on x (n by p, row after row) with clusters; units NULL: one level. Unit codes count inside their
 * cluster, so the same code in two clusters is two units. Not estimable, with reason: no two rows in any
 * cluster (unit), fewer than two clusters, no residual variation, or a model that leaves nothing between
 * clusters. Release with rt_mixed_release. */
enum rt_status rt_mixed_fit(struct rt_mixed *fit, const double *y, const double *x, size_t n, size_t p,
                            const struct rt_clusters *clusters, const struct rt_clusters *units,
                            struct rt_error *error);

/* weights'b (p weights) with its error, Satterthwaite df, test against `null`, and limits. */
struct rt_estimate rt_mixed_combination(struct rt_mixed *fit, const double *weights, double null);

void rt_mixed_release(struct rt_mixed *fit);

#endif
