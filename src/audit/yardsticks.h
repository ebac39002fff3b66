/* The parts of section yardsticks; private to the audit layer. */
#ifndef RIDGETALLY_SRC_AUDIT_YARDSTICKS_H
#define RIDGETALLY_SRC_AUDIT_YARDSTICKS_H

#include "ridgetally/audit/cohort.h"
#include "ridgetally/audit/rows.h"
#include "ridgetally/figure/meeting.h"

/* yardstick_value, yardstick_target and yardstick_state of each yardstick, from the rows of the other sections. */
void write_yardsticks(const struct rt_meeting *meeting, struct rt_rows *rows);

/* NAME_then and NAME_change of every compared figure; level: `last period` or `a year ago`. */
void write_changes(const struct rt_cohort *now, const struct rt_cohort *then, const char *level,
                   struct rt_rows *rows);

/* yardstick_before: how each stood then, by the target in force on that period's first day. After the rows of change. */
void write_yardsticks_before(const struct rt_meeting *before, const char *level, struct rt_rows *rows);

/* Is an audit of the period on record, of whatever records? */
enum rt_status is_recorded(struct rt_store *store, const struct rt_period *period, bool *recorded,
                           struct rt_error *error);

/* What the recorded audit of a period printed for the compared figures where that is no longer so; level: `this period`,
 * `last period` or `a year ago`. now: the compared figures are the rows of their own sections; else NAME_then. */
void write_restated(struct rt_store *store, const struct rt_period *period, const char *data_hash,
                    const char *level, bool now, struct rt_rows *rows);

/* How many notes are open, due and answered, and what the figure of each says now and said then; filtered: only now. */
void write_notes(struct rt_store *store, const struct rt_cohort *cohort, const struct rt_meeting *meeting,
                 bool filtered, struct rt_rows *rows);

#endif
