/* Wordings and documents. */
#include "ridgetally/figure/document.h"
#include "ridgetally/figure/wording.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static void wordings_join_their_lines(void **state)
{
    (void)state;
    struct rt_arena arena = {0};
    assert_string_equal(rt_wording(&arena, "page.audit.title"), "Practice audit");
    assert_true(rt_has_wording("page.audit.title"));
    const char *text = rt_wording(&arena, "decide.nothing");
    assert_non_null(strstr(text, "the comparisons is clearer than chance would"));
    assert_null(strchr(text, '\n'));
    assert_null(rt_wording(&arena, "no.such.key"));
    assert_false(rt_has_wording("no.such.key"));
    assert_false(rt_has_wording("page.audit"));
    assert_null(rt_wording(&arena, "page.audit"));
    rt_arena_release(&arena);
}

struct keys {
    char names[4096][64];
    size_t count;
};

static bool collect(const char *key, size_t length, void *context)
{
    struct keys *keys = context;
    assert_true(keys->count < 4096);
    assert_true(length < 64);
    snprintf(keys->names[keys->count++], 64, "%.*s", (int)length, key);
    return true;
}

/* Every key found by searching is found by the table, with the same words; what is part of a key, or goes on behind one, is not. */
static void a_table_of_wordings_knows_the_same(void **state)
{
    (void)state;
    static struct keys keys;
    keys.count = 0;
    rt_each_wording(collect, &keys);
    assert_true(keys.count > 200);
    struct rt_arena arena = {0};
    struct rt_wordings *wordings = rt_new_wordings();
    assert_non_null(wordings);
    bool known = false;
    for (size_t i = 0; i < keys.count; i++) {
        const char *words = rt_find_wording(wordings, &arena, keys.names[i], &known);
        assert_true(known);
        assert_string_equal(words, rt_wording(&arena, keys.names[i]));
    }
    static const char *const unknown[] = {"", "page.audit", "page.audit.titl", "page.audit.titles", "~", " "};
    for (size_t i = 0; i < sizeof unknown / sizeof unknown[0]; i++) {
        assert_null(rt_find_wording(wordings, &arena, unknown[i], &known));
        assert_false(known);
    }
    rt_release_wordings(wordings);
    rt_release_wordings(NULL);
    rt_arena_release(&arena);
}

static void no_wording_is_given_twice(void **state)
{
    (void)state;
    static struct keys keys;
    rt_each_wording(collect, &keys);
    assert_true(keys.count > 200);
    for (size_t i = 0; i < keys.count; i++)
        for (size_t j = i + 1; j < keys.count; j++)
            assert_string_not_equal(keys.names[i], keys.names[j]);
}

/* Sentences hold no digits but those of definitions in brackets. Headings and table words may. */
static void sentences_hold_no_digits(void **state)
{
    (void)state;
    static struct keys keys;
    keys.count = 0;
    rt_each_wording(collect, &keys);
    static const char *const free_of_rule[] = {"heading.", "column.", "caption.",      "level.", "scale.",
                                               "chart.",   "note.",   "page-caution.", "term."};
    struct rt_arena arena = {0};
    for (size_t i = 0; i < keys.count; i++) {
        bool checked = true;
        for (size_t j = 0; j < sizeof free_of_rule / sizeof free_of_rule[0]; j++)
            checked = checked && strncmp(keys.names[i], free_of_rule[j], strlen(free_of_rule[j])) != 0;
        int bracket = 0;
        for (const char *at = rt_wording(&arena, keys.names[i]); checked && *at != '\0'; at++) {
            bracket += (*at == '[' || *at == '{') - (*at == ']' || *at == '}');
            if (bracket == 0 && *at >= '0' && *at <= '9')
                fail_msg("a digit in the wording %s", keys.names[i]);
        }
    }
    rt_arena_release(&arena);
}

static void blocks_and_tables_keep_their_order(void **state)
{
    (void)state;
    struct rt_document document = {0};
    struct rt_chapter *chapter = rt_add_chapter(&document, "depth", "heading.depth");
    struct rt_block *first = rt_add_block(&document, chapter, "one", "heading.depth.bias");
    struct rt_block *second = rt_add_block(&document, chapter, "two", NULL);
    assert_ptr_equal(chapter->blocks, first);
    assert_ptr_equal(first->next, second);
    assert_string_equal(second->heading, "");
    struct rt_table *table = rt_add_table(&document, first, "caption.depth.bias", "column.window");
    rt_add_column(&document, table, "column.cases", RT_PART_CASES);
    struct rt_table_row *row = rt_add_row(&document, table, "A");
    rt_add_text_cell(&document, row, "x");
    rt_add_figure_cell(&document, row, NULL);
    assert_int_equal(table->row_count, 1);
    assert_string_equal(row->cells->text, "x");
    assert_non_null(row->cells->next);
    assert_int_equal(rt_document_status(&document, NULL), RT_OK);
    rt_release_document(&document);
}

static void requests_are_copied(void **state)
{
    (void)state;
    struct rt_document document = {0};
    struct rt_block *block =
        rt_add_block(&document, rt_add_chapter(&document, "depth", "heading.depth"), "one", NULL);
    char id[] = "chart-a";
    struct rt_chart_request request = {.id = id, .measures = {"depth_bias", NULL, NULL}, .at = NAN};
    rt_set_chart(&document, block, &request);
    id[6] = 'b';
    struct rt_chart_request copies[1];
    assert_int_equal(document.chart_count, 1);
    rt_document_charts(&document, copies);
    assert_string_equal(copies[0].id, "chart-a");
    assert_string_equal(copies[0].measures[0], "depth_bias");
    assert_null(copies[0].measures[1]);
    assert_string_equal(copies[0].level, "");
    rt_release_document(&document);
}

static void a_missing_wording_sticks(void **state)
{
    (void)state;
    struct rt_document document = {0};
    struct rt_error error = {0};
    struct rt_chapter *chapter = rt_add_chapter(&document, "depth", "no.such.heading");
    assert_null(rt_add_block(&document, chapter, "one", NULL));
    assert_null(rt_add_answer(&document, NULL, "depth.where"));
    rt_bind_words(&document, NULL, "x", "y");
    assert_int_equal(rt_document_status(&document, &error), RT_USE);
    assert_non_null(strstr(error.message, "no.such.heading"));
    rt_release_document(&document);
}

static void part_words(void **state)
{
    (void)state;
    enum rt_slot_part part = RT_PART_TEXT;
    assert_true(rt_slot_part_of("lower_size}", 10, &part));
    assert_int_equal(part, RT_PART_LOWER_SIZE);
    assert_false(rt_slot_part_of("lowe", 4, &part));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(wordings_join_their_lines),
        cmocka_unit_test(a_table_of_wordings_knows_the_same),
        cmocka_unit_test(no_wording_is_given_twice),
        cmocka_unit_test(sentences_hold_no_digits),
        cmocka_unit_test(blocks_and_tables_keep_their_order),
        cmocka_unit_test(requests_are_copied),
        cmocka_unit_test(a_missing_wording_sticks),
        cmocka_unit_test(part_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
