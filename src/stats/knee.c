#include "knee_private.h"

#include "ridgetally/base/memory.h"

#include <math.h>

enum { MOST_CANDIDATES = 1000 };

const struct rt_knee_design rt_knee_default = {
    .step = 0.1,
    .from = 0.15,
    .to = 0.85,
    .fewest_rows = 60,
    .fewest_clusters = 40,
    .fewest_per_side = 15,
    .times = 999,
    .seed = 1,
};

/* --- preparation --------------------------------------------------------------------------------------- */

/* Scaled x, and y cleared of its least-squares line. Returns why there is nothing to fit, or NULL. */
static const char *scale_variables(struct rt_knee_search *search, const double *x, const double *y)
{
    double mean_y = 0;
    for (size_t i = 0; i < search->n; i++) {
        search->mean_x += (x[i] - search->mean_x) / (double)(i + 1);
        mean_y += (y[i] - mean_y) / (double)(i + 1);
    }
    double xx = 0;
    double xy = 0;
    double yy = 0;
    for (size_t i = 0; i < search->n; i++) {
        double u = x[i] - search->mean_x;
        double v = y[i] - mean_y;
        xx += u * u;
        xy += u * v;
        yy += v * v;
    }
    if (!(xx > 0) || !isfinite(xx))
        return "x is constant, or too large";
    if (!isfinite(yy))
        return "the response is too large";
    search->scale_x = sqrt(xx / (double)search->n);
    search->line_slope = xy / xx;
    double length = 0;
    for (size_t i = 0; i < search->n; i++) {
        search->x[i] = (x[i] - search->mean_x) / search->scale_x;
        search->y[i] = y[i] - mean_y - search->line_slope * (x[i] - search->mean_x);
        length += search->y[i] * search->y[i];
    }
    if (!(length > 1e-24 * yy))
        return "the responses lie on a straight line";
    search->scale_y = sqrt(length);
    for (size_t i = 0; i < search->n; i++)
        search->y[i] /= search->scale_y;
    return NULL;
}

/* i steps. With a step of 0.1 this is the double that 1.9 is read as, which 19 * 0.1 is not. */
static double grid_point(double i, double step)
{
    double parts = round(1 / step);
    return parts >= 1 && fabs(parts * step - 1) < 1e-12 ? i / parts : i * step;
}

/* The grid points with enough rows on both sides; *reason when there is none. */
static enum rt_status list_candidates(struct rt_knee *result, const double *x, size_t n,
                                      const struct rt_knee_design *design, struct rt_error *error)
{
    double *sorted = NULL;
    enum rt_status status = rt_sorted_copy(x, n, &sorted, error);
    if (status != RT_OK)
        return status;
    double first =
        ceil(rt_quantile_sorted(sorted, n, design->from, RT_QUANTILE_TYPE_7) / design->step - 1e-9);
    double last = floor(rt_quantile_sorted(sorted, n, design->to, RT_QUANTILE_TYPE_7) / design->step + 1e-9);
    result->reason = "no step of the grid has enough rows on both sides";
    if (last - first >= MOST_CANDIDATES)
        result->reason = "more than 1000 steps: the step is too small for the spread of x";
    else if (last >= first) {
        result->candidates = rt_new_array((size_t)(last - first) + 1, sizeof *result->candidates);
        status = result->candidates == NULL ? rt_fail_memory(error) : RT_OK;
    }
    for (double i = first; result->candidates != NULL && i <= last; i++) {
        double knee = grid_point(i, design->step);
        size_t below = 0;
        size_t above = 0;
        for (size_t row = 0; row < n; row++) {
            below += x[row] < knee;
            above += x[row] > knee;
        }
        if (below >= design->fewest_per_side && above >= design->fewest_per_side)
            result->candidates[result->candidate_count++] = knee;
    }
    if (result->candidate_count > 0)
        result->reason = NULL;
    free(sorted);
    return status;
}

/* --- the search ---------------------------------------------------------------------------------------- */

static void describe_knee(struct rt_knee *result, const struct rt_knee_search *search,
                          const struct rt_knee_fit *fit, double knee)
{
    double bend = fit->b[RT_KNEE_BEND] / search->bend_scale; /* per scaled x, in scaled y */
    double line = fit->b[RT_KNEE_X] - bend * search->bend_slope;
    double unit = search->scale_y / search->scale_x;
    double within = search->scale_y * sqrt(fit->rss / (double)search->n);
    result->knee = knee;
    result->slope_below = search->line_slope + line * unit;
    result->slope_above = search->line_slope + (line + bend) * unit;
    result->sd_within = within;
    result->sd_between = within * sqrt(fit->ratio);
}

/* Likelihood ratio of every candidate; the best is described. */
static enum rt_status search_grid(struct rt_knee *result, struct rt_knee_search *search,
                                  double line_likelihood, struct rt_error *error)
{
    result->statistics = rt_new_array(result->candidate_count, sizeof *result->statistics);
    result->kept = rt_new_array(result->candidate_count, sizeof *result->kept);
    if (result->statistics == NULL || result->kept == NULL)
        return rt_fail_memory(error);
    result->statistic = -1;
    for (size_t k = 0; k < result->candidate_count; k++) {
        double knee = (result->candidates[k] - search->mean_x) / search->scale_x;
        if (!rt_knee_set_bend(search, knee))
            continue;
        rt_knee_add_products(search);
        struct rt_knee_fit fit =
            rt_knee_best_fit(search, &search->products, RT_KNEE_Y, RT_KNEE_SHARE_TOLERANCE);
        result->statistics[k] = fmax(0, 2 * (fit.likelihood - line_likelihood));
        if (result->statistics[k] > result->statistic) {
            result->statistic = result->statistics[k];
            search->ratio = fit.ratio;
            describe_knee(result, search, &fit, result->candidates[k]);
        }
    }
    return RT_OK;
}

/* --- the whole ----------------------------------------------------------------------------------------- */

static enum rt_status search_and_test(struct rt_knee *result, struct rt_knee_search *search, const double *x,
                                      const double *y, const struct rt_knee_design *design,
                                      struct rt_error *error)
{
    if (search->clusters.count < design->fewest_clusters)
        result->reason = "too few patients (clusters) for a knee";
    else
        result->reason = scale_variables(search, x, y);
    if (result->reason != NULL)
        return RT_OK;
    enum rt_status status = list_candidates(result, x, search->n, design, error);
    if (status != RT_OK || result->reason != NULL)
        return status;
    rt_knee_add_products(search); /* the bend is all 0 */
    struct rt_knee_fit line =
        rt_knee_best_fit(search, &search->products, RT_KNEE_BEND, RT_KNEE_SHARE_TOLERANCE);
    status = search_grid(result, search, line.likelihood, error);
    if (status != RT_OK || design->times == 0)
        return status;
    status = rt_knee_find_interval(result, search, design, error);
    if (status != RT_OK)
        return status;
    return rt_knee_test_line(result, search, &line, design, error);
}

enum rt_status rt_knee(struct rt_knee *result, const double *x, const double *y, size_t n,
                       const struct rt_clusters *clusters, const struct rt_knee_design *design,
                       struct rt_error *error)
{
    *result = (struct rt_knee){
        .knee = NAN,
        .lower = NAN,
        .upper = NAN,
        .slope_below = NAN,
        .slope_above = NAN,
        .sd_between = NAN,
        .sd_within = NAN,
        .statistic = NAN,
        .p = NAN,
    };
    if (n == 0 || n < design->fewest_rows) {
        result->reason = "too few rows for a knee";
        return RT_OK;
    }
    if (!(design->step > 0))
        return rt_fail(error, RT_USE, "a knee needs a step above 0");
    struct rt_knee_search search;
    enum rt_status status = rt_knee_prepare(&search, n, clusters, error);
    if (status == RT_OK)
        status = search_and_test(result, &search, x, y, design, error);
    rt_knee_release_search(&search);
    return status;
}

void rt_knee_release(struct rt_knee *result)
{
    free(result->candidates);
    free(result->statistics);
    free(result->kept);
    *result = (struct rt_knee){0};
}
