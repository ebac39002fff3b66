#include "ridgetally/stats/log_rank.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/semidefinite.h"
#include "ridgetally/stats/tail.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#define RANK_TOLERANCE 1e-10
#define MOST_GROUPS    1000

static const char NO_EVENT[] = "no event";
static const char NOT_COMPARED[] = "fewer than two groups are ever at risk together at an event";
static const char FEW_CLUSTERS[] = "too few clusters with a bearing on the comparison";

/* Working state of the sweep through one stratum after another. */
struct sweep {
    const struct rt_log_rank_input *input;
    struct rt_log_rank *result;
    double *at_risk;    /* groups: rows at risk now */
    double *events;     /* groups: events now */
    double *cumulative; /* groups: sum of (n_g / n) (d / n) so far */
    double hazard;      /* sum of d / n so far */
    double *scores;     /* clusters x groups: s_c; NULL without clusters */
    bool *compared;     /* groups: at risk at an event at least once */
};

static double *cluster_scores(struct sweep *sweep, size_t row)
{
    return sweep->scores + sweep->input->data.clusters.of[row] * sweep->input->groups;
}

static void enter_row(struct sweep *sweep, size_t row)
{
    size_t group = sweep->input->group[row];
    sweep->at_risk[group] += 1;
    if (sweep->scores == NULL)
        return;
    double *s = cluster_scores(sweep, row);
    s[group] += sweep->hazard;
    for (size_t g = 0; g < sweep->input->groups; g++)
        s[g] -= sweep->cumulative[g];
}

/* Take a row out. n is the number at risk at its last time; at_risk still holds that time's numbers. */
static void score_leaving(struct sweep *sweep, size_t row, double n)
{
    size_t groups = sweep->input->groups;
    size_t group = sweep->input->group[row];
    double *s = cluster_scores(sweep, row);
    s[group] -= sweep->hazard;
    for (size_t g = 0; g < groups; g++)
        s[g] += sweep->cumulative[g];
    if (sweep->input->data.event[row] == 0)
        return;
    s[group] += 1;
    for (size_t g = 0; g < groups; g++)
        s[g] -= sweep->at_risk[g] / n;
}

/* Count d events among n at risk. */
static void count_events(struct sweep *sweep, double n, double d)
{
    size_t groups = sweep->input->groups;
    struct rt_log_rank *result = sweep->result;
    double spread = n > 1 ? d * (n - d) / (n - 1) : 0;
    for (size_t g = 0; g < groups; g++) {
        double share = sweep->at_risk[g] / n;
        result->observed[g] += sweep->events[g];
        result->expected[g] += d * share;
        sweep->cumulative[g] += share * d / n;
        sweep->compared[g] = sweep->compared[g] || share > 0;
        if (spread <= 0 || share <= 0)
            continue;
        result->variance[g * groups + g] += spread * share * ((n - sweep->at_risk[g]) / n);
        for (size_t h = 0; h < g; h++)
            result->variance[g * groups + h] -= spread * share * (sweep->at_risk[h] / n);
    }
    sweep->hazard += d / n;
}

static void sweep_stratum(struct sweep *sweep, const struct rt_timeline *timeline,
                          const struct rt_stratified *strata, size_t s)
{
    const struct rt_log_rank_input *input = sweep->input;
    size_t groups = input->groups;
    memset(sweep->at_risk, 0, groups * sizeof *sweep->at_risk);
    memset(sweep->cumulative, 0, groups * sizeof *sweep->cumulative);
    sweep->hazard = 0;
    double n = 0;
    for (size_t r = strata->exit_start[s]; r < strata->exit_start[s + 1]; r++) {
        size_t row = strata->by_exit[r];
        if (input->data.entry == NULL || input->data.entry[row] <= 0) {
            enter_row(sweep, row);
            n += 1;
        }
    }
    size_t late = strata->entry_start[s];
    size_t end = 0;
    for (size_t begin = strata->exit_start[s]; begin < strata->exit_start[s + 1]; begin = end) {
        size_t k = timeline->exit[strata->by_exit[begin]];
        for (; late < strata->entry_start[s + 1] && timeline->first[strata->by_entry[late]] <= k; late++) {
            enter_row(sweep, strata->by_entry[late]);
            n += 1;
        }
        memset(sweep->events, 0, groups * sizeof *sweep->events);
        double d = 0;
        for (end = begin; end < strata->exit_start[s + 1] && timeline->exit[strata->by_exit[end]] == k;
             end++) {
            double event = input->data.event[strata->by_exit[end]];
            sweep->events[input->group[strata->by_exit[end]]] += event;
            d += event;
        }
        if (d > 0)
            count_events(sweep, n, d);
        for (size_t r = begin; sweep->scores != NULL && r < end; r++)
            score_leaving(sweep, strata->by_exit[r], n);
        for (size_t r = begin; r < end; r++)
            sweep->at_risk[input->group[strata->by_exit[r]]] -= 1;
        n -= (double)(end - begin);
    }
}

/* Fill the upper triangle, and the robust covariance from the clusters' scores. Returns the number of
 * clusters whose scores are not all 0. */
static size_t finish_covariances(struct sweep *sweep)
{
    size_t groups = sweep->input->groups;
    struct rt_log_rank *result = sweep->result;
    for (size_t g = 0; g < groups; g++)
        for (size_t h = 0; h < g; h++)
            result->variance[h * groups + g] = result->variance[g * groups + h];
    size_t bearing = 0;
    for (size_t c = 0; sweep->scores != NULL && c < sweep->input->data.clusters.count; c++) {
        const double *s = sweep->scores + c * groups;
        double size = 0;
        for (size_t g = 0; g < groups; g++) {
            size += fabs(s[g]);
            for (size_t h = 0; h < groups; h++)
                result->robust[g * groups + h] += s[g] * s[h];
        }
        bearing += size > 1e-12 ? 1 : 0;
    }
    return bearing;
}

/* Chi-square of the compared groups by a covariance of all groups. bearing: clusters that contribute,
 * SIZE_MAX for the hypergeometric covariance. */
static enum rt_status test_groups(const struct sweep *sweep, const double *covariance, size_t bearing,
                                  struct rt_estimate *test, struct rt_error *error)
{
    size_t groups = sweep->input->groups;
    size_t size = 0;
    size_t rank = 0;
    size_t *kept = rt_new_array(groups, sizeof *kept);
    double *matrix = rt_new_array(groups * groups, sizeof *matrix);
    double *score = rt_new_array(groups, sizeof *score);
    enum rt_status status = RT_OK;
    if (kept == NULL || matrix == NULL || score == NULL) {
        status = rt_fail_memory(error);
    } else {
        bool first = true; /* the first compared group is given by the others */
        for (size_t g = 0; g < groups; g++) {
            if (sweep->compared[g] && !first)
                kept[size++] = g;
            first = first && !sweep->compared[g];
        }
        for (size_t i = 0; i < size; i++) {
            score[i] = sweep->result->observed[kept[i]] - sweep->result->expected[kept[i]];
            for (size_t j = 0; j < size; j++)
                matrix[i * size + j] = covariance[kept[i] * groups + kept[j]];
        }
        double chi_square = rt_semidefinite_form(matrix, size, score, RANK_TOLERANCE, &rank);
        if (isnan(chi_square))
            status = rt_fail_memory(error);
        else if (rank == 0)
            *test = rt_undefined(first ? NO_EVENT : NOT_COMPARED);
        else if (bearing <= rank)
            *test = rt_undefined(FEW_CLUSTERS);
        else
            *test = rt_chi_square_test(chi_square, (double)rank);
    }
    free(kept);
    free(matrix);
    free(score);
    return status;
}

/* The trend test by a covariance. Scores are centred first: O - E sums to 0. */
static struct rt_estimate test_trend(const struct sweep *sweep, const double *covariance, size_t bearing)
{
    size_t groups = sweep->input->groups;
    const double *given = sweep->input->scores;
    double total = 0;
    double centre = 0;
    for (size_t g = 0; g < groups; g++) {
        centre += sweep->result->expected[g] * (given == NULL ? (double)(g + 1) : given[g]);
        total += sweep->result->expected[g];
    }
    if (!(total > 0))
        return rt_undefined(NO_EVENT);
    centre /= total;
    double value = 0;
    double variance = 0;
    double gross = 0;
    for (size_t g = 0; g < groups; g++) {
        double s = (given == NULL ? (double)(g + 1) : given[g]) - centre;
        value += s * (sweep->result->observed[g] - sweep->result->expected[g]);
        for (size_t h = 0; h < groups; h++) {
            double t = (given == NULL ? (double)(h + 1) : given[h]) - centre;
            variance += s * covariance[g * groups + h] * t;
            gross += fabs(s * covariance[g * groups + h] * t);
        }
    }
    if (!(variance > 1e-12 * gross))
        return rt_undefined(NOT_COMPARED);
    if (bearing < 2)
        return rt_undefined(FEW_CLUSTERS);
    struct rt_estimate trend = rt_undefined(NULL);
    trend.value = value;
    trend.standard_error = sqrt(variance);
    rt_normal_inference(&trend);
    return trend;
}

static enum rt_status check_input(const struct rt_log_rank_input *input, struct rt_error *error)
{
    if (input->groups < 1 || input->groups > MOST_GROUPS)
        return rt_fail(error, RT_USE, "there must be 1 to %d groups, not %zu", MOST_GROUPS, input->groups);
    for (size_t i = 0; i < input->data.n; i++)
        if (input->group[i] >= input->groups)
            return rt_fail(error, RT_USE, "row %zu: group code %zu is out of range", i + 1, input->group[i]);
    for (size_t g = 0; input->scores != NULL && g < input->groups; g++)
        if (!isfinite(input->scores[g]))
            return rt_fail(error, RT_USE, "the score of group %zu is not a number", g + 1);
    return RT_OK;
}

static enum rt_status allocate(struct sweep *sweep, struct rt_error *error)
{
    struct rt_log_rank *result = sweep->result;
    size_t groups = result->groups;
    bool clustered = sweep->input->data.clusters.of != NULL;
    result->rows = rt_new_array(groups, sizeof *result->rows);
    result->observed = rt_new_array(groups, sizeof *result->observed);
    result->expected = rt_new_array(groups, sizeof *result->expected);
    result->variance = rt_new_array(groups * groups, sizeof *result->variance);
    result->robust = clustered ? rt_new_array(groups * groups, sizeof *result->robust) : NULL;
    sweep->at_risk = rt_new_array(groups, sizeof *sweep->at_risk);
    sweep->events = rt_new_array(groups, sizeof *sweep->events);
    sweep->cumulative = rt_new_array(groups, sizeof *sweep->cumulative);
    sweep->compared = rt_new_array(groups, sizeof *sweep->compared);
    sweep->scores =
        clustered ? rt_new_array(sweep->input->data.clusters.count, groups * sizeof *sweep->scores) : NULL;
    bool complete = result->rows != NULL && result->observed != NULL && result->expected != NULL &&
                    result->variance != NULL && sweep->at_risk != NULL && sweep->events != NULL &&
                    sweep->cumulative != NULL && sweep->compared != NULL;
    complete = complete && (!clustered || (result->robust != NULL && sweep->scores != NULL));
    return complete ? RT_OK : rt_fail_memory(error);
}

static enum rt_status run_tests(struct sweep *sweep, struct rt_error *error)
{
    struct rt_log_rank *result = sweep->result;
    size_t bearing = finish_covariances(sweep);
    enum rt_status status = test_groups(sweep, result->variance, SIZE_MAX, &result->model_test, error);
    result->model_trend = test_trend(sweep, result->variance, SIZE_MAX);
    result->test = result->model_test;
    result->trend = result->model_trend;
    if (status != RT_OK || result->robust == NULL)
        return status;
    status = test_groups(sweep, result->robust, bearing, &result->test, error);
    if (result->model_test.df != result->test.df && result->test.reason == NULL)
        result->test = rt_undefined(FEW_CLUSTERS);
    result->trend = test_trend(sweep, result->robust, bearing);
    return status;
}

enum rt_status rt_log_rank(struct rt_log_rank *result, const struct rt_log_rank_input *input,
                           struct rt_error *error)
{
    *result = (struct rt_log_rank){.groups = input->groups};
    struct sweep sweep = {.input = input, .result = result};
    struct rt_timeline timeline = {0};
    struct rt_stratified strata = {0};
    enum rt_status status = check_input(input, error);
    if (status == RT_OK)
        status = rt_timeline_build(&timeline, &input->data, 1, error);
    if (status == RT_OK)
        status = rt_stratify(&strata, &timeline, input->stratum, input->strata, error);
    if (status == RT_OK)
        status = allocate(&sweep, error);
    if (status == RT_OK) {
        for (size_t i = 0; i < input->data.n; i++)
            result->rows[input->group[i]] += 1;
        for (size_t s = 0; s < strata.strata; s++)
            sweep_stratum(&sweep, &timeline, &strata, s);
        result->clusters_present = rt_clusters_present(&input->data.clusters, input->data.n);
        if (result->clusters_present == SIZE_MAX)
            status = rt_fail_memory(error);
    }
    if (status == RT_OK)
        status = run_tests(&sweep, error);
    free(sweep.at_risk);
    free(sweep.events);
    free(sweep.cumulative);
    free(sweep.compared);
    free(sweep.scores);
    rt_stratified_release(&strata);
    rt_timeline_release(&timeline);
    return status;
}

void rt_log_rank_release(struct rt_log_rank *result)
{
    free(result->rows);
    free(result->observed);
    free(result->expected);
    free(result->variance);
    free(result->robust);
    *result = (struct rt_log_rank){0};
}
