/* Dates. Check values: ISO 8601 and the Gregorian leap rule; day numbers from POSIX (1970-01-01 is day 0). */
#include "ridgetally/base/date.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static void day_numbers_round_trip_over_all_years(void **state)
{
    (void)state;
    int first = rt_day_number((struct rt_civil_date){1, 1, 1});
    int last = rt_day_number((struct rt_civil_date){9999, 12, 31});
    assert_int_equal(last - first, 3652058); /* days in the years 1..9999 */
    for (int day = first; day <= last; day++) {
        if (rt_day_number(rt_civil_date(day)) != day)
            assert_int_equal(rt_day_number(rt_civil_date(day)), day);
    }
}

static void known_days(void **state)
{
    (void)state;
    assert_int_equal(rt_parse_iso_date("1970-01-01"), 0);
    assert_int_equal(rt_parse_iso_date("2000-03-01"), 11017);
    assert_int_equal(rt_parse_iso_date("1969-12-31"), -1);
}

static void only_strict_dates_are_read(void **state)
{
    (void)state;
    const char *bad[] = {"",           "2026-02-29", "1900-02-29", "2026-13-01",  "2026-00-10",
                         "2026-04-31", "2026-4-03",  "20260403",   "2026-04-03 ", " 2026-04-3",
                         "2026/04/03", "0000-01-01", "2026-04-0x", "-026-04-03",  "2026-04-00"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        assert_int_equal(rt_parse_iso_date(bad[i]), RT_NO_DATE);
    assert_int_equal(rt_parse_iso_date(NULL), RT_NO_DATE);
    assert_int_not_equal(rt_parse_iso_date("2000-02-29"), RT_NO_DATE);
    char text[11];
    assert_string_equal(rt_format_iso_date(rt_parse_iso_date("0987-06-05"), text), "0987-06-05");
    assert_string_equal(rt_format_iso_date(RT_NO_DATE, text), "");
}

static void months_clip_to_the_end(void **state)
{
    (void)state;
    assert_int_equal(rt_add_months(rt_parse_iso_date("2026-01-31"), 1), rt_parse_iso_date("2026-02-28"));
    assert_int_equal(rt_add_months(rt_parse_iso_date("2024-01-31"), 1), rt_parse_iso_date("2024-02-29"));
    assert_int_equal(rt_add_months(rt_parse_iso_date("2026-01-15"), -13), rt_parse_iso_date("2024-12-15"));
    assert_int_equal(rt_add_months(RT_NO_DATE, 1), RT_NO_DATE);
}

static void quarters(void **state)
{
    (void)state;
    int first = 0;
    int last = 0;
    assert_true(rt_parse_quarter("2024Q1", &first, &last));
    assert_int_equal(first, rt_parse_iso_date("2024-01-01"));
    assert_int_equal(last, rt_parse_iso_date("2024-03-31"));
    assert_true(rt_parse_quarter("2024Q4", &first, &last));
    assert_int_equal(last, rt_parse_iso_date("2024-12-31"));
    assert_false(rt_parse_quarter("2024Q5", &first, &last));
    assert_false(rt_parse_quarter("2024q1", &first, &last));
    assert_false(rt_parse_quarter("2024Q11", &first, &last));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(day_numbers_round_trip_over_all_years),
        cmocka_unit_test(known_days),
        cmocka_unit_test(only_strict_dates_are_read),
        cmocka_unit_test(months_clip_to_the_end),
        cmocka_unit_test(quarters),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
