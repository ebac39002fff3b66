#include "ridgetally/stats/shift.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/jackknife.h"
#include "ridgetally/stats/order.h"
#include "ridgetally/stats/pair_difference.h"
#include "ridgetally/stats/pair_score.h"
#include "ridgetally/stats/rank_null.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>

enum { EXACT_BELOW = 50 };

static const char no_limits[] = "too few rows: no difference is extreme enough for a 95% limit";

/* The rows of a set in four sorted lists. */
struct lists {
    double *value; /* one allocation, cut in four */
    struct rt_sorted_sample first;
    struct rt_sorted_sample second;
};

struct data {
    const double *y;
    const bool *capped;
    const bool *second;
    size_t n;
    size_t *order; /* rows ascending in y */
    struct lists all;
    double pairs;
};

static bool is_capped(const struct data *data, size_t i)
{
    return data->capped != NULL && data->capped[i];
}

static unsigned list_of(const struct data *data, size_t i)
{
    return (data->second[i] ? 2u : 0u) + (is_capped(data, i) ? 1u : 0u);
}

/* Cut value, which holds `count` places, into the four lists for the given rows, ascending in y. */
static void cut_lists(const struct data *data, const size_t *row, size_t count, struct lists *lists)
{
    size_t size[4] = {0};
    for (size_t k = 0; k < count; k++)
        size[list_of(data, row[k])]++;
    double *start[4];
    start[0] = lists->value;
    for (size_t l = 1; l < 4; l++)
        start[l] = start[l - 1] + size[l - 1];
    lists->first = (struct rt_sorted_sample){start[0], size[0], start[1], size[1]};
    lists->second = (struct rt_sorted_sample){start[2], size[2], start[3], size[3]};
    for (size_t k = 0; k < count; k++)
        *start[list_of(data, row[k])]++ = data->y[row[k]];
}

static int64_t score_of_row(const struct data *data, size_t i, const struct lists *against, double shift)
{
    if (data->second[i])
        return rt_score_of_second(data->y[i], is_capped(data, i), &against->first, shift);
    return rt_score_of_first(data->y[i], is_capped(data, i), &against->second, shift);
}

static size_t size_of(const struct rt_sorted_sample *sample)
{
    return sample->exact_count + sample->capped_count;
}

/* U over pairs at the shift with each cluster left out. by_cluster: rows by cluster, ascending in y within each. */
static void fill_replicates(const struct data *data, const struct rt_cluster_rows *rows,
                            const size_t *by_cluster, double shift, struct lists *scratch, double *replicates)
{
    int64_t total = 0;
    for (size_t i = 0; i < data->n; i++)
        total += data->second[i] ? score_of_row(data, i, &data->all, shift) : 0;
    for (size_t c = 0; c < rows->count; c++) {
        const size_t *row = by_cluster + rows->start[c];
        size_t size = rows->start[c + 1] - rows->start[c];
        cut_lists(data, row, size, scratch);
        int64_t rest = total;
        for (size_t k = 0; k < size; k++) {
            rest -= score_of_row(data, row[k], &data->all, shift);
            if (data->second[row[k]]) /* pairs within the cluster are taken off twice */
                rest += score_of_row(data, row[k], scratch, shift);
        }
        double first = (double)(size_of(&data->all.first) - size_of(&scratch->first));
        double second = (double)(size_of(&data->all.second) - size_of(&scratch->second));
        replicates[c] = first * second > 0 ? (double)rest / (2 * first * second) : NAN;
    }
}

/* Limits at the given rank of the differences from either end. */
static void set_limits(const struct data *data, double rank, struct rt_estimate *shift)
{
    if (!(rank >= 1)) {
        shift->reason = no_limits;
        return;
    }
    int64_t k = (int64_t)rank;
    shift->lower = rt_difference_at(&data->all.first, &data->all.second, 2 * k);
    shift->upper = rt_difference_at(&data->all.first, &data->all.second, 2 * ((int64_t)data->pairs + 1 - k));
    if (isnan(shift->lower) || isnan(shift->upper))
        shift->reason = "too many capped values for both limits";
}

/* Put the rows of each cluster in ascending order of y. */
static void order_within(const struct data *data, const struct rt_cluster_rows *rows, size_t *next,
                         size_t *by_cluster)
{
    for (size_t c = 0; c < rows->count; c++)
        next[c] = rows->start[c];
    for (size_t k = 0; k < data->n; k++)
        by_cluster[next[rows->of[data->order[k]]]++] = data->order[k];
}

static void judge_clusters(const struct data *data, const struct rt_cluster_rows *rows,
                           const size_t *by_cluster, struct lists *scratch, double *replicates,
                           struct rt_shift *result)
{
    double superiority = result->superiority.value;
    double aligning = isnan(result->shift.value) ? 0 : result->shift.value;
    fill_replicates(data, rows, by_cluster, aligning, scratch, replicates);
    struct rt_estimate aligned = rt_jackknife_estimate(superiority, 0.5, replicates, rows->count);
    result->shift.df = aligned.df;
    result->shift.statistic = aligned.statistic;
    result->shift.p = aligned.p;
    if (result->shift.reason == NULL)
        result->shift.reason = aligned.reason;
    if (aligned.standard_error > 0)
        set_limits(data, floor(data->pairs * (0.5 - rt_t_975(aligned.df) * aligned.standard_error)),
                   &result->shift);
    fill_replicates(data, rows, by_cluster, 0, scratch, replicates);
    for (size_t c = 0; c < rows->count; c++)
        replicates[c] = 2 * replicates[c] - 1;
    struct rt_estimate difference = rt_jackknife_bounded(2 * superiority - 1, replicates, rows->count);
    result->superiority = difference;
    result->superiority.value = superiority;
    result->superiority.standard_error = difference.standard_error / 2;
    result->superiority.lower = (1 + difference.lower) / 2;
    result->superiority.upper = (1 + difference.upper) / 2;
}

static enum rt_status with_clusters(const struct data *data, const struct rt_clusters *clusters,
                                    struct rt_shift *result, struct rt_error *error)
{
    struct rt_cluster_rows rows = {0};
    enum rt_status status = rt_gather_clusters(clusters, data->n, &rows, error);
    size_t *by_cluster = rt_new_array(data->n, sizeof *by_cluster);
    size_t *next = rt_new_array(rows.count, sizeof *next);
    double *replicates = rt_new_array(rows.count, sizeof *replicates);
    struct lists scratch = {.value = rt_new_array(data->n, sizeof *scratch.value)};
    if (status == RT_OK &&
        (by_cluster == NULL || next == NULL || replicates == NULL || scratch.value == NULL))
        status = rt_fail_memory(error);
    if (status == RT_OK) {
        order_within(data, &rows, next, by_cluster);
        judge_clusters(data, &rows, by_cluster, &scratch, replicates, result);
    }
    free(by_cluster);
    free(next);
    free(replicates);
    free(scratch.value);
    rt_cluster_rows_release(&rows);
    return status;
}

static enum rt_status exact_test(const struct data *data, struct rt_shift *result, struct rt_error *error)
{
    struct rt_mass mass = {0};
    size_t sizes[] = {result->n_first, result->n_second};
    enum rt_status status = rt_jonckheere_null(sizes, 2, &mass, error);
    if (status == RT_OK) {
        result->shift.p = rt_mass_two_sided(&mass, (size_t)result->mann_whitney);
        set_limits(data, (double)rt_mass_quantile(&mass, 0.025), &result->shift);
    }
    rt_mass_release(&mass);
    return status;
}

static void normal_test(const struct data *data, const struct rt_pair_sums *sums, struct rt_shift *result)
{
    double sd = sqrt(rt_pair_variance(sums)) / 4; /* U - pairs/2 = cross/4 */
    double distance = (double)sums->cross / 4;
    double correction = distance > 0 ? 0.5 : distance < 0 ? -0.5 : 0;
    result->shift.df = INFINITY;
    if (sd > 0) {
        result->shift.statistic = (distance - correction) / sd;
        result->shift.p = rt_t_p(result->shift.statistic, INFINITY);
    } else {
        result->shift.reason = "all values are equal or their order is unknown";
        return;
    }
    if (data->capped == NULL)
        sd = sqrt(data->pairs * ((double)data->n + 1) / 12);
    set_limits(data, floor(data->pairs / 2 - RT_Z_95 * sd), &result->shift);
}

static enum rt_status without_clusters(const struct data *data, struct rt_shift *result,
                                       struct rt_error *error)
{
    struct rt_pair_scores scores = {0};
    double *x = rt_new_array(data->n, sizeof *x);
    if (x == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < data->n; i++)
        x[i] = data->second[i];
    enum rt_status status = rt_pair_scores(x, data->y, data->capped, data->n, &scores, error);
    free(x);
    if (status != RT_OK)
        return status;
    const struct rt_pair_sums *sums = &scores.sums;
    if (sums->y_decided == sums->n * (sums->n - 1) && result->n_first < EXACT_BELOW &&
        result->n_second < EXACT_BELOW)
        status = exact_test(data, result, error);
    else
        normal_test(data, sums, result);
    rt_pair_scores_release(&scores);
    return status;
}

/* U, the superiority and the shift itself. */
static void estimate(const struct data *data, struct rt_shift *result)
{
    int64_t total = 0;
    for (size_t i = 0; i < data->n; i++)
        total += data->second[i] ? score_of_row(data, i, &data->all, 0) : 0;
    int64_t pairs = (int64_t)data->pairs;
    result->mann_whitney = (double)total / 2;
    result->superiority = rt_undefined(NULL);
    result->superiority.value = (double)total / (2 * data->pairs);
    result->shift = rt_undefined(NULL);
    double low = rt_difference_at(&data->all.first, &data->all.second, pairs);
    double high = rt_difference_at(&data->all.first, &data->all.second, pairs + 1);
    result->shift.value = low == high ? low : low / 2 + high / 2;
    if (isnan(result->shift.value))
        result->shift.reason = "too many capped values to find the shift";
}

enum rt_status rt_shift(const double *y, const bool *y_capped, const bool *second, size_t n,
                        const struct rt_clusters *clusters, struct rt_shift *result, struct rt_error *error)
{
    struct rt_estimate empty = rt_undefined("one of the two groups has no rows");
    *result = (struct rt_shift){.mann_whitney = NAN, .superiority = empty, .shift = empty};
    for (size_t i = 0; i < n; i++)
        (*(second[i] ? &result->n_second : &result->n_first))++;
    if (result->n_first == 0 || result->n_second == 0)
        return RT_OK;
    struct data data = {.y = y, .capped = y_capped, .second = second, .n = n};
    data.pairs = (double)result->n_first * (double)result->n_second;
    data.order = rt_new_array(n, sizeof *data.order);
    data.all.value = rt_new_array(n, sizeof *data.all.value);
    enum rt_status status = RT_OK;
    if (data.order == NULL || data.all.value == NULL)
        status = rt_fail_memory(error);
    if (status == RT_OK)
        status = rt_sort_order(y, n, data.order, error);
    if (status == RT_OK) {
        cut_lists(&data, data.order, n, &data.all);
        estimate(&data, result);
        status = rt_has_clusters(clusters) ? with_clusters(&data, clusters, result, error)
                                           : without_clusters(&data, result, error);
    }
    free(data.order);
    free(data.all.value);
    return status;
}
