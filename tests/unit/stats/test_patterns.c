#include "ridgetally/stats/patterns.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
/* cmocka needs the four above */
#include <cmocka.h>

static void tells_rows_apart(void **state)
{
    (void)state;
    const double x[] = {1, 2, 1, 3, 1, 2, -0.0, 0.0, 0.0, -0.0, 2, 1, 1, 3};
    const size_t of[] = {0, 1, 0, 2, 2, 3, 1}, first[] = {0, 1, 3, 5};
    const double times[] = {2, 2, 2, 1};
    struct rt_patterns patterns;
    assert_int_equal(rt_patterns_build(&patterns, x, 7, 2, NULL), RT_OK);
    assert_int_equal(patterns.count, 4);
    for (size_t i = 0; i < 7; i++)
        assert_int_equal(patterns.of[i], of[i]);
    for (size_t i = 0; i < 4; i++) {
        assert_int_equal(patterns.first[i], first[i]);
        assert_true(patterns.times[i] == times[i]);
    }
    rt_patterns_release(&patterns);
}

static void no_rows_and_no_columns(void **state)
{
    (void)state;
    const double x[] = {1};
    struct rt_patterns patterns;
    assert_int_equal(rt_patterns_build(&patterns, x, 0, 1, NULL), RT_OK);
    assert_int_equal(patterns.count, 0);
    rt_patterns_release(&patterns);
    assert_int_equal(rt_patterns_build(&patterns, x, 3, 0, NULL), RT_OK);
    assert_int_equal(patterns.count, 1); /* rows of nothing are the same */
    assert_true(patterns.times[0] == 3);
    rt_patterns_release(&patterns);
}

/* As many as there are rows, near each other in value. */
static void every_row_may_be_its_own(void **state)
{
    (void)state;
    double x[3000];
    struct rt_patterns patterns;
    x[0] = 1e-9;
    for (size_t i = 1; i < 3000; i++)
        x[i] = nextafter(x[i - 1], 1);
    assert_int_equal(rt_patterns_build(&patterns, x, 3000, 1, NULL), RT_OK);
    assert_int_equal(patterns.count, 3000);
    for (size_t i = 0; i < 3000; i++)
        assert_int_equal(patterns.of[i], i);
    rt_patterns_release(&patterns);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(tells_rows_apart),
                                       cmocka_unit_test(no_rows_and_no_columns),
                                       cmocka_unit_test(every_row_may_be_its_own)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
