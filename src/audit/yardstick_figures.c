/* Section yardsticks as a whole: this period, then the earlier ones, one after another so that one cohort more is in memory. */
#include "yardsticks.h"

#include "ridgetally/audit/info.h"
#include "ridgetally/audit/meeting.h"
#include "ridgetally/audit/sections.h"

#include <stdio.h>

static void write_earlier(struct rt_store *store, const struct rt_cohort *cohort,
                          const struct rt_period *period, bool filtered, const char *level,
                          struct rt_rows *rows)
{
    struct rt_cohort then = {.count = 0};
    struct rt_meeting before = {.yardstick_count = 0};
    if (rt_rows_check(rows, rt_load_cohort(store, period, &then, rows->error)) &&
        rt_rows_check(rows, rt_load_yardsticks(store, period->first_day, &before, rows->error))) {
        write_changes(cohort, &then, level, rows);
        write_yardsticks_before(&before, level, rows);
        if (!filtered)
            write_restated(store, period, "", level, false, rows);
    }
    rt_release_meeting(&before);
    rt_release_cohort(&then);
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

void rt_yardstick_figures(struct rt_store *store, const struct rt_cohort *cohort, bool filtered,
                          const char *data_hash, struct rt_rows *rows)
{
    struct rt_meeting meeting = {.yardstick_count = 0};
    const struct rt_period last = rt_last_period(&cohort->period);
    const struct rt_period year = rt_period_a_year_ago(&cohort->period);
    if (rt_rows_check(rows, rt_load_meeting(store, &cohort->period, &meeting, rows->error))) {
        write_yardsticks(&meeting, rows);
        if (!filtered)
            write_restated_now(store, cohort, data_hash, rows);
        write_earlier(store, cohort, &last, filtered, "last period", rows);
        write_earlier(store, cohort, &year, filtered, "a year ago", rows);
        write_notes(store, cohort, &meeting, filtered, rows);
    }
    rt_release_meeting(&meeting);
}
