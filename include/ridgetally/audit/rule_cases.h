/*
 * What each implant tells about a house rule: whether the rule concerned it and was followed, the number the rule is about,
 * and what became of it. All records to the end of the period are used.
 */
#ifndef RIDGETALLY_AUDIT_RULE_CASES_H
#define RIDGETALLY_AUDIT_RULE_CASES_H

#include "ridgetally/audit/cohort.h"
#include "ridgetally/audit/house_rules.h"
#include "ridgetally/audit/sample.h"

enum rt_rule_standing {
    RT_RULE_NOT_CONCERNED, /* the case the rule is for did not arise, or is still open */
    RT_RULE_CANNOT_JUDGE,  /* a fact is not recorded, or contradicted */
    RT_RULE_NOT_FOLLOWED,
    RT_RULE_FOLLOWED
};

/* lz: the density scale most used (rt_usual_scale); the other is not judged. Comparisons in integer hundredths. For
 * torque-per-millimetre followed means that the final torque came within the parameter `within` of the expected one;
 * for density-by-drill that the drill brought out a dense class (up to `dense_up_to`). */
enum rt_rule_standing rt_rule_standing(const struct rt_house_rule *rule, bool lz,
                                       const struct rt_audit_implant *implant);

/* The number the rule is about: depth, tissue plus depth, travel after the stall, thinner wall (mm), or days from
 * placement to loading. NaN where it is not recorded or the rule has none. */
double rt_rule_dose(const struct rt_house_rule *rule, const struct rt_audit_implant *implant);

/* Does the rule have such a number? */
bool rt_rule_has_dose(const struct rt_house_rule *rule);

/* The outcome of an implant: due when its time has passed within the period and nothing contradicts it; value NaN while it is
 * not known. */
struct rt_rule_result {
    bool due, capped; /* capped: value is a limit reached */
    double value;
};

/* Outcomes of all implants of the cohort (one each, in its order) for one rule. results has room for all. */
enum rt_status rt_rule_results(const struct rt_cohort *cohort, const struct rt_house_rule *rule,
                               struct rt_rule_result *results, struct rt_error *error);

/* Is the outcome one of yes and no (1 and 0)? */
bool rt_outcome_is_share(enum rt_rule_outcome_kind outcome);

/* The density scale most used in class found (planned false) or planned: true for Lekholm and Zarb. */
bool rt_usual_scale(const struct rt_cohort *cohort, bool planned);

#endif
