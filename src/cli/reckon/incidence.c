#include "ridgetally/stats/incidence.h"

#include "ridgetally/cli/reckon_follow_up.h"

#include <string.h>

static const struct rt_reckon_option options[] = {RT_RECKON_TIME,
                                                  {"--cause", RT_OPTION_CATEGORY_COLUMN, true, NULL,
                                                   "column of causes; 0 is censored, any other entry a cause",
                                                   NULL},
                                                  RT_RECKON_ENTRY,
                                                  RT_RECKON_INTERVAL,
                                                  RT_RECKON_AT_TIMES,
                                                  RT_RECKON_BY,
                                                  RT_RECKON_CLUSTER,
                                                  RT_RECKON_LEVELS,
                                                  RT_RECKON_END};

static const char notes[] =
    "group = cause, or group|cause with --by; at = time. Aalen & Johansen (1978); error by the delta method "
    "(Gaynor et al.\n"
    "1993; Marubini & Valsecchi 1995), with --cluster the grouped infinitesimal jackknife without "
    "small-sample "
    "factor.\n"
    "Double-log limits F^exp(-+ z se / (F log F)); limits are empty where the incidence is 0 or 1. "
    "event_free (group of --by):\n"
    "share without an event of any cause. Rows stand at every time with an event or a censoring, or at the "
    "times of --at.\n" RT_RECKON_TIES_NOTE;

/* The causes among the levels of the column. */
struct causes {
    size_t count;
    const char **names; /* escaped */
};

/* Event codes from the cause column: the level 0 is 0, the others 1, 2, ... in their order. */
static enum rt_status read_causes(struct rt_reckon *r, struct causes *causes, int **event,
                                  struct rt_error *error)
{
    struct rt_reckon_category category;
    enum rt_status status = rt_reckon_category(r, "--cause", &category, error);
    if (status != RT_OK)
        return status;
    int *code = rt_reckon_array(r, category.level_count, sizeof *code, error);
    causes->names = rt_reckon_array(r, category.level_count, sizeof *causes->names, error);
    *event = rt_reckon_array(r, r->n, sizeof **event, error);
    if (code == NULL || causes->names == NULL || *event == NULL)
        return RT_MEMORY;
    for (size_t level = 0; level < category.level_count; level++) {
        bool zero =
            category.scores == NULL ? strcmp(category.levels[level], "0") == 0 : category.scores[level] == 0;
        if (zero)
            continue;
        causes->names[causes->count] = category.names[level];
        code[level] = (int)++causes->count;
    }
    for (size_t i = 0; i < r->n; i++)
        (*event)[i] = code[category.codes[i]];
    return RT_OK;
}

static const char *group_name(struct rt_reckon *r, const char *by, const char *cause)
{
    return by[0] == '\0' ? cause : rt_reckon_join(r, by, cause);
}

static void write_row(struct rt_reckon *r, const char *group, double at, const struct rt_estimate *value)
{
    rt_reckon_row(r, "incidence", group, at, value->value, value->reason);
    rt_reckon_row(r, "standard_error", group, at, value->standard_error, value->reason);
    rt_reckon_row(r, "lower", group, at, value->lower, value->reason);
    rt_reckon_row(r, "upper", group, at, value->upper, value->reason);
}

/* Event-free share at t; NaN where the curve is not known. */
static double event_free_at(const struct rt_incidence *result, double t)
{
    size_t until = rt_timeline_until(&result->timeline, t);
    if (isnan(rt_incidence_at(result, 1, t).value))
        return NAN;
    return until == 0 ? 1 : result->event_free[until - 1];
}

static void write_times(struct rt_reckon *r, const char *by, const struct causes *causes,
                        const struct rt_incidence *result, const double *times, size_t count)
{
    for (size_t cause = 1; cause <= causes->count; cause++) {
        const char *group = group_name(r, by, causes->names[cause - 1]);
        for (size_t k = 0; k < count; k++) {
            struct rt_estimate value = rt_incidence_at(result, cause, times[k]);
            write_row(r, group, times[k], &value);
        }
    }
    for (size_t k = 0; k < count; k++) {
        rt_reckon_row(r, "event_free", by, times[k], event_free_at(result, times[k]),
                      "nobody is followed that long");
        rt_reckon_row(r, "at_risk", by, times[k], (double)rt_timeline_at_risk(&result->timeline, times[k]),
                      NULL);
    }
}

static enum rt_status reckon_group(struct rt_reckon *r, const struct rt_reckon_times *times,
                                   const struct causes *causes, const struct rt_reckon_group *group,
                                   struct rt_error *error)
{
    struct rt_follow_up data;
    struct rt_incidence result = {0};
    size_t count = 0;
    const double *chosen = rt_reckon_number_list(r, "--at", &count, error);
    if (chosen == NULL)
        return RT_MEMORY;
    enum rt_status status = rt_reckon_follow_up(r, times, group, &data, error);
    if (status == RT_OK)
        status = rt_incidence(&result, &data, causes->count, rt_reckon_interval_form(r), error);
    if (status == RT_OK && rt_reckon_given(r, "--at"))
        write_times(r, group->name, causes, &result, chosen, count);
    else if (status == RT_OK)
        write_times(r, group->name, causes, &result, result.time, result.count);
    rt_incidence_release(&result);
    return status;
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    struct rt_reckon_times times;
    struct rt_reckon_group *groups = NULL;
    struct causes causes = {0};
    size_t count = 0;
    enum rt_status status = rt_reckon_read_times(r, &times, error);
    if (status == RT_OK)
        status = read_causes(r, &causes, &times.event, error);
    if (status == RT_OK)
        status = rt_reckon_groups(r, "--by", &groups, &count, error);
    if (status == RT_OK && causes.count == 0) {
        rt_reckon_remark(r, "no event of any cause: every entry of the cause column is 0");
        return RT_OK;
    }
    for (size_t g = 0; status == RT_OK && g < count; g++)
        status = reckon_group(r, &times, &causes, &groups[g], error);
    return status;
}

const struct rt_reckon_method rt_reckon_incidence = {
    "incidence",
    "cumulative incidence of competing causes",
    "incidence standard_error lower upper (group = cause or group|cause, at = time); event_free at_risk\n"
    "(group, at = time)",
    notes,
    options,
    run};
