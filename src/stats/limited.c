#include "ridgetally/stats/limited.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/order.h"
#include "ridgetally/stats/student.h"

#include <gsl/gsl_linalg.h>
#include <gsl/gsl_math.h>
#include <gsl/gsl_sf_erf.h>
#include <math.h>
#include <string.h>

static const char no_rows[] = "no rows";
static const char all_capped[] = "every reading stands at its limit";
static const char exact[] = "the full readings lie exactly on the model, so there is no spread to estimate";
static const char runs_off[] =
    "readings that a coefficient rests on are all at their limit, so it has no bound";
static const char one_decides[] = "one patient (cluster) alone decides a coefficient";
static const char few_clusters[] = "needs at least two patients (clusters)";

/* The search, in coordinates of the orthonormal basis and residuals of least squares over their size. The last
 * parameter is h, those before are gamma. */
struct search {
    size_t n, k, m; /* m = k + 1 parameters */
    const double *q;
    const double *y; /* residuals, scaled */
    const bool *capped;
    size_t full;                              /* readings not capped */
    double *parameter, *trial, *score, *step; /* m */
    double *information, *inverse;            /* m by m */
    double *row;                              /* m */
    double value;
};

/* Slope of the row's contribution by z, its negative curvature, and its value. */
static double row_slope(const struct search *s, size_t i, double z, double *curvature, double *value)
{
    if (!s->capped[i]) {
        *curvature = 1;
        *value = log(s->parameter[s->k]) - 0.5 * z * z - 0.5 * log(2 * M_PI);
        return z;
    }
    double hazard = gsl_sf_hazard(z);
    *curvature = fmax(0, hazard * (hazard - z));
    *value = gsl_sf_log_erfc(z * M_SQRT1_2) - M_LN2;
    return hazard;
}

/* dz by the parameters: (-q, y). Returns z. */
static double row_direction(const struct search *s, size_t i, double *direction)
{
    double z = s->parameter[s->k] * s->y[i];
    for (size_t r = 0; r < s->k; r++) {
        direction[r] = -s->q[i * s->k + r];
        z += direction[r] * s->parameter[r];
    }
    direction[s->k] = s->y[i];
    return z;
}

static bool evaluate(struct search *s)
{
    size_t m = s->m;
    double h = s->parameter[s->k];
    s->value = 0;
    memset(s->score, 0, m * sizeof *s->score);
    memset(s->information, 0, m * m * sizeof *s->information);
    for (size_t i = 0; i < s->n; i++) {
        double curvature;
        double value;
        double slope = row_slope(s, i, row_direction(s, i, s->row), &curvature, &value);
        s->value += value;
        for (size_t r = 0; r < m; r++) {
            s->score[r] -= slope * s->row[r];
            for (size_t c = 0; c < m; c++)
                s->information[r * m + c] += curvature * s->row[r] * s->row[c];
        }
    }
    s->score[s->k] += (double)s->full / h;
    s->information[m * m - 1] += (double)s->full / (h * h);
    return isfinite(s->value);
}

static bool invert(struct search *s)
{
    memcpy(s->inverse, s->information, s->m * s->m * sizeof *s->inverse);
    gsl_matrix_view view = gsl_matrix_view_array(s->inverse, s->m, s->m);
    return gsl_linalg_cholesky_decomp1(&view.matrix) == 0 && gsl_linalg_cholesky_invert(&view.matrix) == 0;
}

/* Newton direction; *promise = what it gains at least to first order, *longest = the furthest move of a z. */
static bool direct(struct search *s, double *promise, double *longest)
{
    if (!invert(s))
        return false;
    *promise = 0;
    *longest = 0;
    for (size_t r = 0; r < s->m; r++) {
        s->step[r] = 0;
        for (size_t c = 0; c < s->m; c++)
            s->step[r] += s->inverse[r * s->m + c] * s->score[c];
        *promise += s->step[r] * s->score[r];
    }
    for (size_t i = 0; i < s->n; i++) {
        double move = s->step[s->k] * s->y[i];
        for (size_t r = 0; r < s->k; r++)
            move -= s->q[i * s->k + r] * s->step[r];
        *longest = fmax(*longest, fabs(move));
    }
    return true;
}

static bool advance(struct search *s, double promise)
{
    double before = s->value;
    double noise = 1e-12 * (1 + fabs(before));
    memcpy(s->trial, s->parameter, s->m * sizeof *s->trial);
    for (double part = 1; part > 1e-8; part /= 2) {
        double h = s->trial[s->k] + part * s->step[s->k];
        if (!(h > s->trial[s->k] / 5 && h < s->trial[s->k] * 5))
            continue;
        for (size_t r = 0; r < s->m; r++)
            s->parameter[r] = s->trial[r] + part * s->step[r];
        if (evaluate(s) && (s->value > before || (promise < noise && s->value > before - noise)))
            return true;
    }
    memcpy(s->parameter, s->trial, s->m * sizeof *s->trial);
    evaluate(s);
    return false;
}

/* NULL when the maximum was found, else why there is none. The last Newton steps of a maximum are tiny; where a
 * coefficient runs off the likelihood flattens but the steps stay long. */
static const char *maximise(struct search *s)
{
    double promise = INFINITY;
    double longest = INFINITY;
    evaluate(s);
    for (int round = 0; round < 200; round++) {
        if (!direct(s, &promise, &longest))
            return runs_off;
        if (s->parameter[s->k] > 1e9)
            return exact;
        if (!(promise > 0) || !advance(s, promise) || promise < 1e-25)
            break;
    }
    return direct(s, &promise, &longest) && longest < 1e-4 ? NULL : runs_off;
}

/* --- errors -------------------------------------------------------------------------------------------- */

/* Turn a step of (gamma, h) into one of b = gamma/h. */
static void to_coordinates(const struct search *s, const double *step, double *b)
{
    double h = s->parameter[s->k];
    for (size_t r = 0; r < s->k; r++)
        b[r] = (step[r] - s->parameter[r] / h * step[s->k]) / h;
}

static void model_variance(const struct search *s, double *variance)
{
    size_t k = s->k;
    double h = s->parameter[k];
    for (size_t r = 0; r < k; r++)
        for (size_t c = 0; c < k; c++) {
            const double *in = s->inverse;
            double gr = s->parameter[r] / h;
            double gc = s->parameter[c] / h;
            variance[r * k + c] = (in[r * s->m + c] - gr * in[k * s->m + c] - gc * in[r * s->m + k] +
                                   gr * gc * in[s->m * s->m - 1]) /
                                  (h * h);
        }
}

/* Sum of the scores of a cluster's rows into s->score, and of their information into information. */
static void add_cluster(struct search *s, const struct rt_cluster_rows *rows, size_t cluster,
                        double *information)
{
    const double h = s->parameter[s->k];
    memset(s->score, 0, s->m * sizeof *s->score);
    memset(information, 0, s->m * s->m * sizeof *information);
    for (size_t at = rows->start[cluster]; at < rows->start[cluster + 1]; at++) {
        size_t i = rows->row[at];
        double curvature;
        double value;
        double slope = row_slope(s, i, row_direction(s, i, s->row), &curvature, &value);
        for (size_t r = 0; r < s->m; r++) {
            s->score[r] -= slope * s->row[r];
            for (size_t c = 0; c < s->m; c++)
                information[r * s->m + c] += curvature * s->row[r] * s->row[c];
        }
        if (!s->capped[i]) {
            s->score[s->k] += 1 / h;
            information[s->m * s->m - 1] += 1 / (h * h);
        }
    }
}

/* Step of the whole maximum when a cluster with this information is left out; false when nothing is left to decide
 * it. information is overwritten. */
static bool leave_out(struct search *s, double *information)
{
    const double least = 1e-10; /* of a parameter's information: less is rounding */
    for (size_t r = 0; r < s->m * s->m; r++)
        information[r] = s->information[r] - information[r];
    gsl_matrix_view left = gsl_matrix_view_array(information, s->m, s->m);
    gsl_vector_view step = gsl_vector_view_array(s->step, s->m);
    memcpy(s->step, s->score, s->m * sizeof *s->step);
    if (gsl_linalg_cholesky_decomp1(&left.matrix) != 0)
        return false;
    for (size_t r = 0; r < s->m; r++) {
        const double pivot = information[r * s->m + r];
        if (!(pivot * pivot > least * s->information[r * s->m + r]))
            return false;
    }
    return gsl_linalg_cholesky_svx(&left.matrix, &step.vector) == 0;
}

static void add_square(struct search *s, double *variance)
{
    to_coordinates(s, s->step, s->row);
    for (size_t r = 0; r < s->k; r++)
        for (size_t c = 0; c < s->k; c++)
            variance[r * s->k + c] += s->row[r] * s->row[c];
}

/* variance: sum over clusters of the outer product of their influence, inverse information times summed score;
 * left_out: the same with the information of the others. False when a cluster alone decides a parameter, which
 * left_out then cannot tell. */
static bool robust_variance(struct search *s, const struct rt_cluster_rows *rows, double *variance,
                            double *left_out, double *information)
{
    bool decided = true;
    memset(variance, 0, s->k * s->k * sizeof *variance);
    memset(left_out, 0, s->k * s->k * sizeof *left_out);
    for (size_t cluster = 0; cluster < rows->count; cluster++) {
        add_cluster(s, rows, cluster, information);
        for (size_t r = 0; r < s->m; r++) {
            s->step[r] = 0;
            for (size_t c = 0; c < s->m; c++)
                s->step[r] += s->inverse[r * s->m + c] * s->score[c];
        }
        add_square(s, variance);
        decided = leave_out(s, information) && decided;
        if (decided)
            add_square(s, left_out);
    }
    return decided;
}

/* With the variance of the sandwich or the information and the normal, or with that of leaving out and df. */
static void judge(const struct rt_limited *fit, const double *variance_of, double df, const double *z,
                  double null, struct rt_estimate *estimate)
{
    estimate->reason = fit->no_error;
    if (fit->no_error != NULL)
        return;
    size_t k = fit->linear.rank;
    double largest = 0; /* taken out so that extreme units stay in range */
    for (size_t r = 0; r < k; r++)
        largest = fmax(largest, fabs(z[r]));
    double variance = 0;
    for (size_t r = 0; r < k; r++)
        for (size_t c = 0; c < k; c++)
            variance += z[r] / largest * variance_of[r * k + c] * (z[c] / largest);
    estimate->standard_error = sqrt(fmax(0, variance)) * largest;
    estimate->df = df;
    rt_student_inference(estimate, null);
}

static void judge_coefficients(struct rt_limited *fit)
{
    for (size_t j = 0; j < fit->p; j++)
        fit->coefficient[j] =
            rt_undefined(fit->reason != NULL ? fit->reason : fit->linear.ordinary[j].reason);
    for (size_t k = 0; fit->reason == NULL && k < fit->linear.rank; k++) {
        struct rt_estimate *estimate = &fit->coefficient[fit->linear.basis.kept[k]];
        *estimate = rt_undefined(NULL);
        estimate->value = fit->coefficients[k];
        rt_basis_kept_coefficient(&fit->linear.basis, k, fit->linear.z);
        judge(fit, fit->variance, INFINITY, fit->linear.z, 0, estimate);
    }
}

/* --- the fit ------------------------------------------------------------------------------------------- */

/* Carry the maximum back to the units of the data. */
static void finish(struct rt_limited *fit, struct search *s, double scale, const struct rt_cluster_rows *rows,
                   double *scratch)
{
    size_t k = s->k;
    double h = s->parameter[k];
    fit->sigma = scale / h;
    fit->log_likelihood = s->value - (double)s->full * log(scale);
    for (size_t r = 0; r < k; r++)
        s->step[r] = scale * s->parameter[r] / h;
    rt_basis_coefficients(&fit->linear.basis, s->step, fit->coefficients);
    for (size_t r = 0; r < k; r++)
        fit->coefficients[r] += fit->linear.coefficients[r];
    if (rows == NULL)
        model_variance(s, fit->variance);
    else if (rows->count < 2)
        fit->no_error = few_clusters;
    else
        fit->left_out_known = robust_variance(s, rows, fit->variance, fit->left_out, scratch);
    for (size_t r = 0; r < k * k; r++) {
        fit->variance[r] *= scale * scale;
        fit->left_out[r] *= scale * scale;
    }
}

static enum rt_status search_maximum(struct rt_limited *fit, const bool *capped,
                                     const struct rt_cluster_rows *rows, struct rt_error *error)
{
    struct rt_linear *linear = &fit->linear;
    size_t m = linear->rank + 1;
    double *numbers = rt_new_array(5 * m + 3 * m * m, sizeof *numbers);
    if (numbers == NULL)
        return rt_fail_memory(error);
    double scale = 0; /* largest residual: the fit is sought in units of it */
    for (size_t i = 0; i < fit->n; i++)
        scale = fmax(scale, fabs(linear->residuals[i]));
    if (!(linear->sigma > 0) || !(scale > 0))
        scale = 1;
    for (size_t i = 0; i < fit->n; i++)
        linear->residuals[i] /= scale;
    struct search s = {.n = fit->n,
                       .k = linear->rank,
                       .m = m,
                       .q = linear->basis.q,
                       .y = linear->residuals,
                       .capped = capped,
                       .full = fit->n - fit->capped,
                       .parameter = numbers,
                       .trial = numbers + m,
                       .score = numbers + 2 * m,
                       .step = numbers + 3 * m,
                       .row = numbers + 4 * m,
                       .information = numbers + 5 * m,
                       .inverse = numbers + 5 * m + m * m};
    s.parameter[s.k] = 1;
    fit->reason = maximise(&s);
    if (fit->reason == NULL)
        finish(fit, &s, scale, rows, numbers + 5 * m + 2 * m * m);
    free(numbers);
    return RT_OK;
}

enum rt_status rt_limited_fit(struct rt_limited *fit, const double *y, const bool *capped, const double *x,
                              size_t n, size_t p, const struct rt_clusters *clusters, struct rt_error *error)
{
    *fit = (struct rt_limited){.n = n, .p = p, .sigma = NAN, .log_likelihood = NAN};
    struct rt_cluster_rows rows = {0};
    bool clustered = rt_has_clusters(clusters);
    enum rt_status status = rt_linear_fit(&fit->linear, y, x, n, p, NULL, error);
    if (status != RT_OK)
        return status;
    for (size_t i = 0; i < n; i++)
        fit->capped += capped[i];
    size_t k = fit->linear.rank;
    fit->coefficient = rt_new_array(p, sizeof *fit->coefficient);
    fit->coefficients = rt_new_array(k, sizeof *fit->coefficients);
    fit->variance = rt_new_array(k * k, sizeof *fit->variance);
    fit->left_out = rt_new_array(k * k, sizeof *fit->left_out);
    if (fit->coefficient == NULL || fit->coefficients == NULL || fit->variance == NULL ||
        fit->left_out == NULL)
        status = rt_fail_memory(error);
    if (status == RT_OK)
        status = rt_gather_clusters(clusters, n, &rows, error);
    fit->clusters = clustered ? rows.count : 0;
    if (n == 0)
        fit->reason = no_rows;
    else if (fit->capped == n)
        fit->reason = all_capped;
    else if (fit->linear.sigma == 0)
        fit->reason = exact;
    else if (status == RT_OK)
        status = search_maximum(fit, capped, clustered ? &rows : NULL, error);
    rt_cluster_rows_release(&rows);
    if (status == RT_OK)
        judge_coefficients(fit);
    else
        rt_limited_release(fit);
    return status;
}

struct rt_estimate rt_limited_combination(struct rt_limited *fit, const double *weights, double null)
{
    if (fit->reason != NULL)
        return rt_undefined(fit->reason);
    /* The reason for a combination that cannot be estimated is that of least squares. */
    struct rt_estimate estimate = rt_linear_combination(&fit->linear, weights, null);
    if (isnan(estimate.value) || !rt_basis_combination(&fit->linear.basis, weights, fit->linear.z))
        return estimate;
    estimate = rt_undefined(NULL);
    estimate.value = 0;
    for (size_t k = 0; k < fit->linear.rank; k++)
        estimate.value += weights[fit->linear.basis.kept[k]] * fit->coefficients[k];
    judge(fit, fit->variance, INFINITY, fit->linear.z, null, &estimate);
    return estimate;
}

struct rt_estimate rt_limited_left_out(struct rt_limited *fit, size_t column)
{
    struct rt_estimate estimate = fit->coefficient[column];
    size_t kept = 0;
    while (kept < fit->linear.rank && fit->linear.basis.kept[kept] != column)
        kept++;
    if (isnan(estimate.value) || isnan(estimate.standard_error) || fit->clusters < 2 ||
        kept == fit->linear.rank)
        return estimate;
    const double value = estimate.value, clusters = (double)fit->clusters;
    estimate = rt_undefined(fit->left_out_known ? NULL : one_decides);
    estimate.value = value;
    if (!fit->left_out_known)
        return estimate;
    rt_basis_kept_coefficient(&fit->linear.basis, kept, fit->linear.z);
    judge(fit, fit->left_out, clusters - 1, fit->linear.z, 0, &estimate);
    return estimate;
}

void rt_limited_release(struct rt_limited *fit)
{
    rt_linear_release(&fit->linear);
    free(fit->coefficient);
    free(fit->coefficients);
    free(fit->variance);
    free(fit->left_out);
    *fit = (struct rt_limited){0};
}
