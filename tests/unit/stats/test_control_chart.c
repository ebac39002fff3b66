/* Control charts. Check values: NIST/SEMATECH e-Handbook 6.3.2.2 (flow rate) and 6.3.2.4 (EWMA), as printed. */
#include "ridgetally/stats/control_chart.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "../support/near.h"

static void flow_rate_of_the_handbook(void **state)
{
    (void)state;
    const double values[] = {49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};
    struct rt_control_chart chart = rt_control_chart(values, 10, 0);
    assert_null(chart.reason);
    assert_near(chart.centre, 50.81, 5e-3);
    assert_near(chart.moving_range, 1.8778, 5e-5);
    assert_near(chart.upper, 55.8041, 5e-5);
    assert_near(chart.lower, 45.8159, 5e-5);
    for (size_t i = 0; i < 10; i++)
        assert_false(rt_control_signal(&chart, values[i]));
    assert_true(rt_control_signal(&chart, 55.81));
    assert_true(rt_control_signal(&chart, 45.81));
}

static void baseline_alone_sets_the_limits(void **state)
{
    (void)state;
    const double values[] = {1, 2, 3, 4, 1000};
    struct rt_control_chart chart = rt_control_chart(values, 5, 4);
    assert_near(chart.centre, 2.5, 1e-15);
    assert_near(chart.moving_range, 1.0, 1e-15);
    assert_near(chart.upper, 2.5 + 3 / 1.128, 1e-14);
    assert_true(rt_control_signal(&chart, values[4]));
}

static void constant_values_never_signal(void **state)
{
    (void)state;
    const double hard[] = {0.1, 1e9 + 0.1, 1e-9, -1.0 / 3};
    for (size_t k = 0; k < 4; k++) {
        double values[7];
        for (size_t i = 0; i < 7; i++)
            values[i] = hard[k];
        struct rt_control_chart chart = rt_control_chart(values, 7, 0);
        assert_true(chart.lower == hard[k] && chart.upper == hard[k]);
        assert_false(rt_control_signal(&chart, hard[k]));
    }
}

static void too_few_values_are_said(void **state)
{
    (void)state;
    const double one[] = {3};
    assert_non_null(rt_control_chart(one, 1, 0).reason);
    assert_non_null(rt_control_chart(one, 0, 0).reason);
    assert_true(isnan(rt_control_chart(one, 1, 0).centre));
    const double two[] = {3, 4};
    assert_non_null(rt_control_chart(two, 2, 1).reason);
    assert_null(rt_control_chart(two, 2, 9).reason);
}

static void ewma_of_the_handbook(void **state)
{
    (void)state;
    const double values[] = {52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5};
    const double printed[] = {50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33};
    struct rt_ewma_design design = {50, 2.0539, 0.3, 3};
    struct rt_ewma_point points[10];
    rt_ewma(values, 10, &design, points);
    for (size_t i = 0; i < 10; i++) {
        assert_near(points[i].ewma, printed[i], 5e-3 + 1e-12);
        assert_false(points[i].signal);
    }
    /* the first limit is that of one value times lambda */
    assert_near(points[0].upper, 50 + 3 * 2.0539 * 0.3, 1e-12);
    assert_near(points[0].lower, 50 - 3 * 2.0539 * 0.3, 1e-12);
}

static void lambda_of_one_is_the_value_itself(void **state)
{
    (void)state;
    const double values[] = {1, 9, 4};
    struct rt_ewma_design design = {4, 1, 1, 3};
    struct rt_ewma_point points[3];
    rt_ewma(values, 3, &design, points);
    for (size_t i = 0; i < 3; i++)
        assert_near(points[i].ewma, values[i], 1e-15);
    assert_near(points[2].upper, 7, 1e-15);
    assert_true(points[1].signal);
    assert_false(points[0].signal); /* on the limit is inside */
}

/* lambda 1 is the chart of single values: 1/(2 Phi(-3)); a shift of 3 sigma puts half of them outside. */
static void run_length_of_single_values(void **state)
{
    (void)state;
    assert_near(rt_ewma_run_length(1, 3, 0), 1 / erfc(3 / sqrt(2)), 1e-8 * 370);
    double inside = 0.5 * erfc(-6 / sqrt(2)) - 0.5;
    assert_near(rt_ewma_run_length(1, 3, 3), 1 / (1 - inside), 1e-9);
    assert_true(rt_ewma_run_length(0.2, 2.86, 1) < 20 && rt_ewma_run_length(0.2, 2.86, -1) < 20);
    assert_near(rt_ewma_run_length(0.2, 2.86, 1), rt_ewma_run_length(0.2, 2.86, -1), 1e-9);
    assert_true(isnan(rt_ewma_run_length(0, 3, 0)) && isnan(rt_ewma_run_length(1.1, 3, 0)));
    assert_true(isnan(rt_ewma_run_length(0.2, 0, 0)));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(run_length_of_single_values),       cmocka_unit_test(flow_rate_of_the_handbook),
        cmocka_unit_test(baseline_alone_sets_the_limits),    cmocka_unit_test(constant_values_never_signal),
        cmocka_unit_test(too_few_values_are_said),           cmocka_unit_test(ewma_of_the_handbook),
        cmocka_unit_test(lambda_of_one_is_the_value_itself),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
