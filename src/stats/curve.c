#include "ridgetally/stats/curve.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/order.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <string.h>

enum { MANY_ROWS = 100 };

static size_t distinct_quantiles(const double *sorted, size_t n, const double *shares, size_t wanted,
                                 double *knots)
{
    size_t count = 0;
    for (size_t j = 0; j < wanted && n > 0; j++) {
        double knot = rt_quantile_sorted(sorted, n, shares[j], RT_QUANTILE_TYPE_7);
        if (count == 0 || knot > knots[count - 1])
            knots[count++] = knot;
    }
    return count;
}

enum rt_status rt_curve_knots(const double *x, size_t n, size_t wanted, double *knots, size_t *count,
                              struct rt_error *error)
{
    static const double shares[3][5] = {
        {0.1, 0.5, 0.9, 0, 0}, {0.05, 0.35, 0.65, 0.95, 0}, {0.05, 0.275, 0.5, 0.725, 0.95}};
    double *sorted = NULL;
    enum rt_status status = rt_sorted_copy(x, n, &sorted, error);
    *count = 0;
    if (status != RT_OK)
        return status;
    if (wanted < 3 || wanted > 5)
        wanted = n < MANY_ROWS ? 3 : 4;
    *count = distinct_quantiles(sorted, n, shares[wanted - 3], wanted, knots);
    size_t distinct = 0;
    for (size_t i = 0; i < n; i++)
        if (distinct == 0 || sorted[i] > sorted[distinct - 1])
            sorted[distinct++] = sorted[i];
    if (*count < RT_FEWEST_KNOTS)
        *count = distinct_quantiles(sorted, distinct, shares[0], 3, knots);
    if (*count < RT_FEWEST_KNOTS || distinct < RT_FEWEST_KNOTS)
        *count = 0;
    free(sorted);
    return RT_OK;
}

static double cube_above(double x, double knot)
{
    double above = x > knot ? x - knot : 0;
    return above * above * above;
}

void rt_curve_terms(double x, const double *knots, size_t k, double *terms)
{
    double last = knots[k - 1];
    double before = knots[k - 2];
    double range = last - knots[0];
    for (size_t j = 0; j + 2 < k; j++)
        terms[j] = (cube_above(x, knots[j]) - cube_above(x, before) * (last - knots[j]) / (last - before) +
                    cube_above(x, last) * (before - knots[j]) / (last - before)) /
                   (range * range);
}

/* One row of the model in the fit's own scale, where the outer knots are 0 and 1. */
static void fill_row(const struct rt_curve *curve, double x, double *row)
{
    double scaled[RT_MOST_KNOTS];
    for (size_t j = 0; j < curve->knot_count; j++)
        scaled[j] = (curve->knots[j] - curve->low) / curve->range;
    row[0] = 1;
    row[1] = (x - curve->low) / curve->range;
    rt_curve_terms(row[1], scaled, curve->knot_count, row + 2);
}

/* F test of the spline terms together, errors of the model: by the straight line's residuals. */
static enum rt_status test_by_model(struct rt_curve *curve, const double *y, const double *rows, size_t n,
                                    struct rt_error *error)
{
    size_t p = curve->knot_count;
    double *line = rt_new_array(2 * n, sizeof *line);
    if (line == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < n; i++)
        memcpy(line + 2 * i, rows + p * i, 2 * sizeof *line);
    struct rt_linear straight;
    enum rt_status status = rt_linear_fit(&straight, y, line, n, 2, NULL, error);
    free(line);
    if (status != RT_OK)
        return status;
    double df = (double)curve->fit.rank - (double)straight.rank;
    /* rounding may leave a little less than nothing */
    double better = fmax(0, straight.residual_sum_of_squares - curve->fit.residual_sum_of_squares);
    rt_linear_release(&straight);
    curve->nonlinearity = rt_undefined("the curve has no spline term, or no residual");
    if (df > 0 && curve->fit.residual_df > 0 && curve->fit.residual_sum_of_squares > 0) {
        curve->nonlinearity.reason = NULL;
        curve->nonlinearity.df = df;
        curve->nonlinearity_df = curve->fit.residual_df;
        curve->nonlinearity.statistic =
            better / df / (curve->fit.residual_sum_of_squares / curve->fit.residual_df);
        curve->nonlinearity.p = gsl_cdf_fdist_Q(curve->nonlinearity.statistic, df, curve->fit.residual_df);
    }
    return RT_OK;
}

/* With three knots there is one spline term: its robust t test, as F on 1 and the Satterthwaite df. */
static void test_by_clusters(struct rt_curve *curve)
{
    curve->nonlinearity = rt_undefined("with clusters the curve is tested with three knots only");
    if (curve->knot_count != RT_FEWEST_KNOTS)
        return;
    struct rt_estimate term = rt_curve_coefficient(curve, 2);
    curve->nonlinearity = rt_undefined(term.reason);
    curve->nonlinearity.statistic = term.statistic * term.statistic;
    curve->nonlinearity.p = term.p;
    curve->nonlinearity.df = 1;
    curve->nonlinearity_df = term.df;
}

static enum rt_status fit_rows(struct rt_curve *curve, const double *x, const double *y, size_t n,
                               const struct rt_clusters *clusters, struct rt_error *error)
{
    size_t p = curve->knot_count;
    double *rows = rt_new_array(n * p, sizeof *rows);
    if (rows == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < n; i++)
        fill_row(curve, x[i], rows + p * i);
    enum rt_status status = rt_linear_fit(&curve->fit, y, rows, n, p, clusters, error);
    curve->fitted = status == RT_OK;
    if (status == RT_OK && clusters != NULL)
        test_by_clusters(curve);
    else if (status == RT_OK)
        status = test_by_model(curve, y, rows, n, error);
    free(rows);
    return status;
}

enum rt_status rt_curve_fit(struct rt_curve *curve, const double *x, const double *y, size_t n,
                            const double *knots, size_t knot_count, const struct rt_clusters *clusters,
                            struct rt_error *error)
{
    *curve = (struct rt_curve){.nonlinearity = rt_undefined("there is no curve"), .nonlinearity_df = NAN};
    if (knot_count < RT_FEWEST_KNOTS || knot_count > RT_MOST_KNOTS) {
        curve->reason = "x has too few different values for a curve";
        return RT_OK;
    }
    for (size_t j = 1; j < knot_count; j++)
        if (!(knots[j] > knots[j - 1]))
            return rt_fail(error, RT_USE, "the knots of a curve must ascend");
    curve->knot_count = knot_count;
    memcpy(curve->knots, knots, knot_count * sizeof *knots);
    curve->low = knots[0];
    curve->range = knots[knot_count - 1] - knots[0];
    return fit_rows(curve, x, y, n, clusters, error);
}

struct rt_estimate rt_curve_at(struct rt_curve *curve, double x)
{
    double row[RT_MOST_KNOTS];
    if (!curve->fitted)
        return rt_undefined(curve->reason);
    fill_row(curve, x, row);
    return rt_linear_combination(&curve->fit, row, 0);
}

struct rt_estimate rt_curve_coefficient(struct rt_curve *curve, size_t i)
{
    double weights[RT_MOST_KNOTS] = {0};
    if (!curve->fitted)
        return rt_undefined(curve->reason);
    weights[i] = i == 0 ? 1 : 1 / curve->range;
    if (i == 0)
        weights[1] = -curve->low / curve->range;
    return rt_linear_combination(&curve->fit, weights, 0);
}

void rt_curve_release(struct rt_curve *curve)
{
    if (curve->fitted)
        rt_linear_release(&curve->fit);
    *curve = (struct rt_curve){0};
}
