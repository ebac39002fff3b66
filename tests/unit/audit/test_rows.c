/* Rows: minimum numbers, adjusted p-values within section and outcome, keys. */
#include "../support/near.h"

#include "ridgetally/audit/adjust_rows.h"
#include "ridgetally/audit/rows.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static void add_p(struct rt_figure_list *list, const char *section, const char *measure, const char *level,
                  double p)
{
    struct rt_rows rows = {.list = list, .status = RT_OK};
    struct rt_row_key key = rt_key_text("window", level, "", "");
    struct rt_figure row = rt_row_of(&rows, section, measure, &key);
    row.p = p;
    rt_put_row(&rows, &row);
    assert_int_equal(rows.status, RT_OK);
}

/* Depth errors 0.01, 0.04, 0.03: sorted 0.01*3/1, 0.03*3/2, 0.04*3/3, running minimum from the largest: 0.03, 0.04, 0.04.
 * The survival comparison stands in a family of its own; a row without p counts nowhere. */
static void p_values_are_adjusted_within_section_and_outcome(void **state)
{
    (void)state;
    struct rt_figure_list list = {0};
    add_p(&list, "depth", "depth_operator_difference", "a", 0.01);
    add_p(&list, "survival", "survival_comparison", "a", 0.02);
    add_p(&list, "depth", "depth_operator_difference", "b", 0.04);
    add_p(&list, "depth", "depth_bias", "a", 0.03);
    add_p(&list, "depth", "depth_sd", "a", NAN);
    assert_int_equal(rt_adjust_rows(&list, NULL), RT_OK);
    assert_near(list.rows[0].p_adjusted, 0.03, 1e-15);
    assert_near(list.rows[1].p_adjusted, 0.02, 1e-15);
    assert_near(list.rows[2].p_adjusted, 0.04, 1e-15);
    assert_near(list.rows[3].p_adjusted, 0.04, 1e-15);
    assert_true(isnan(list.rows[4].p_adjusted));
    rt_release_figures(&list);
    assert_int_equal(rt_adjust_rows(&list, NULL), RT_OK); /* no rows */
}

static void a_key_that_stands_twice_is_a_fault(void **state)
{
    (void)state;
    struct rt_figure_list list = {0};
    struct rt_error error = {0};
    assert_int_equal(rt_check_row_keys(&list, &error), RT_OK);
    add_p(&list, "depth", "depth_bias", "period", 0.5);
    add_p(&list, "depth", "depth_bias", "12 months", 0.5);
    assert_int_equal(rt_check_row_keys(&list, &error), RT_OK);
    add_p(&list, "depth", "depth_bias", "period", 0.6);
    assert_int_equal(rt_check_row_keys(&list, &error), RT_USE);
    assert_non_null(strstr(error.message, "depth_bias"));
    rt_release_figures(&list);
}

static struct rt_figure counted(const char *unit, const char *analysis, long implants, long patients)
{
    struct rt_figure row = rt_empty_figure();
    row.unit = unit;
    row.unit_of_analysis = analysis;
    row.n_implants = implants;
    row.n_patients = patients;
    row.value = row.lower = row.upper = row.p = 0.5;
    rt_apply_minimum(&row);
    return row;
}

static void minimum_numbers(void **state)
{
    (void)state;
    assert_int_equal(counted("mm", "implant", 10, 10).state, RT_FIGURE_OK);
    assert_int_equal(counted("mm", "implant", 30, 9).state, RT_FIGURE_TOO_FEW);
    assert_int_equal(counted("share", "implant", 20, 10).state, RT_FIGURE_OK);
    struct rt_figure row = counted("share", "implant", 19, 19);
    assert_int_equal(row.state, RT_FIGURE_TOO_FEW);
    assert_true(isnan(row.value) && isnan(row.lower) && isnan(row.upper) && isnan(row.p));
    assert_string_equal(row.remark, "fewer than 20 implants");
    assert_int_equal(counted("share", "patient", 19, 12).state, RT_FIGURE_OK);
}

static void undefined_numbers_say_why(void **state)
{
    (void)state;
    struct rt_figure row = rt_empty_figure();
    struct rt_estimate estimate = rt_undefined("one patient only");
    rt_set_estimate(&row, &estimate);
    assert_int_equal(row.state, RT_FIGURE_UNDEFINED);
    assert_string_equal(row.remark, "one patient only");
    row = rt_empty_figure();
    estimate.value = 2.0;
    estimate.upper = INFINITY; /* an endless limit is an empty cell */
    rt_set_estimate(&row, &estimate);
    assert_int_equal(row.state, RT_FIGURE_OK);
    assert_true(isnan(row.upper));
}

static void an_unknown_measure_is_a_fault(void **state)
{
    (void)state;
    struct rt_figure_list list = {0};
    struct rt_error error = {0};
    struct rt_rows rows = {.list = &list, .error = &error, .status = RT_OK};
    rt_row_of(&rows, "depth", "no_such_measure", NULL);
    assert_int_equal(rows.status, RT_USE);
    struct rt_figure row = rt_empty_figure();
    rt_put_row(&rows, &row); /* after a failure nothing is written */
    assert_int_equal(list.count, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(p_values_are_adjusted_within_section_and_outcome),
        cmocka_unit_test(a_key_that_stands_twice_is_a_fault),
        cmocka_unit_test(minimum_numbers),
        cmocka_unit_test(undefined_numbers_say_why),
        cmocka_unit_test(an_unknown_measure_is_a_fault),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
