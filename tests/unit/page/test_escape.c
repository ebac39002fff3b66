/* Escaping. Check values: the HTML standard's character references, RFC 3629 for UTF-8, CSS Syntax 3 escapes.
 */
#include "ridgetally/page/escape.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static void expect_html(const char *input, const char *expected)
{
    struct rt_text html = {0};
    rt_html_add(&html, input);
    assert_false(html.failed);
    assert_string_equal(html.bytes == NULL ? "" : html.bytes, expected);
    rt_text_release(&html);
}

static void markup_becomes_text(void **state)
{
    (void)state;
    expect_html("<script>alert(1)</script>", "&lt;script&gt;alert(1)&lt;/script&gt;");
    expect_html("\" onload='x' `y` & $(z)", "&quot; onload=&#39;x&#39; &#96;y&#96; &amp; $(z)");
    expect_html("&lt;", "&amp;lt;");
    expect_html("two\nlines\tand\ra tab", "two\nlines\tand\ra tab");
    expect_html("", "");
    expect_html(NULL, "");
}

static void controls_and_direction_marks_are_replaced(void **state)
{
    (void)state;
    expect_html("a\001b\033c\177d", "a\uFFFDb\uFFFDc\uFFFDd");
    expect_html("a\xC2\x85"
                "b",
                "a\uFFFDb");
    expect_html("a\u202Eb\u2066c", "a\uFFFDb\uFFFDc");
    expect_html("a\uFFFEb", "a\uFFFDb");
}

static void good_utf8_stays(void **state)
{
    (void)state;
    expect_html("Zähne, зуб, 歯, \U0001F9B7", "Zähne, зуб, 歯, \U0001F9B7");
}

static void bad_utf8_is_replaced_byte_by_byte(void **state)
{
    (void)state;
    expect_html("a\xFF"
                "b",
                "a\uFFFDb");
    expect_html("a\xC3", "a\uFFFD");                             /* ends inside a sequence */
    expect_html("\xC0\xAF", "\uFFFD\uFFFD");                     /* overlong slash */
    expect_html("\xE0\x80\xBC", "\uFFFD\uFFFD\uFFFD");           /* overlong < */
    expect_html("\xED\xA0\x80", "\uFFFD\uFFFD\uFFFD");           /* surrogate */
    expect_html("\xF4\x90\x80\x80", "\uFFFD\uFFFD\uFFFD\uFFFD"); /* above U+10FFFF */
    expect_html("\xC3<", "\uFFFD&lt;");                          /* the next character survives */
}

static void css_strings_cannot_end_early(void **state)
{
    (void)state;
    struct rt_text css = {0};
    rt_css_add_string(&css, "A \"b\"\\c\n</style>");
    assert_string_equal(css.bytes, "\"A \\000022b\\000022\\00005Cc\\00000A\\00003C\\00002Fstyle\\00003E\"");
    rt_text_clear(&css);
    rt_css_add_string(&css, "\xFF"
                            "9");
    assert_string_equal(css.bytes, "\"\\00FFFD9\"");
    rt_text_release(&css);
}

static void raw_is_raw(void **state)
{
    (void)state;
    struct rt_text html = {0};
    rt_html_add_raw(&html, "<b>");
    assert_string_equal(html.bytes, "<b>");
    rt_text_release(&html);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(markup_becomes_text),
        cmocka_unit_test(controls_and_direction_marks_are_replaced),
        cmocka_unit_test(good_utf8_stays),
        cmocka_unit_test(bad_utf8_is_replaced_byte_by_byte),
        cmocka_unit_test(css_strings_cannot_end_early),
        cmocka_unit_test(raw_is_raw),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
