/* Model matrices: columns, names, reference levels, products; values follow from the definition. */
#include "ridgetally/stats/design_matrix.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static const double depth[] = {0.5, 1, 2, -1};
static const double tissue[] = {2, 3, 4, 5};
static const size_t density[] = {0, 2, 2, 3};
static const char *const grades[] = {"D1", "D2", "D3", "a|b=c\\d"};
static const size_t smoking[] = {0, 1, 0, 1};
static const char *const yes_no[] = {"no", "yes"};

static const struct rt_number_column numbers[] = {{"depth", depth}, {"tissue", tissue}};
static const struct rt_category_column categories[] = {{"density", density, grades, 4},
                                                       {"smoking", smoking, yes_no, 2}};

static void columns_and_names_in_order(void **state)
{
    (void)state;
    const struct rt_product products[] = {{0, 1}, {0, 2}, {2, 3}};
    const struct rt_design_columns columns = {4, numbers, 2, categories, 2, products, 3, false};
    struct rt_design design;
    assert_int_equal(rt_design_build(&design, &columns, NULL), RT_OK);
    /* the level D2 has no row and gives no column */
    const char *terms[] = {"intercept",
                           "depth",
                           "tissue",
                           "density=D3",
                           "density=a\\|b\\=c\\\\d",
                           "smoking=yes",
                           "depth x tissue",
                           "depth x density=D3",
                           "depth x density=a\\|b\\=c\\\\d",
                           "density=D3 x smoking=yes",
                           "density=a\\|b\\=c\\\\d x smoking=yes"};
    const double second_row[] = {1, 1, 3, 1, 0, 1, 3, 1, 0, 1, 0};
    const size_t source[] = {RT_NO_COLUMN, 0, 1, 2, 2, 3, 4, 5, 5, 6, 6};
    assert_int_equal(design.p, 11);
    for (size_t j = 0; j < design.p; j++) {
        assert_string_equal(design.terms[j], terms[j]);
        assert_true(design.x[design.p + j] == second_row[j]);
        assert_int_equal(design.source[j], source[j]);
        assert_int_equal(rt_design_find(&design, terms[j]), j);
    }
    assert_int_equal(rt_design_find(&design, "density=D2"), RT_NO_COLUMN);
    rt_design_release(&design);
}

static void the_first_level_with_rows_is_the_reference(void **state)
{
    (void)state;
    const size_t codes[] = {3, 2, 2, 3};
    const struct rt_category_column category = {"density", codes, grades, 4};
    const struct rt_design_columns columns = {
        .n = 4, .categories = &category, .category_count = 1, .without_intercept = true};
    struct rt_design design;
    assert_int_equal(rt_design_build(&design, &columns, NULL), RT_OK);
    assert_int_equal(design.p, 1);
    assert_true(design.x[0] == 1 && design.x[1] == 0 && design.x[2] == 0 && design.x[3] == 1);
    rt_design_release(&design);
}

static void wrong_calls_are_refused(void **state)
{
    (void)state;
    const struct rt_product products[][1] = {{{0, 0}}, {{0, 4}}, {{9, 1}}};
    struct rt_design design;
    for (size_t i = 0; i < 3; i++) {
        const struct rt_design_columns columns = {4, numbers, 2, categories, 2, products[i], 1, false};
        struct rt_error error = {0};
        assert_int_equal(rt_design_build(&design, &columns, &error), RT_USE);
        assert_true(error.message[0] != '\0');
    }
    const struct rt_category_column few = {"density", density, grades, 3};
    const struct rt_design_columns columns = {.n = 4, .categories = &few, .category_count = 1};
    assert_int_equal(rt_design_build(&design, &columns, NULL), RT_USE);
}

static void no_rows_leave_the_numbers(void **state)
{
    (void)state;
    const struct rt_design_columns columns = {0, numbers, 2, categories, 2, NULL, 0, false};
    struct rt_design design;
    assert_int_equal(rt_design_build(&design, &columns, NULL), RT_OK);
    assert_int_equal(design.p, 3);
    rt_design_release(&design);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(columns_and_names_in_order),
        cmocka_unit_test(the_first_level_with_rows_is_the_reference),
        cmocka_unit_test(wrong_calls_are_refused),
        cmocka_unit_test(no_rows_leave_the_numbers),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
