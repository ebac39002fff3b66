/* Funnel limits: the definition of Spiegelhalter (2005), appendix A.1.1, worked by hand for small units. */
#include "ridgetally/stats/funnel.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "../support/near.h"

static void one_trial_by_hand(void **state)
{
    (void)state;
    /* R is 0 or 1 with P(1) = 0.05: r(0.025) = 0, alpha = (0.95 - 0.025)/0.95; r(0.975) = 1, alpha = 0.025/0.05 */
    struct rt_funnel_limits limits = rt_funnel_limits(1, 1, 0.05, 1);
    assert_near(limits.lower95, -0.925 / 0.95, 1e-14);
    assert_near(limits.upper95, 1 - 0.025 / 0.05, 1e-14);
    assert_near(limits.upper998, 1 - 0.001 / 0.05, 1e-14);
    assert_int_equal(limits.signal, 2);
    assert_int_equal(rt_funnel_limits(0, 1, 0.05, 1).signal, 0);
}

static void limits_meet_the_target_as_units_grow(void **state)
{
    (void)state;
    double width = 2;
    for (double total = 10; total < 1e9; total *= 10) {
        struct rt_funnel_limits limits = rt_funnel_limits(0.1 * total, total, 0.1, 1);
        assert_true(limits.lower998 < limits.lower95 && limits.lower95 < 0.1);
        assert_true(limits.upper998 > limits.upper95 && limits.upper95 > 0.1);
        assert_true(limits.upper95 - limits.lower95 < width);
        width = limits.upper95 - limits.lower95;
        assert_int_equal(limits.signal, 0);
    }
    /* normal limits for a large unit */
    struct rt_funnel_limits limits = rt_funnel_limits(0, 1e8, 0.1, 1);
    assert_near(limits.upper95 - 0.1, RT_Z_95 * sqrt(0.09 / 1e8), 2e-8);
}

static void design_effect_stretches(void **state)
{
    (void)state;
    struct rt_funnel_limits plain = rt_funnel_limits(5, 50, 0.05, 1);
    struct rt_funnel_limits wide = rt_funnel_limits(5, 50, 0.05, 4);
    assert_near(wide.upper95 - 0.05, 2 * (plain.upper95 - 0.05), 1e-14);
    assert_near(wide.lower998 - 0.05, 2 * (plain.lower998 - 0.05), 1e-14);
    struct rt_funnel_limits floored = rt_funnel_limits(5, 50, 0.05, 0.2);
    assert_true(floored.upper95 == plain.upper95);
}

static void undefined_limits_say_why(void **state)
{
    (void)state;
    assert_non_null(rt_funnel_limits(0, 0, 0.05, 1).reason);
    assert_non_null(rt_funnel_limits(0, 5, 0, 1).reason);
    assert_non_null(rt_funnel_limits(0, 5, 1, 1).reason);
    assert_non_null(rt_funnel_limits(0, 5e9, 0.5, 1).reason);
    assert_non_null(rt_funnel_rate_limits(0, 0, 0.5, 1).reason);
    assert_non_null(rt_funnel_rate_limits(0, 1e9, 0.5, 1).reason);
    assert_true(isnan(rt_funnel_limits(0, 0, 0.05, 1).lower95));
}

static void design_effect_of_whole_clusters(void **state)
{
    (void)state;
    /* 4 clusters of 3 trials, all or none: the cluster variance over the binomial one is 3 times 4/3 */
    const double count[] = {3, 0, 3, 0};
    const double total[] = {3, 3, 3, 3};
    const size_t of[] = {0, 1, 2, 3};
    struct rt_estimate effect;
    assert_int_equal(
        rt_share_design_effect(count, total, 4, (struct rt_clusters){of, 4}, false, &effect, NULL), RT_OK);
    assert_near(effect.value, 4.0, 1e-14);
    const size_t one[] = {0, 0, 0, 0};
    assert_int_equal(
        rt_share_design_effect(count, total, 4, (struct rt_clusters){one, 1}, false, &effect, NULL), RT_OK);
    assert_true(isnan(effect.value) && effect.reason != NULL);
    const double none[] = {0, 0, 0, 0};
    assert_int_equal(rt_share_design_effect(none, total, 4, (struct rt_clusters){of, 4}, true, &effect, NULL),
                     RT_OK);
    assert_true(isnan(effect.value) && effect.reason != NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_trial_by_hand),
        cmocka_unit_test(limits_meet_the_target_as_units_grow),
        cmocka_unit_test(design_effect_stretches),
        cmocka_unit_test(undefined_limits_say_why),
        cmocka_unit_test(design_effect_of_whole_clusters),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
