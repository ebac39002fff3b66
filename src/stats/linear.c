#include "ridgetally/stats/linear.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/student.h"
#include "ridgetally/stats/sum.h"

#include <gsl/gsl_cdf.h>
#include <math.h>

static const char aliased[] = "the other columns of the model already give this one";
static const char open_combination[] = "the rows do not determine this combination of coefficients";
static const char no_df[] = "as many coefficients as rows: no degrees of freedom are left for an error";
static const char perfect[] = "the model fits every row exactly, so there is no error to judge by";
static const char constant[] = "the response has one value only";
static const char no_rows[] = "no rows";

/* One round of refining coefficients b and residuals r together, so that both r + X b = y and X'r = 0 hold to the
 * last digits, even for ill-conditioned columns or large residuals (Bjorck 1967, BIT 7:257-278): f = y - r - X b and
 * g = -X'r in extended precision, h = R^-T g, d = Q'f; then b += R^-1 (d - h), r += f - Q (d - h). */
static void refine(struct rt_linear *fit, const double *y, const double *x, long double *r, long double *f,
                   long double *h)
{
    const struct rt_basis *basis = &fit->basis;
    size_t rank = fit->rank;
    for (size_t k = 0; k < rank; k++)
        h[k] = 0;
    for (size_t i = 0; i < fit->n; i++) {
        f[i] = (long double)y[i] - r[i];
        for (size_t k = 0; k < rank; k++) {
            long double column = x[i * fit->p + basis->kept[k]];
            f[i] -= column * fit->coefficients[k];
            h[k] -= column * r[i];
        }
    }
    for (size_t k = 0; k < rank; k++) {
        for (size_t l = 0; l < k; l++)
            h[k] -= basis->r[l * rank + k] * h[l];
        h[k] /= basis->r[k * rank + k];
        fit->z[k] = -(double)h[k];
    }
    for (size_t i = 0; i < fit->n; i++)
        for (size_t k = 0; k < rank; k++)
            fit->z[k] += basis->q[i * rank + k] * (double)f[i];
    for (size_t i = 0; i < fit->n; i++) {
        r[i] += f[i];
        for (size_t k = 0; k < rank; k++)
            r[i] -= (long double)basis->q[i * rank + k] * fit->z[k];
    }
    rt_basis_coefficients(basis, fit->z, fit->z);
    for (size_t k = 0; k < rank; k++)
        fit->coefficients[k] += fit->z[k];
}

static enum rt_status solve(struct rt_linear *fit, const double *y, const double *x, struct rt_error *error)
{
    long double *r = rt_new_array(2 * fit->n + fit->rank, sizeof *r);
    if (r == NULL)
        return rt_fail_memory(error);
    for (int round = 0; round < 4; round++) /* the first one is the plain solution */
        refine(fit, y, x, r, r + fit->n, r + 2 * fit->n);
    for (size_t i = 0; i < fit->n; i++)
        fit->residuals[i] = (double)r[i];
    free(r);
    return RT_OK;
}

static double sum_of_squares(const double *values, size_t n, double centre)
{
    struct rt_sum sum = {0};
    for (size_t i = 0; i < n; i++)
        rt_sum_add(&sum, (values[i] - centre) * (values[i] - centre));
    return rt_sum_value(&sum);
}

static double mean_of(const double *values, size_t n)
{
    double mean = 0;
    for (size_t i = 0; i < n; i++)
        mean += (values[i] - mean) / (double)(i + 1);
    return mean;
}

/* Squares of all that was added and taken away to form the residuals: the scale of their rounding. */
static double gross_size(const struct rt_linear *fit, const double *y, const double *x)
{
    double size = 0;
    for (size_t i = 0; i < fit->n; i++) {
        double gross = fabs(y[i]);
        for (size_t k = 0; k < fit->rank; k++)
            gross += fabs(x[i * fit->p + fit->basis.kept[k]] * fit->coefficients[k]);
        size += gross * gross;
    }
    return size;
}

/* sigma, R^2 and F. The residuals of a perfect fit are rounding noise: below 1e-15 of what they came from. */
static void judge_fit(struct rt_linear *fit, const double *y, const double *x)
{
    bool constant_in = rt_basis_has_constant(&fit->basis);
    double about = constant_in ? mean_of(y, fit->n) : 0;
    double total = sum_of_squares(y, fit->n, about);
    double raw = sum_of_squares(y, fit->n, 0);
    double rss = sum_of_squares(fit->residuals, fit->n, 0);
    fit->residual_df = (double)(fit->n - fit->rank);
    fit->residual_sum_of_squares = rss;
    fit->sigma = fit->r_squared = fit->f_statistic = fit->f_df = fit->f_p = NAN;
    bool exact = rss <= 1e-30 * gross_size(fit, y, x);
    if (fit->n == 0) {
        fit->reason = fit->no_error = no_rows;
        return;
    }
    if (fit->residual_df > 0)
        fit->sigma = exact ? 0 : sqrt(rss / fit->residual_df);
    else
        fit->reason = fit->no_error = no_df;
    if (exact && fit->no_error == NULL)
        fit->no_error = perfect;
    if (!(total > 1e-30 * raw)) {
        fit->reason = constant;
        return;
    }
    fit->r_squared = exact ? 1 : 1 - rss / total;
    fit->f_df = (double)(fit->rank - (constant_in ? 1 : 0));
    if (fit->f_df > 0 && fit->sigma > 0) {
        fit->f_statistic = (total - rss) / fit->f_df / (fit->sigma * fit->sigma);
        fit->f_p = gsl_cdf_fdist_Q(fit->f_statistic, fit->f_df, fit->residual_df);
    }
}

static struct rt_estimate value_of(struct rt_linear *fit, const double *weights)
{
    if (!rt_basis_combination(&fit->basis, weights, fit->z))
        return rt_undefined(fit->n == 0 ? no_rows : open_combination);
    struct rt_estimate estimate = rt_undefined(NULL);
    estimate.value = 0;
    for (size_t k = 0; k < fit->rank; k++)
        estimate.value += weights[fit->basis.kept[k]] * fit->coefficients[k];
    return estimate;
}

/* Ordinary error of the combination whose coordinates are in fit->z. */
static struct rt_estimate ordinary_error(const struct rt_linear *fit, struct rt_estimate estimate,
                                         double null)
{
    estimate.reason = fit->no_error;
    if (fit->no_error != NULL)
        return estimate;
    double length = 0; /* by hypot, so that extreme units stay in range */
    for (size_t k = 0; k < fit->rank; k++)
        length = hypot(length, fit->z[k]);
    estimate.standard_error = fit->sigma * length;
    estimate.df = fit->residual_df;
    rt_student_inference(&estimate, null);
    return estimate;
}

static struct rt_estimate robust_error(struct rt_linear *fit, struct rt_estimate estimate, double null)
{
    if (fit->no_error != NULL)
        estimate.reason = fit->no_error;
    else
        rt_sandwich_infer(fit->sandwich, fit->z, null, &estimate);
    return estimate;
}

struct rt_estimate rt_linear_combination_ordinary(struct rt_linear *fit, const double *weights, double null)
{
    struct rt_estimate estimate = value_of(fit, weights);
    return isnan(estimate.value) ? estimate : ordinary_error(fit, estimate, null);
}

struct rt_estimate rt_linear_combination(struct rt_linear *fit, const double *weights, double null)
{
    if (fit->sandwich == NULL)
        return rt_linear_combination_ordinary(fit, weights, null);
    struct rt_estimate estimate = value_of(fit, weights);
    return isnan(estimate.value) ? estimate : robust_error(fit, estimate, null);
}

static void judge_coefficients(struct rt_linear *fit)
{
    for (size_t j = 0; j < fit->p; j++) {
        fit->ordinary[j] = rt_undefined(fit->n == 0 ? no_rows : aliased);
        if (fit->robust != NULL)
            fit->robust[j] = fit->ordinary[j];
    }
    for (size_t k = 0; k < fit->rank; k++) {
        struct rt_estimate value = rt_undefined(NULL);
        value.value = fit->coefficients[k];
        rt_basis_kept_coefficient(&fit->basis, k, fit->z);
        fit->ordinary[fit->basis.kept[k]] = ordinary_error(fit, value, 0);
        if (fit->robust != NULL)
            fit->robust[fit->basis.kept[k]] = robust_error(fit, value, 0);
    }
}

static enum rt_status fit_model(struct rt_linear *fit, const double *y, const double *x,
                                const struct rt_clusters *clusters, struct rt_error *error)
{
    fit->coefficients = rt_new_array(fit->rank, sizeof *fit->coefficients);
    fit->z = rt_new_array(fit->rank, sizeof *fit->z);
    fit->residuals = rt_new_array(fit->n, sizeof *fit->residuals);
    fit->ordinary = rt_new_array(fit->p, sizeof *fit->ordinary);
    if (clusters != NULL)
        fit->robust = rt_new_array(fit->p, sizeof *fit->robust);
    if (fit->coefficients == NULL || fit->z == NULL || fit->residuals == NULL || fit->ordinary == NULL ||
        (clusters != NULL && fit->robust == NULL))
        return rt_fail_memory(error);
    enum rt_status status = solve(fit, y, x, error);
    if (status != RT_OK)
        return status;
    judge_fit(fit, y, x);
    if (clusters != NULL) {
        status = rt_sandwich_build(&fit->sandwich, fit->basis.q, fit->n, fit->rank, fit->residuals, clusters,
                                   error);
        if (status != RT_OK)
            return status;
        fit->clusters = rt_sandwich_clusters(fit->sandwich);
    }
    judge_coefficients(fit);
    return RT_OK;
}

enum rt_status rt_linear_fit(struct rt_linear *fit, const double *y, const double *x, size_t n, size_t p,
                             const struct rt_clusters *clusters, struct rt_error *error)
{
    *fit = (struct rt_linear){.n = n, .p = p};
    enum rt_status status = rt_basis_build(&fit->basis, x, n, p, error);
    if (status == RT_OK) {
        fit->rank = fit->basis.rank;
        status = fit_model(fit, y, x, clusters, error);
    }
    if (status != RT_OK)
        rt_linear_release(fit);
    return status;
}

void rt_linear_release(struct rt_linear *fit)
{
    rt_basis_release(&fit->basis);
    rt_sandwich_free(fit->sandwich);
    free(fit->coefficients);
    free(fit->z);
    free(fit->residuals);
    free(fit->ordinary);
    free(fit->robust);
    *fit = (struct rt_linear){0};
}
