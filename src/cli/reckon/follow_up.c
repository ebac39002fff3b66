#include "ridgetally/cli/reckon_follow_up.h"

#include <string.h>

static enum rt_status check_times(struct rt_reckon *r, const struct rt_reckon_times *times,
                                  struct rt_error *error)
{
    for (size_t i = 0; i < r->n; i++) {
        if (times->time[i] < 0)
            return rt_reckon_fail_cell(r, i, rt_reckon_text(r, "--time"), "is below 0",
                                       "times run from 0, the start of the follow-up", error);
        if (times->entry == NULL || times->entry[i] <= 0)
            continue;
        if (times->entry[i] >= times->time[i] || rt_times_tied(times->entry[i], times->time[i]))
            return rt_reckon_fail_cell(r, i, rt_reckon_text(r, "--entry"), "is not before the row's time",
                                       "mend the row, or leave out rows that were never at risk", error);
    }
    return RT_OK;
}

static bool has_option(const struct rt_reckon *r, const char *name)
{
    for (const struct rt_reckon_option *option = r->method->options; option->name != NULL; option++)
        if (strcmp(option->name, name) == 0)
            return true;
    return false;
}

enum rt_status rt_reckon_read_times(struct rt_reckon *r, struct rt_reckon_times *times,
                                    struct rt_error *error)
{
    *times = (struct rt_reckon_times){0};
    enum rt_status status = rt_reckon_numbers(r, "--time", &times->time, error);
    if (status == RT_OK && has_option(r, "--entry"))
        status = rt_reckon_numbers(r, "--entry", &times->entry, error);
    if (status == RT_OK && has_option(r, "--event"))
        status = rt_reckon_events(r, "--event", &times->event, error);
    return status == RT_OK ? check_times(r, times, error) : status;
}

enum rt_status rt_reckon_follow_up(struct rt_reckon *r, const struct rt_reckon_times *times,
                                   const struct rt_reckon_group *group, struct rt_follow_up *data,
                                   struct rt_error *error)
{
    *data = (struct rt_follow_up){.n = group->count,
                                  .time = rt_reckon_pick(r, times->time, group),
                                  .entry = rt_reckon_pick(r, times->entry, group),
                                  .event = rt_reckon_pick_events(r, times->event, group),
                                  .clusters = group->clusters};
    bool complete =
        data->time != NULL && data->event != NULL && (times->entry == NULL || data->entry != NULL);
    return complete ? RT_OK : rt_fail_memory(error);
}

enum rt_curve_interval rt_reckon_interval_form(const struct rt_reckon *r)
{
    const char *word = rt_reckon_text(r, "--interval");
    if (strcmp(word, "log") == 0)
        return RT_INTERVAL_LOG;
    return strcmp(word, "untransformed") == 0 ? RT_INTERVAL_UNTRANSFORMED : RT_INTERVAL_DOUBLE_LOG;
}

enum rt_status rt_reckon_group_codes(struct rt_reckon *r, const struct rt_reckon_group *groups, size_t count,
                                     size_t **codes, struct rt_error *error)
{
    *codes = rt_reckon_array(r, r->n, sizeof **codes, error);
    if (*codes == NULL)
        return RT_MEMORY;
    for (size_t g = 0; g < count; g++)
        for (size_t i = 0; i < groups[g].count; i++)
            (*codes)[groups[g].rows[i]] = g;
    return RT_OK;
}
