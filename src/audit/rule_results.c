#include "ridgetally/audit/rule_cases.h"

#include "ridgetally/audit/fate.h"
#include "ridgetally/audit/window_cases.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/number.h"

#include <limits.h>
#include <math.h>

bool rt_outcome_is_share(enum rt_rule_outcome_kind outcome)
{
    return outcome != RT_OUTCOME_CREST_CHANGE && outcome != RT_OUTCOME_FINAL_TORQUE &&
           outcome != RT_OUTCOME_TORQUE_PER_MM;
}

/* Crest change and exposure at 12 months from placement. */
static enum rt_status crest_results(const struct rt_cohort *cohort, const struct rt_house_rule *rule,
                                    struct rt_rule_result *results, struct rt_error *error)
{
    struct rt_window_cases cases = {.of = NULL};
    enum rt_status status = rt_window_cases_start(&cases, cohort, error);
    if (status == RT_OK) {
        rt_take_window(cohort, RT_BASELINE_PLACEMENT, &rt_windows()[RT_YEAR_WINDOW], INT_MIN, &cases);
        for (size_t i = 0; i < cases.count; i++) {
            const struct rt_window_case *one = &cases.of[i];
            struct rt_rule_result *result = &results[one->implant];
            result->due = true;
            if (rule->outcome == RT_OUTCOME_CREST_CHANGE)
                result->value = one->change.mean;
            else if (!isnan(one->exposure.worse))
                result->value = rt_hundredths(one->exposure.worse) > 50 ? 1.0 : 0.0;
        }
    }
    rt_window_cases_release(&cases);
    return status;
}

static struct rt_rule_result early_result(const struct rt_cohort *cohort,
                                          const struct rt_audit_implant *implant)
{
    struct rt_rule_result result = {.value = NAN};
    const bool complete =
        cohort->complete_since == RT_NO_DATE || implant->placed_on >= cohort->complete_since;
    result.due = complete && implant->placed_on + RT_EARLY_DAYS <= cohort->period.last_day &&
                 (implant->blocked & RT_BLOCKS_SURVIVAL) == 0;
    if (!result.due)
        return result;
    const enum rt_early_state state = rt_early_state(cohort, implant);
    if (state != RT_EARLY_UNKNOWN)
        result.value = state == RT_EARLY_FAILED;
    return result;
}

/* The clock starts at loading, among implants then in place. */
static struct rt_rule_result loading_result(const struct rt_cohort *cohort, const struct rt_house_rule *rule,
                                            const struct rt_audit_implant *implant)
{
    struct rt_rule_result result = {.value = NAN};
    struct rt_observation observation;
    const int watch = (int)rt_rule_parameter(rule, "watch");
    if (implant->loaded_on == RT_NO_DATE || implant->loaded_on < implant->placed_on ||
        (implant->blocked & RT_BLOCKS_SURVIVAL) != 0 ||
        implant->loaded_on + watch > cohort->period.last_day ||
        !rt_observe(cohort, implant, RT_LAST_SIGHTING, &observation))
        return result;
    const int after = implant->placed_on + observation.exit - implant->loaded_on;
    if (observation.cause != RT_CENSORED && after < 0)
        return result; /* gone before it was loaded */
    result.due = true;
    if (observation.cause == RT_FAILURE && after <= watch)
        result.value = 1.0;
    else if (observation.cause != RT_CENSORED || after >= watch)
        result.value = 0.0;
    return result;
}

static struct rt_rule_result torque_result(const struct rt_cohort *cohort, const struct rt_house_rule *rule,
                                           const struct rt_audit_implant *implant)
{
    struct rt_rule_result result = {.due = (implant->blocked & RT_BLOCKS_STABILITY) == 0, .value = NAN};
    const double cut = rt_lowest_cut(&cohort->cuts.torque), torque = implant->final_torque_ncm;
    if (!result.due || isnan(torque))
        return result;
    result.capped = rule->outcome == RT_OUTCOME_FINAL_TORQUE && implant->final_torque_capped;
    if (rule->outcome == RT_OUTCOME_FINAL_TORQUE)
        result.value = torque;
    else if (rt_hundredths(torque) >= rt_hundredths(cut))
        result.value = 0.0;
    else if (!implant->final_torque_capped) /* below its own cap, which lies below the cut: not known */
        result.value = 1.0;
    return result;
}

static struct rt_rule_result depth_result(const struct rt_audit_implant *implant)
{
    struct rt_rule_result result = {.due = (implant->blocked & RT_BLOCKS_DEPTH) == 0, .value = NAN};
    const double miss = implant->achieved_depth_mm - implant->planned_depth_mm;
    if (result.due && !isnan(miss))
        result.value = rt_hundredths(fabs(miss)) <= 50 ? 1.0 : 0.0;
    return result;
}

static struct rt_rule_result gain_result(const struct rt_audit_implant *implant)
{
    struct rt_rule_result result = {.due = implant->stalled == RT_ANSWER_YES &&
                                           (implant->blocked & RT_BLOCKS_STABILITY) == 0,
                                    .value = NAN};
    if (!result.due || implant->stall_torque_capped)
        return result;
    result.value = implant->final_torque_ncm - implant->stall_torque_ncm;
    result.capped = implant->final_torque_capped;
    return result;
}

static struct rt_rule_result result_of(const struct rt_cohort *cohort, const struct rt_house_rule *rule,
                                       const struct rt_audit_implant *implant)
{
    switch (rule->outcome) {
    case RT_OUTCOME_EARLY_FAILURE:
        return early_result(cohort, implant);
    case RT_OUTCOME_FAILURE_AFTER_LOADING:
        return loading_result(cohort, rule, implant);
    case RT_OUTCOME_LOW_TORQUE:
    case RT_OUTCOME_FINAL_TORQUE:
        return torque_result(cohort, rule, implant);
    case RT_OUTCOME_DEPTH_WITHIN_HALF:
        return depth_result(implant);
    case RT_OUTCOME_TORQUE_PER_MM:
        return gain_result(implant);
    case RT_OUTCOME_EXPOSED:
    case RT_OUTCOME_CREST_CHANGE:
        break;
    }
    return (struct rt_rule_result){.value = NAN};
}

enum rt_status rt_rule_results(const struct rt_cohort *cohort, const struct rt_house_rule *rule,
                               struct rt_rule_result *results, struct rt_error *error)
{
    for (size_t i = 0; i < cohort->count; i++)
        results[i] = result_of(cohort, rule, &cohort->implants[i]);
    if (rule->outcome == RT_OUTCOME_EXPOSED || rule->outcome == RT_OUTCOME_CREST_CHANGE)
        return crest_results(cohort, rule, results, error);
    return RT_OK;
}
