#include "ridgetally/cli/reckon.h"

#include "ridgetally/stats/curve.h"
#include "ridgetally/stats/order.h"

#include <stdio.h>
#include <string.h>

static const struct rt_reckon_option options[] = {
    {"--response", RT_OPTION_NUMBERS_COLUMN, true, NULL, "column of the response", NULL},
    {"--x", RT_OPTION_NUMBERS_COLUMN, true, NULL, "column of the dose", NULL},
    {"--knots", RT_OPTION_NUMBER_LIST, false, NULL,
     "places of 3 to 12 knots, or their number alone: 3, 4 or 5", NULL},
    {"--at", RT_OPTION_NUMBER_LIST, false, NULL, "where to give the curve; at each x when not given", NULL},
    RT_RECKON_CLUSTER,
    RT_RECKON_END};

static const char notes[] =
    "Restricted cubic spline, linear beyond the outer knots (Harrell 2015, Regression Modeling Strategies,\n"
    "2.4.5), by least squares. Knots by default at the quantiles 0.1, 0.5, 0.9 of x, from 100 rows on at "
    "0.05,\n"
    "0.35, 0.65, 0.95; five at 0.05, 0.275, 0.5, 0.725, 0.95. lower and upper are pointwise t limits: "
    "errors\n"
    "of the model, or with --cluster CR2 errors and Satterthwaite df. nonlinearity: F test against a "
    "straight\n"
    "line (with --cluster for three knots only). Terms: intercept, the column of x, and `x spline j`.\n";

static enum rt_status read_knots(struct rt_reckon *r, const double *x, double *knots, size_t *count,
                                 struct rt_error *error)
{
    size_t given = 0;
    const double *list = rt_reckon_number_list(r, "--knots", &given, error);
    if (list == NULL)
        return RT_MEMORY;
    if (given <= 1) {
        double number = given == 1 ? list[0] : 0;
        if (number != 0 && number != 3 && number != 4 && number != 5) {
            rt_fail(error, RT_USE, "--knots cannot be '%.60s'", rt_reckon_text(r, "--knots"));
            rt_error_remedy(error, "give the number 3, 4 or 5, or the places of 3 to 12 knots");
            return RT_USE;
        }
        return rt_curve_knots(x, r->n, (size_t)number, knots, count, error);
    }
    bool ascend = given >= RT_FEWEST_KNOTS && given <= RT_MOST_KNOTS;
    for (size_t j = 1; ascend && j < given; j++)
        ascend = list[j] > list[j - 1];
    if (!ascend) {
        rt_fail(error, RT_USE, "--knots cannot be '%.60s'", rt_reckon_text(r, "--knots"));
        rt_error_remedy(error, "give 3 to 12 ascending places");
        return RT_USE;
    }
    memcpy(knots, list, given * sizeof *knots);
    *count = given;
    return RT_OK;
}

/* The places of --at, or the distinct values of x in order. */
static enum rt_status read_places(struct rt_reckon *r, const double *x, const double **places, size_t *count,
                                  struct rt_error *error)
{
    *places = rt_reckon_number_list(r, "--at", count, error);
    if (*places == NULL)
        return RT_MEMORY;
    if (*count > 0)
        return RT_OK;
    double *sorted = rt_reckon_array(r, r->n, sizeof *sorted, error);
    if (sorted == NULL)
        return RT_MEMORY;
    if (r->n > 0)
        memcpy(sorted, x, r->n * sizeof *sorted);
    rt_sort_values(sorted, r->n);
    for (size_t i = 0; i < r->n; i++)
        if (*count == 0 || sorted[i] > sorted[*count - 1])
            sorted[(*count)++] = sorted[i];
    *places = sorted;
    return RT_OK;
}

static const char *term_name(struct rt_reckon *r, size_t i)
{
    const char *x = rt_reckon_escape(r, rt_reckon_text(r, "--x"));
    if (i < 2)
        return i == 0 ? "intercept" : x;
    size_t size = strlen(x) + 16;
    char *name = rt_reckon_array(r, size, 1, NULL);
    if (name == NULL)
        return "";
    snprintf(name, size, "%s spline %zu", x, i - 1);
    return name;
}

static void reckon_model(struct rt_reckon *r, struct rt_curve *curve)
{
    for (size_t j = 0; j < curve->knot_count; j++)
        rt_reckon_row(r, "knot", NULL, (double)(j + 1), curve->knots[j], NULL);
    for (size_t j = 0; j < curve->knot_count; j++) {
        struct rt_estimate term = rt_curve_coefficient(curve, j);
        rt_reckon_row(r, "coefficient", term_name(r, j), NAN, term.value, term.reason);
        rt_reckon_row(r, "coefficient_error", term_name(r, j), NAN, term.standard_error, term.reason);
    }
    const struct rt_estimate *test = &curve->nonlinearity;
    const char *reason = curve->reason != NULL ? curve->reason : curve->fit.reason;
    rt_reckon_row(r, "sigma", NULL, NAN, curve->fitted ? curve->fit.sigma : NAN, reason);
    rt_reckon_row(r, "r_squared", NULL, NAN, curve->fitted ? curve->fit.r_squared : NAN, reason);
    rt_reckon_row(r, "nonlinearity", NULL, NAN, test->statistic, test->reason);
    rt_reckon_row(r, "nonlinearity_df", NULL, NAN, test->df, test->reason);
    rt_reckon_row(r, "nonlinearity_residual_df", NULL, NAN, curve->nonlinearity_df, test->reason);
    rt_reckon_row(r, "nonlinearity_p", NULL, NAN, test->p, test->reason);
}

static void reckon_curve(struct rt_reckon *r, struct rt_curve *curve, const double *places, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        struct rt_estimate point = rt_curve_at(curve, places[i]);
        rt_reckon_row(r, "smooth", NULL, places[i], point.value, point.reason);
        rt_reckon_row(r, "standard_error", NULL, places[i], point.standard_error, point.reason);
        rt_reckon_row(r, "lower", NULL, places[i], point.lower, point.reason);
        rt_reckon_row(r, "upper", NULL, places[i], point.upper, point.reason);
    }
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    double *y = NULL;
    double *x = NULL;
    const double *places = NULL;
    double knots[RT_MOST_KNOTS] = {0};
    size_t count = 0;
    size_t knot_count = 0;
    struct rt_curve curve = {0};
    enum rt_status status = rt_reckon_numbers(r, "--response", &y, error);
    if (status == RT_OK)
        status = rt_reckon_numbers(r, "--x", &x, error);
    if (status == RT_OK)
        status = read_knots(r, x, knots, &knot_count, error);
    if (status == RT_OK)
        status = read_places(r, x, &places, &count, error);
    if (status == RT_OK)
        status = rt_curve_fit(&curve, x, y, r->n, knots, knot_count,
                              r->clusters.of == NULL ? NULL : &r->clusters, error);
    if (status == RT_OK) {
        reckon_model(r, &curve);
        reckon_curve(r, &curve, places, count);
    }
    rt_curve_release(&curve);
    return status;
}

const struct rt_reckon_method rt_reckon_curve = {
    "curve",
    "smooth dose-response curve with its band",
    "knot (at = number); coefficient coefficient_error (group = term); sigma r_squared nonlinearity "
    "nonlinearity_df "
    "nonlinearity_residual_df nonlinearity_p; smooth standard_error lower upper (at = x)",
    notes,
    options,
    run};
