#include "ridgetally/figure/case_series.h"
#include "ridgetally/figure/catalogue.h"
#include "ridgetally/figure/figure.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static struct rt_figure sample_row(const char *level, double at)
{
    struct rt_figure row = rt_empty_figure();
    row.section = "depth";
    row.measure = "depth_bias";
    row.grouping = "window|operator";
    row.level = level;
    row.at = at;
    row.unit_of_analysis = "implant";
    return row;
}

static void test_rows_own_their_text(void **state)
{
    (void)state;
    struct rt_figure_list list = {0};
    char level[] = "12 months|A";
    struct rt_figure row = sample_row(level, NAN);
    row.value = 0.5;
    assert_int_equal(rt_add_figure(&list, &row, NULL), RT_OK);
    level[10] = 'Z';
    assert_string_equal(list.rows[0].level, "12 months|A");
    assert_string_equal(list.rows[0].remark, "");
    rt_release_figures(&list);
    assert_int_equal(list.count, 0);
}

static void test_infinite_numbers_are_refused(void **state)
{
    (void)state;
    struct rt_figure_list list = {0};
    struct rt_error error = {0};
    struct rt_figure row = sample_row("period|A", NAN);
    row.upper = INFINITY;
    assert_int_equal(rt_add_figure(&list, &row, &error), RT_USE);
    assert_int_equal(list.count, 0);
    assert_non_null(strstr(error.message, "infinite"));
    rt_release_figures(&list);
}

static void test_find_takes_null_as_any(void **state)
{
    (void)state;
    struct rt_figure_list list = {0};
    struct rt_figure first = sample_row("period|A", 3.0);
    struct rt_figure second = sample_row("period|B", 6.0);
    assert_int_equal(rt_add_figure(&list, &first, NULL), RT_OK);
    assert_int_equal(rt_add_figure(&list, &second, NULL), RT_OK);
    struct rt_figure key = rt_empty_figure();
    key.section = "depth";
    key.measure = "depth_bias";
    key.grouping = key.level = key.baseline = key.site = key.unit_of_analysis = NULL;
    assert_ptr_equal(rt_find_figure(&list, &key), &list.rows[0]);
    key.at = 6.0;
    assert_ptr_equal(rt_find_figure(&list, &key), &list.rows[1]);
    key.level = "period|A";
    assert_null(rt_find_figure(&list, &key));
    rt_release_figures(&list);
}

static void test_keys_have_one_order(void **state)
{
    (void)state;
    struct rt_figure none = sample_row("a", NAN), three = sample_row("a", 3.0), six = sample_row("a", 6.0);
    assert_true(rt_compare_figure_keys(&none, &three) < 0);
    assert_true(rt_compare_figure_keys(&six, &three) > 0);
    assert_int_equal(rt_compare_figure_keys(&none, &none), 0);
    struct rt_figure other = sample_row("b", NAN);
    assert_true(rt_compare_figure_keys(&six, &other) < 0);
}

/* Expected text written by hand from the column list of the manual. */
static void test_csv_and_json(void **state)
{
    (void)state;
    struct rt_figure_list list = {0};
    struct rt_figure row = sample_row("=A,\"b\"", NAN);
    row.n_implants = 12;
    row.n_patients = 0;
    row.value = -0.25;
    row.state = RT_FIGURE_TOO_FEW;
    assert_int_equal(rt_add_figure(&list, &row, NULL), RT_OK);
    struct rt_text text = {0};
    rt_figures_to_csv(&list, &text);
    assert_string_equal(
        text.bytes,
        "section,measure,grouping,level,at,n_implants,n_patients,n_events,n_due,value,lower,upper,p,"
        "p_adjusted,unit,baseline,site,unit_of_analysis,method,state,remark\n"
        "depth,depth_bias,window|operator,\"'=A,\"\"b\"\"\",,12,0,,,-0.25,,,,,,,,implant,,too_few,\n");
    rt_text_clear(&text);
    rt_figures_to_json(&list, &text);
    assert_string_equal(
        text.bytes,
        "[\n{\"section\": \"depth\", \"measure\": \"depth_bias\", \"grouping\": \"window|operator\", "
        "\"level\": \"=A,\\\"b\\\"\", \"at\": null, \"n_implants\": 12, \"n_patients\": 0, "
        "\"n_events\": null, \"n_due\": null, \"value\": -0.25, \"lower\": null, \"upper\": null, "
        "\"p\": null, \"p_adjusted\": null, \"unit\": null, \"baseline\": null, \"site\": null, "
        "\"unit_of_analysis\": \"implant\", \"method\": null, \"state\": \"too_few\", "
        "\"remark\": null}\n]\n");
    rt_text_clear(&text);
    rt_release_figures(&list);
    rt_figures_to_json(&list, &text);
    assert_string_equal(text.bytes, "[]\n");
    rt_text_release(&text);
}

static void test_case_series(void **state)
{
    (void)state;
    struct rt_case_series_list list = {0};
    struct rt_case_series *series = rt_add_case_series(&list, "depth_error", "operator");
    assert_non_null(series);
    char group[] = "A";
    struct rt_case_point point = {.x = 0.0, .y = 0.5, .group = group};
    for (int i = 0; i < 100; i++)
        assert_int_equal(rt_add_case_point(&list, series, &point, NULL), RT_OK);
    group[0] = 'B';
    point.y = NAN;
    assert_int_equal(rt_add_case_point(&list, series, &point, NULL), RT_USE);
    assert_int_equal(series->count, 100);
    assert_string_equal(series->points[99].group, "A");
    assert_ptr_equal(rt_find_case_series(&list, "depth_error"), series);
    assert_null(rt_find_case_series(&list, "other"));
    rt_release_case_series(&list);
}

static void test_catalogue_is_complete(void **state)
{
    (void)state;
    size_t count = 0;
    const struct rt_measure *all = rt_measures(&count);
    assert_true(count > 0);
    for (size_t i = 0; i < count; i++) {
        assert_non_null(rt_find_method(all[i].method));
        assert_ptr_equal(rt_find_measure(all[i].section, all[i].name), &all[i]); /* no name twice */
        assert_true(all[i].label[0] != '\0' && all[i].formula[0] != '\0' && all[i].source[0] != '\0');
        assert_true(all[i].decimals >= 0 && all[i].decimals <= 4);
        assert_true(all[i].outcome[0] != '\0');
    }
    const struct rt_method *methods = rt_methods(&count);
    for (size_t i = 0; i < count; i++)
        assert_ptr_equal(rt_find_method(methods[i].key), &methods[i]);
    assert_non_null(rt_find_grouping("depth_class"));
    assert_null(rt_find_grouping("nonsense"));
    assert_null(rt_find_measure("crest", "depth_bias"));
}

static void test_catalogue_as_csv_has_a_row_per_measure(void **state)
{
    (void)state;
    struct rt_text text = {0};
    rt_catalogue_to_csv(&text);
    assert_int_equal(rt_text_status(&text, NULL), RT_OK);
    size_t lines = 0, measures = 0;
    for (const char *at = text.bytes; *at != '\0'; at++)
        lines += *at == '\n';
    rt_measures(&measures);
    assert_int_equal(lines, measures + 1);
    rt_text_release(&text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_rows_own_their_text),
        cmocka_unit_test(test_infinite_numbers_are_refused),
        cmocka_unit_test(test_find_takes_null_as_any),
        cmocka_unit_test(test_keys_have_one_order),
        cmocka_unit_test(test_csv_and_json),
        cmocka_unit_test(test_case_series),
        cmocka_unit_test(test_catalogue_is_complete),
        cmocka_unit_test(test_catalogue_as_csv_has_a_row_per_measure),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
