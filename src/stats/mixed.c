#include "ridgetally/stats/mixed.h"

#include "mixed_private.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/student.h"

#include <math.h>

static const char few_clusters[] = "needs at least two patients (clusters)";
static const char single_rows[] =
    "every patient (cluster) has one row, so between and within cannot be told apart";
static const char single_units[] =
    "every unit has one row, or every patient one unit, so the levels cannot be told apart";
static const char nothing_between[] =
    "the columns of the model leave no difference between patients (clusters)";
static const char nothing_within[] = "rows of one patient (cluster) do not differ, so nothing is left within";

/* Can both levels be told apart at all? */
static const char *why_not(const struct rt_mixed_data *data)
{
    if (data->clusters < 2)
        return few_clusters;
    bool repeated = false;
    for (size_t j = 0; j < data->units; j++)
        repeated = repeated || data->size[j] > 1;
    if (!data->two_level)
        return repeated ? NULL : single_rows;
    return repeated && data->units > data->clusters ? NULL : single_units;
}

static void set_variances(struct rt_mixed *fit, const struct rt_mixed_data *data)
{
    const struct rt_mixed_point *point = fit->point;
    double df = (double)(data->n - data->rank);
    double total = 1 + point->theta[0] + point->theta[1];
    fit->sd_within = fit->scale * sqrt(point->rss / df);
    fit->sd_between = fit->sd_within * sqrt(point->theta[0]);
    fit->icc = point->theta[0] / total;
    fit->boundary = point->theta[0] == 0;
    if (data->two_level) {
        fit->sd_unit = fit->sd_within * sqrt(point->theta[1]);
        fit->icc_unit = (point->theta[0] + point->theta[1]) / total;
        fit->boundary = fit->boundary || point->theta[1] == 0;
    }
    fit->design_effect = 1 + (data->cluster_squares / (double)data->n - 1) * fit->icc;
    fit->reml = point->deviance + 2 * df * log(fit->scale);
    for (size_t k = 0; k < data->rank; k++)
        fit->reml += 2 * log(fabs(fit->linear.basis.r[k * data->rank + k]));
}

/* Solve H x = g for the m by m matrix of the variance parameters (m <= 3) by Cholesky; NaN when H is not
 * positive definite. Returns g'H^-1 g. */
static double inverse_square(double h[3][3], const double g[3], size_t m)
{
    double y[3];
    double sum = 0;
    for (size_t i = 0; i < m; i++) {
        for (size_t j = 0; j <= i; j++) {
            for (size_t l = 0; l < j; l++)
                h[i][j] -= h[i][l] * h[j][l];
            if (i == j)
                h[i][i] = h[i][i] > 0 ? sqrt(h[i][i]) : NAN;
            else
                h[i][j] /= h[j][j];
        }
        y[i] = g[i];
        for (size_t l = 0; l < i; l++)
            y[i] -= h[i][l] * y[l];
        y[i] /= h[i][i];
        sum += y[i] * y[i];
    }
    return sum;
}

/* Error and df of the combination with coordinates z. Parameters: log s^2 first, then the ratios above 0;
 * working on log s^2 and with z of any size keeps the numbers in range. */
static void judge(struct rt_mixed *fit, const double *z, double null, struct rt_estimate *estimate)
{
    const struct rt_mixed_point *point = fit->point;
    size_t rank = point->rank;
    double df = (double)(fit->n - rank);
    double s2 = point->rss / df;
    double largest = 0;
    for (size_t i = 0; i < rank; i++)
        largest = fmax(largest, fabs(z[i]));
    double *v = point->scratch; /* A^-1 z */
    double f = 0;
    for (size_t i = 0; i < rank; i++) {
        v[i] = 0;
        for (size_t j = 0; j < rank; j++)
            v[i] += point->inverse[i * rank + j] * (z[j] / largest);
        f += v[i] * (z[i] / largest);
    }
    double g[3] = {f, 0, 0};
    double h[3][3] = {{df, 0, 0}, {0, 0, 0}, {0, 0, 0}};
    size_t place[2] = {0, 0};
    size_t m = 1;
    for (size_t a = 0; a < 2; a++) {
        if (!(point->theta[a] > 0))
            continue;
        place[a] = m;
        for (size_t i = 0; i < rank; i++)
            for (size_t j = 0; j < rank; j++)
                g[m] -= v[i] * point->slope[a][i * point->k + j] * v[j];
        h[m][0] = h[0][m] = -point->rss_slope[a] / s2;
        m++;
    }
    for (size_t a = 0; a < 2; a++)
        for (size_t b = 0; b < 2; b++)
            if (place[a] > 0 && place[b] > 0)
                h[place[a]][place[b]] = point->log_determinant_curve[a][b] + point->trace_curve[a][b] +
                                        point->rss_curve[a][b] / s2;
    estimate->standard_error = fit->scale * sqrt(s2) * sqrt(f) * largest;
    estimate->df = f * f / inverse_square(h, g, m);
    rt_student_inference(estimate, null);
}

static void judge_coefficients(struct rt_mixed *fit)
{
    struct rt_linear *linear = &fit->linear;
    for (size_t j = 0; j < fit->p; j++) {
        fit->coefficient[j] = rt_undefined(linear->ordinary[j].reason);
        if (fit->reason != NULL)
            fit->coefficient[j].reason = fit->reason;
    }
    for (size_t k = 0; fit->reason == NULL && k < linear->rank; k++) {
        struct rt_estimate *estimate = &fit->coefficient[linear->basis.kept[k]];
        *estimate = rt_undefined(NULL);
        estimate->value = fit->coefficients[k];
        rt_basis_kept_coefficient(&linear->basis, k, linear->z);
        judge(fit, linear->z, 0, estimate);
    }
}

/* Residuals of least squares brought to size 1; false when there is no residual variation. */
static bool scale_residuals(struct rt_mixed *fit)
{
    struct rt_linear *linear = &fit->linear;
    if (!(linear->sigma > 0))
        return false;
    fit->scale = linear->sigma;
    for (size_t i = 0; i < fit->n; i++)
        linear->residuals[i] /= fit->scale;
    return true;
}

static enum rt_status estimate_variances(struct rt_mixed *fit, const struct rt_clusters *clusters,
                                         const struct rt_clusters *units, struct rt_error *error)
{
    struct rt_linear *linear = &fit->linear;
    struct rt_mixed_data data = {0};
    enum rt_status status = rt_mixed_data_build(&data, linear->basis.q, linear->residuals, fit->n,
                                                linear->rank, clusters, units, error);
    if (status != RT_OK)
        return status;
    fit->clusters = data.clusters;
    fit->units = units != NULL ? data.units : 0;
    fit->reason = why_not(&data);
    if (fit->reason == NULL) {
        enum rt_mixed_end end = rt_mixed_minimise(&data, fit->point);
        if (end == RT_MIXED_FLAT)
            fit->reason = nothing_between;
        else if (end == RT_MIXED_UNBOUNDED)
            fit->reason = nothing_within;
        else
            set_variances(fit, &data);
    }
    rt_mixed_data_release(&data);
    if (fit->reason == NULL) {
        rt_basis_coefficients(&linear->basis, fit->point->shift, fit->coefficients);
        for (size_t k = 0; k < linear->rank; k++)
            fit->coefficients[k] = linear->coefficients[k] + fit->scale * fit->coefficients[k];
    }
    return RT_OK;
}

enum rt_status rt_mixed_fit(struct rt_mixed *fit, const double *y, const double *x, size_t n, size_t p,
                            const struct rt_clusters *clusters, const struct rt_clusters *units,
                            struct rt_error *error)
{
    *fit = (struct rt_mixed){.n = n, .p = p};
    fit->sd_between = fit->sd_unit = fit->sd_within = fit->icc = fit->icc_unit = NAN;
    fit->reml = fit->design_effect = NAN;
    enum rt_status status = rt_linear_fit(&fit->linear, y, x, n, p, NULL, error);
    if (status != RT_OK)
        return status;
    fit->coefficient = rt_new_array(p, sizeof *fit->coefficient);
    fit->coefficients = rt_new_array(fit->linear.rank, sizeof *fit->coefficients);
    fit->point = rt_mixed_point_new(fit->linear.rank);
    if (fit->coefficient == NULL || fit->coefficients == NULL || fit->point == NULL)
        status = rt_fail_memory(error);
    else if (scale_residuals(fit))
        status = estimate_variances(fit, clusters, units, error);
    else
        fit->reason = fit->linear.no_error;
    if (status == RT_OK)
        judge_coefficients(fit);
    else
        rt_mixed_release(fit);
    return status;
}

struct rt_estimate rt_mixed_combination(struct rt_mixed *fit, const double *weights, double null)
{
    if (fit->reason != NULL)
        return rt_undefined(fit->reason);
    struct rt_linear *linear = &fit->linear;
    /* The reason for a combination that cannot be estimated is that of least squares. */
    struct rt_estimate estimate = rt_linear_combination(linear, weights, null);
    if (isnan(estimate.value) || !rt_basis_combination(&linear->basis, weights, linear->z))
        return estimate;
    estimate = rt_undefined(NULL);
    estimate.value = 0;
    for (size_t k = 0; k < linear->rank; k++)
        estimate.value += weights[linear->basis.kept[k]] * fit->coefficients[k];
    judge(fit, linear->z, null, &estimate);
    return estimate;
}

void rt_mixed_release(struct rt_mixed *fit)
{
    rt_linear_release(&fit->linear);
    rt_mixed_point_free(fit->point);
    free(fit->coefficient);
    free(fit->coefficients);
    *fit = (struct rt_mixed){0};
}
