#include "ridgetally/stats/life_table.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/follow_up.h"
#include "ridgetally/stats/sum.h"

#include <math.h>

#define MOST_INTERVALS 100000

static void fill_hazard(struct rt_life_interval *interval)
{
    double width = interval->end - interval->start;
    double mean_exposed = interval->exposed - interval->failed / 2;
    interval->hazard = NAN;
    interval->hazard_error = NAN;
    if (!isfinite(width) || !(mean_exposed > 0))
        return;
    interval->hazard = interval->failed / (width * mean_exposed);
    double half = interval->hazard * width / 2;
    if (interval->failed > 0)
        interval->hazard_error = interval->hazard * sqrt(fmax(0, (1 - half) * (1 + half)) / interval->failed);
}

enum rt_status rt_life_table_grouped(size_t count, const double *start, double entering,
                                     const double *withdrawn, const double *failed,
                                     struct rt_life_interval *intervals, struct rt_error *error)
{
    double survival = 1;
    struct rt_sum greenwood = {0};
    for (size_t j = 0; j < count; j++) {
        if (!(withdrawn[j] >= 0) || !(failed[j] >= 0) || !(start[j + 1] > start[j]))
            return rt_fail(error, RT_USE, "interval %zu: counts must be 0 or more and borders ascend", j + 1);
        if (withdrawn[j] + failed[j] > entering)
            return rt_fail(error, RT_USE, "interval %zu: more leave than enter", j + 1);
        struct rt_life_interval *interval = &intervals[j];
        double exposed = entering - withdrawn[j] / 2;
        *interval = (struct rt_life_interval){.start = start[j],
                                              .end = start[j + 1],
                                              .entering = entering,
                                              .withdrawn = withdrawn[j],
                                              .exposed = exposed,
                                              .failed = failed[j],
                                              .interval_survival = NAN,
                                              .cumulative_survival = NAN,
                                              .standard_error = NAN};
        fill_hazard(interval);
        if (exposed > 0) {
            double p = (exposed - failed[j]) / exposed;
            survival *= p;
            if (p > 0)
                rt_sum_add(&greenwood, failed[j] / (exposed * (exposed - failed[j])));
            interval->interval_survival = p;
            interval->cumulative_survival = survival;
            interval->standard_error = survival > 0 ? survival * sqrt(rt_sum_value(&greenwood)) : NAN;
            interval->reason = survival > 0 ? NULL : "the cumulative survival is 0: its error is not defined";
        } else {
            interval->reason = "nobody is exposed in this interval";
        }
        entering -= withdrawn[j] + failed[j];
    }
    return RT_OK;
}

static enum rt_status check_rows(size_t n, const double *time, const int *event, struct rt_error *error)
{
    for (size_t i = 0; i < n; i++) {
        if (!isfinite(time[i]) || time[i] < 0)
            return rt_fail(error, RT_USE, "row %zu: the time must be a number of 0 or more", i + 1);
        if (event[i] != 0 && event[i] != 1)
            return rt_fail(error, RT_USE, "row %zu: event %d is not 0 or 1", i + 1, event[i]);
    }
    return RT_OK;
}

/* Index of the interval that holds time: the last border at or before it, borders tied with it included. */
static size_t interval_of(double time, const double *borders, size_t count)
{
    size_t low = 0;
    size_t high = count;
    while (low + 1 < high) {
        size_t middle = low + (high - low) / 2;
        if (borders[middle] <= time || rt_times_tied(borders[middle], time))
            low = middle;
        else
            high = middle;
    }
    return low;
}

enum rt_status rt_life_table_between(size_t n, const double *time, const int *event, size_t count,
                                     const double *borders, struct rt_life_interval *intervals,
                                     struct rt_error *error)
{
    enum rt_status status = check_rows(n, time, event, error);
    if (status != RT_OK)
        return status;
    if (count < 1 || borders[0] != 0)
        return rt_fail(error, RT_USE, "the first border must be 0");
    for (size_t i = 0; i < n; i++)
        if (time[i] >= borders[count] || rt_times_tied(time[i], borders[count]))
            return rt_fail(error, RT_USE, "row %zu: the time %.15g lies beyond the last border", i + 1,
                           time[i]);
    double *failed = rt_new_array(count, sizeof *failed);
    double *withdrawn = rt_new_array(count, sizeof *withdrawn);
    if (failed == NULL || withdrawn == NULL) {
        status = rt_fail_memory(error);
    } else {
        for (size_t i = 0; i < n; i++)
            (event[i] != 0 ? failed : withdrawn)[interval_of(time[i], borders, count)] += 1;
        status = rt_life_table_grouped(count, borders, (double)n, withdrawn, failed, intervals, error);
    }
    free(failed);
    free(withdrawn);
    return status;
}

/* How many intervals of the width reach beyond the last time. */
static enum rt_status count_intervals(size_t n, const double *time, double width, size_t *count,
                                      struct rt_error *error)
{
    double last = 0;
    for (size_t i = 0; i < n; i++)
        last = fmax(last, time[i]);
    double index = floor(last / width);
    if (index >= MOST_INTERVALS)
        return rt_fail(error, RT_USE, "the width %.15g cuts the span into more than %d intervals", width,
                       MOST_INTERVALS);
    if (rt_times_tied(last, (index + 1) * width))
        index += 1;
    *count = (size_t)index + 1;
    return RT_OK;
}

enum rt_status rt_life_table(size_t n, const double *time, const int *event, double width,
                             struct rt_life_interval **intervals, size_t *count, struct rt_error *error)
{
    *intervals = NULL;
    *count = 0;
    if (!(width > 0) || !isfinite(width))
        return rt_fail(error, RT_USE, "the width of the intervals must be above 0");
    enum rt_status status = check_rows(n, time, event, error);
    if (status != RT_OK || n == 0)
        return status;
    status = count_intervals(n, time, width, count, error);
    if (status != RT_OK)
        return status;
    double *borders = rt_new_array(*count + 1, sizeof *borders);
    struct rt_life_interval *table = rt_new_array(*count, sizeof *table);
    if (borders == NULL || table == NULL) {
        status = rt_fail_memory(error);
    } else {
        for (size_t j = 0; j <= *count; j++)
            borders[j] = (double)j * width;
        status = rt_life_table_between(n, time, event, *count, borders, table, error);
    }
    free(borders);
    if (status == RT_OK)
        *intervals = table;
    else
        free(table);
    return status;
}
