/*
 * The period of an audit: which days it covers, and the default one. The clock is never read.
 */
#ifndef RIDGETALLY_AUDIT_PERIOD_H
#define RIDGETALLY_AUDIT_PERIOD_H

#include "ridgetally/base/error.h"
#include "ridgetally/store/store.h"

/* Both days are in. Everything dated after last_day is ignored. */
struct rt_period {
    int first_day, last_day;
};

/* First day of the 12 months that end with the period. */
int rt_year_start(const struct rt_period *period);

/* First day of the span in which windows of time must have closed to count: the 12 months that end with the
 * period, or the period itself where it is longer. */
int rt_closing_start(const struct rt_period *period);

/* The period before: as many whole months where the period is made of whole months (the last quarter), else as many days. */
struct rt_period rt_last_period(const struct rt_period *period);

/* The same period twelve months earlier. */
struct rt_period rt_period_a_year_ago(const struct rt_period *period);

/* Dates of the earliest and the latest record (placements, uncoverings, loadings, follow-ups, events). Both
 * are RT_NO_DATE in an empty store. */
enum rt_status rt_record_span(struct rt_store *store, int *earliest, int *latest, struct rt_error *error);

/* The last quarter that was complete before the latest record. RT_INPUT for a store without dated records. */
enum rt_status rt_default_period(struct rt_store *store, struct rt_period *period, struct rt_error *error);

/* From the earliest to the latest record. RT_INPUT for a store without dated records. */
enum rt_status rt_whole_period(struct rt_store *store, struct rt_period *period, struct rt_error *error);

#endif
