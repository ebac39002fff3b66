#include "ridgetally/stats/hazard_likelihood.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <string.h>

#define MOST_TERMS 200
#define MOST_POWER 1e9 /* powers of 2 kept apart */

/* Moments of a set of rows are kept as: sum of risk, of risk z_j, of risk z_j z_k (k <= j); for the penalty as: sum of
 * risk, of risk z_j, of risk z_j z_k, of risk q, of risk q z_j, with q = z'Az. */
static size_t moment_count(size_t terms)
{
    return 1 + terms + terms * (terms + 1) / 2;
}

static enum rt_status check_model(const struct rt_hazard_model *model, struct rt_error *error)
{
    if (model->terms > MOST_TERMS)
        return rt_fail(error, RT_USE, "%zu terms; %d at most", model->terms, MOST_TERMS);
    for (size_t i = 0; i < model->data.n; i++)
        for (size_t j = 0; j < model->terms; j++)
            if (!isfinite(model->x[i * model->terms + j]))
                return rt_fail(error, RT_USE, "row %zu: the value of term %zu is not a number", i + 1, j + 1);
    return RT_OK;
}

/* Centre and scale column j in two passes. */
static void standardise(struct rt_partial *partial, size_t j)
{
    const double *x = partial->model->x + j;
    size_t n = partial->model->data.n;
    size_t terms = partial->terms;
    double most = 0;
    struct rt_sum sum = {0};
    for (size_t i = 0; i < n; i++) {
        rt_sum_add(&sum, x[i * terms] / (double)n);
        most = fmax(most, fabs(x[i * terms]));
    }
    double centre = rt_sum_value(&sum);
    double spread = 0;
    for (size_t i = 0; i < n; i++)
        spread = fmax(spread, fabs(x[i * terms] - centre));
    sum = (struct rt_sum){0};
    for (size_t i = 0; spread > 0 && i < n; i++) {
        double unit = (x[i * terms] - centre) / spread;
        rt_sum_add(&sum, unit * unit / (double)n);
    }
    bool constant = !(spread > 1e-14 * most);
    partial->centre[j] = centre;
    partial->scale[j] = constant ? 1 : spread * sqrt(rt_sum_value(&sum));
    for (size_t i = 0; i < n; i++)
        partial->z[i * terms + j] = constant ? 0 : (x[i * terms] - centre) / partial->scale[j];
}

static enum rt_status allocate(struct rt_partial *partial, size_t n, struct rt_error *error)
{
    size_t terms = partial->terms;
    size_t moments = moment_count(terms) + 1 + terms;
    partial->z = rt_new_array(n, (terms == 0 ? 1 : terms) * sizeof *partial->z);
    partial->centre = rt_new_array(terms, sizeof *partial->centre);
    partial->scale = rt_new_array(terms, sizeof *partial->scale);
    partial->predictor = rt_new_array(n, sizeof *partial->predictor);
    partial->risk = rt_new_array(n, sizeof *partial->risk);
    partial->power = rt_new_array(n, sizeof *partial->power);
    partial->sums = rt_new_array(moments, sizeof *partial->sums);
    partial->tied = rt_new_array(moments, sizeof *partial->tied);
    partial->moment = rt_new_array(moments, sizeof *partial->moment);
    bool complete = partial->z != NULL && partial->centre != NULL && partial->scale != NULL &&
                    partial->predictor != NULL && partial->risk != NULL && partial->power != NULL &&
                    partial->sums != NULL && partial->tied != NULL && partial->moment != NULL;
    return complete ? RT_OK : rt_fail_memory(error);
}

enum rt_status rt_partial_prepare(struct rt_partial *partial, const struct rt_hazard_model *model,
                                  struct rt_error *error)
{
    *partial = (struct rt_partial){.model = model, .terms = model->terms};
    enum rt_status status = check_model(model, error);
    if (status == RT_OK)
        status = rt_timeline_build(&partial->timeline, &model->data, 1, error);
    if (status == RT_OK)
        status = rt_stratify(&partial->strata, &partial->timeline, model->stratum, model->strata, error);
    if (status == RT_OK)
        status = allocate(partial, model->data.n, error);
    if (status != RT_OK)
        return status;
    for (size_t j = 0; j < model->terms; j++)
        standardise(partial, j);
    for (size_t i = 0; i < model->data.n; i++)
        partial->events += model->data.event[i] != 0 ? 1 : 0;
    return rt_risk_sets_count(partial, error);
}

void rt_partial_release(struct rt_partial *partial)
{
    rt_timeline_release(&partial->timeline);
    rt_stratified_release(&partial->strata);
    rt_risk_sets_release(&partial->sets);
    free(partial->z);
    free(partial->centre);
    free(partial->scale);
    free(partial->predictor);
    free(partial->risk);
    free(partial->power);
    free(partial->sums);
    free(partial->tied);
    free(partial->moment);
    *partial = (struct rt_partial){0};
}

void rt_partial_take_risk(const double *z, const double *b, size_t terms, double *predictor, double *mantissa,
                          int *power)
{
    double sum = 0;
    for (size_t j = 0; j < terms; j++)
        sum += z[j] * b[j];
    const double whole = fmin(fmax(floor(sum / M_LN2), -MOST_POWER), MOST_POWER);
    *predictor = sum;
    *power = (int)whole;
    *mantissa = exp(sum - whole * M_LN2);
}

void rt_partial_clear_sums(struct rt_partial *partial, size_t count)
{
    memset(partial->sums, 0, count * sizeof *partial->sums);
    partial->in_sums = 0;
}

double rt_partial_row_risk(struct rt_partial *partial, size_t row, bool joins, size_t count)
{
    if (!joins) {
        partial->in_sums--;
        if (partial->in_sums == 0)
            memset(partial->sums, 0, count * sizeof *partial->sums);
    } else if (partial->in_sums++ == 0) {
        partial->unit = partial->power[row];
    } else if (partial->power[row] > partial->unit) {
        int shift = partial->unit - partial->power[row];
        for (size_t i = 0; i < count; i++) {
            partial->sums[i].high = ldexp(partial->sums[i].high, shift);
            partial->sums[i].low = ldexp(partial->sums[i].low, shift);
            partial->tied[i] = ldexp(partial->tied[i], shift);
        }
        partial->unit = partial->power[row];
    }
    return ldexp(partial->risk[row], partial->power[row] - partial->unit);
}

/* What one sweep is for. */
struct pass {
    struct rt_partial *partial;
    size_t moments;        /* how many sums are kept */
    const double *inverse; /* A of the penalty; NULL in an evaluation */
    const struct rt_partial_weights *weights;
    double log_likelihood;
    double *score; /* or the penalty's gradient */
    double *information;
};

static double row_form(const struct pass *pass, const double *z)
{
    size_t terms = pass->partial->terms;
    double form = 0;
    for (size_t j = 0; j < terms; j++)
        for (size_t k = 0; k < terms; k++)
            form += z[j] * pass->inverse[j * terms + k] * z[k];
    return form;
}

/* Count a row's moments into or out of the sums, and into those tied when it fails. */
static void count_row(const struct pass *pass, size_t row, bool joins, bool fails)
{
    struct rt_partial *partial = pass->partial;
    size_t terms = partial->terms;
    const double *z = partial->z + row * terms;
    double risk = rt_partial_row_risk(partial, row, joins, pass->moments);
    if (partial->in_sums == 0)
        return; /* the last one has left */
    risk = joins ? risk : -risk;
    size_t m = 0;
    double *term = partial->moment;
    term[m++] = risk;
    for (size_t j = 0; j < terms; j++)
        term[m++] = risk * z[j];
    for (size_t j = 0; j < terms; j++)
        for (size_t k = 0; k <= j; k++)
            term[m++] = risk * z[j] * z[k];
    if (pass->inverse != NULL) {
        double form = risk * row_form(pass, z);
        term[m++] = form;
        for (size_t j = 0; j < terms; j++)
            term[m++] = form * z[j];
    }
    for (size_t i = 0; i < m; i++)
        rt_sum_add(&partial->sums[i], term[i]);
    for (size_t i = 0; fails && i < m; i++)
        partial->tied[i] += term[i];
}

/* Moments with a share of the tied failures taken out; the first is the sum of risks, the rest are divided by it. */
static double fill_moments(const struct pass *pass, double share)
{
    struct rt_partial *partial = pass->partial;
    double total = rt_sum_value(&partial->sums[0]) - share * partial->tied[0];
    for (size_t i = 1; i < pass->moments; i++)
        partial->moment[i] = (rt_sum_value(&partial->sums[i]) - share * partial->tied[i]) / total;
    return total;
}

/* One step through tied failures, counted `times` times: log-likelihood, score and information. */
static void count_step(struct pass *pass, double share, double times, size_t k)
{
    const struct rt_partial *partial = pass->partial;
    size_t terms = partial->terms;
    double total = fill_moments(pass, share);
    if (!(total > 0)) {
        pass->log_likelihood = -INFINITY;
        return;
    }
    pass->log_likelihood -= times * (log(total) + partial->unit * M_LN2);
    const double *mean = partial->moment + 1;
    const double *square = mean + terms;
    const struct rt_partial_weights *weights = pass->weights;
    double score_weight = times * (weights == NULL || weights->score == NULL ? 1 : weights->score[k]);
    double information_weight =
        times * (weights == NULL || weights->information == NULL ? 1 : weights->information[k]);
    for (size_t j = 0; j < terms; j++) {
        pass->score[j] -= score_weight * mean[j];
        for (size_t i = 0; i <= j; i++)
            pass->information[j * terms + i] += information_weight * (*square++ - mean[j] * mean[i]);
    }
}

/* The same for the penalty: with V the covariance and m the mean of z in the risk set, half of
 * E[(z_j - m_j) q] - 2 sum over k of V_jk (A m)_k. */
static void count_penalty_step(struct pass *pass, double share, double times)
{
    const struct rt_partial *partial = pass->partial;
    size_t terms = partial->terms;
    if (!(fill_moments(pass, share) > 0))
        return;
    const double *mean = partial->moment + 1;
    const double *square = mean + terms;
    const double *form = partial->moment + moment_count(terms);
    for (size_t j = 0; j < terms; j++) {
        double third = form[1 + j] - mean[j] * form[0];
        for (size_t k = 0; k < terms; k++) {
            size_t cell = k <= j ? j * (j + 1) / 2 + k : k * (k + 1) / 2 + j;
            double covariance = square[cell] - mean[j] * mean[k];
            for (size_t l = 0; l < terms; l++)
                third -= 2 * covariance * pass->inverse[k * terms + l] * mean[l];
        }
        pass->score[j] += times * third / 2;
    }
}

/* All failures of one time. */
static void count_failures(struct pass *pass, size_t failures, size_t k)
{
    bool efron = pass->partial->model->ties == RT_TIES_EFRON && failures > 1;
    size_t steps = efron ? failures : 1;
    for (size_t step = 0; step < steps; step++) {
        double share = efron ? (double)step / (double)failures : 0;
        double times = efron ? 1 : (double)failures;
        if (pass->inverse == NULL)
            count_step(pass, share, times, k);
        else
            count_penalty_step(pass, share, times);
    }
}

/* A failure's own part of the log-likelihood and the score. */
static void count_own(struct pass *pass, size_t row, size_t k)
{
    const struct rt_partial *partial = pass->partial;
    const struct rt_partial_weights *weights = pass->weights;
    pass->log_likelihood += partial->predictor[row];
    double weight = weights == NULL || weights->score == NULL ? 1 : weights->score[k];
    for (size_t j = 0; pass->inverse == NULL && j < partial->terms; j++)
        pass->score[j] += weight * partial->z[row * partial->terms + j];
}

/* Rows are met by time and lie by patient: memory is told a few rows ahead which ones come next. */
static void fetch_row(const struct rt_partial *partial, size_t row)
{
#ifdef __GNUC__
    const double *z = partial->z + row * partial->terms;
    __builtin_prefetch(&partial->timeline.exit[row]);
    __builtin_prefetch(&partial->model->data.event[row]);
    __builtin_prefetch(&partial->power[row]);
    __builtin_prefetch(&partial->risk[row]);
    __builtin_prefetch(z);
    __builtin_prefetch(z + partial->terms);
#else
    (void)partial;
    (void)row;
#endif
}

static void sweep_stratum(struct pass *pass, size_t s)
{
    enum { AHEAD = 8 };
    struct rt_partial *partial = pass->partial;
    const struct rt_timeline *timeline = &partial->timeline;
    const struct rt_stratified *strata = &partial->strata;
    rt_partial_clear_sums(partial, pass->moments);
    size_t late = strata->entry_start[s + 1];
    for (size_t end = strata->exit_start[s + 1]; end > strata->exit_start[s];) {
        size_t k = timeline->exit[strata->by_exit[end - 1]];
        for (; late > strata->entry_start[s] && timeline->first[strata->by_entry[late - 1]] > k; late--)
            count_row(pass, strata->by_entry[late - 1], false, false);
        memset(partial->tied, 0, pass->moments * sizeof *partial->tied);
        size_t failures = 0;
        for (; end > strata->exit_start[s] && timeline->exit[strata->by_exit[end - 1]] == k; end--) {
            size_t row = strata->by_exit[end - 1];
            bool fails = partial->model->data.event[row] != 0;
            if (end - strata->exit_start[s] > AHEAD)
                fetch_row(partial, strata->by_exit[end - 1 - AHEAD]);
            count_row(pass, row, true, fails);
            if (fails)
                count_own(pass, row, k);
            failures += fails ? 1 : 0;
        }
        if (failures > 0)
            count_failures(pass, failures, k);
    }
}

static void sweep_strata(struct pass *pass)
{
    for (size_t s = 0; s < pass->partial->strata.strata; s++)
        sweep_stratum(pass, s);
}

static void evaluate_rows(struct pass *pass, const double *b)
{
    struct rt_partial *partial = pass->partial;
    for (size_t i = 0; i < partial->model->data.n; i++)
        rt_partial_take_risk(partial->z + i * partial->terms, b, partial->terms, &partial->predictor[i],
                             &partial->risk[i], &partial->power[i]);
    sweep_strata(pass);
}

double rt_partial_evaluate(struct rt_partial *partial, const double *b,
                           const struct rt_partial_weights *weights, double *score, double *information)
{
    size_t terms = partial->terms;
    struct pass pass = {.partial = partial,
                        .moments = moment_count(terms),
                        .weights = weights,
                        .score = score,
                        .information = information};
    memset(score, 0, terms * sizeof *score);
    memset(information, 0, terms * terms * sizeof *information);
    if (partial->sets.count > 0)
        pass.log_likelihood = rt_risk_sets_evaluate(partial, b, weights, score, information);
    else
        evaluate_rows(&pass, b);
    for (size_t j = 0; j < terms; j++)
        for (size_t k = 0; k < j; k++)
            information[k * terms + j] = information[j * terms + k];
    return isnan(pass.log_likelihood) ? -INFINITY : pass.log_likelihood;
}

void rt_partial_penalty(struct rt_partial *partial, const double *inverse, double *gradient)
{
    struct pass pass = {.partial = partial,
                        .moments = moment_count(partial->terms) + 1 + partial->terms,
                        .inverse = inverse,
                        .score = gradient};
    memset(gradient, 0, partial->terms * sizeof *gradient);
    if (partial->sets.count > 0)
        rt_risk_sets_penalty(partial, inverse, gradient);
    else
        sweep_strata(&pass);
}
