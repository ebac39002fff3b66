#include "ridgetally/audit/rule_cases.h"

#include "ridgetally/base/date.h"
#include "ridgetally/base/number.h"

#include <math.h>

bool rt_usual_scale(const struct rt_cohort *cohort, bool planned)
{
    long scale[2] = {0, 0};
    for (size_t i = 0; i < cohort->count; i++) {
        const struct rt_audit_implant *implant = &cohort->implants[i];
        const struct rt_density *density = planned ? &implant->planned : &implant->found;
        scale[density->lz] += density->of > 0;
    }
    return scale[1] > scale[0];
}

static enum rt_rule_standing followed_if(bool followed)
{
    return followed ? RT_RULE_FOLLOWED : RT_RULE_NOT_FOLLOWED;
}

static enum rt_rule_standing of_answer(enum rt_answer answer)
{
    return answer == RT_ANSWER_MISSING ? RT_RULE_CANNOT_JUDGE : followed_if(answer == RT_ANSWER_YES);
}

static bool at_least(double value, double cut)
{
    return rt_hundredths(value) >= rt_hundredths(cut);
}

/* The stall and the final torque against the torque expected after the way that was left. A capped final torque is only a
 * lower limit. */
static enum rt_rule_standing torque_standing(const struct rt_house_rule *rule,
                                             const struct rt_audit_implant *implant)
{
    const double travel = rt_rule_dose(rule, implant);
    if (implant->stalled == RT_ANSWER_NO)
        return RT_RULE_NOT_CONCERNED;
    if (implant->stalled == RT_ANSWER_MISSING || isnan(travel) || isnan(implant->final_torque_ncm) ||
        isnan(implant->stall_torque_ncm) || implant->stall_torque_capped)
        return RT_RULE_CANNOT_JUDGE;
    const long within = rt_hundredths(rt_rule_parameter(rule, "within"));
    const long above =
        rt_hundredths(implant->final_torque_ncm - implant->stall_torque_ncm - rule->stated_value * travel);
    if (implant->final_torque_capped)
        return above > within ? RT_RULE_NOT_FOLLOWED : RT_RULE_CANNOT_JUDGE;
    return followed_if(above <= within && above >= -within);
}

/* Never stalled: then changed for another size, or closed over. Both facts are needed, also where one says yes: judging only
 * those whose one known fact says yes would count the rule as followed too often. */
static enum rt_rule_standing stall_standing(const struct rt_audit_implant *implant)
{
    if (implant->stalled == RT_ANSWER_YES)
        return RT_RULE_NOT_CONCERNED;
    if (implant->stalled == RT_ANSWER_MISSING || implant->changed == RT_ANSWER_MISSING ||
        implant->two_stage == RT_ANSWER_MISSING)
        return RT_RULE_CANNOT_JUDGE;
    return followed_if(implant->changed == RT_ANSWER_YES || implant->two_stage == RT_ANSWER_YES);
}

static bool is_dense(const struct rt_house_rule *rule, const struct rt_density *density)
{
    return density->of <= (int)rt_rule_parameter(rule, "dense_up_to");
}

static enum rt_rule_standing density_standing(const struct rt_house_rule *rule, bool lz,
                                              const struct rt_audit_implant *implant)
{
    const bool known = implant->found.of > 0 && implant->found.lz == lz;
    if (!known)
        return RT_RULE_CANNOT_JUDGE;
    const bool dense = is_dense(rule, &implant->found);
    if (rule->kind == RT_RULE_DRILL)
        return followed_if(dense);
    return dense ? of_answer(implant->dense_drilling) : RT_RULE_NOT_CONCERNED;
}

static enum rt_rule_standing wait_standing(const struct rt_house_rule *rule,
                                           const struct rt_audit_implant *implant)
{
    const bool gone = implant->removed_on != RT_NO_DATE || implant->elective_on != RT_NO_DATE ||
                      implant->died_on != RT_NO_DATE;
    if (implant->loaded_on == RT_NO_DATE)
        return implant->loaded == RT_ANSWER_NO || gone ? RT_RULE_NOT_CONCERNED : RT_RULE_CANNOT_JUDGE;
    const int days = implant->loaded_on - implant->placed_on;
    if (days < 0)
        return RT_RULE_CANNOT_JUDGE;
    return followed_if(days >= (int)rt_rule_parameter(rule, "wait"));
}

/* The sections whose contradictions spoil what the rule is judged by. */
static unsigned spoiling(const struct rt_house_rule *rule)
{
    static const unsigned sections[RT_RULE_KINDS] = {
        [RT_RULE_DEPTH] = RT_BLOCKS_DEPTH,       [RT_RULE_SUM] = RT_BLOCKS_DEPTH,
        [RT_RULE_TORQUE] = RT_BLOCKS_STABILITY,  [RT_RULE_STALL] = RT_BLOCKS_STABILITY,
        [RT_RULE_DRILL] = RT_BLOCKS_STABILITY,   [RT_RULE_DENSE] = RT_BLOCKS_DEPTH,
        [RT_RULE_RESERVE] = RT_BLOCKS_STABILITY, [RT_RULE_WAIT] = RT_BLOCKS_SURVIVAL};
    return sections[rule->kind];
}

enum rt_rule_standing rt_rule_standing(const struct rt_house_rule *rule, bool lz,
                                       const struct rt_audit_implant *implant)
{
    const double dose = rt_rule_dose(rule, implant);
    if ((implant->blocked & spoiling(rule)) != 0)
        return RT_RULE_CANNOT_JUDGE;
    switch (rule->kind) {
    case RT_RULE_DEPTH:
        if (isnan(dose))
            return RT_RULE_CANNOT_JUDGE;
        return followed_if(at_least(dose, rt_rule_parameter(rule, "lower")) &&
                           at_least(rt_rule_parameter(rule, "upper"), dose));
    case RT_RULE_SUM:
        return isnan(dose) ? RT_RULE_CANNOT_JUDGE : followed_if(at_least(dose, rule->stated_value));
    case RT_RULE_TORQUE:
        return torque_standing(rule, implant);
    case RT_RULE_STALL:
        return stall_standing(implant);
    case RT_RULE_WALL: /* both walls are needed, for the same reason as in stall_standing */
        return isnan(dose) ? RT_RULE_CANNOT_JUDGE
                           : followed_if(at_least(dose, rt_rule_parameter(rule, "wall")));
    case RT_RULE_DRILL:
    case RT_RULE_DENSE:
        return density_standing(rule, lz, implant);
    case RT_RULE_RESERVE:
        return of_answer(implant->next_size_possible);
    case RT_RULE_WAIT:
        return wait_standing(rule, implant);
    }
    return RT_RULE_CANNOT_JUDGE;
}

bool rt_rule_has_dose(const struct rt_house_rule *rule)
{
    return rule->kind == RT_RULE_DEPTH || rule->kind == RT_RULE_SUM || rule->kind == RT_RULE_TORQUE ||
           rule->kind == RT_RULE_WALL || rule->kind == RT_RULE_WAIT;
}

double rt_rule_dose(const struct rt_house_rule *rule, const struct rt_audit_implant *implant)
{
    switch (rule->kind) {
    case RT_RULE_DEPTH:
        return implant->achieved_depth_mm;
    case RT_RULE_SUM:
        return implant->achieved_depth_mm + implant->tissue_mm;
    case RT_RULE_TORQUE:
        return implant->stall_height_mm + implant->achieved_depth_mm;
    case RT_RULE_WALL:
        return isnan(implant->wall_buccal_mm + implant->wall_lingual_mm)
                   ? NAN
                   : fmin(implant->wall_buccal_mm, implant->wall_lingual_mm);
    case RT_RULE_WAIT:
        return implant->loaded_on == RT_NO_DATE || implant->loaded_on < implant->placed_on
                   ? NAN
                   : (double)(implant->loaded_on - implant->placed_on);
    case RT_RULE_STALL:
    case RT_RULE_DRILL:
    case RT_RULE_DENSE:
    case RT_RULE_RESERVE:
        break;
    }
    return NAN;
}
