#include "hazard_private.h"

#include "ridgetally/stats/semidefinite.h"

#include <math.h>
#include <string.h>

#define MOST_STEPS     100
#define MOST_HALVINGS  40
#define FIRST_CHECK    4    /* steps before the likelihood can be called monotone */
#define LONG_STEP      1e-3 /* a step that has stopped shrinking, in units of z b */
#define SLACK          1e-6 /* of the range along a direction, for the proof that it is monotone */
#define LATER_WEIGHT   1e-3 /* of a further direction beside those found before, and its slack */
#define LATER_SLACK    1e-9
#define FARTHEST       300.0 /* in units of z b */
#define SETTLED_PART   1e-3  /* share of the longest part of a step below which a term has settled */
#define MOST_DOUBLINGS 46

double rt_hazard_evaluate(struct rt_hazard_work *work, const double *b)
{
    double value = rt_partial_evaluate(&work->partial, b, NULL, work->score, work->information);
    for (size_t j = 0; j < work->terms; j++)
        if (work->dropped[j] || work->frozen[j])
            work->information[j * work->terms + j] = 0;
    return value;
}

void rt_hazard_factor(struct rt_hazard_work *work, double tolerance)
{
    memcpy(work->factor, work->information, work->terms * work->terms * sizeof *work->factor);
    work->rank = rt_semidefinite_factor(work->factor, work->terms, tolerance, work->redundant);
}

/* Length of a step: how far it moves z b for a row one standard deviation out in every column. */
static double step_length(const struct rt_hazard_work *work)
{
    double length = 0;
    for (size_t j = 0; j < work->terms; j++)
        length = fmax(length, fabs(work->step[j]));
    return length;
}

/* One Newton step from b, halved until the likelihood does not fall. Returns false when there is no way up. */
static bool take_step(struct rt_hazard_work *work, double *likelihood)
{
    rt_hazard_factor(work, 0);
    memcpy(work->step, work->score, work->terms * sizeof *work->step);
    rt_semidefinite_solve(work->factor, work->terms, work->redundant, work->step);
    for (int halving = 0; halving < MOST_HALVINGS; halving++) {
        for (size_t j = 0; j < work->terms; j++)
            work->trial[j] = work->b[j] + work->step[j];
        double value = rt_hazard_evaluate(work, work->trial);
        if (value >= *likelihood - 1e-13 * fabs(*likelihood)) {
            memcpy(work->b, work->trial, work->terms * sizeof *work->b);
            *likelihood = value;
            return true;
        }
        for (size_t j = 0; j < work->terms; j++)
            work->step[j] /= 2;
    }
    rt_hazard_evaluate(work, work->b);
    return false;
}

/* Is the likelihood monotone along the last step? Small parts of the step are those of terms that have settled. Beyond a
 * direction found before, the new one counts only where that one ties: it is added with little weight. */
static enum rt_status check_monotone(struct rt_hazard_work *work, bool *rises, struct rt_error *error)
{
    double length = step_length(work);
    double before = 0;
    for (size_t j = 0; j < work->terms; j++)
        before = fmax(before, fabs(work->recession[j]));
    for (size_t j = 0; j < work->terms; j++) {
        double part = work->step[j] / length;
        work->trial[j] = fabs(part) > SETTLED_PART ? part : 0;
        if (before > 0)
            work->trial[j] = work->recession[j] / before + LATER_WEIGHT * work->trial[j];
    }
    return rt_partial_is_monotone(&work->partial, work->trial, before > 0 ? LATER_SLACK : SLACK, rises,
                                  error);
}

/* Largest difference of z b between rows that the direction in recession makes per unit of distance, at most. */
static double reach(const struct rt_hazard_work *work)
{
    const struct rt_partial *partial = &work->partial;
    double least = INFINITY;
    double most = -INFINITY;
    for (size_t i = 0; i < partial->model->data.n; i++) {
        double value = 0;
        for (size_t j = 0; j < work->terms; j++)
            value += partial->z[i * work->terms + j] * work->recession[j];
        least = fmin(least, value);
        most = fmax(most, value);
    }
    return most - least;
}

/* Terms on which nothing depends any more at the limit. */
static void find_undetermined(struct rt_hazard_work *work)
{
    size_t p = work->terms;
    rt_hazard_evaluate(work, work->b);
    for (size_t j = 0; j < p; j++)
        if (!(work->information[j * p + j] > RT_HAZARD_REDUNDANT * (double)work->partial.events))
            work->information[j * p + j] = 0;
    rt_hazard_factor(work, RT_HAZARD_REDUNDANT);
    for (size_t j = 0; j < p; j++) {
        if (!work->redundant[j] || work->dropped[j] || work->frozen[j])
            continue;
        work->undetermined[j] = true;
        work->frozen[j] = true;
    }
    rt_hazard_evaluate(work, work->b);
}

/* Carry b along the direction in trial until the likelihood gains no more, and hold it there by the term that moved
 * most; the others stay free. b itself goes no further than differences in z b of FARTHEST: beyond, only the likelihood
 * is followed to its limit, which *supremum receives. */
static void carry_out(struct rt_hazard_work *work, double *likelihood, double *supremum)
{
    size_t p = work->terms;
    size_t pivot = p;
    double length = step_length(work);
    memcpy(work->recession, work->trial, p * sizeof *work->recession);
    for (size_t j = 0; j < p; j++) {
        if (fabs(work->step[j]) > SETTLED_PART * length)
            work->infinite[j] = true;
        if (!work->frozen[j] && (pivot == p || fabs(work->step[j]) > fabs(work->step[pivot])))
            pivot = j;
    }
    double farthest = FARTHEST / reach(work);
    double gain = INFINITY;
    *supremum = *likelihood;
    double distance = farthest / 64;
    for (int doubling = 0; gain > 0 && doubling < MOST_DOUBLINGS; doubling++) {
        for (size_t j = 0; j < p; j++)
            work->trial[j] = work->b[j] + distance * work->recession[j];
        double value = rt_hazard_evaluate(work, work->trial);
        gain = value - *supremum;
        if (gain > 0)
            *supremum = value;
        if (gain > 0 && distance <= farthest / 2) {
            memcpy(work->b, work->trial, p * sizeof *work->b);
            *likelihood = value;
        }
        distance *= 2;
    }
    work->frozen[pivot] = true;
    find_undetermined(work);
}

/* Climb to the maximum; along a monotone likelihood, to its limit. */
enum rt_status rt_hazard_climb(struct rt_hazard_work *work, struct rt_hazard *fit, struct rt_error *error)
{
    double likelihood = fit->log_likelihood_null;
    enum rt_status status = RT_OK;
    double beyond = 0; /* what the likelihood still gains on the way to infinity */
    bool done = false;
    for (int since = 1; status == RT_OK && !done && fit->iterations < MOST_STEPS; since++) {
        fit->iterations++;
        bool moved = take_step(work, &likelihood);
        double length = step_length(work);
        double size = 0;
        for (size_t j = 0; j < work->terms; j++)
            size = fmax(size, work->frozen[j] ? 0 : fabs(work->b[j]));
        work->converged = length < 1e-10 * (1 + size);
        done = work->converged || !moved;
        bool rises = false;
        if (length > LONG_STEP && since >= FIRST_CHECK)
            status = check_monotone(work, &rises, error);
        if (rises) {
            double limit = 0;
            carry_out(work, &likelihood, &limit);
            beyond = limit - likelihood;
            fit->monotone = true;
            done = false;
            since = 0;
        }
    }
    fit->log_likelihood = likelihood + beyond;
    return status;
}
