/* Reading numbers strictly, and the limits of instruments. */
#include "ridgetally/base/number.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static void limits_are_read_in_three_spellings(void **state)
{
    (void)state;
    const char *spellings[] = {">70", ">=70", "70+", ">70.0", "70.0+", ">7e1"};
    for (size_t i = 0; i < sizeof spellings / sizeof spellings[0]; i++) {
        double value = 0;
        bool capped = false;
        assert_true(rt_parse_capped_number(spellings[i], &value, &capped));
        assert_true(capped);
        assert_true(value == 70);
    }
}

static void plain_numbers_are_no_limits(void **state)
{
    (void)state;
    double value = 0;
    bool capped = true;
    assert_true(rt_parse_capped_number("-12.5", &value, &capped));
    assert_false(capped);
    assert_true(value == -12.5);
}

static void anything_else_is_refused(void **state)
{
    (void)state;
    const char *bad[] = {"",    ">",    ">=",   "+",       ">70+", ">>70", "70++",
                         "<70", "> 70", ">abc", "seventy", "nan",  ">inf"};
    double value = 0;
    bool capped = false;
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        assert_false(rt_parse_capped_number(bad[i], &value, &capped));
    assert_false(rt_parse_capped_number(NULL, &value, &capped));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(limits_are_read_in_three_spellings),
        cmocka_unit_test(plain_numbers_are_no_limits),
        cmocka_unit_test(anything_else_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
