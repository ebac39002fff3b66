/* Growing text: formats that fit and that do not, numbers beside printf's own. */
#include "ridgetally/base/text.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static void formats_of_every_length_are_whole(void **state)
{
    (void)state;
    char long_words[300];
    memset(long_words, 'w', sizeof long_words - 1);
    long_words[sizeof long_words - 1] = '\0';
    for (int before = 0; before < 140; before++) {
        for (int length = 0; length < 280; length += 1 + length / 20) {
            struct rt_text text = {0};
            char expected[600];
            snprintf(expected, sizeof expected, "%.*s<%.*s>", before, long_words, length, long_words);
            rt_text_add_bytes(&text, long_words, (size_t)before);
            rt_text_format(&text, "<%.*s>", length, long_words);
            assert_string_equal(text.bytes, expected);
            assert_int_equal(text.length, strlen(expected));
            assert_true(text.length < text.capacity);
            rt_text_release(&text);
        }
    }
}

static void an_empty_format_makes_an_empty_text(void **state)
{
    (void)state;
    struct rt_text text = {0};
    rt_text_format(&text, "%s", "");
    assert_int_equal(text.length, 0);
    assert_string_equal(text.bytes, "");
    rt_text_release(&text);
}

static void numbers_are_as_printf_has_them(void **state)
{
    (void)state;
    static const double values[] = {0.0,
                                    1.0,
                                    9.0,
                                    10.0,
                                    99.0,
                                    1e14,
                                    999999999999999.0,
                                    1e15,
                                    1000000000000001.0,
                                    1e17,
                                    1e300,
                                    5e-324,
                                    0.1,
                                    0.5,
                                    1.0 / 3.0,
                                    123456.75,
                                    4503599627370497.5,
                                    2147483648.0,
                                    1e-5,
                                    0.9999999999999999,
                                    99999999999999.5};
    for (size_t i = 0; i < sizeof values / sizeof values[0]; i++) {
        for (int sign = -1; sign <= 1; sign += 2) {
            const double value = sign * values[i];
            struct rt_text text = {0};
            char expected[64];
            snprintf(expected, sizeof expected, "%.15g", value == 0.0 ? 0.0 : value); /* no negative zero */
            rt_text_add_number(&text, value);
            assert_string_equal(text.bytes, expected);
            rt_text_release(&text);
        }
    }
    struct rt_text none = {0};
    rt_text_add_number(&none, NAN);
    rt_text_add_number(&none, INFINITY);
    rt_text_add_number(&none, -INFINITY);
    assert_int_equal(none.length, 0);
    rt_text_release(&none);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(formats_of_every_length_are_whole),
        cmocka_unit_test(an_empty_format_makes_an_empty_text),
        cmocka_unit_test(numbers_are_as_printf_has_them),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
