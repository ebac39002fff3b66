/*
 * Least squares by QR, with ordinary errors and with CR2 cluster-robust errors and Satterthwaite df.
 *
 * b = R^-1 Q'y, then b and the residuals are refined together in extended precision (Bjorck 1967); sigma^2 = RSS/(n -
 * rank); ordinary errors by t(n - rank); robust errors as cluster_sandwich.h says. Aliased columns have an
 * undefined coefficient with the reason, and the rest is fitted as if they were not there.
 *
 * Source: Golub & Van Loan (2013), Matrix Computations, 4th ed., chapter 5; Bell & McCaffrey (2002), Survey
 * Methodology 28:169-181; Pustejovsky & Tipton (2018), J. Bus. Econ. Stat. 36:672-683.
 */
#ifndef RIDGETALLY_STATS_LINEAR_H
#define RIDGETALLY_STATS_LINEAR_H

#include "ridgetally/stats/basis.h"
#include "ridgetally/stats/cluster_sandwich.h"
#include "ridgetally/stats/estimate.h"

struct rt_linear {
    size_t n, p, rank;
    size_t clusters;              /* with a row; 0 when fitted without */
    struct rt_estimate *ordinary; /* p: coefficients with ordinary errors */
    struct rt_estimate *robust;   /* p: the same with CR2 errors; NULL when fitted without clusters */
    double residual_df;           /* n - rank */
    double residual_sum_of_squares;
    double sigma;       /* residual standard deviation; NaN without residual df */
    double r_squared;   /* about the mean when the model has a constant, else about 0; NaN when
                                      the response does not vary */
    double f_statistic; /* all columns but the constant; NaN where not defined */
    double f_df;
    double f_p;
    const char *reason; /* why sigma or r_squared are NaN; NULL when both are defined */
    double *residuals;  /* n */
    /* For combinations; not for callers. */
    struct rt_basis basis;
    double *coefficients; /* rank */
    double *z;            /* rank: scratch */
    const char *no_error; /* why ordinary errors are undefined */
    struct rt_sandwich *sandwich;
};

/* Fit y (n) on x (n by p, row after row). clusters NULL: ordinary errors only; clusters without `of`: every
 * row is a cluster (HC2). Release with rt_linear_release. */
enum rt_status rt_linear_fit(struct rt_linear *fit, const double *y, const double *x, size_t n, size_t p,
                             const struct rt_clusters *clusters, struct rt_error *error);

/* weights'b with its error, df, test against `null`, and limits: robust when the fit has clusters, else
 * ordinary. weights are p numbers; a combination that aliased columns leave open is undefined with the
 * reason. The point of a fitted line at a row of predictors is the combination with that row as weights. */
struct rt_estimate rt_linear_combination(struct rt_linear *fit, const double *weights, double null);

/* The same with the ordinary error, whether or not the fit has clusters. */
struct rt_estimate rt_linear_combination_ordinary(struct rt_linear *fit, const double *weights, double null);

void rt_linear_release(struct rt_linear *fit);

#endif
