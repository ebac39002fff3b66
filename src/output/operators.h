/* Findings about operators and time that the audit and the trend share; private to the output layer. */
#ifndef RIDGETALLY_SRC_OUTPUT_OPERATORS_H
#define RIDGETALLY_SRC_OUTPUT_OPERATORS_H

#include "plan.h"

/* How many charts are watched, what they signal by chance, and what they signalled. */
void plan_signals(const struct plan *plan, struct rt_chapter *chapter);
/* Which cases they were, by quarter. */
void plan_case_mix(const struct plan *plan, struct rt_chapter *chapter);
/* Depth error over sessions, and the share near plan by quarter. */
void plan_depth_over_time(const struct plan *plan, struct rt_chapter *chapter);
void plan_within_by_quarter(const struct plan *plan, struct rt_chapter *chapter);
/* Early failures against those expected. */
void plan_failures_over_time(const struct plan *plan, struct rt_chapter *chapter);
/* Operator minus the others, drawn to the average, funnel. */
void plan_beside_the_others(const struct plan *plan, struct rt_chapter *chapter);
/* Torque, crest and films by quarter; learning curve (one operator). */
void plan_torque_by_quarter(const struct plan *plan, struct rt_chapter *chapter);
void plan_crest_by_quarter(const struct plan *plan, struct rt_chapter *chapter);
void plan_learning(const struct plan *plan, struct rt_chapter *chapter);

#endif
