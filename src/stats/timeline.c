#include "sort_key.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/follow_up.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#define TIE_TOLERANCE 1e-9

/* Times of entering or leaving while the order is being found are sort keys: item is twice the row, and 1 more when it
 * leaves. */
static bool leaves(const struct rt_sort_key *moment)
{
    return moment->item % 2 == 1;
}

bool rt_times_tied(double a, double b)
{
    return a == b || (isfinite(a) && isfinite(b) && fabs(a - b) <= TIE_TOLERANCE * fmax(fabs(a), fabs(b)));
}

static bool enters_late(const struct rt_follow_up *data, size_t row)
{
    return data->entry != NULL && data->entry[row] > 0;
}

static enum rt_status check_rows(const struct rt_follow_up *data, int events_up_to, struct rt_error *error)
{
    for (size_t i = 0; i < data->n; i++) {
        double time = data->time[i];
        if (!isfinite(time) || time < 0)
            return rt_fail(error, RT_USE, "row %zu: the time must be a number of 0 or more", i + 1);
        if (data->entry != NULL && isnan(data->entry[i]))
            return rt_fail(error, RT_USE, "row %zu: the time of entry is not a number", i + 1);
        if (enters_late(data, i) && (data->entry[i] >= time || rt_times_tied(data->entry[i], time)))
            return rt_fail(error, RT_USE, "row %zu enters at %.15g, not before it leaves at %.15g", i + 1,
                           data->entry[i], time);
        if (data->event[i] < 0 || data->event[i] > events_up_to)
            return rt_fail(error, RT_USE, "row %zu: event %d is not one of 0 to %d", i + 1, data->event[i],
                           events_up_to);
        if (data->clusters.of != NULL && data->clusters.of[i] >= data->clusters.count)
            return rt_fail(error, RT_USE, "row %zu: cluster code %zu is out of range", i + 1,
                           data->clusters.of[i]);
    }
    return RT_OK;
}

/* Number the distinct times of leaving, and of each late row the first such time after its entry. */
static void number_times(struct rt_timeline *timeline, const struct rt_sort_key *moments, size_t moment_count)
{
    size_t late = 0;
    for (size_t start = 0, end = 0; start < moment_count; start = end) {
        bool leaving = false;
        for (end = start; end < moment_count; end++) {
            if (moments[end].bits != moments[start].bits &&
                !rt_times_tied(rt_sort_number(moments[start].bits), rt_sort_number(moments[end].bits)))
                break;
            if (leaves(&moments[end]) && !leaving) {
                leaving = true;
                timeline->time[timeline->count] = rt_sort_number(moments[end].bits);
            }
        }
        size_t next = timeline->count + (leaving ? 1 : 0);
        for (size_t m = start; m < end; m++) {
            const size_t row = moments[m].item / 2;
            if (leaves(&moments[m])) {
                timeline->exit[row] = timeline->count;
            } else {
                timeline->first[row] = next;
                timeline->late_entry[late] = rt_sort_number(moments[m].bits);
                timeline->by_entry[late++] = row;
            }
        }
        timeline->count = next;
    }
}

/* Rows in order of leaving (a counting sort) and the numbers at risk. */
static void fill_order(struct rt_timeline *timeline)
{
    size_t count = timeline->count;
    size_t *start = timeline->exit_start;
    for (size_t i = 0; i < timeline->n; i++)
        start[timeline->exit[i] + 1]++;
    for (size_t k = 0; k < count; k++)
        start[k + 1] += start[k];
    /* Place the rows with start[k] as the cursor of time k, then move the cursors back by one time. */
    for (size_t i = 0; i < timeline->n; i++)
        timeline->by_exit[start[timeline->exit[i]]++] = i;
    memmove(start + 1, start, count * sizeof *start);
    start[0] = 0;
    size_t entered = timeline->n - timeline->late_count;
    size_t late = 0;
    for (size_t k = 0; k < count; k++) {
        while (late < timeline->late_count && timeline->first[timeline->by_entry[late]] <= k)
            late++;
        timeline->at_risk[k] = entered + late - start[k];
    }
}

static enum rt_status allocate(struct rt_timeline *timeline, size_t n, size_t late, struct rt_error *error)
{
    timeline->n = n;
    timeline->late_count = late;
    timeline->time = rt_new_array(n, sizeof *timeline->time);
    timeline->exit = rt_new_array(n, sizeof *timeline->exit);
    timeline->first = rt_new_array(n, sizeof *timeline->first);
    timeline->by_exit = rt_new_array(n, sizeof *timeline->by_exit);
    timeline->exit_start = rt_new_array(n + 1, sizeof *timeline->exit_start);
    timeline->late_entry = rt_new_array(late, sizeof *timeline->late_entry);
    timeline->by_entry = rt_new_array(late, sizeof *timeline->by_entry);
    timeline->at_risk = rt_new_array(n, sizeof *timeline->at_risk);
    bool complete = timeline->time != NULL && timeline->exit != NULL && timeline->first != NULL &&
                    timeline->by_exit != NULL && timeline->exit_start != NULL &&
                    timeline->late_entry != NULL && timeline->by_entry != NULL && timeline->at_risk != NULL;
    return complete ? RT_OK : rt_fail_memory(error);
}

enum rt_status rt_timeline_build(struct rt_timeline *timeline, const struct rt_follow_up *data,
                                 int events_up_to, struct rt_error *error)
{
    *timeline = (struct rt_timeline){0};
    enum rt_status status = check_rows(data, events_up_to, error);
    if (status != RT_OK)
        return status;
    size_t late = 0;
    for (size_t i = 0; i < data->n; i++)
        late += enters_late(data, i) ? 1 : 0;
    struct rt_sort_key *moments = rt_new_array(2 * (data->n + late), sizeof *moments);
    if (moments == NULL)
        return rt_fail_memory(error);
    status = allocate(timeline, data->n, late, error);
    if (status == RT_OK) {
        size_t count = 0;
        for (size_t i = 0; i < data->n; i++) {
            moments[count++] = (struct rt_sort_key){rt_sort_bits(data->time[i]), 2 * i + 1};
            if (enters_late(data, i))
                moments[count++] = (struct rt_sort_key){rt_sort_bits(data->entry[i]), 2 * i};
        }
        rt_sort_keys(moments, moments + count, count);
        number_times(timeline, moments, count);
        fill_order(timeline);
    }
    free(moments);
    return status;
}

void rt_timeline_release(struct rt_timeline *timeline)
{
    free(timeline->time);
    free(timeline->exit);
    free(timeline->first);
    free(timeline->by_exit);
    free(timeline->exit_start);
    free(timeline->late_entry);
    free(timeline->by_entry);
    free(timeline->at_risk);
    *timeline = (struct rt_timeline){0};
}

/* How many of the count ascending values lie before t, values tied with t not counted. */
static size_t values_before(const double *values, size_t count, double t)
{
    size_t low = 0;
    size_t high = count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (values[middle] < t && !rt_times_tied(values[middle], t))
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

size_t rt_timeline_until(const struct rt_timeline *timeline, double t)
{
    size_t before = values_before(timeline->time, timeline->count, t);
    if (before < timeline->count && (timeline->time[before] <= t || rt_times_tied(timeline->time[before], t)))
        before++;
    return before;
}

size_t rt_timeline_at_risk(const struct rt_timeline *timeline, double t)
{
    if (timeline->n == 0 || !(t >= 0))
        return 0;
    size_t entered = timeline->n - timeline->late_count;
    entered += values_before(timeline->late_entry, timeline->late_count, t);
    return entered - timeline->exit_start[values_before(timeline->time, timeline->count, t)];
}

size_t rt_influence_length(const struct rt_follow_up *data)
{
    return data->clusters.of == NULL ? data->n : data->clusters.count;
}

size_t rt_clusters_present(const struct rt_clusters *clusters, size_t n)
{
    if (clusters->of == NULL)
        return n;
    unsigned char *seen = rt_new_array(clusters->count, 1);
    if (seen == NULL)
        return SIZE_MAX;
    size_t present = 0;
    for (size_t i = 0; i < n; i++) {
        present += seen[clusters->of[i]] ? 0 : 1;
        seen[clusters->of[i]] = 1;
    }
    free(seen);
    return present;
}

enum rt_status rt_clusters_at_risk(const struct rt_timeline *timeline, const struct rt_follow_up *data,
                                   double t, size_t *clusters, struct rt_error *error)
{
    *clusters = rt_timeline_at_risk(timeline, t);
    if (data->clusters.of == NULL || *clusters == 0)
        return RT_OK;
    unsigned char *seen = rt_new_array(data->clusters.count, 1);
    if (seen == NULL)
        return rt_fail_memory(error);
    size_t next = values_before(timeline->time, timeline->count, t);
    *clusters = 0;
    for (size_t i = 0; i < data->n; i++) {
        bool entered = !enters_late(data, i) || (data->entry[i] < t && !rt_times_tied(data->entry[i], t));
        if (!entered || timeline->exit[i] < next || seen[data->clusters.of[i]])
            continue;
        seen[data->clusters.of[i]] = 1;
        ++*clusters;
    }
    free(seen);
    return RT_OK;
}

/* Sort rows[count] by stratum, keeping their order within one; start receives strata + 1 borders. */
static void sort_into_strata(const size_t *rows, size_t count, const size_t *stratum, size_t strata,
                             size_t *sorted, size_t *start)
{
    for (size_t r = 0; r < count; r++)
        start[(stratum == NULL ? 0 : stratum[rows[r]]) + 1]++;
    for (size_t s = 0; s < strata; s++)
        start[s + 1] += start[s];
    for (size_t r = 0; r < count; r++)
        sorted[start[stratum == NULL ? 0 : stratum[rows[r]]]++] = rows[r];
    memmove(start + 1, start, strata * sizeof *start);
    start[0] = 0;
}

enum rt_status rt_stratify(struct rt_stratified *stratified, const struct rt_timeline *timeline,
                           const size_t *stratum, size_t strata, struct rt_error *error)
{
    *stratified = (struct rt_stratified){.strata = stratum == NULL ? 1 : strata};
    for (size_t i = 0; stratum != NULL && i < timeline->n; i++)
        if (stratum[i] >= strata)
            return rt_fail(error, RT_USE, "row %zu: stratum code %zu is out of range", i + 1, stratum[i]);
    stratified->by_exit = rt_new_array(timeline->n, sizeof *stratified->by_exit);
    stratified->exit_start = rt_new_array(stratified->strata + 1, sizeof *stratified->exit_start);
    stratified->by_entry = rt_new_array(timeline->late_count, sizeof *stratified->by_entry);
    stratified->entry_start = rt_new_array(stratified->strata + 1, sizeof *stratified->entry_start);
    if (stratified->by_exit == NULL || stratified->exit_start == NULL || stratified->by_entry == NULL ||
        stratified->entry_start == NULL)
        return rt_fail_memory(error);
    sort_into_strata(timeline->by_exit, timeline->n, stratum, stratified->strata, stratified->by_exit,
                     stratified->exit_start);
    sort_into_strata(timeline->by_entry, timeline->late_count, stratum, stratified->strata,
                     stratified->by_entry, stratified->entry_start);
    return RT_OK;
}

void rt_stratified_release(struct rt_stratified *stratified)
{
    free(stratified->by_exit);
    free(stratified->exit_start);
    free(stratified->by_entry);
    free(stratified->entry_start);
    *stratified = (struct rt_stratified){0};
}
