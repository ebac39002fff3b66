/* Reading numbers strictly, and the limits of instruments. */
#include "ridgetally/base/number.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

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

static uint64_t random_number(uint64_t below)
{
    static uint64_t state = 7;
    state = state * 6364136223846793005u + 1442695040888963407u;
    return (state >> 33) % below;
}

/* Bit for bit, zeros of either sign too: the C library rounds correctly. */
static void reads_as(const char *text)
{
    double value = 99;
    double expected = strtod(text, NULL);
    assert_true(rt_parse_number(text, &value));
    if (memcmp(&value, &expected, sizeof value) != 0)
        fail_msg("%s: %.17g instead of %.17g", text, value, expected);
}

static void numbers_of_every_length_are_rounded_correctly(void **state)
{
    (void)state;
    static const char *const chosen[] = {"0",
                                         "-0",
                                         "+0",
                                         "-0.0",
                                         ".5",
                                         "5.",
                                         "-.25",
                                         "007.50",
                                         "0.1",
                                         "0.3",
                                         "2.675",
                                         "123456789012345",
                                         "999999999999999",
                                         "9999999999999999",
                                         "0.00000000000001",
                                         "0.000000000000001",
                                         "9007199254740993",
                                         "1e3",
                                         "1.5e-7",
                                         "123456.789e3",
                                         "0.1000000000000000055511151231257827"};
    for (size_t i = 0; i < sizeof chosen / sizeof chosen[0]; i++)
        reads_as(chosen[i]);
    for (int trial = 0; trial < 300000; trial++) {
        char text[40];
        size_t length = 0;
        size_t before = random_number(10), after = random_number(10);
        if (random_number(2) == 0)
            text[length++] = "+-"[random_number(2)];
        for (size_t i = 0; i < before; i++)
            text[length++] = (char)('0' + random_number(10));
        if (after > 0 || before == 0)
            text[length++] = '.';
        for (size_t i = 0; i < after + (before + after == 0); i++)
            text[length++] = (char)('0' + random_number(10));
        text[length] = '\0';
        reads_as(text);
    }
}

static void what_is_no_number_leaves_the_value(void **state)
{
    (void)state;
    static const char *const bad[] = {"",    "-",  "+",     ".",   "-.",  "1..2", "1.2.3", "+-1",
                                      "1-",  " 1", "1 ",    "1,5", "0x1", "inf",  "nan",   "1e",
                                      "1e+", "e5", "1e999", "--1", "1.e", "٣"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        double value = 99;
        if (rt_parse_number(bad[i], &value))
            fail_msg("'%s' was taken", bad[i]);
        assert_true(value == 99);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(limits_are_read_in_three_spellings),
        cmocka_unit_test(plain_numbers_are_no_limits),
        cmocka_unit_test(anything_else_is_refused),
        cmocka_unit_test(numbers_of_every_length_are_rounded_correctly),
        cmocka_unit_test(what_is_no_number_leaves_the_value),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
