/* Chapter "Operators and time": what the charts over sessions say, operators beside each other in the order of their labels. */
#include "operators.h"

void plan_operators_and_time(const struct plan *plan)
{
    size_t at = 0;
    if (next_row(plan, key_of("operators", "sessions", "operator", ""), &at) == NULL)
        return;
    struct rt_chapter *chapter = rt_add_chapter(plan->document, "operators", "heading.operators");
    rt_add_lead(plan->document, chapter, "operators.lead");
    plan_signals(plan, chapter);
    plan_depth_over_time(plan, chapter);
    plan_failures_over_time(plan, chapter);
    plan_case_mix(plan, chapter);
    plan_within_by_quarter(plan, chapter);
    plan_beside_the_others(plan, chapter);
}
