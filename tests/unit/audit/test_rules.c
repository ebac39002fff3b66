/* House rules: who followed them, and what an interval makes of them. All cases by hand. */
#include "../../../src/audit/rules_private.h"

#include "ridgetally/base/date.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

/* An implant of which nothing is recorded. */
static struct rt_audit_implant blank(void)
{
    return (struct rt_audit_implant){.smoking = -1,
                                     .diameter_mm = NAN,
                                     .length_mm = NAN,
                                     .planned_depth_mm = NAN,
                                     .achieved_depth_mm = NAN,
                                     .tissue_mm = NAN,
                                     .stalled = RT_ANSWER_MISSING,
                                     .stall_height_mm = NAN,
                                     .stall_torque_ncm = NAN,
                                     .final_torque_ncm = NAN,
                                     .wall_buccal_mm = NAN,
                                     .wall_lingual_mm = NAN,
                                     .changed = RT_ANSWER_MISSING,
                                     .dense_drilling = RT_ANSWER_MISSING,
                                     .next_size_possible = RT_ANSWER_MISSING,
                                     .two_stage = RT_ANSWER_MISSING,
                                     .placed_on = 1000,
                                     .loaded_on = RT_NO_DATE,
                                     .loaded = RT_ANSWER_MISSING,
                                     .removed_on = RT_NO_DATE,
                                     .elective_on = RT_NO_DATE,
                                     .died_on = RT_NO_DATE};
}

static struct rt_house_rule rule_of(enum rt_rule_kind kind)
{
    static const struct rt_house_rule at_surgery = {
        .parameter_count = 4,
        .parameters = {
            {"lower", 1.0, "mm"}, {"upper", 2.0, "mm"}, {"wall", 1.5, "mm"}, {"within", 10.0, "Ncm"}}};
    static const struct rt_house_rule others = {
        .parameter_count = 2, .parameters = {{"dense_up_to", 2.0, "class"}, {"wait", 84.0, "days"}}};
    const bool other = kind == RT_RULE_DRILL || kind == RT_RULE_DENSE || kind == RT_RULE_WAIT;
    struct rt_house_rule rule = other ? others : at_surgery;
    rule.kind = kind;
    rule.stated_value = kind == RT_RULE_SUM ? 4.0 : 10.0;
    return rule;
}

static enum rt_rule_standing standing(enum rt_rule_kind kind, const struct rt_audit_implant *implant)
{
    const struct rt_house_rule rule = rule_of(kind);
    return rt_rule_standing(&rule, false, implant);
}

static void nothing_recorded_cannot_be_judged(void **state)
{
    (void)state;
    const struct rt_audit_implant implant = blank();
    for (int kind = 0; kind < RT_RULE_KINDS; kind++)
        assert_int_equal(standing((enum rt_rule_kind)kind, &implant), RT_RULE_CANNOT_JUDGE);
}

/* 1 and 2 mm are within 1 to 2 mm, also as binary sums; 0.99 and 2.01 are not. */
static void cuts_are_in_hundredths(void **state)
{
    (void)state;
    static const struct {
        double depth;
        enum rt_rule_standing expected;
    } cases[] = {
        {0.1 + 0.7 + 0.2, RT_RULE_FOLLOWED}, {2.0, RT_RULE_FOLLOWED},      {1.5, RT_RULE_FOLLOWED},
        {0.99, RT_RULE_NOT_FOLLOWED},        {2.01, RT_RULE_NOT_FOLLOWED}, {-1.0, RT_RULE_NOT_FOLLOWED}};
    struct rt_audit_implant implant = blank();
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        implant.achieved_depth_mm = cases[i].depth;
        assert_int_equal(standing(RT_RULE_DEPTH, &implant), cases[i].expected);
    }
    implant.achieved_depth_mm = 1.3;
    implant.tissue_mm = 2.7;
    assert_int_equal(standing(RT_RULE_SUM, &implant), RT_RULE_FOLLOWED);
    implant.tissue_mm = 2.69;
    assert_int_equal(standing(RT_RULE_SUM, &implant), RT_RULE_NOT_FOLLOWED);
    implant.blocked = RT_BLOCKS_DEPTH;
    assert_int_equal(standing(RT_RULE_DEPTH, &implant), RT_RULE_CANNOT_JUDGE);
    assert_int_equal(standing(RT_RULE_SUM, &implant), RT_RULE_CANNOT_JUDGE);
}

/* Stalled at 30 Ncm, 2 mm proud, ended 1 mm deep: 3 mm of travel, 60 Ncm expected, 50 to 70 within 10. */
static void torque_is_held_against_the_way_left(void **state)
{
    (void)state;
    struct rt_audit_implant implant = blank();
    implant.stalled = RT_ANSWER_YES;
    implant.stall_height_mm = 2.0;
    implant.stall_torque_ncm = 30.0;
    implant.achieved_depth_mm = 1.0;
    static const struct {
        double final;
        bool capped;
        enum rt_rule_standing expected;
    } cases[] = {{60.0, false, RT_RULE_FOLLOWED},     {50.0, false, RT_RULE_FOLLOWED},
                 {49.0, false, RT_RULE_NOT_FOLLOWED}, {70.0, false, RT_RULE_FOLLOWED},
                 {71.0, false, RT_RULE_NOT_FOLLOWED}, {70.0, true, RT_RULE_CANNOT_JUDGE},
                 {71.0, true, RT_RULE_NOT_FOLLOWED}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        implant.final_torque_ncm = cases[i].final;
        implant.final_torque_capped = cases[i].capped;
        assert_int_equal(standing(RT_RULE_TORQUE, &implant), cases[i].expected);
    }
    implant.stalled = RT_ANSWER_NO;
    assert_int_equal(standing(RT_RULE_TORQUE, &implant), RT_RULE_NOT_CONCERNED);
}

/* One fact that says yes does not judge: those without it could not be judged either. */
static void both_facts_are_needed(void **state)
{
    (void)state;
    struct rt_audit_implant implant = blank();
    implant.stalled = RT_ANSWER_NO;
    implant.changed = RT_ANSWER_YES;
    assert_int_equal(standing(RT_RULE_STALL, &implant), RT_RULE_CANNOT_JUDGE);
    implant.two_stage = RT_ANSWER_NO;
    assert_int_equal(standing(RT_RULE_STALL, &implant), RT_RULE_FOLLOWED);
    implant.changed = RT_ANSWER_NO;
    assert_int_equal(standing(RT_RULE_STALL, &implant), RT_RULE_NOT_FOLLOWED);
    implant.two_stage = RT_ANSWER_YES;
    assert_int_equal(standing(RT_RULE_STALL, &implant), RT_RULE_FOLLOWED);
    implant.stalled = RT_ANSWER_YES;
    assert_int_equal(standing(RT_RULE_STALL, &implant), RT_RULE_NOT_CONCERNED);
    implant.wall_buccal_mm = 0.5;
    assert_int_equal(standing(RT_RULE_WALL, &implant), RT_RULE_CANNOT_JUDGE);
    implant.wall_lingual_mm = 3.0;
    assert_int_equal(standing(RT_RULE_WALL, &implant), RT_RULE_NOT_FOLLOWED);
    implant.wall_buccal_mm = 1.5;
    assert_int_equal(standing(RT_RULE_WALL, &implant), RT_RULE_FOLLOWED);
}

/* The other scale is not judged; soft bone is no case of the rule about dense bone. */
static void density_keeps_its_scale(void **state)
{
    (void)state;
    struct rt_audit_implant implant = blank();
    implant.found = (struct rt_density){2, true};
    assert_int_equal(standing(RT_RULE_DRILL, &implant), RT_RULE_CANNOT_JUDGE);
    implant.found.lz = false;
    assert_int_equal(standing(RT_RULE_DRILL, &implant), RT_RULE_FOLLOWED);
    assert_int_equal(standing(RT_RULE_DENSE, &implant), RT_RULE_CANNOT_JUDGE);
    implant.dense_drilling = RT_ANSWER_NO;
    assert_int_equal(standing(RT_RULE_DENSE, &implant), RT_RULE_NOT_FOLLOWED);
    implant.found.of = 3;
    assert_int_equal(standing(RT_RULE_DRILL, &implant), RT_RULE_NOT_FOLLOWED);
    assert_int_equal(standing(RT_RULE_DENSE, &implant), RT_RULE_NOT_CONCERNED);
}

static void waiting_ends_at_loading(void **state)
{
    (void)state;
    struct rt_audit_implant implant = blank();
    implant.loaded = RT_ANSWER_NO;
    assert_int_equal(standing(RT_RULE_WAIT, &implant), RT_RULE_NOT_CONCERNED);
    implant.loaded = RT_ANSWER_YES;
    assert_int_equal(standing(RT_RULE_WAIT, &implant), RT_RULE_CANNOT_JUDGE);
    implant.removed_on = 1040; /* lost before it was loaded */
    implant.loaded = RT_ANSWER_MISSING;
    assert_int_equal(standing(RT_RULE_WAIT, &implant), RT_RULE_NOT_CONCERNED);
    implant.removed_on = RT_NO_DATE;
    implant.loaded_on = 1083;
    assert_int_equal(standing(RT_RULE_WAIT, &implant), RT_RULE_NOT_FOLLOWED);
    implant.loaded_on = 1084;
    assert_int_equal(standing(RT_RULE_WAIT, &implant), RT_RULE_FOLLOWED);
    implant.loaded_on = 999;
    assert_int_equal(standing(RT_RULE_WAIT, &implant), RT_RULE_CANNOT_JUDGE);
}

static struct rule_estimate interval(double value, double lower, double upper)
{
    struct rule_estimate estimate = {.estimate = rt_undefined(NULL), .implants = 60, .patients = 40};
    estimate.estimate.value = value;
    estimate.estimate.lower = lower;
    estimate.estimate.upper = upper;
    estimate.estimate.p = 0.01;
    return estimate;
}

/* Promised: lower, by at least 0.10. The whole interval decides, whichever side of 0 the point is on. */
static void the_whole_interval_decides(void **state)
{
    (void)state;
    static const struct {
        double lower, upper;
        int expected;
    } cases[] = {{-0.30, -0.11, 1}, {-0.30, -0.10, 0}, {-0.30, -0.09, 0}, {-0.09, 0.05, -1},
                 {-0.10, 0.05, 0},  {0.01, 0.20, -1},  {-0.50, 0.50, 0}};
    struct rt_house_rule rule = {.direction = -1, .smallest_difference = 0.10};
    struct rule_verdict verdict;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct rule_estimate adjusted =
            interval((cases[i].lower + cases[i].upper) / 2, cases[i].lower, cases[i].upper);
        rule.harder_with_easier = false;
        rule_decide_difference(&rule, &adjusted, &verdict);
        assert_int_equal(verdict.state, RT_FIGURE_OK);
        assert_int_equal(verdict.value, cases[i].expected);
        rule.harder_with_easier = true; /* hard with easy cases: never against the rule */
        rule_decide_difference(&rule, &adjusted, &verdict);
        assert_int_equal(verdict.value, cases[i].expected > 0);
        assert_true(cases[i].expected != -1 || strstr(verdict.remark, "harder with easier") != NULL);
    }
    rule = (struct rt_house_rule){.direction = 1, .smallest_difference = 0.3};
    struct rule_estimate gained = interval(0.5, 0.31, 0.7), none = interval(0.0, -0.29, 0.29);
    rule_decide_difference(&rule, &gained, &verdict);
    assert_int_equal(verdict.value, 1);
    rule_decide_difference(&rule, &none, &verdict);
    assert_int_equal(verdict.value, -1);
}

static void a_stated_value_needs_a_narrow_interval(void **state)
{
    (void)state;
    const struct rt_house_rule rule = {.stated_value = 10.0, .largest_width = 5.0};
    static const struct {
        double lower, upper;
        int expected;
    } cases[] = {{8.0, 12.0, 1}, {10.0, 14.9, 1},  {7.0, 12.0, 0},
                 {1.0, 20.0, 0}, {10.1, 12.0, -1}, {2.0, 9.9, -1}};
    struct rule_verdict verdict;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const struct rule_estimate estimate = interval(9.0, cases[i].lower, cases[i].upper);
        rule_decide_value(&rule, &estimate, &verdict);
        assert_int_equal(verdict.value, cases[i].expected);
    }
}

static void without_an_interval_there_is_no_verdict(void **state)
{
    (void)state;
    const struct rt_house_rule rule = {.direction = 1, .smallest_difference = 0.3};
    struct rule_estimate few = interval(0.5, 0.4, 0.6), endless = interval(0.5, NAN, 0.6),
                         nine = interval(0.5, 0.4, 0.6);
    struct rule_verdict verdict;
    few.too_few = true;
    nine.patients = 9;
    rule_decide_difference(&rule, &few, &verdict);
    assert_int_equal(verdict.state, RT_FIGURE_TOO_FEW);
    assert_true(isnan(verdict.p));
    rule_decide_difference(&rule, &endless, &verdict);
    assert_int_equal(verdict.state, RT_FIGURE_TOO_FEW);
    rule_decide_difference(&rule, &nine, &verdict);
    assert_int_equal(verdict.state, RT_FIGURE_TOO_FEW);
}

static void confounders_are_read_from_a_list(void **state)
{
    (void)state;
    bool known;
    assert_int_equal(rt_confounders_of("", &known), 0);
    assert_true(known);
    assert_int_equal(rt_confounders_of("smoking,tissue_mm", &known),
                     RT_CONFOUNDER_SMOKING | RT_CONFOUNDER_TISSUE);
    assert_true(known);
    rt_confounders_of("smoking,operator", &known);
    assert_false(known);
    rt_confounders_of("smoking,,tissue_mm", &known);
    assert_false(known);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_recorded_cannot_be_judged),
        cmocka_unit_test(cuts_are_in_hundredths),
        cmocka_unit_test(torque_is_held_against_the_way_left),
        cmocka_unit_test(both_facts_are_needed),
        cmocka_unit_test(density_keeps_its_scale),
        cmocka_unit_test(waiting_ends_at_loading),
        cmocka_unit_test(the_whole_interval_decides),
        cmocka_unit_test(a_stated_value_needs_a_narrow_interval),
        cmocka_unit_test(without_an_interval_there_is_no_verdict),
        cmocka_unit_test(confounders_are_read_from_a_list),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
