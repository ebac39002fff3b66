/* Comparing a period with an earlier one; private to the audit layer. */
#ifndef RIDGETALLY_SRC_AUDIT_CHANGE_H
#define RIDGETALLY_SRC_AUDIT_CHANGE_H

#include "ridgetally/audit/compared.h"
#include "ridgetally/audit/rows.h"

/* The two cohorts of one comparison. Their patients share codes, so that what a patient has in both periods cancels as it
 * should: code_now and code_then give the code of each cohort's patient numbers. */
struct change {
    struct rt_rows *rows;
    const char *level; /* `last period` or `a year ago` */
    struct rt_compared_view now, then;
    size_t *code_now, *code_then;
    size_t codes;
};

/* An empty row of NAME_then or NAME_change; key must outlive it. */
struct rt_figure change_row(struct change *change, const struct rt_compared *compared, const char *ending,
                            const struct rt_row_key *key);

/* Codes whose count is not the same in both periods. With fewer than RT_LEAST_EVENT_PATIENTS of them a change of events says
 * nothing: what both periods share cancels, and so few patients show no variance. too_few_apart is the remark then. */
size_t count_apart(const double *now, const double *then, size_t codes);
extern const char too_few_apart[];

/* Rows of one figure: as it was then, and the change since. */
void write_survival_change(struct change *change, const struct rt_compared *compared);
void write_rate_change(struct change *change, const struct rt_compared *compared);

#endif
