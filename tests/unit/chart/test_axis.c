/* Axis geometry: expected values worked out by hand. */
#include "../../../src/chart/axis.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static void assert_near(double actual, double expected, double tolerance)
{
    if (!(fabs(actual - expected) <= tolerance))
        fail_msg("%.17g is not %.17g", actual, expected);
}

static void ticks_stand_at_round_values(void **state)
{
    (void)state;
    struct axis axis = axis_fit(-1.3, 2.1, 6, true);
    /* span 3.4 over 6 asks for 0.57, the next round step is 1 */
    assert_int_equal(axis.tick_count, 6);
    assert_near(axis.ticks[0], -2.0, 1e-12);
    assert_near(axis.ticks[5], 3.0, 1e-12);
    assert_int_equal(axis.decimals, 0);
    axis = axis_fit(0.0, 0.7, 4, false);
    /* 0.175 asks for 0.2; the axis ends at the data */
    assert_int_equal(axis.tick_count, 4);
    assert_near(axis.high, 0.7, 1e-12);
    assert_int_equal(axis.decimals, 1);
}

static void hopeless_ranges_still_give_an_axis(void **state)
{
    (void)state;
    const double ranges[][2] = {{0, 0},        {5, 5},     {NAN, 1},        {0, INFINITY},
                                {2, 1},        {1e9, 1e9}, {-3, -3},        {1e-9, 1e-9},
                                {-1e15, 1e15}, {0, 1e-12}, {1e15, 1e15 + 1}};
    for (size_t i = 0; i < sizeof ranges / sizeof ranges[0]; i++) {
        struct axis axis = axis_fit(ranges[i][0], ranges[i][1], 5, true);
        assert_true(isfinite(axis.low) && isfinite(axis.high));
        assert_true(axis.high > axis.low);
        assert_true(axis.tick_count >= 1 && axis.tick_count <= AXIS_MOST_TICKS);
        assert_true(isfinite(axis_pixel(&axis, ranges[i][0], 0.0, 100.0)) || !isfinite(ranges[i][0]));
    }
}

static void pixels_are_linear_and_clipped(void **state)
{
    (void)state;
    struct axis axis = axis_fit(0.0, 10.0, 5, true);
    assert_near(axis_pixel(&axis, 2.5, 100.0, 300.0), 150.0, 1e-9);
    assert_near(axis_pixel(&axis, 2.5, 300.0, 100.0), 250.0, 1e-9);
    assert_near(axis_pixel(&axis, -7.0, 100.0, 300.0), 100.0, 1e-9);
    assert_near(axis_pixel(&axis, 70.0, 100.0, 300.0), 300.0, 1e-9);
}

static void tick_text_has_a_true_minus_and_no_negative_zero(void **state)
{
    (void)state;
    char text[32];
    struct axis axis = axis_fit(-1.0, 1.0, 4, true);
    axis_tick_text(&axis, -0.5, false, text, sizeof text);
    assert_string_equal(text, "\xE2\x88\x92"
                              "0.5");
    axis_tick_text(&axis, -1e-17, false, text, sizeof text);
    assert_string_equal(text, "0.0");
    axis = axis_fit(0.8, 1.0, 4, true);
    axis_tick_text(&axis, 0.85, true, text, sizeof text);
    assert_string_equal(text, "85%");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ticks_stand_at_round_values),
        cmocka_unit_test(hopeless_ranges_still_give_an_axis),
        cmocka_unit_test(pixels_are_linear_and_clipped),
        cmocka_unit_test(tick_text_has_a_true_minus_and_no_negative_zero),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
