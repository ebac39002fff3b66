#include "ridgetally/base/memory.h"
#include "ridgetally/stats/hazard_likelihood.h"

#include <limits.h>
#include <math.h>
#include <string.h>

/* Hazard steps of one stratum at its failure times, from a sweep backwards: per time k the sum over the steps through
 * tied failures of 1 / total risk and of mean / total risk. */
struct steps {
    struct rt_partial *partial;
    const double *time_weight;
    double *sums;        /* clusters x terms */
    double *hazard;      /* times, in units of 2^-unit */
    int unit;            /* of hazards and the rows' risks in a stratum: its largest power */
    double *mean_hazard; /* times x terms */
};

static double *cluster_sums(const struct steps *steps, size_t row)
{
    const struct rt_clusters *clusters = &steps->partial->model->data.clusters;
    return steps->sums + (clusters->of == NULL ? row : clusters->of[row]) * steps->partial->terms;
}

static void count_risk(const struct steps *steps, size_t row, bool joins, bool fails)
{
    struct rt_partial *partial = steps->partial;
    const double *z = partial->z + row * partial->terms;
    double risk = rt_partial_row_risk(partial, row, joins, 1 + partial->terms);
    if (partial->in_sums == 0)
        return;
    double signed_risk = joins ? risk : -risk;
    rt_sum_add(&partial->sums[0], signed_risk);
    for (size_t j = 0; j < partial->terms; j++)
        rt_sum_add(&partial->sums[1 + j], signed_risk * z[j]);
    if (!fails)
        return;
    partial->tied[0] += risk;
    for (size_t j = 0; j < partial->terms; j++)
        partial->tied[1 + j] += risk * z[j];
}

/* The hazard steps at time k with its failures rows[0..failures-1], and those rows' own residuals: a failing row counts
 * with 1 - share of its risk at each step. */
static void count_failures(struct steps *steps, size_t k, const size_t *rows, size_t row_count,
                           size_t failures)
{
    struct rt_partial *partial = steps->partial;
    size_t terms = partial->terms;
    double weight = steps->time_weight == NULL ? 1 : steps->time_weight[k];
    bool efron = partial->model->ties == RT_TIES_EFRON && failures > 1;
    double own_hazard = 0;                  /* sum of (1 - share) / total */
    double *own_mean = partial->moment;     /* sum of (1 - share) mean / total */
    double *mean = partial->moment + terms; /* mean over the steps of the risk set's mean */
    memset(partial->moment, 0, 2 * terms * sizeof *partial->moment);
    memset(steps->mean_hazard + k * terms, 0, terms * sizeof *steps->mean_hazard);
    steps->hazard[k] = 0;
    for (size_t step = 0; step < (efron ? failures : 1); step++) {
        double share = efron ? (double)step / (double)failures : 0;
        double times = efron ? 1 : (double)failures;
        double total = rt_sum_value(&partial->sums[0]) - share * partial->tied[0];
        double step_hazard = weight * times / ldexp(total, partial->unit - steps->unit);
        steps->hazard[k] += step_hazard;
        own_hazard += (1 - share) * times / total;
        for (size_t j = 0; j < terms; j++) {
            double m = (rt_sum_value(&partial->sums[1 + j]) - share * partial->tied[1 + j]) / total;
            steps->mean_hazard[k * terms + j] += step_hazard * m;
            own_mean[j] += (1 - share) * times * m / total;
            mean[j] += m * times / (double)failures;
        }
    }
    for (size_t r = 0; r < row_count; r++) {
        if (partial->model->data.event[rows[r]] == 0)
            continue;
        const double *z = partial->z + rows[r] * terms;
        double *sums = cluster_sums(steps, rows[r]);
        double risk = ldexp(partial->risk[rows[r]], partial->power[rows[r]] - partial->unit);
        for (size_t j = 0; j < terms; j++)
            sums[j] += weight * (z[j] - mean[j] - risk * (z[j] * own_hazard - own_mean[j]));
    }
}

static void sweep_back(struct steps *steps, size_t s)
{
    struct rt_partial *partial = steps->partial;
    const struct rt_timeline *timeline = &partial->timeline;
    const struct rt_stratified *strata = &partial->strata;
    size_t width = 1 + partial->terms;
    rt_partial_clear_sums(partial, width);
    size_t late = strata->entry_start[s + 1];
    steps->unit = INT_MIN;
    for (size_t r = strata->exit_start[s]; r < strata->exit_start[s + 1]; r++)
        if (partial->power[strata->by_exit[r]] > steps->unit)
            steps->unit = partial->power[strata->by_exit[r]];
    for (size_t end = strata->exit_start[s + 1]; end > strata->exit_start[s];) {
        size_t k = timeline->exit[strata->by_exit[end - 1]];
        for (; late > strata->entry_start[s] && timeline->first[strata->by_entry[late - 1]] > k; late--)
            count_risk(steps, strata->by_entry[late - 1], false, false);
        memset(partial->tied, 0, width * sizeof *partial->tied);
        size_t failures = 0;
        size_t stop = end;
        for (; end > strata->exit_start[s] && timeline->exit[strata->by_exit[end - 1]] == k; end--) {
            size_t row = strata->by_exit[end - 1];
            bool fails = partial->model->data.event[row] != 0;
            count_risk(steps, row, true, fails);
            failures += fails ? 1 : 0;
        }
        if (failures > 0)
            count_failures(steps, k, strata->by_exit + end, stop - end, failures);
    }
}

/* Add sign times the row's risk times (z hazard so far - mean hazard so far) to its cluster. */
static void count_exposure(const struct steps *steps, size_t row, double sign, double hazard,
                           const struct rt_sum *mean_hazard)
{
    size_t terms = steps->partial->terms;
    const double *z = steps->partial->z + row * terms;
    double risk = sign * ldexp(steps->partial->risk[row], steps->partial->power[row] - steps->unit);
    double *sums = cluster_sums(steps, row);
    for (size_t j = 0; j < terms; j++)
        sums[j] += risk * (z[j] * hazard - rt_sum_value(&mean_hazard[j]));
}

/* What the rows' time at risk takes from their residuals, in a sweep forwards; a failing row's last time is counted
 * already. */
static void sweep_forward(const struct steps *steps, size_t s)
{
    struct rt_partial *partial = steps->partial;
    const struct rt_timeline *timeline = &partial->timeline;
    const struct rt_stratified *strata = &partial->strata;
    size_t terms = partial->terms;
    struct rt_sum *cumulative = partial->sums; /* hazard, mean hazard of each term */
    memset(cumulative, 0, (1 + terms) * sizeof *cumulative);
    size_t late = strata->entry_start[s];
    size_t end = 0;
    for (size_t begin = strata->exit_start[s]; begin < strata->exit_start[s + 1]; begin = end) {
        size_t k = timeline->exit[strata->by_exit[begin]];
        double hazard = rt_sum_value(&cumulative[0]);
        for (; late < strata->entry_start[s + 1] && timeline->first[strata->by_entry[late]] <= k; late++)
            count_exposure(steps, strata->by_entry[late], 1, hazard, cumulative + 1);
        bool failure = false;
        for (end = begin; end < strata->exit_start[s + 1] && timeline->exit[strata->by_exit[end]] == k;
             end++) {
            if (partial->model->data.event[strata->by_exit[end]] == 0)
                continue;
            failure = true;
            count_exposure(steps, strata->by_exit[end], -1, hazard, cumulative + 1);
        }
        if (failure) {
            rt_sum_add(&cumulative[0], steps->hazard[k]);
            for (size_t j = 0; j < terms; j++)
                rt_sum_add(&cumulative[1 + j], steps->mean_hazard[k * terms + j]);
        }
        hazard = rt_sum_value(&cumulative[0]);
        for (size_t r = begin; r < end; r++)
            if (partial->model->data.event[strata->by_exit[r]] == 0)
                count_exposure(steps, strata->by_exit[r], -1, hazard, cumulative + 1);
    }
}

enum rt_status rt_partial_cluster_scores(struct rt_partial *partial, const double *time_weight, double *sums,
                                         struct rt_error *error)
{
    size_t times = partial->timeline.count;
    size_t terms = partial->terms;
    struct steps steps = {.partial = partial,
                          .time_weight = time_weight,
                          .sums = sums,
                          .hazard = rt_new_array(times, sizeof *steps.hazard),
                          .mean_hazard =
                              rt_new_array(times, (terms == 0 ? 1 : terms) * sizeof *steps.mean_hazard)};
    enum rt_status status = RT_OK;
    if (steps.hazard == NULL || steps.mean_hazard == NULL) {
        status = rt_fail_memory(error);
    } else {
        rt_partial_spread_risks(partial);
        memset(sums, 0, rt_influence_length(&partial->model->data) * terms * sizeof *sums);
        for (size_t s = 0; s < partial->strata.strata; s++) {
            sweep_back(&steps, s);
            sweep_forward(&steps, s);
        }
    }
    free(steps.hazard);
    free(steps.mean_hazard);
    return status;
}
