#include "hazard_private.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/hazard_likelihood.h"
#include "ridgetally/stats/semidefinite.h"
#include "ridgetally/stats/tail.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#define RANK_TOLERANCE 1e-10

static const char NO_EVENT[] = "no event";
static const char NO_TERM[] = "no term in the model";
static const char CONSTANT[] =
    "redundant: constant wherever a failure is compared, or given by earlier terms";
static const char INFINITE[] = "infinite: the failures are ordered by this term without exception (monotone "
                               "likelihood); see the penalised estimate";
static const char UNDETERMINED[] =
    "not determined: nothing is left to estimate it by beside a term that is infinite "
    "(monotone likelihood); see the penalised estimate";
static const char FEW_CLUSTERS[] = "too few clusters for this many terms";
static const char ONE_CLUSTER[] = "only one cluster: its error cannot be estimated";
static const char NO_ROBUST_FORM[] = "the likelihood-ratio test has no form for clustered rows";
static const char NOT_FOUND[] = "the maximum of the likelihood was not found";

static enum rt_status allocate(struct rt_hazard_work *work, struct rt_hazard *fit, bool clustered,
                               struct rt_error *error)
{
    size_t p = work->terms;
    size_t units = rt_influence_length(&work->partial.model->data);
    work->b = rt_new_array(p, sizeof *work->b);
    work->trial = rt_new_array(p, sizeof *work->trial);
    work->step = rt_new_array(p, sizeof *work->step);
    work->score = rt_new_array(p, sizeof *work->score);
    work->information = rt_new_array(p * p, sizeof *work->information);
    work->factor = rt_new_array(p * p, sizeof *work->factor);
    work->inverse = rt_new_array(p * p, sizeof *work->inverse);
    work->middle = rt_new_array(p * p, sizeof *work->middle);
    work->redundant = rt_new_array(p, sizeof *work->redundant);
    work->dropped = rt_new_array(p, sizeof *work->dropped);
    work->infinite = rt_new_array(p, sizeof *work->infinite);
    work->frozen = rt_new_array(p, sizeof *work->frozen);
    work->undetermined = rt_new_array(p, sizeof *work->undetermined);
    work->recession = rt_new_array(p, sizeof *work->recession);
    work->sums = clustered ? rt_new_array(units, (p == 0 ? 1 : p) * sizeof *work->sums) : NULL;
    fit->coefficient = rt_new_array(p, sizeof *fit->coefficient);
    fit->model_error = rt_new_array(p, sizeof *fit->model_error);
    fit->robust_error = rt_new_array(p, sizeof *fit->robust_error);
    fit->covariance = rt_new_array(p * p, sizeof *fit->covariance);
    fit->robust_covariance = clustered ? rt_new_array(p * p, sizeof *fit->robust_covariance) : NULL;
    bool complete = work->b != NULL && work->trial != NULL && work->step != NULL && work->score != NULL &&
                    work->information != NULL && work->factor != NULL && work->inverse != NULL &&
                    work->middle != NULL && work->redundant != NULL && work->dropped != NULL &&
                    work->infinite != NULL && work->frozen != NULL && work->undetermined != NULL &&
                    work->recession != NULL && fit->coefficient != NULL && fit->model_error != NULL &&
                    fit->robust_error != NULL && fit->covariance != NULL;
    complete = complete && (!clustered || (work->sums != NULL && fit->robust_covariance != NULL));
    return complete ? RT_OK : rt_fail_memory(error);
}

static void free_work(struct rt_hazard_work *work)
{
    free(work->b);
    free(work->trial);
    free(work->step);
    free(work->score);
    free(work->information);
    free(work->factor);
    free(work->inverse);
    free(work->sums);
    free(work->middle);
    free(work->redundant);
    free(work->dropped);
    free(work->infinite);
    free(work->frozen);
    free(work->undetermined);
    free(work->recession);
    rt_partial_release(&work->partial);
}

/* Mark the columns that bear nothing of their own at b = 0. z has unit variance, so a column's information is of the
 * order of the number of events unless it is constant in the risk sets. */
static void drop_redundant(struct rt_hazard_work *work)
{
    size_t p = work->terms;
    for (size_t j = 0; j < p; j++)
        if (!(work->information[j * p + j] > RT_HAZARD_REDUNDANT * (double)work->partial.events))
            work->information[j * p + j] = 0;
    rt_hazard_factor(work, RT_HAZARD_REDUNDANT);
    memcpy(work->dropped, work->redundant, p * sizeof *work->dropped);
    for (size_t j = 0; j < p; j++)
        if (work->dropped[j])
            work->information[j * p + j] = 0;
}

/* The sum over clusters of r r' at the b of the last evaluation. */
static enum rt_status fill_middle(struct rt_hazard_work *work, size_t *bearing, struct rt_error *error)
{
    size_t p = work->terms;
    *bearing = 0;
    enum rt_status status = rt_partial_cluster_scores(&work->partial, NULL, work->sums, error);
    memset(work->middle, 0, p * p * sizeof *work->middle);
    for (size_t c = 0; status == RT_OK && c < work->partial.model->data.clusters.count; c++) {
        const double *r = work->sums + c * p;
        double size = 0;
        for (size_t j = 0; j < p; j++) {
            if (work->dropped[j])
                continue;
            size += fabs(r[j]);
            for (size_t k = 0; k < p; k++)
                work->middle[j * p + k] += work->dropped[k] ? 0 : r[j] * r[k];
        }
        *bearing += size > 1e-12 ? 1 : 0;
    }
    return status;
}

/* Chi-square of vector by a covariance; undefined when the clusters do not span its rank. */
static enum rt_status chi_square(const struct rt_hazard_work *work, const double *covariance,
                                 const double *vector, size_t bearing, struct rt_estimate *test,
                                 struct rt_error *error)
{
    size_t rank = 0;
    double form = rt_semidefinite_form(covariance, work->terms, vector, RANK_TOLERANCE, &rank);
    if (isnan(form) && work->terms > 0)
        return rt_fail_memory(error);
    bool spanned = rank == work->rank && bearing > rank;
    *test = spanned ? rt_chi_square_test(form, (double)rank) : rt_undefined(FEW_CLUSTERS);
    return RT_OK;
}

/* The score tests at b = 0, where the last evaluation was. */
static enum rt_status test_score(struct rt_hazard_work *work, struct rt_hazard *fit, struct rt_error *error)
{
    memcpy(work->step, work->score, work->terms * sizeof *work->step);
    rt_semidefinite_solve(work->factor, work->terms, work->redundant, work->step);
    double form = 0;
    for (size_t j = 0; j < work->terms; j++)
        form += work->step[j] * work->score[j];
    fit->model_score = rt_chi_square_test(form, (double)work->rank);
    fit->score = fit->model_score;
    if (work->sums == NULL)
        return RT_OK;
    size_t bearing = 0;
    enum rt_status status = fill_middle(work, &bearing, error);
    return status == RT_OK ? chi_square(work, work->middle, work->score, bearing, &fit->score, error)
                           : status;
}

static const char *why_undefined(const struct rt_hazard_work *work, size_t j)
{
    if (work->dropped[j])
        return CONSTANT;
    return work->infinite[j] ? INFINITE : work->undetermined[j] ? UNDETERMINED : NULL;
}

/* Model and robust covariance in units of x, and the Wald tests. */
static enum rt_status fill_covariances(struct rt_hazard_work *work, struct rt_hazard *fit,
                                       struct rt_error *error)
{
    size_t p = work->terms;
    rt_hazard_factor(work, 0);
    rt_semidefinite_invert(work->factor, p, work->redundant, work->inverse);
    size_t bearing = SIZE_MAX;
    enum rt_status status = RT_OK;
    if (work->sums != NULL)
        status = fill_middle(work, &bearing, error);
    if (status != RT_OK)
        return status;
    for (size_t j = 0; work->sums != NULL && j < p; j++)
        for (size_t k = 0; k < p; k++) {
            double sum = 0;
            for (size_t a = 0; a < p; a++)
                for (size_t b = 0; b < p; b++)
                    sum += work->inverse[j * p + a] * work->middle[a * p + b] * work->inverse[b * p + k];
            fit->robust_covariance[j * p + k] = sum;
        }
    if (!fit->monotone) {
        status = chi_square(work, work->inverse, work->b, SIZE_MAX, &fit->model_wald, error);
        fit->wald = fit->model_wald;
        if (status == RT_OK && work->sums != NULL)
            status = chi_square(work, fit->robust_covariance, work->b, bearing, &fit->wald, error);
        if (status != RT_OK)
            return status;
    }
    for (size_t j = 0; j < p; j++)
        for (size_t k = 0; k < p; k++) {
            double unit = work->partial.scale[j] * work->partial.scale[k];
            bool undefined = work->dropped[j] || work->dropped[k] || work->infinite[j] || work->infinite[k];
            fit->covariance[j * p + k] = undefined ? NAN : work->inverse[j * p + k] / unit;
            if (fit->robust_covariance != NULL)
                fit->robust_covariance[j * p + k] =
                    undefined || fit->clusters_present < 2 ? NAN : fit->robust_covariance[j * p + k] / unit;
        }
    return RT_OK;
}

static void fill_coefficients(const struct rt_hazard_work *work, struct rt_hazard *fit)
{
    size_t p = work->terms;
    for (size_t j = 0; j < p; j++) {
        struct rt_estimate *term = &fit->coefficient[j];
        *term = rt_undefined(why_undefined(work, j));
        fit->model_error[j] = sqrt(fit->covariance[j * p + j]);
        fit->robust_error[j] = fit->robust_covariance == NULL ? NAN : sqrt(fit->robust_covariance[j * p + j]);
        if (term->reason != NULL)
            continue;
        term->value = work->b[j] / work->partial.scale[j];
        term->standard_error = work->sums == NULL ? fit->model_error[j] : fit->robust_error[j];
        rt_normal_inference(term);
        if (isnan(term->standard_error))
            term->reason = ONE_CLUSTER;
        else if (isnan(term->p))
            term->reason = "no variation between clusters";
    }
}

static void fill_ratio_test(const struct rt_hazard_work *work, struct rt_hazard *fit)
{
    double gain = 2 * fmax(0, fit->log_likelihood - fit->log_likelihood_null);
    fit->model_likelihood_ratio = rt_chi_square_test(gain, fit->model_score.df);
    fit->likelihood_ratio = work->sums == NULL ? fit->model_likelihood_ratio : rt_undefined(NO_ROBUST_FORM);
}

static void count_clusters(struct rt_hazard *fit, const struct rt_follow_up *data, unsigned char *seen)
{
    for (size_t i = 0; i < data->n; i++) {
        if (data->clusters.of == NULL) {
            fit->clusters_with_events += data->event[i] != 0 ? 1 : 0;
            continue;
        }
        unsigned char *mark = &seen[data->clusters.of[i]];
        fit->clusters_present += *mark == 0 ? 1 : 0;
        fit->clusters_with_events += data->event[i] != 0 && *mark < 2 ? 1 : 0;
        *mark = data->event[i] != 0 || *mark == 2 ? 2 : 1;
    }
    if (data->clusters.of == NULL)
        fit->clusters_present = data->n;
}

/* Everything undefined for one reason. */
static void leave_undefined(struct rt_hazard *fit, const char *reason)
{
    fit->reason = reason;
    fit->likelihood_ratio = fit->wald = fit->score = rt_undefined(reason);
    fit->model_likelihood_ratio = fit->model_wald = fit->model_score = rt_undefined(reason);
    for (size_t j = 0; j < fit->terms; j++) {
        fit->coefficient[j] = rt_undefined(reason);
        fit->model_error[j] = fit->robust_error[j] = NAN;
    }
    for (size_t cell = 0; cell < fit->terms * fit->terms; cell++) {
        fit->covariance[cell] = NAN;
        if (fit->robust_covariance != NULL)
            fit->robust_covariance[cell] = NAN;
    }
}

static enum rt_status fit_model(struct rt_hazard_work *work, struct rt_hazard *fit, struct rt_error *error)
{
    fit->log_likelihood_null = rt_hazard_evaluate(work, work->b);
    fit->log_likelihood = fit->log_likelihood_null;
    drop_redundant(work);
    if (work->terms == 0 || work->rank == 0) {
        leave_undefined(fit, work->terms == 0 ? NO_TERM : CONSTANT);
        return RT_OK;
    }
    enum rt_status status = test_score(work, fit, error);
    if (status == RT_OK)
        status = rt_hazard_climb(work, fit, error);
    if (status == RT_OK && !work->converged && !fit->monotone) {
        leave_undefined(fit, NOT_FOUND);
        return RT_OK;
    }
    if (status == RT_OK)
        status = fill_covariances(work, fit, error);
    if (status == RT_OK) {
        fill_ratio_test(work, fit);
        fill_coefficients(work, fit);
    }
    return status;
}

enum rt_status rt_hazard(struct rt_hazard *fit, const struct rt_hazard_model *model, struct rt_error *error)
{
    bool clustered = model->data.clusters.of != NULL;
    *fit = (struct rt_hazard){.terms = model->terms, .n = model->data.n};
    fit->wald = fit->model_wald = rt_undefined(INFINITE);
    struct rt_hazard_work work = {.terms = model->terms};
    unsigned char *seen = rt_new_array(model->data.clusters.count, 1);
    enum rt_status status = seen == NULL ? rt_fail_memory(error) : RT_OK;
    if (status == RT_OK)
        status = rt_partial_prepare(&work.partial, model, error);
    if (status == RT_OK)
        status = allocate(&work, fit, clustered, error);
    if (status == RT_OK) {
        fit->events = work.partial.events;
        count_clusters(fit, &model->data, seen);
        if (fit->events == 0)
            leave_undefined(fit, NO_EVENT);
        else
            status = fit_model(&work, fit, error);
    }
    free_work(&work);
    free(seen);
    return status;
}

void rt_hazard_release(struct rt_hazard *fit)
{
    free(fit->coefficient);
    free(fit->model_error);
    free(fit->robust_error);
    free(fit->covariance);
    free(fit->robust_covariance);
    *fit = (struct rt_hazard){0};
}
