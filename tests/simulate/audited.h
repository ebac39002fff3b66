/*
 * Inventing practices and auditing them by the program's own functions: what all simulations share.
 */
#ifndef RIDGETALLY_SIMULATE_AUDITED_H
#define RIDGETALLY_SIMULATE_AUDITED_H

#include "cohort.h"
#include "measures.h"

#include "ridgetally/audit/rows.h"

#include "ridgetally/store/store.h"

/* One interval of one practice; NaN where the row is undefined or has no such limit, RT_NO_COUNT where it has no such
 * count. */
struct interval {
    double value, lower, upper;
    long events, patients;
};

/* A store without records, whose settings and classes hold for every invented practice. */
struct new_store {
    struct rt_store *store;
    struct rt_cohort empty;
};

/* Create it; its file is gone from the folder at once. Release also after a failure. */
enum rt_status open_new_store(struct new_store *new_store, struct rt_error *error);
void close_new_store(struct new_store *new_store);

/* The settings of practice `number` among those of `implants` implants: the sample's, with a seed of its own. */
struct rt_sample_settings settings_of(int implants, long number);

/* The intervals the audit of the cohort shows: intervals[simulated_measures()]. Only those of the
 * parts that are true in parts[PARTS]; the others stay undefined. */
enum rt_status audit_intervals(struct rt_store *store, const struct rt_cohort *cohort, const bool *parts,
                               struct interval *intervals, struct rt_error *error);

/* Is there a value and at least one limit? One that is missing is endless. */
bool is_defined(const struct interval *interval);

/* Does it hold the truth? */
bool covers(const struct interval *interval, double truth);

/* Run work(context, process) in as many processes and wait for all. What they find goes through memory they share. */
enum rt_status in_processes(long processes,
                            enum rt_status (*work)(void *context, long process, struct rt_error *error),
                            void *context, struct rt_error *error);

/* Memory shared with the processes started later; NULL when there is none. Never released: it lasts as the program. */
void *shared_array(size_t count, size_t size);

#endif
