#include "ridgetally/base/memory.h"
#include "ridgetally/stats/hazard_likelihood.h"
#include "ridgetally/stats/semidefinite.h"
#include "ridgetally/stats/tail.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#define CHI_SQUARE_95 3.841458820694124 /* 0.95 quantile of chi-square on 1 degree of freedom */
#define REDUNDANT     1e-11
#define MOST_STEPS    200
#define MOST_HALVINGS 40
#define MOST_ROUNDS   100
#define LONGEST_STEP  5.0

static const char NOT_FOUND[] = "the maximum of the penalised likelihood was not found";
static const char NO_LIMIT[] =
    "no limit: the penalised likelihood does not fall far enough, or could not be followed there";

/* The penalised fit in coefficients of z. `fixed` is the term held by a profile, or SIZE_MAX. */
struct penalised {
    struct rt_partial partial;
    size_t terms;
    bool *dropped, *redundant;
    double *b, *best, *trial, *step;           /* terms */
    double *score, *gradient;                  /* terms: of the likelihood, of the penalty */
    double *slope, *slope_above, *slope_below; /* terms: sums of the two */
    double *information, *factor, *inverse;    /* terms x terms */
    double *curvature, *kept;                  /* terms x terms */
    double maximum;
    double design_effect; /* of the term being profiled */
    size_t fixed;
    bool one_cluster;
    bool failed; /* a maximisation did not come to its end */
};

static enum rt_status allocate(struct penalised *f, struct rt_error *error)
{
    size_t p = f->terms;
    f->dropped = rt_new_array(p, sizeof *f->dropped);
    f->redundant = rt_new_array(p, sizeof *f->redundant);
    double **vectors[] = {&f->b,        &f->best,  &f->trial,       &f->step,       &f->score,
                          &f->gradient, &f->slope, &f->slope_above, &f->slope_below};
    double **matrices[] = {&f->information, &f->factor, &f->inverse, &f->curvature, &f->kept};
    bool complete = f->dropped != NULL && f->redundant != NULL;
    for (size_t v = 0; v < sizeof vectors / sizeof vectors[0]; v++) {
        *vectors[v] = rt_new_array(p, sizeof **vectors[v]);
        complete = complete && *vectors[v] != NULL;
    }
    for (size_t m = 0; m < sizeof matrices / sizeof matrices[0]; m++) {
        *matrices[m] = rt_new_array(p * p, sizeof **matrices[m]);
        complete = complete && *matrices[m] != NULL;
    }
    return complete ? RT_OK : rt_fail_memory(error);
}

static void free_penalised(struct penalised *f)
{
    free(f->dropped);
    free(f->redundant);
    free(f->b);
    free(f->best);
    free(f->trial);
    free(f->step);
    free(f->score);
    free(f->gradient);
    free(f->information);
    free(f->factor);
    free(f->inverse);
    free(f->slope);
    free(f->slope_above);
    free(f->slope_below);
    free(f->curvature);
    free(f->kept);
    rt_partial_release(&f->partial);
}

/* The penalised log-likelihood at b, with score, information and its inverse. */
static double evaluate(struct penalised *f, const double *b)
{
    size_t p = f->terms;
    double value = rt_partial_evaluate(&f->partial, b, NULL, f->score, f->information);
    for (size_t j = 0; j < p; j++)
        if (f->dropped[j])
            f->information[j * p + j] = 0;
    memcpy(f->factor, f->information, p * p * sizeof *f->factor);
    size_t rank = rt_semidefinite_factor(f->factor, p, 1e-14, f->redundant);
    for (size_t j = 0; j < p; j++)
        rank += f->dropped[j] ? 1 : 0;
    if (rank < p || !isfinite(value))
        return -INFINITY;
    rt_semidefinite_invert(f->factor, p, f->redundant, f->inverse);
    return value + rt_semidefinite_log_determinant(f->factor, p, f->redundant) / 2;
}

/* The penalised score at b into slope. */
static double evaluate_slope(struct penalised *f, const double *b, double *slope)
{
    double value = evaluate(f, b);
    if (!isfinite(value))
        return value;
    rt_partial_penalty(&f->partial, f->inverse, f->gradient);
    for (size_t j = 0; j < f->terms; j++)
        slope[j] = f->dropped[j] ? 0 : f->score[j] + f->gradient[j];
    return value;
}

static bool is_held(const struct penalised *f, size_t j)
{
    return f->dropped[j] || j == f->fixed;
}

/* Curvature (minus the second derivatives) of the free terms by central differences of the slope; false when out of reach. */
static bool fill_curvature(struct penalised *f)
{
    const double h = 1e-4;
    size_t p = f->terms;
    memcpy(f->trial, f->b, p * sizeof *f->trial);
    memset(f->curvature, 0, p * p * sizeof *f->curvature);
    for (size_t j = 0; j < p; j++) {
        if (is_held(f, j))
            continue;
        f->trial[j] = f->b[j] + h;
        double above = evaluate_slope(f, f->trial, f->slope_above);
        f->trial[j] = f->b[j] - h;
        double below = evaluate_slope(f, f->trial, f->slope_below);
        f->trial[j] = f->b[j];
        if (!isfinite(above) || !isfinite(below))
            return false;
        for (size_t k = 0; k < p; k++)
            f->curvature[j * p + k] = (f->slope_below[k] - f->slope_above[k]) / (2 * h);
    }
    for (size_t j = 0; j < p; j++)
        for (size_t k = 0; k < j; k++) { /* what a held term shares with a free one is not looked at */
            double mean = (f->curvature[j * p + k] + f->curvature[k * p + j]) / 2;
            f->curvature[j * p + k] = mean;
            f->curvature[k * p + j] = mean;
        }
    return true;
}

/* Solve matrix step = slope over the free terms; false when the matrix is not positive there. */
static bool solve_step(struct penalised *f, const double *matrix)
{
    size_t p = f->terms;
    memcpy(f->factor, matrix, p * p * sizeof *f->factor);
    size_t free_terms = 0;
    for (size_t j = 0; j < p; j++) {
        bool held = is_held(f, j);
        free_terms += held ? 0 : 1;
        if (held)
            f->factor[j * p + j] = 0;
        f->step[j] = f->slope[j];
    }
    size_t rank = rt_semidefinite_factor(f->factor, p, 1e-12, f->redundant);
    rt_semidefinite_solve(f->factor, p, f->redundant, f->step);
    return rank == free_terms;
}

/* Newton step from f->b into f->step, by the information where the curvature is not positive; returns its length, NaN
 * when there is none. The curvature, dearest by far, is taken anew unless the one from before will still do. */
static double find_step(struct penalised *f, bool renew)
{
    size_t p = f->terms;
    evaluate_slope(f, f->b, f->slope);
    memcpy(f->kept, f->information, p * p * sizeof *f->kept);
    if ((renew && !fill_curvature(f)) || !solve_step(f, f->curvature)) {
        memset(f->curvature, 0, p * p * sizeof *f->curvature);
        if (!solve_step(f, f->kept))
            return NAN;
    }
    double length = 0;
    for (size_t j = 0; j < p; j++)
        length = fmax(length, fabs(f->step[j]));
    for (size_t j = 0; length > LONGEST_STEP && j < p; j++)
        f->step[j] *= LONGEST_STEP / length;
    return length;
}

static bool any_free(const struct penalised *f)
{
    for (size_t j = 0; j < f->terms; j++)
        if (!is_held(f, j))
            return true;
    return false;
}

/* Maximise from f->b over all terms but the fixed one; the maximum, or NaN. Leaves the last evaluation at f->b. */
static double maximise(struct penalised *f)
{
    size_t p = f->terms;
    double value = evaluate(f, f->b);
    double before = INFINITY;
    double length = INFINITY;
    if (!any_free(f))
        return isfinite(value) ? value : NAN;
    for (int step = 0; isfinite(value) && step < MOST_STEPS; step++) {
        bool shrinking = step > 0 && length < 0.2 * before && length < 0.1;
        before = length;
        length = find_step(f, !shrinking);
        double size = 0;
        for (size_t j = 0; j < p; j++)
            size = fmax(size, fabs(f->b[j]));
        bool at_rounding = length < 1e-6 * (1 + size) && length > before / 2; /* steps shrink faster else */
        if (!(length >= 1e-10 * (1 + size)) || at_rounding)
            return isnan(length) ? NAN : evaluate(f, f->b);
        bool moved = false;
        for (int halving = 0; !moved && halving < MOST_HALVINGS; halving++) {
            for (size_t j = 0; j < p; j++)
                f->trial[j] = f->b[j] + f->step[j];
            double next = evaluate(f, f->trial);
            moved = next >= value - 1e-14 * fabs(value);
            if (moved) {
                memcpy(f->b, f->trial, p * sizeof *f->b);
                value = next;
            }
            for (size_t j = 0; j < p; j++)
                f->step[j] /= 2;
        }
        if (!moved)
            return length < 1e-6 * (1 + size) ? evaluate(f, f->b) : NAN;
    }
    return NAN;
}

/* Twice the fall of the profile at value of the fixed term, less the 95% quantile: the root is a limit. */
static double profile_excess(double value, void *context)
{
    struct penalised *f = context;
    f->b[f->fixed] = value;
    double profile = maximise(f);
    f->failed = f->failed || isnan(profile);
    return 2 * (f->maximum - profile) / f->design_effect - CHI_SQUARE_95;
}

/* Slope of profile_excess where it was evaluated last: of the other terms that of the likelihood is 0 there. */
static double excess_slope(struct penalised *f)
{
    evaluate_slope(f, f->b, f->slope);
    return -2 * f->slope[f->fixed] / f->design_effect;
}

/* The root between by Newton steps, halving where these leave what is known to hold it. excess: at outside, where the profile was
 * evaluated last. */
static double refine_limit(struct penalised *f, double inside, double outside, double excess)
{
    double at = outside;
    for (int round = 0; round < MOST_ROUNDS && !f->failed; round++) {
        double next = at - excess / excess_slope(f);
        if (!(next > fmin(inside, outside) && next < fmax(inside, outside)))
            next = inside + (outside - inside) / 2;
        if (fabs(next - at) <= 1e-11 * (1 + fabs(next)))
            return next;
        excess = profile_excess(next, f);
        if (excess > 0)
            outside = next;
        else
            inside = next;
        at = next;
    }
    return NAN;
}

/* Walk from the estimate in steps of error, each half as long again, until the profile has fallen far enough; the root between. */
static double find_limit(struct penalised *f, double error_z, double direction)
{
    memcpy(f->b, f->best, f->terms * sizeof *f->b);
    f->failed = false;
    double inside = f->best[f->fixed];
    double outside = inside;
    double distance = 2 * error_z;
    double excess = 0;
    for (int step = 0; step < 60 && !(excess > 0) && !f->failed; step++) {
        inside = outside;
        outside = f->best[f->fixed] + direction * distance;
        excess = profile_excess(outside, f);
        distance *= 1.5;
    }
    if (!(excess > 0) || f->failed)
        return NAN;
    return refine_limit(f, inside, outside, excess);
}

static struct rt_estimate profile_term(struct penalised *f, size_t j, double variance)
{
    struct rt_estimate term = rt_undefined(NULL);
    double scale = f->partial.scale[j];
    term.value = f->best[j] / scale;
    term.standard_error = sqrt(variance * f->design_effect) / scale;
    term.df = 1;
    f->fixed = j;
    memcpy(f->b, f->best, f->terms * sizeof *f->b);
    f->b[j] = 0;
    double without = maximise(f);
    if (!isnan(without)) {
        term.statistic = 2 * fmax(0, f->maximum - without) / f->design_effect;
        term.p = rt_chi_square_p(term.statistic, 1);
    }
    term.lower = find_limit(f, sqrt(variance * f->design_effect), -1) / scale;
    term.upper = find_limit(f, sqrt(variance * f->design_effect), 1) / scale;
    if (isnan(term.lower) || isnan(term.upper))
        term.reason = NO_LIMIT;
    f->fixed = SIZE_MAX;
    return term;
}

/* Find the redundant columns at b = 0 as the plain fit does. */
static void drop_redundant(struct penalised *f)
{
    size_t p = f->terms;
    rt_partial_evaluate(&f->partial, f->b, NULL, f->score, f->factor);
    for (size_t j = 0; j < p; j++)
        if (!(f->factor[j * p + j] > REDUNDANT * (double)f->partial.events))
            f->factor[j * p + j] = 0;
    rt_semidefinite_factor(f->factor, p, REDUNDANT, f->dropped);
}

/* Design effect of every term at the estimate: sandwich variance over model variance, not below 1. */
static enum rt_status fill_design_effects(struct penalised *f, double *effect, struct rt_error *error)
{
    size_t p = f->terms;
    const struct rt_clusters *clusters = &f->partial.model->data.clusters;
    for (size_t j = 0; j < p; j++)
        effect[j] = 1;
    if (clusters->of == NULL)
        return RT_OK;
    double *sums = rt_new_array(clusters->count, (p == 0 ? 1 : p) * sizeof *sums);
    if (sums == NULL)
        return rt_fail_memory(error);
    enum rt_status status = rt_partial_cluster_scores(&f->partial, NULL, sums, error);
    for (size_t j = 0; status == RT_OK && j < p; j++) {
        struct rt_sum sandwich = {0};
        for (size_t c = 0; c < clusters->count; c++) {
            double share = 0;
            for (size_t k = 0; k < p; k++)
                share += f->dropped[k] ? 0 : f->inverse[j * p + k] * sums[c * p + k];
            rt_sum_add(&sandwich, share * share);
        }
        if (!f->dropped[j])
            effect[j] = fmax(1, rt_sum_value(&sandwich) / f->inverse[j * p + j]);
    }
    free(sums);
    return status;
}

static const char *why_undefined(const struct penalised *f, size_t j)
{
    if (f->dropped[j])
        return "redundant: constant wherever a failure is compared, or given by earlier terms";
    if (isnan(f->maximum))
        return NOT_FOUND;
    return f->one_cluster ? "only one cluster: its error cannot be estimated" : NULL;
}

static enum rt_status fit_penalised(struct penalised *f, struct rt_estimate *terms, struct rt_error *error)
{
    size_t p = f->terms;
    double *variance = rt_new_array(p, sizeof *variance);
    double *effect = rt_new_array(p, sizeof *effect);
    enum rt_status status = RT_OK;
    if (variance == NULL || effect == NULL) {
        status = rt_fail_memory(error);
    } else {
        drop_redundant(f);
        f->maximum = maximise(f);
        memcpy(f->best, f->b, p * sizeof *f->best);
        for (size_t j = 0; j < p; j++)
            variance[j] = f->inverse[j * p + j];
        status = fill_design_effects(f, effect, error);
        for (size_t j = 0; status == RT_OK && j < p; j++) {
            f->design_effect = effect[j];
            const char *reason = why_undefined(f, j);
            terms[j] = reason == NULL ? profile_term(f, j, variance[j]) : rt_undefined(reason);
        }
    }
    free(variance);
    free(effect);
    return status;
}

enum rt_status rt_hazard_penalised(const struct rt_hazard_model *model, struct rt_estimate *penalised,
                                   double *log_likelihood, struct rt_error *error)
{
    struct penalised f = {.terms = model->terms, .fixed = SIZE_MAX, .maximum = NAN};
    enum rt_status status = rt_partial_prepare(&f.partial, model, error);
    if (status == RT_OK)
        status = allocate(&f, error);
    size_t present = status == RT_OK ? rt_clusters_present(&model->data.clusters, model->data.n) : 0;
    if (present == SIZE_MAX)
        status = rt_fail_memory(error);
    f.one_cluster = model->data.clusters.of != NULL && present < 2;
    if (status == RT_OK && f.partial.events == 0)
        for (size_t j = 0; j < model->terms; j++)
            penalised[j] = rt_undefined("no event");
    else if (status == RT_OK)
        status = fit_penalised(&f, penalised, error);
    if (log_likelihood != NULL) {
        *log_likelihood = f.maximum; /* back to the information of x */
        for (size_t j = 0; status == RT_OK && j < model->terms; j++)
            *log_likelihood += f.dropped[j] ? 0 : log(f.partial.scale[j]);
    }
    free_penalised(&f);
    return status;
}
