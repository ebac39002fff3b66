/*
 * Frozen baselines: what the store keeps of an operator's expected failures from the first recorded audit on.
 */
#ifndef RIDGETALLY_AUDIT_OPERATOR_BASELINE_H
#define RIDGETALLY_AUDIT_OPERATOR_BASELINE_H

#include "ridgetally/audit/operator_risk.h"
#include "ridgetally/figure/figure.h"

/* Fill risk from the baseline the store has for the operator; risk->frozen says whether there is one fitted no later than
 * last_day. risk->level stays as it is; the charts are taken only when they were set for that level, which the caller
 * checks by *level. */
enum rt_status rt_load_operator_baseline(struct rt_store *store, const char *operator_label, int last_day,
                                         struct rt_operator_risk *risk, double *level,
                                         struct rt_error *error);

/* Keep the rows of measures baseline_term and baseline_count that are in state ok, where the operator has no baseline yet or this one. Part of
 * recording an audit: within its transaction. */
enum rt_status rt_freeze_operator_baselines(struct rt_store *store, const struct rt_figure_list *figures,
                                            const char *recorded_at, struct rt_error *error);

/* Names of the terms that are no coefficients. */
const char *rt_baseline_share_name(enum rt_risk_reference reference);
const char *rt_baseline_level_name(void);

/* which: 0 sessions, 1 failed sessions, 2 patients. */
enum { RT_BASELINE_COUNTS = 3 };
const char *rt_baseline_count_name(int which);

/* which: 0 limit, 1 run length, 2 detection. */
enum { RT_BASELINE_CHART_TERMS = 3 };
const char *rt_baseline_chart_name(enum rt_risk_direction direction, int which);

#endif
