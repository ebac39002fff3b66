/* Inside of intake: running the checks over the store. */
#ifndef RIDGETALLY_SRC_INTAKE_CHECK_RUN_H
#define RIDGETALLY_SRC_INTAKE_CHECK_RUN_H

#include "loader.h"

/* The tables whose single rows checks look at; ROW_KINDS stands for a query of another form. */
enum row_kind { IMPLANT_ROWS, READING_ROWS, ROW_KINDS };

/* One check: a file of sql/checks/, or the one of unusual values, which is made here. */
struct check {
    char name[64];
    const char *text;
    char *made; /* text, where it was made here */
};

/* One SELECT of a check. */
struct part {
    const struct check *check;
    enum row_kind kind;
    const char *begin;
    size_t head, length; /* bytes before the FROM clause (kind ROW_KINDS: all), bytes in all */
    size_t from;         /* bytes of the FROM clause up to the condition */
    bool runs;           /* it reads a touched table */
    int64_t mark;        /* the bit of rows that meet its condition; several parts may share one */
};

struct check_plan {
    struct check *checks;
    size_t count;
    struct part *parts; /* in the order of the checks */
    size_t part_count;
};

/* check_plan.c: all checks, taken apart, and which parts read any of the touched tables (a set of RT_TOUCHED_...). Release the
 * plan also after a failure. */
enum rt_status plan_checks(unsigned touched, struct check_plan *plan, struct rt_error *error);
void release_check_plan(struct check_plan *plan);

/* check_reads.c: which tables a query of a check reads, as a set of RT_TOUCHED_...: every bit when it reads a table that is none
 * of these, none for batches, which change with their records only. */
unsigned check_reads(const char *sql, size_t length);

/* spread.c: fill temp.spread with the implants whose levels change much from one reading to another, or of which two measured films
 * may read alike (repeats): how far each side's levels lie apart, and the largest lead of either side over the other. */
enum rt_status note_spread(struct rt_store *store, struct rt_error *error);

/* check_run.c: fill temp.found with what the checks find that read any of the touched tables, and temp.ran with the names of
 * those checks. What the others found stays as it was, for nothing they read has changed; so does what a check finds about
 * implants, or readings, where temp.ran says that those were spared. */
enum rt_status run_checks(struct rt_store *store, unsigned touched, struct rt_error *error);

#endif
