/* Yardsticks, changes between periods and notes, against small practices reckoned by hand. */
#include "../support/audited.h"
#include "../support/near.h"

#include "ridgetally/audit/judged.h"
#include "ridgetally/audit/meeting.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/text.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static struct rt_figure interval(double lower, double upper)
{
    struct rt_figure row = rt_empty_figure();
    row.value = (lower + upper) / 2.0;
    row.lower = lower;
    row.upper = upper;
    return row;
}

static void the_interval_is_judged_and_not_the_point(void **state)
{
    (void)state;
    const struct rt_target least = {.set = true, .value = 0.9, .at_least = true};
    const struct rt_target most = {.set = true, .value = 0.9, .at_least = false};
    const struct {
        double lower, upper;
        enum rt_judged least, most;
    } cases[] = {
        {0.91, 0.99, RT_MET, RT_NOT_MET},
        {0.90, 0.99, RT_MET, RT_CANNOT_TELL}, /* the target itself is met from both sides */
        {0.85, 0.99, RT_CANNOT_TELL, RT_CANNOT_TELL},
        {0.80, 0.90, RT_CANNOT_TELL, RT_MET},
        {0.80, 0.89, RT_NOT_MET, RT_MET},
        {NAN, 0.89, RT_NOT_MET, RT_MET}, /* no lower limit: what the other one says holds */
        {NAN, 0.95, RT_CANNOT_TELL, RT_CANNOT_TELL},
        {0.91, NAN, RT_MET, RT_NOT_MET},
        {NAN, NAN, RT_CANNOT_TELL, RT_CANNOT_TELL},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct rt_figure row = interval(cases[i].lower, cases[i].upper);
        assert_int_equal(rt_judge_yardstick(&least, &row), cases[i].least);
        assert_int_equal(rt_judge_yardstick(&most, &row), cases[i].most);
        row.state = RT_FIGURE_TOO_FEW;
        assert_int_equal(rt_judge_yardstick(&least, &row), RT_CANNOT_TELL);
    }
    assert_int_equal(rt_judge_yardstick(&least, NULL), RT_CANNOT_TELL);
    assert_int_equal(rt_agreed(RT_MET, RT_MET), RT_MET);
    assert_int_equal(rt_agreed(RT_MET, RT_CANNOT_TELL), RT_CANNOT_TELL);
    assert_int_equal(rt_agreed(RT_MET, RT_NOT_MET), RT_CANNOT_TELL);
}

static void periods_before(void **state)
{
    (void)state;
    static const char *const cases[][6] = {
        {"2026-04-01", "2026-06-30", "2026-01-01", "2026-03-31", "2025-04-01", "2025-06-30"},
        {"2026-01-01", "2026-12-31", "2025-01-01", "2025-12-31", "2025-01-01", "2025-12-31"},
        {"2024-03-01", "2024-03-31", "2024-02-01", "2024-02-29", "2023-03-01", "2023-03-31"},
        {"2024-02-01", "2024-02-29", "2024-01-01", "2024-01-31", "2023-02-01", "2023-02-28"},
        {"2026-01-15", "2026-02-14", "2025-12-15", "2026-01-14", "2025-01-15", "2025-02-14"},
        {"2026-01-01", "2026-01-10", "2025-12-22", "2025-12-31", "2025-01-01", "2025-01-10"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const struct rt_period period = {day_of(cases[i][0]), day_of(cases[i][1])};
        const struct rt_period last = rt_last_period(&period), year = rt_period_a_year_ago(&period);
        assert_int_equal(last.first_day, day_of(cases[i][2]));
        assert_int_equal(last.last_day, day_of(cases[i][3]));
        assert_int_equal(year.first_day, day_of(cases[i][4]));
        assert_int_equal(year.last_day, day_of(cases[i][5]));
    }
}

/* Twelve implants of twelve patients a year: errors 0.1, ..., 1.2 mm in 2024 and 0.3 mm more in 2025. Each year the sum of
 * squared deviations is (12^3 - 12)/12 * 0.01 = 1.43, the variance 0.13; se = sqrt(2 * 0.13/12) = 0.147196014;
 * Satterthwaite df of two groups of 12 are 22, t = 2.073873068. In 2024 those placed from July on are patients of their own,
 * so that the 12 months to June 2025 have no patient in common with those to June 2024. */
static void load_two_years(struct bench *bench)
{
    struct rt_text text = {0};
    rt_text_add(&text, "patient,implant,tooth,placed_on,operator,planned_depth_mm,achieved_depth_mm\n");
    for (int i = 1; i <= 12; i++)
        rt_text_format(&text, "P%02d,a,16,2024-04-%02d,A,1.0,%.1f\nQ%02d,a,16,2025-04-%02d,A,1.0,%.1f\n", i,
                       i, 1.0 + i / 10.0, i, i, 1.3 + i / 10.0);
    assert_int_equal(load_text(bench, "implants.csv", text.bytes), RT_OK);
    rt_text_release(&text);
}

static void a_change_by_hand(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    load_two_years(bench);
    audit_between(bench, "2025-04-01", "2025-06-30", &audited);
    const struct rt_figure *then = figure_of(&audited, "depth_bias_then", "change", "a year ago");
    const struct rt_figure *change = figure_of(&audited, "depth_bias_change", "change", "a year ago");
    assert_near(then->value, 0.65, 1e-12);
    assert_int_equal(then->n_patients, 12);
    assert_near(change->value, 0.3, 1e-12);
    assert_near(change->upper - change->value, 2.073873068 * 0.147196014, 1e-8);
    assert_near(change->value - change->lower, 2.073873068 * 0.147196014, 1e-8);
    assert_near(change->p, 0.0537, 1e-3); /* t = 2.0381 on 22 df */
    /* 12 implants are too few for a share; the last quarter had the 12 of 2024 in its 12 months */
    assert_int_equal(figure_of(&audited, "depth_within_half_change", "change", "a year ago")->state,
                     RT_FIGURE_TOO_FEW);
    assert_near(figure_of(&audited, "depth_bias_then", "change", "last period")->value, 0.65, 1e-12);
    release_audited(&audited);
}

/* Nothing new between two periods: no change, and no interval made of nothing. */
static void the_same_patients_do_not_change(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    load_two_years(bench);
    audit_between(bench, "2025-07-01", "2025-09-30", &audited);
    const struct rt_figure *change = figure_of(&audited, "depth_bias_change", "change", "last period");
    assert_near(change->value, 0.0, 1e-12);
    assert_true(isnan(change->lower) && isnan(change->upper) && isnan(change->p));
    assert_string_not_equal(change->remark, "");
    release_audited(&audited);
}

static void targets_are_dated(void **state)
{
    struct bench *bench = *state;
    struct rt_meeting meeting;
    struct rt_target target = {.set = true,
                               .value = 0.2,
                               .at_least = true,
                               .origin = "ours",
                               .set_by = "AB",
                               .valid_from = day_of("2026-01-01")};
    assert_int_equal(rt_set_target(bench->store, "depth-within-half", &target, &bench->error), RT_OK);
    target.valid_from = day_of("2026-04-01");
    target.set = false;
    assert_int_equal(rt_set_target(bench->store, "depth-within-half", &target, &bench->error), RT_OK);
    static const struct {
        const char *day;
        bool set;
    } cases[] = {{"2025-12-31", false}, {"2026-01-01", true}, {"2026-03-31", true}, {"2026-04-01", false}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        assert_int_equal(rt_load_yardsticks(bench->store, day_of(cases[i].day), &meeting, &bench->error),
                         RT_OK);
        const struct rt_yardstick *yardstick = rt_find_yardstick(&meeting, "depth-within-half");
        assert_int_equal(yardstick->target.set, cases[i].set);
        assert_true(yardstick->target.at_least || !cases[i].set);
        rt_release_meeting(&meeting);
    }
    target.set = true;
    target.value = 20.0;
    assert_int_equal(rt_set_target(bench->store, "depth-within-half", &target, &bench->error), RT_USE);
}

static void a_note_falls_due(void **state)
{
    (void)state;
    struct rt_note note = {
        .first_day = 1, .last_day = 90, .re_audit_on = RT_NO_DATE, .answered_on = RT_NO_DATE};
    assert_int_equal(rt_note_state(&note, 90), RT_NOTE_OPEN);
    assert_int_equal(rt_note_state(&note, 91), RT_NOTE_DUE);
    note.re_audit_on = 200;
    assert_int_equal(rt_note_state(&note, 199), RT_NOTE_OPEN);
    assert_int_equal(rt_note_state(&note, 200), RT_NOTE_DUE);
    note.answered_on = 270;
    assert_int_equal(rt_note_state(&note, 269), RT_NOTE_DUE);
    assert_int_equal(rt_note_state(&note, 270), RT_NOTE_ANSWERED);
    assert_true(rt_note_is_told(&note, 181, 270));
    assert_false(rt_note_is_told(&note, 271, 360));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_interval_is_judged_and_not_the_point),
        cmocka_unit_test(periods_before),
        cmocka_unit_test_setup_teardown(a_change_by_hand, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(the_same_patients_do_not_change, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(targets_are_dated, open_bench, close_bench),
        cmocka_unit_test(a_note_falls_due),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
