/*
 * A smooth dose-response curve with its band: least squares on a restricted cubic spline, which is linear beyond the
 * outer knots.
 *
 * Basis: F. E. Harrell, Regression Modeling Strategies (2nd ed. 2015), section 2.4.5: x and, for j = 1..k-2 and
 * u+ = max(u, 0), ((x - t[j])+^3 - (x - t[k-1])+^3 (t[k] - t[j])/(t[k] - t[k-1]) + (x - t[k])+^3 (t[k-1] - t[j])/(t[k] -
 * t[k-1])) / (t[k] - t[1])^2. Default knots: the quantiles (type 7) of x that Harrell's table 2.3 gives: 0.1, 0.5, 0.9
 * for three; 0.05, 0.35, 0.65, 0.95 for four; 0.05, 0.275, 0.5, 0.725, 0.95 for five. Three below 100 rows, else four.
 */
#ifndef RIDGETALLY_STATS_CURVE_H
#define RIDGETALLY_STATS_CURVE_H

#include "ridgetally/stats/linear.h"

enum { RT_FEWEST_KNOTS = 3, RT_MOST_KNOTS = 12 };

struct rt_curve {
    size_t knot_count; /* 0 when no curve can be drawn */
    double knots[RT_MOST_KNOTS];
    double low, range; /* the fit's own scale: (x - low) / range */
    struct rt_linear fit;
    bool fitted;
    struct rt_estimate
        nonlinearity;       /* statistic, p: F test of curve against straight line; df is the numerator's */
    double nonlinearity_df; /* of the denominator */
    const char *reason;     /* why there is no curve; NULL */
};

/* Default knots of n values of x into knots[RT_MOST_KNOTS]. wanted: 3, 4 or 5, or 0 for the default number. Fewer
 * distinct quantiles give fewer knots; when fewer than 3 are left, the quantiles of the distinct values; *count 0 when
 * these do not do either. */
enum rt_status rt_curve_knots(const double *x, size_t n, size_t wanted, double *knots, size_t *count,
                              struct rt_error *error);

/* The k - 2 spline terms at x for k ascending knots (Harrell's normalisation). */
void rt_curve_terms(double x, const double *knots, size_t knot_count, double *terms);

/* Fit y on the spline of x at 3..RT_MOST_KNOTS ascending knots. clusters NULL: errors of the model; else CR2 with
 * Satterthwaite df (linear.h). With clusters there is no test of non-linearity but with three knots, where it is the
 * robust t test of the one spline term. RT_USE for knots that do not ascend. Release with rt_curve_release. */
enum rt_status rt_curve_fit(struct rt_curve *curve, const double *x, const double *y, size_t n,
                            const double *knots, size_t knot_count, const struct rt_clusters *clusters,
                            struct rt_error *error);

/* The curve at x with its error and pointwise 95% limits. */
struct rt_estimate rt_curve_at(struct rt_curve *curve, double x);

/* Coefficient number i: 0 the intercept, 1 of x, 2.. of the spline terms in Harrell's normalisation. */
struct rt_estimate rt_curve_coefficient(struct rt_curve *curve, size_t i);

void rt_curve_release(struct rt_curve *curve);

#endif
