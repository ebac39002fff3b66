/*
 * Risk sets counted once: how many rows of each pattern of covariates are at risk, and fail, at each failure time. Rows of one pattern
 * have one risk, so that an evaluation needs these counts and not the rows.
 */
#include "ridgetally/base/memory.h"
#include "ridgetally/stats/hazard_likelihood.h"

#include <limits.h>
#include <math.h>
#include <stdint.h>
#include <string.h>

/* Failure times of one stratum. */
static size_t count_times(const struct rt_partial *partial, size_t s)
{
    const struct rt_stratified *strata = &partial->strata;
    size_t count = 0;
    size_t last = SIZE_MAX;
    for (size_t r = strata->exit_start[s]; r < strata->exit_start[s + 1]; r++) {
        const size_t k = partial->timeline.exit[strata->by_exit[r]];
        if (partial->model->data.event[strata->by_exit[r]] == 0 || k == last)
            continue;
        count++;
        last = k;
    }
    return count;
}

static enum rt_status allocate(struct rt_risk_sets *sets, size_t count, size_t terms, struct rt_error *error)
{
    const size_t patterns = sets->patterns.count;
    sets->time = rt_new_array(count, sizeof *sets->time);
    sets->at_risk = rt_new_array(count * patterns, sizeof *sets->at_risk);
    sets->failing = rt_new_array(count * patterns, sizeof *sets->failing);
    sets->risk = rt_new_array(patterns, sizeof *sets->risk);
    sets->share = rt_new_array(patterns, sizeof *sets->share);
    sets->predictor = rt_new_array(patterns, sizeof *sets->predictor);
    sets->mantissa = rt_new_array(patterns, sizeof *sets->mantissa);
    sets->power = rt_new_array(patterns, sizeof *sets->power);
    sets->mean = rt_new_array(terms, sizeof *sets->mean);
    sets->distance = rt_new_array(terms, sizeof *sets->distance);
    const bool complete = sets->time != NULL && sets->at_risk != NULL && sets->failing != NULL &&
                          sets->risk != NULL && sets->share != NULL && sets->predictor != NULL &&
                          sets->mantissa != NULL && sets->power != NULL && sets->mean != NULL &&
                          sets->distance != NULL;
    return complete ? RT_OK : rt_fail_memory(error);
}

/* The failure times of one stratum, from its last to its first, with those at risk. `now` (patterns) is scratch. */
static void count_stratum(struct rt_partial *partial, size_t s, double *now)
{
    struct rt_risk_sets *sets = &partial->sets;
    const struct rt_timeline *timeline = &partial->timeline;
    const struct rt_stratified *strata = &partial->strata;
    const size_t *pattern = sets->patterns.of;
    const size_t patterns = sets->patterns.count;
    size_t late = strata->entry_start[s + 1];
    memset(now, 0, patterns * sizeof *now);
    for (size_t end = strata->exit_start[s + 1]; end > strata->exit_start[s];) {
        const size_t k = timeline->exit[strata->by_exit[end - 1]];
        double *failing = sets->failing + sets->count * patterns;
        bool fails = false;
        for (; late > strata->entry_start[s] && timeline->first[strata->by_entry[late - 1]] > k; late--)
            now[pattern[strata->by_entry[late - 1]]]--;
        for (; end > strata->exit_start[s] && timeline->exit[strata->by_exit[end - 1]] == k; end--) {
            const size_t row = strata->by_exit[end - 1];
            now[pattern[row]]++;
            if (partial->model->data.event[row] == 0)
                continue;
            failing[pattern[row]]++;
            fails = true;
        }
        if (!fails)
            continue;
        memcpy(sets->at_risk + sets->count * patterns, now, patterns * sizeof *now);
        sets->time[sets->count++] = k;
    }
}

enum rt_status rt_risk_sets_count(struct rt_partial *partial, struct rt_error *error)
{
    const size_t n = partial->model->data.n;
    const size_t strata = partial->strata.strata;
    struct rt_risk_sets *sets = &partial->sets;
    size_t count = 0;
    for (size_t s = 0; s < strata; s++)
        count += count_times(partial, s);
    if (count == 0 || count > n / 2)
        return RT_OK;
    enum rt_status status = rt_patterns_build(&sets->patterns, partial->z, n, partial->terms, error);
    if (status != RT_OK || sets->patterns.count > n / count)
        return status;
    double *now = rt_new_array(sets->patterns.count, sizeof *now);
    status = now == NULL ? rt_fail_memory(error) : allocate(sets, count, partial->terms, error);
    for (size_t s = 0; status == RT_OK && s < strata; s++)
        count_stratum(partial, s, now);
    free(now);
    return status;
}

void rt_risk_sets_release(struct rt_risk_sets *sets)
{
    rt_patterns_release(&sets->patterns);
    free(sets->time);
    free(sets->at_risk);
    free(sets->failing);
    free(sets->risk);
    free(sets->share);
    free(sets->predictor);
    free(sets->mantissa);
    free(sets->power);
    free(sets->mean);
    free(sets->distance);
    *sets = (struct rt_risk_sets){.count = 0};
}

/* --- evaluations ----------------------------------------------------------------------------------------- */

static void fill_risks(struct rt_partial *partial, const double *b)
{
    struct rt_risk_sets *sets = &partial->sets;
    for (size_t q = 0; q < sets->patterns.count; q++)
        rt_partial_take_risk(partial->z + sets->patterns.first[q] * partial->terms, b, partial->terms,
                             &sets->predictor[q], &sets->mantissa[q], &sets->power[q]);
    sets->unit = INT_MAX; /* of no risk */
}

void rt_partial_spread_risks(struct rt_partial *partial)
{
    const struct rt_risk_sets *sets = &partial->sets;
    for (size_t i = 0; sets->count > 0 && i < partial->model->data.n; i++) {
        const size_t q = sets->patterns.of[i];
        partial->predictor[i] = sets->predictor[q];
        partial->risk[i] = sets->mantissa[q];
        partial->power[i] = sets->power[q];
    }
}

/* Risks in units of the greatest of those at risk. */
static void scale_risks(struct rt_risk_sets *sets, const double *at_risk)
{
    int unit = INT_MIN;
    for (size_t q = 0; q < sets->patterns.count; q++)
        if (at_risk[q] > 0 && sets->power[q] > unit)
            unit = sets->power[q];
    if (unit == sets->unit)
        return;
    sets->unit = unit;
    for (size_t q = 0; q < sets->patterns.count; q++)
        sets->risk[q] = ldexp(sets->mantissa[q], sets->power[q] - unit);
}

/* What each pattern has of the risk of set i, less a part of the failures, and the mean of z. Returns the risk, in units. */
static double weigh_set(struct rt_partial *partial, size_t i, double taken)
{
    struct rt_risk_sets *sets = &partial->sets;
    const size_t patterns = sets->patterns.count;
    const double *at_risk = sets->at_risk + i * patterns;
    const double *failing = sets->failing + i * patterns;
    double total = 0;
    for (size_t q = 0; q < patterns; q++) {
        sets->share[q] = at_risk[q] > 0 ? (at_risk[q] - taken * failing[q]) * sets->risk[q] : 0;
        total += sets->share[q];
    }
    memset(sets->mean, 0, partial->terms * sizeof *sets->mean);
    for (size_t q = 0; total > 0 && q < patterns; q++) {
        const double *z = partial->z + sets->patterns.first[q] * partial->terms;
        sets->share[q] /= total;
        for (size_t j = 0; j < partial->terms; j++)
            sets->mean[j] += sets->share[q] * z[j];
    }
    return total;
}

/* z of a pattern from the mean of the set. */
static const double *take_distance(const struct rt_partial *partial, size_t q)
{
    const double *z = partial->z + partial->sets.patterns.first[q] * partial->terms;
    for (size_t j = 0; j < partial->terms; j++)
        partial->sets.distance[j] = z[j] - partial->sets.mean[j];
    return partial->sets.distance;
}

/* The steps through the failures of a set: one, or by Efron one for each failure. */
struct steps {
    size_t count;
    double times; /* that each counts */
};

static struct steps steps_of(const struct rt_partial *partial, size_t i)
{
    const double *failing = partial->sets.failing + i * partial->sets.patterns.count;
    double failures = 0;
    for (size_t q = 0; q < partial->sets.patterns.count; q++)
        failures += failing[q];
    if (partial->model->ties == RT_TIES_EFRON)
        return (struct steps){(size_t)failures, 1};
    return (struct steps){1, failures};
}

/* What one step adds, with the weights of its time; returns the log-likelihood's part. */
static double count_step(struct rt_partial *partial, double total, double times, double score_weight,
                         double information_weight, double *score, double *information)
{
    const size_t terms = partial->terms;
    const struct rt_risk_sets *sets = &partial->sets;
    for (size_t j = 0; j < terms; j++)
        score[j] -= times * score_weight * sets->mean[j];
    for (size_t q = 0; q < sets->patterns.count; q++) {
        if (!(sets->share[q] > 0))
            continue;
        const double *distance = take_distance(partial, q);
        for (size_t j = 0; j < terms; j++) {
            const double along = times * information_weight * sets->share[q] * distance[j];
            for (size_t k = 0; k <= j; k++)
                information[j * terms + k] += along * distance[k];
        }
    }
    return -times * (log(total) + sets->unit * M_LN2);
}

/* The failures' own part of log-likelihood and score. */
static double count_own(const struct rt_partial *partial, size_t i, double weight, double *score)
{
    const struct rt_risk_sets *sets = &partial->sets;
    const double *failing = sets->failing + i * sets->patterns.count;
    double log_likelihood = 0;
    for (size_t q = 0; q < sets->patterns.count; q++) {
        const double *z = partial->z + sets->patterns.first[q] * partial->terms;
        if (!(failing[q] > 0))
            continue;
        log_likelihood += failing[q] * sets->predictor[q];
        for (size_t j = 0; j < partial->terms; j++)
            score[j] += weight * failing[q] * z[j];
    }
    return log_likelihood;
}

double rt_risk_sets_evaluate(struct rt_partial *partial, const double *b,
                             const struct rt_partial_weights *weights, double *score, double *information)
{
    const struct rt_risk_sets *sets = &partial->sets;
    double log_likelihood = 0;
    fill_risks(partial, b);
    for (size_t i = 0; i < sets->count; i++) {
        const struct steps steps = steps_of(partial, i);
        const size_t k = sets->time[i];
        const double for_score = weights == NULL || weights->score == NULL ? 1 : weights->score[k];
        const double for_information =
            weights == NULL || weights->information == NULL ? 1 : weights->information[k];
        scale_risks(&partial->sets, sets->at_risk + i * sets->patterns.count);
        log_likelihood += count_own(partial, i, for_score, score);
        for (size_t step = 0; step < steps.count; step++) {
            const double total = weigh_set(partial, i, (double)step / (double)steps.count);
            if (!(total > 0))
                return -INFINITY;
            log_likelihood +=
                count_step(partial, total, steps.times, for_score, for_information, score, information);
        }
    }
    return log_likelihood;
}

/* Half of E[(z - m)_j (z - m)'A(z - m)], m the mean of z in the risk set. */
void rt_risk_sets_penalty(struct rt_partial *partial, const double *inverse, double *gradient)
{
    const size_t terms = partial->terms;
    const struct rt_risk_sets *sets = &partial->sets;
    for (size_t i = 0; i < sets->count; i++) {
        const struct steps steps = steps_of(partial, i);
        scale_risks(&partial->sets, sets->at_risk + i * sets->patterns.count);
        for (size_t step = 0; step < steps.count; step++) {
            if (!(weigh_set(partial, i, (double)step / (double)steps.count) > 0))
                continue;
            for (size_t q = 0; q < sets->patterns.count; q++) {
                const double *distance = take_distance(partial, q);
                double form = 0;
                for (size_t j = 0; j < terms; j++)
                    for (size_t k = 0; k < terms; k++)
                        form += distance[j] * inverse[j * terms + k] * distance[k];
                for (size_t j = 0; j < terms; j++)
                    gradient[j] += steps.times * sets->share[q] * form * distance[j] / 2;
            }
        }
    }
}
