/* Section yardsticks as a whole: this period, then the earlier ones, one after another so that one cohort more is in memory. What
 * changed since them needs no row of another section, and so is computed beside these. */
#include "yardsticks.h"

#include "ridgetally/audit/info.h"
#include "ridgetally/audit/meeting.h"
#include "ridgetally/audit/sections.h"

#include <stdio.h>

static struct rt_period period_of(const struct rt_cohort *cohort, enum rt_earlier earlier)
{
    return earlier == RT_LAST_PERIOD ? rt_last_period(&cohort->period)
                                     : rt_period_a_year_ago(&cohort->period);
}

static const char *level_of(enum rt_earlier earlier)
{
    return earlier == RT_LAST_PERIOD ? "last period" : "a year ago";
}

void rt_change_figures(struct rt_store *store, const struct rt_cohort *cohort, enum rt_earlier earlier,
                       struct rt_rows *rows)
{
    const struct rt_period period = period_of(cohort, earlier);
    struct rt_cohort then = {.count = 0};
    if (rt_rows_check(rows, rt_load_cohort(store, &period, &then, rows->error)))
        write_changes(cohort, &then, level_of(earlier), rows);
    rt_release_cohort(&then);
}

static void write_earlier(struct rt_store *store, const struct rt_cohort *cohort, enum rt_earlier earlier,
                          const struct rt_figure_list *changes, bool filtered, struct rt_rows *rows)
{
    const struct rt_period period = period_of(cohort, earlier);
    struct rt_meeting before = {.yardstick_count = 0};
    if (rt_rows_check(rows, rt_load_yardsticks(store, period.first_day, &before, rows->error))) {
        for (size_t i = 0; i < changes->count; i++)
            rt_put_row(rows, &changes->rows[i]);
        write_yardsticks_before(&before, level_of(earlier), rows);
        if (!filtered)
            write_restated(store, &period, "", level_of(earlier), false, rows);
    }
    rt_release_meeting(&before);
}

/* The hash is dear in a large store: it is computed only where an audit of this period is on record. */
static void write_restated_now(struct rt_store *store, const struct rt_cohort *cohort, const char *data_hash,
                               struct rt_rows *rows)
{
    char hash[RT_SHA256_HEX] = "";
    bool recorded = false;
    if (!rt_rows_check(rows, is_recorded(store, &cohort->period, &recorded, rows->error)) || !recorded)
        return;
    if (data_hash != NULL)
        snprintf(hash, sizeof hash, "%s", data_hash);
    else
        rt_rows_check(rows, rt_data_hash(store, cohort->period.last_day, "", hash, rows->error));
    if (rows->status == RT_OK)
        write_restated(store, &cohort->period, hash, "this period", true, rows);
}

void rt_yardstick_figures(struct rt_store *store, const struct rt_cohort *cohort,
                          const struct rt_earlier_changes *changes, bool filtered, const char *data_hash,
                          struct rt_rows *rows)
{
    struct rt_meeting meeting = {.yardstick_count = 0};
    if (rt_rows_check(rows, rt_load_meeting(store, &cohort->period, &meeting, rows->error))) {
        write_yardsticks(&meeting, rows);
        if (!filtered)
            write_restated_now(store, cohort, data_hash, rows);
        for (int i = 0; i < RT_EARLIER_PERIODS; i++)
            write_earlier(store, cohort, (enum rt_earlier)i, &changes->since[i], filtered, rows);
        write_notes(store, cohort, &meeting, filtered, rows);
    }
    rt_release_meeting(&meeting);
}
