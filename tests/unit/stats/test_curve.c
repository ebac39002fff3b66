/* Restricted cubic splines: properties that define them (Harrell 2015, 2.4.5), and known straight lines. */
#include "ridgetally/stats/curve.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "../support/near.h"

enum { N = 60 };

static void terms_are_linear_beyond_the_outer_knots(void **state)
{
    (void)state;
    const double knots[] = {1, 2, 4, 7};
    double at[3][2];
    for (size_t i = 0; i < 3; i++)
        rt_curve_terms(10 + 5 * (double)i, knots, 4, at[i]);
    for (size_t j = 0; j < 2; j++)
        assert_near(at[2][j] - at[1][j], at[1][j] - at[0][j], 1e-10 * fabs(at[2][j]));
    double below[2];
    rt_curve_terms(0.5, knots, 4, below);
    assert_true(below[0] == 0 && below[1] == 0);
}

static void a_straight_line_is_found(void **state)
{
    (void)state;
    double x[N];
    double y[N];
    double knots[RT_MOST_KNOTS];
    size_t count = 0;
    for (size_t i = 0; i < N; i++) {
        x[i] = 1e6 + (double)i;
        y[i] = 3 - 0.25 * (x[i] - 1e6) + (i % 2 == 0 ? 1e-3 : -1e-3);
    }
    assert_int_equal(rt_curve_knots(x, N, 0, knots, &count, NULL), RT_OK);
    assert_int_equal(count, 3);
    struct rt_curve curve;
    assert_int_equal(rt_curve_fit(&curve, x, y, N, knots, count, NULL, NULL), RT_OK);
    struct rt_estimate point = rt_curve_at(&curve, 1e6 + 100);
    assert_near(point.value, 3 - 25, 0.01);
    assert_true(point.lower < point.value && point.upper > point.value);
    assert_near(rt_curve_coefficient(&curve, 1).value, -0.25, 1e-3);
    assert_true(curve.nonlinearity.p > 0.05);
    rt_curve_release(&curve);
}

static void a_bend_is_seen_and_clusters_widen_its_band(void **state)
{
    (void)state;
    double x[N];
    double y[N];
    size_t of[N];
    for (size_t i = 0; i < N; i++) {
        x[i] = (double)(i % 20);
        of[i] = i / 6;
        y[i] = fabs(x[i] - 10) + (of[i] % 2 == 0 ? 1 : -1);
    }
    const double knots[] = {2, 10, 18};
    struct rt_curve alone;
    struct rt_curve tied;
    struct rt_clusters clusters = {of, N / 6};
    assert_int_equal(rt_curve_fit(&alone, x, y, N, knots, 3, NULL, NULL), RT_OK);
    assert_int_equal(rt_curve_fit(&tied, x, y, N, knots, 3, &clusters, NULL), RT_OK);
    assert_true(alone.nonlinearity.p < 1e-6 && tied.nonlinearity.p < 1e-2);
    struct rt_estimate a = rt_curve_at(&alone, 10);
    struct rt_estimate b = rt_curve_at(&tied, 10);
    assert_near(a.value, b.value, 1e-12);
    assert_true(b.upper - b.lower > a.upper - a.lower);
    rt_curve_release(&alone);
    rt_curve_release(&tied);
}

static void too_few_values_give_no_curve(void **state)
{
    (void)state;
    const double x[] = {1, 1, 2, 2, 1, 2};
    const double y[] = {1, 2, 3, 4, 5, 6};
    double knots[RT_MOST_KNOTS];
    size_t count = 9;
    assert_int_equal(rt_curve_knots(x, 6, 0, knots, &count, NULL), RT_OK);
    assert_int_equal(count, 0);
    struct rt_curve curve;
    assert_int_equal(rt_curve_fit(&curve, x, y, 6, knots, count, NULL, NULL), RT_OK);
    assert_non_null(curve.reason);
    assert_true(isnan(rt_curve_at(&curve, 1.5).value));
    assert_non_null(rt_curve_at(&curve, 1.5).reason);
    rt_curve_release(&curve);
    assert_int_equal(rt_curve_knots(x, 0, 0, knots, &count, NULL), RT_OK);
    assert_int_equal(count, 0);
}

static void ties_fall_back_to_distinct_values(void **state)
{
    (void)state;
    double x[N] = {0};
    for (size_t i = 0; i < 5; i++)
        x[i] = (double)i; /* the rest is 0: all quantiles up to 0.9 are 0 */
    double knots[RT_MOST_KNOTS];
    size_t count = 0;
    assert_int_equal(rt_curve_knots(x, N, 0, knots, &count, NULL), RT_OK);
    assert_int_equal(count, 3);
    assert_true(knots[0] < knots[1] && knots[1] < knots[2]);
}

static void knots_must_ascend(void **state)
{
    (void)state;
    const double x[] = {1, 2, 3, 4};
    const double knots[] = {1, 3, 3};
    struct rt_curve curve;
    assert_int_equal(rt_curve_fit(&curve, x, x, 4, knots, 3, NULL, NULL), RT_USE);
    rt_curve_release(&curve);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(terms_are_linear_beyond_the_outer_knots),
        cmocka_unit_test(a_straight_line_is_found),
        cmocka_unit_test(a_bend_is_seen_and_clusters_widen_its_band),
        cmocka_unit_test(too_few_values_give_no_curve),
        cmocka_unit_test(ties_fall_back_to_distinct_values),
        cmocka_unit_test(knots_must_ascend),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
