/* The verdict on a rule: from the whole interval, never from the point alone. */
#include "rules_private.h"

#include <math.h>
#include <stdio.h>

static bool begin(const struct rule_estimate *estimate, struct rule_verdict *verdict)
{
    const bool known = !estimate->too_few && !isnan(estimate->estimate.lower) &&
                       !isnan(estimate->estimate.upper) && estimate->patients >= RT_LEAST_PATIENTS;
    verdict->implants = estimate->implants;
    verdict->patients = estimate->patients;
    verdict->state = known ? RT_FIGURE_OK : RT_FIGURE_TOO_FEW;
    verdict->value = 0;
    verdict->p = known ? estimate->estimate.p : NAN;
    verdict->remark[0] = '\0';
    if (!known)
        snprintf(verdict->remark, sizeof verdict->remark, "%s",
                 estimate->too_few && estimate->remark[0] != '\0' ? estimate->remark
                 : estimate->estimate.reason != NULL              ? estimate->estimate.reason
                                                                  : "no interval can be computed");
    return known;
}

void rule_decide_difference(const struct rt_house_rule *rule, const struct rule_estimate *adjusted,
                            struct rule_verdict *verdict)
{
    if (!begin(adjusted, verdict))
        return;
    const double a = rule->direction * adjusted->estimate.lower,
                 b = rule->direction * adjusted->estimate.upper;
    const double low = fmin(a, b), high = fmax(a, b);
    if (low > rule->smallest_difference)
        verdict->value = 1;
    else if (high < rule->smallest_difference && !rule->harder_with_easier)
        verdict->value = -1;
    const char *remark = verdict->value != 0 ? ""
                         : high < rule->smallest_difference
                             ? "cannot tell: compares harder with easier cases"
                             : "the interval holds the smallest difference that matters";
    snprintf(verdict->remark, sizeof verdict->remark, "%s", remark);
}

void rule_decide_value(const struct rt_house_rule *rule, const struct rule_estimate *estimate,
                       struct rule_verdict *verdict)
{
    if (!begin(estimate, verdict))
        return;
    const double lower = estimate->estimate.lower, upper = estimate->estimate.upper;
    const bool holds = lower <= rule->stated_value && rule->stated_value <= upper;
    const bool narrow = upper - lower < rule->largest_width;
    verdict->value = !holds ? -1 : narrow ? 1 : 0;
    if (holds && !narrow)
        snprintf(verdict->remark, sizeof verdict->remark, "the interval is wider than the stated width");
}
