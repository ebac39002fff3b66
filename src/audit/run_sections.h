/* Inside of audit: all sections, on two cores where the cohort is worth it. */
#ifndef RIDGETALLY_SRC_AUDIT_RUN_SECTIONS_H
#define RIDGETALLY_SRC_AUDIT_RUN_SECTIONS_H

#include "ridgetally/audit/rows.h"
#include "ridgetally/audit/sections.h"
#include "ridgetally/store/store.h"

/* On how many cores. */
enum rt_cores { RT_AS_IT_PAYS, RT_ONE_CORE, RT_TWO_CORES };

/* Append the rows of every section but the yardsticks, in the reader's order; those of the change since the two earlier periods
 * go to `changes`, whose lists the caller releases. The rows are the same, bit for bit, on one core and on two: each section
 * computes alone, from the cohort, into a list of its own. */
void rt_run_sections(struct rt_store *store, const struct rt_cohort *cohort, enum rt_cores cores,
                     struct rt_earlier_changes *changes, struct rt_rows *rows);

#endif
