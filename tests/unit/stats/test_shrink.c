/* Shrinking: worked by hand from DerSimonian and Laird's moments. */
#include "ridgetally/stats/shrink.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "../support/near.h"

/* Q = 2 * 25 = 50 on 1 df; sum w = 2, sum w^2 = 2: t2 = 49/(2 - 1). B = 49/50, var(m) = 50/2. */
static void two_units_by_hand(void **state)
{
    (void)state;
    const double value[] = {0, 10}, error[] = {1, 1};
    struct rt_estimate drawn[2];
    struct rt_shrinkage result = rt_shrink(value, error, 2, drawn);
    assert_int_equal(result.used, 2);
    assert_near(result.between_variance, 49, 1e-12);
    assert_near(result.mean.value, 5, 1e-14);
    assert_near(result.mean.standard_error, 5, 1e-14);
    assert_near(drawn[0].value, 0.1, 1e-12);
    assert_near(drawn[1].value, 9.9, 1e-12);
    assert_near(drawn[0].standard_error, sqrt(0.98 + 0.0004 * 25), 1e-12);
    assert_near(drawn[0].upper - drawn[0].value, RT_Z_95 * drawn[0].standard_error, 1e-12);
}

static void units_that_do_not_differ_are_one(void **state)
{
    (void)state;
    const double value[] = {3, 3, 3}, error[] = {1, 2, 2};
    struct rt_estimate drawn[3];
    struct rt_shrinkage result = rt_shrink(value, error, 3, drawn);
    assert_near(result.between_variance, 0, 0);
    for (size_t i = 0; i < 3; i++) {
        assert_near(drawn[i].value, 3, 1e-14);
        assert_near(drawn[i].standard_error, 1 / sqrt(1.5), 1e-14);
    }
}

static void units_without_an_error_stand_aside(void **state)
{
    (void)state;
    const double value[] = {1, NAN, 2, 4}, error[] = {0, 1, 1, NAN};
    struct rt_estimate drawn[4];
    struct rt_shrinkage result = rt_shrink(value, error, 4, drawn);
    assert_int_equal(result.used, 1);
    assert_true(isnan(result.between_variance) && result.mean.reason != NULL);
    for (size_t i = 0; i < 4; i++)
        assert_true(isnan(drawn[i].value) && drawn[i].reason != NULL);
    result = rt_shrink(NULL, NULL, 0, drawn);
    assert_int_equal(result.used, 0);
}

static void size_does_not_matter(void **state)
{
    (void)state;
    for (double scale = 1e-9; scale < 1e10; scale *= 1e9) {
        const double value[] = {0, 10 * scale}, error[] = {scale, scale};
        struct rt_estimate drawn[2];
        struct rt_shrinkage result = rt_shrink(value, error, 2, drawn);
        assert_near(result.between_variance, 49 * scale * scale, 1e-10 * scale * scale);
        assert_near(drawn[1].value, 9.9 * scale, 1e-12 * scale);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(two_units_by_hand),
        cmocka_unit_test(units_that_do_not_differ_are_one),
        cmocka_unit_test(units_without_an_error_stand_aside),
        cmocka_unit_test(size_does_not_matter),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
