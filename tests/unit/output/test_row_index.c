#include "../../../src/output/row_index.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { ROWS = 4000, MEASURES = 1300 /* more than there are heads: several share one */ };

/* Walking by the index meets the same rows as walking over all of them, from wherever it starts. */
static void the_index_misses_no_row(void **state)
{
    (void)state;
    struct rt_figure_list list = {0};
    struct row_index index;
    char name[32];
    for (size_t i = 0; i < ROWS; i++) {
        struct rt_figure row = rt_empty_figure();
        snprintf(name, sizeof name, "measure_%zu", (i / 3 * 7919) % MEASURES);
        row.measure = name;
        assert_int_equal(rt_add_figure(&list, &row, NULL), RT_OK);
    }
    assert_int_equal(make_row_index(&index, &list, NULL), RT_OK);
    assert_non_null(index.next);
    for (size_t m = 0; m < MEASURES; m += 13) {
        snprintf(name, sizeof name, "measure_%zu", m);
        for (size_t from = 0; from <= ROWS; from += 371) {
            size_t at = from;
            for (size_t i = from; i < ROWS; i++) {
                if (strcmp(list.rows[i].measure, name) != 0)
                    continue;
                while ((at = next_place(&index, &list, name, at)) < i)
                    assert_string_not_equal(list.rows[at++].measure, name);
                assert_int_equal(at, i);
                at++;
            }
            while ((at = next_place(&index, &list, name, at)) < ROWS)
                assert_string_not_equal(list.rows[at++].measure, name);
            assert_int_equal(at, ROWS);
        }
    }
    release_row_index(&index);
    assert_int_equal(next_place(NULL, &list, "measure_1", 5), 5); /* without an index: every row */
    rt_release_figures(&list);
}

static void no_rows(void **state)
{
    (void)state;
    const struct rt_figure_list list = {0};
    struct row_index index;
    assert_int_equal(make_row_index(&index, &list, NULL), RT_OK);
    assert_int_equal(next_place(&index, &list, "anything", 0), 0);
    release_row_index(&index);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(the_index_misses_no_row), cmocka_unit_test(no_rows)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
