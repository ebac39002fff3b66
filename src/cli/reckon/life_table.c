#include "ridgetally/stats/life_table.h"

#include "ridgetally/cli/reckon_follow_up.h"

#include <stdlib.h>
#include <string.h>

static const struct rt_reckon_option options[] = {
    RT_RECKON_TIME,
    RT_RECKON_EVENT,
    {"--width", RT_OPTION_POSITIVE, false, NULL, "width of the intervals", NULL},
    {"--borders", RT_OPTION_NUMBER_LIST, false, NULL,
     "instead: the starts of the intervals, the first 0, the last open", NULL},
    RT_RECKON_BY,
    RT_RECKON_LEVELS,
    RT_RECKON_END};

static const char notes[] =
    "at = start of the interval. Intervals are [start, end): a time on a border belongs to the later one. "
    "Withdrawals count\n"
    "half (exposed = entering - withdrawn / 2); cumulative_survival and its Greenwood error stand for the "
    "end "
    "of the\n"
    "interval (Cutler & Ederer 1958). hazard = failed / (width (exposed - failed / 2)), none in an open "
    "interval. Rows are\n"
    "taken as independent.\n";

static void write(struct rt_reckon *r, const char *group, const struct rt_life_interval *table, size_t count)
{
    for (size_t j = 0; j < count; j++) {
        const struct rt_life_interval *interval = &table[j];
        double at = interval->start;
        const char *no_hazard = interval->reason != NULL ? interval->reason : "an open interval has no width";
        const char *no_error = interval->failed > 0 ? no_hazard : "no failure in the interval";
        rt_reckon_row(r, "entering", group, at, interval->entering, NULL);
        rt_reckon_row(r, "withdrawn", group, at, interval->withdrawn, NULL);
        rt_reckon_row(r, "exposed", group, at, interval->exposed, NULL);
        rt_reckon_row(r, "failed", group, at, interval->failed, NULL);
        rt_reckon_row(r, "interval_survival", group, at, interval->interval_survival, interval->reason);
        rt_reckon_row(r, "interval_failure", group, at, interval->failed / interval->exposed,
                      interval->reason);
        rt_reckon_row(r, "cumulative_survival", group, at, interval->cumulative_survival, interval->reason);
        rt_reckon_row(r, "standard_error", group, at, interval->standard_error, interval->reason);
        rt_reckon_row(r, "hazard", group, at, interval->hazard, no_hazard);
        rt_reckon_row(r, "hazard_error", group, at, interval->hazard_error, no_error);
    }
}

/* The borders of the option closed by infinity; RT_USE when they do not ascend from 0. */
static enum rt_status read_borders(struct rt_reckon *r, double **borders, size_t *count,
                                   struct rt_error *error)
{
    const double *given = rt_reckon_number_list(r, "--borders", count, error);
    *borders = given == NULL ? NULL : rt_reckon_array(r, *count + 1, sizeof **borders, error);
    if (*borders == NULL)
        return RT_MEMORY;
    memcpy(*borders, given, *count * sizeof **borders);
    (*borders)[*count] = INFINITY;
    for (size_t j = 0; j < *count; j++)
        if (j == 0 ? given[0] != 0 : !(given[j] > given[j - 1]))
            return rt_fail(error, RT_USE, "--borders must begin with 0 and ascend");
    return RT_OK;
}

static enum rt_status reckon_group(struct rt_reckon *r, const struct rt_follow_up *data, const char *group,
                                   struct rt_error *error)
{
    struct rt_life_interval *table = NULL;
    size_t count = 0;
    if (!rt_reckon_given(r, "--borders")) {
        enum rt_status status = rt_life_table(data->n, data->time, data->event,
                                              rt_reckon_number(r, "--width"), &table, &count, error);
        if (status == RT_OK)
            write(r, group, table, count);
        else
            rt_error_remedy(error, "give a larger --width");
        free(table);
        return status;
    }
    double *borders = NULL;
    enum rt_status status = read_borders(r, &borders, &count, error);
    if (status != RT_OK)
        return status;
    table = rt_reckon_array(r, count, sizeof *table, error);
    if (table == NULL)
        return RT_MEMORY;
    status = rt_life_table_between(data->n, data->time, data->event, count, borders, table, error);
    if (status == RT_OK)
        write(r, group, table, count);
    return status;
}

static enum rt_status run(struct rt_reckon *r, struct rt_error *error)
{
    struct rt_reckon_times times;
    struct rt_reckon_group *groups = NULL;
    size_t count = 0;
    if (rt_reckon_given(r, "--width") == rt_reckon_given(r, "--borders"))
        return rt_fail(error, RT_USE, "give either --width or --borders");
    enum rt_status status = rt_reckon_read_times(r, &times, error);
    if (status == RT_OK)
        status = rt_reckon_groups(r, "--by", &groups, &count, error);
    for (size_t g = 0; status == RT_OK && g < count; g++) {
        struct rt_follow_up data;
        status = rt_reckon_follow_up(r, &times, &groups[g], &data, error);
        if (status == RT_OK)
            status = reckon_group(r, &data, groups[g].name, error);
    }
    return status;
}

const struct rt_reckon_method rt_reckon_life_table = {
    "life-table",
    "actuarial life tables",
    "entering withdrawn exposed failed interval_survival interval_failure cumulative_survival\n"
    "standard_error hazard hazard_error (at = interval start)",
    notes,
    options,
    run};
