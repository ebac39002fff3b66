#include "firth_private.h"

#include "ridgetally/base/memory.h"

#include <gsl/gsl_linalg.h>
#include <math.h>
#include <string.h>

enum rt_status rt_penalised_start(struct rt_penalised *model, const double *q, const double *times,
                                  const double *events, size_t n, size_t k, struct rt_error *error)
{
    double *numbers = rt_new_array(2 * n + 4 * k * k + 5 * k + k * k * k, sizeof *numbers);
    *model = (struct rt_penalised){.n = n, .k = k, .q = q, .times = times, .events = events, .g = numbers};
    if (numbers == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < n; i++)
        model->rows += times[i];
    model->score = numbers + k;
    model->step = model->score + k;
    model->trial = model->step + k;
    model->row = model->trial + k;
    model->share = model->row + k;
    model->leverage = model->share + n;
    model->inverse = model->leverage + n;
    model->curve = model->inverse + k * k;
    model->information = model->curve + k * k;
    model->third = model->information + 2 * k * k;
    return RT_OK;
}

void rt_penalised_release(struct rt_penalised *model)
{
    free(model->g);
    *model = (struct rt_penalised){0};
}

bool rt_solve_positive(const double *matrix, size_t k, size_t m, const double *right, double *x,
                       double *scratch)
{
    if (m == 0)
        return true;
    for (size_t i = 0; i < m; i++)
        for (size_t j = 0; j < m; j++)
            scratch[i * m + j] = matrix[i * k + j];
    gsl_matrix_view view = gsl_matrix_view_array(scratch, m, m);
    if (gsl_linalg_cholesky_decomp1(&view.matrix) != 0)
        return false;
    if (x != right)
        memcpy(x, right, m * sizeof *x);
    gsl_vector_view solution = gsl_vector_view_array(x, m);
    return gsl_linalg_cholesky_svx(&view.matrix, &solution.vector) == 0;
}

static double eta_of(const struct rt_penalised *model, size_t i)
{
    double eta = 0;
    for (size_t j = 0; j < model->k; j++)
        eta += model->q[i * model->k + j] * model->g[j];
    return eta;
}

/* l* at g: shares, information, its inverse. False when it is not finite. */
static bool evaluate(struct rt_penalised *model)
{
    size_t k = model->k;
    double value = 0;
    memset(model->information, 0, k * k * sizeof *model->information);
    for (size_t i = 0; i < model->n; i++) {
        const double *q = model->q + i * k;
        double eta = eta_of(model, i);
        double tail = exp(-fabs(eta));
        model->share[i] = eta >= 0 ? 1 / (1 + tail) : tail / (1 + tail);
        const double against = eta > 0 ? model->times[i] - model->events[i] : model->events[i];
        value -= model->times[i] * log1p(tail) + against * fabs(eta);
        double weight = model->times[i] * (tail / ((1 + tail) * (1 + tail)));
        for (size_t r = 0; r < k; r++)
            for (size_t s = 0; s <= r; s++)
                model->information[r * k + s] += weight * q[r] * q[s];
    }
    for (size_t r = 0; r < k; r++)
        for (size_t s = 0; s < r; s++)
            model->information[s * k + r] = model->information[r * k + s];
    memcpy(model->inverse, model->information, k * k * sizeof *model->inverse);
    if (k > 0) {
        gsl_matrix_view view = gsl_matrix_view_array(model->inverse, k, k);
        if (gsl_linalg_cholesky_decomp1(&view.matrix) != 0)
            return false;
        for (size_t r = 0; r < k; r++)
            value += log(gsl_matrix_get(&view.matrix, r, r));
        if (gsl_linalg_cholesky_invert(&view.matrix) != 0)
            return false;
    }
    model->value = value;
    return isfinite(value);
}

/* Of one row of the pattern. */
static double weight_of(const struct rt_penalised *model, size_t i)
{
    return model->share[i] * (1 - model->share[i]);
}

/* out = (Q'WQ)^-1 q_i; returns q_i' out. */
static double solve_row(const struct rt_penalised *model, size_t i, double *out)
{
    size_t k = model->k;
    const double *q = model->q + i * k;
    double length = 0;
    for (size_t r = 0; r < k; r++) {
        out[r] = 0;
        for (size_t s = 0; s < k; s++)
            out[r] += model->inverse[r * k + s] * q[s];
        length += q[r] * out[r];
    }
    return length;
}

/* third[s] = sum over rows of w (1 - 2 pi) q_s q q': derivative of the information by coordinate s. */
static void differentiate_information(struct rt_penalised *model)
{
    size_t k = model->k;
    memset(model->third, 0, k * k * k * sizeof *model->third);
    for (size_t i = 0; i < model->n; i++) {
        const double *q = model->q + i * k;
        double bend = model->times[i] * (weight_of(model, i) * (1 - 2 * model->share[i]));
        for (size_t s = 0; s < k; s++)
            for (size_t r = 0; r < k; r++)
                for (size_t t = 0; t < k; t++)
                    model->third[(s * k + r) * k + t] += bend * q[s] * q[r] * q[t];
    }
}

static double bilinear(const double *matrix, const double *v, size_t k)
{
    double value = 0;
    for (size_t r = 0; r < k; r++)
        for (size_t t = 0; t < k; t++)
            value += v[r] * matrix[r * k + t] * v[t];
    return value;
}

/* Score q (y - pi + h (1/2 - pi)) and its exact derivative. With h = w a, a = q'(Q'WQ)^-1 q,
 * dh/ds = w (1 - 2 pi) q_s a - w a-form of the derivative of the information. */
static void differentiate(struct rt_penalised *model)
{
    size_t k = model->k;
    differentiate_information(model);
    memset(model->score, 0, k * sizeof *model->score);
    memset(model->curve, 0, k * k * sizeof *model->curve);
    for (size_t i = 0; i < model->n; i++) {
        const double *q = model->q + i * k;
        double w = weight_of(model, i);
        double pi = model->share[i];
        double length = solve_row(model, i, model->row);
        double h = model->leverage[i] = w * length;
        double rest = model->events[i] - model->times[i] * pi + model->times[i] * (h * (0.5 - pi));
        for (size_t s = 0; s < k; s++) {
            double dh =
                w * ((1 - 2 * pi) * q[s] * length - bilinear(model->third + s * k * k, model->row, k));
            double slope = model->times[i] * (w * q[s] * (1 + h) - dh * (0.5 - pi));
            model->score[s] += rest * q[s];
            for (size_t r = 0; r < k; r++)
                model->curve[r * k + s] += slope * q[r];
        }
    }
    for (size_t r = 0; r < k; r++) /* the same by theory; made so in digits */
        for (size_t s = 0; s < r; s++)
            model->curve[r * k + s] = model->curve[s * k + r] =
                (model->curve[r * k + s] + model->curve[s * k + r]) / 2;
}

/* Direction of the next step: Newton, or scoring where l* is not concave. Returns the promised gain. */
static double direct(struct rt_penalised *model, size_t free)
{
    size_t k = model->k;
    double *scratch = model->information + k * k;
    if (!rt_solve_positive(model->curve, k, free, model->score, model->step, scratch) &&
        !rt_solve_positive(model->information, k, free, model->score, model->step, scratch))
        memcpy(model->step, model->score, free * sizeof *model->step);
    double promise = 0;
    double longest = 0;
    for (size_t i = 0; i < model->n; i++) {
        double move = 0;
        for (size_t r = 0; r < free; r++)
            move += model->q[i * k + r] * model->step[r];
        longest = fmax(longest, fabs(move));
    }
    double shorten = longest > 3 ? 3 / longest : 1;
    for (size_t r = 0; r < free; r++) {
        model->step[r] *= shorten;
        promise += model->step[r] * model->score[r];
    }
    return promise;
}

static bool advance(struct rt_penalised *model, size_t free, double promise)
{
    double before = model->value;
    double noise = 1e-12 * (1 + fabs(before));
    memcpy(model->trial, model->g, model->k * sizeof *model->trial);
    for (double part = 1; part > 1e-8; part /= 2) {
        for (size_t r = 0; r < free; r++)
            model->g[r] = model->trial[r] + part * model->step[r];
        if (evaluate(model) && (model->value > before || (promise < noise && model->value > before - noise)))
            return true;
    }
    memcpy(model->g, model->trial, model->k * sizeof *model->trial);
    evaluate(model);
    return false;
}

bool rt_penalised_maximise(struct rt_penalised *model, size_t free)
{
    if (!evaluate(model))
        return false;
    differentiate(model);
    int last_steps = 0;
    for (int round = 0; round < 200 && last_steps < 3; round++) {
        double promise = direct(model, free);
        if (promise < 1e-9)
            last_steps++; /* Newton doubles the digits with each of them */
        bool moved = promise > 0 && advance(model, free, promise);
        differentiate(model);
        if (!moved)
            break;
    }
    return true;
}
