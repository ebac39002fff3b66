/* Inside of audit: all sections, on two cores where the cohort is worth it. */
#ifndef RIDGETALLY_SRC_AUDIT_RUN_SECTIONS_H
#define RIDGETALLY_SRC_AUDIT_RUN_SECTIONS_H

#include "ridgetally/audit/rows.h"
#include "ridgetally/store/store.h"

/* Append the rows of every section but the yardsticks, in the reader's order. The rows are the same, bit for bit, on one core
 * and on two: each section computes alone, from the cohort, into a list of its own. */
void rt_run_sections(struct rt_store *store, const struct rt_cohort *cohort, struct rt_rows *rows);

#endif
