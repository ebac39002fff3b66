/* The presenter's list of slides: what is read, and where what is wrong stands. */
#include "ridgetally/output/slide_list.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static void a_list_is_read(void **state)
{
    (void)state;
    struct rt_slide_list list = {0};
    const char *text = "\xef\xbb\xbf# ours\r\ntitle\r\n\r\nsurvival\ntext: Wh\xc3\xa4t <we> change\n  One & "
                       "two\n\tnote: say it\n  three\n";
    assert_int_equal(rt_read_slides(text, "f", &list, NULL), RT_OK);
    assert_int_equal(list.count, 3);
    assert_string_equal(list.slides[0].name, "title");
    assert_string_equal(list.slides[1].name, "survival");
    assert_int_equal(list.slides[1].line, 4);
    assert_string_equal(list.slides[2].name, "");
    assert_string_equal(list.slides[2].title, "Wh\xc3\xa4t <we> change");
    assert_int_equal(list.slides[2].line_count, 2);
    assert_string_equal(list.slides[2].lines[0], "One & two");
    assert_string_equal(list.slides[2].lines[1], "three");
    assert_string_equal(list.slides[2].note, "say it");
    rt_release_slides(&list);
}

static void what_is_wrong_is_named(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        long line;
        const char *words;
    } cases[] = {
        {"title\nsurvivel\n", 2, "survivel"},
        {"title\nsurvival\n\ntitle\n", 4, "already"},
        {"  lonely\n", 1, "no slide of your own"},
        {"title\n  lonely\n", 2, "no slide of your own"},
        {"text:\n", 1, "no title"},
        {"text: a\n 1\n 2\n 3\n 4\n 5\n 6\n 7\n 8\n 9\n", 10, "more lines"},
        {"title\n\xff\n", 2, "UTF-8"},
        {"title\n\xc0\xaf\n", 2, "UTF-8"},
        {"title\n\x1b[2J\n", 2, "UTF-8"},
        {"# nothing\n", 1, "no slide"},
        {"", 0, "no slide"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct rt_slide_list list = {0};
        struct rt_error error = {0};
        assert_int_equal(rt_read_slides(cases[i].text, "slides.txt", &list, &error), RT_INPUT);
        assert_int_equal(error.line, cases[i].line);
        assert_string_equal(error.file, "slides.txt");
        assert_non_null(strstr(error.message, cases[i].words));
        assert_true(error.remedy[0] != '\0');
        rt_release_slides(&list);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_list_is_read),
                                       cmocka_unit_test(what_is_wrong_is_named)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
