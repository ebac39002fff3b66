/* How the audit chooses its words: direction, certainty, too few, labels of levels and times. */
#include "../../../src/output/plan.h"

#include "ridgetally/base/resource.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

struct fixture {
    struct rt_document document;
    struct rt_audit_info info;
    struct rt_figure_list figures;
    struct rt_audit_subject subject;
    struct plan plan;
};

static int start(void **state)
{
    static struct fixture fixture;
    fixture = (struct fixture){.info = {.latest_record = 0}};
    fixture.subject = (struct rt_audit_subject){&fixture.info, "", &fixture.figures, NULL, NULL, NULL};
    fixture.plan = (struct plan){&fixture.document, &fixture.subject, &fixture.figures, NULL};
    *state = &fixture;
    return 0;
}

static int stop(void **state)
{
    struct fixture *fixture = *state;
    rt_release_document(&fixture->document);
    rt_release_figures(&fixture->figures);
    return 0;
}

static struct rt_figure interval(double value, double lower, double upper)
{
    struct rt_figure row = rt_empty_figure();
    row.section = "depth";
    row.measure = "depth_bias";
    row.unit_of_analysis = "implant";
    row.value = value;
    row.lower = lower;
    row.upper = upper;
    row.n_implants = 50;
    row.n_patients = 40;
    return row;
}

static void direction_needs_the_whole_interval(void **state)
{
    const struct plan *plan = &((struct fixture *)*state)->plan;
    struct rt_figure row = interval(0.2, 0.1, 0.3);
    assert_string_equal(signed_key(plan, "k", &row), "k.more");
    row = interval(-0.2, -0.3, -0.1);
    assert_string_equal(signed_key(plan, "k", &row), "k.less");
    row = interval(0.2, -0.1, 0.5);
    assert_string_equal(signed_key(plan, "k", &row), "k.either");
    row = interval(0.2, 0.0, 0.4);
    assert_string_equal(signed_key(plan, "k", &row), "k.either");
    row = interval(0.2, NAN, NAN); /* no interval: no direction is claimed */
    assert_string_equal(signed_key(plan, "k", &row), "k.either");
    row.state = RT_FIGURE_TOO_FEW;
    assert_string_equal(signed_key(plan, "k", &row), "k.few");
    row.state = RT_FIGURE_UNDEFINED;
    assert_string_equal(signed_key(plan, "k", &row), "answer.undefined");
}

static void shares_at_the_ends_have_words_of_their_own(void **state)
{
    const struct plan *plan = &((struct fixture *)*state)->plan;
    struct rt_figure row = interval(0.0, 0.0, 0.09);
    assert_string_equal(share_key(plan, "k", &row), "k.none");
    row = interval(1.0, 0.9, 1.0);
    assert_string_equal(share_key(plan, "k", &row), "k.all");
    row = interval(0.5, 0.4, 0.6);
    assert_string_equal(share_key(plan, "k", &row), "k.small");
    row.n_implants = 100;
    assert_string_equal(share_key(plan, "k", &row), "k.large");
    row.state = RT_FIGURE_TOO_FEW;
    assert_string_equal(share_key(plan, "k", &row), "k.few");
}

static void classes_become_words(void **state)
{
    const struct plan *plan = &((struct fixture *)*state)->plan;
    assert_string_equal(level_words(plan, "torque_class", "<20 Ncm"), "under 20 Ncm");
    assert_string_equal(level_words(plan, "depth_class", "0 to <1 mm"), "0 to under 1 mm");
    assert_string_equal(level_words(plan, "depth_class", "1 to 2 mm"), "1 to 2 mm");
    assert_string_equal(level_words(plan, "depth_class", ">2 mm"), "over 2 mm");
    assert_string_equal(level_words(plan, "tissue_class", ">=3 mm"), "3 mm or more");
    assert_string_equal(level_words(plan, "field", "achieved_depth_mm"), "achieved depth, mm");
    assert_string_equal(level_words(plan, "field", "final_torque_ncm"), "final torque, Ncm");
    assert_string_equal(level_words(plan, "field", "isq"), "isq");
    assert_string_equal(level_words(plan, "term", "density_found=D4"), "density found: D4");
    assert_string_equal(level_words(plan, "operator", "<20"), "<20"); /* a label of the practice stays */
}

static void times_are_counted_in_words(void **state)
{
    const struct plan *plan = &((struct fixture *)*state)->plan;
    struct rt_figure row = interval(0.9, 0.8, 1.0);
    assert_string_equal(time_words(plan, &row), "");
    row.section = "survival";
    row.measure = "survival";
    row.at = 1.0;
    assert_string_equal(time_words(plan, &row), "1 year");
    row.at = 2.0;
    assert_string_equal(time_words(plan, &row), "2 years");
    row.at = 0.25;
    assert_string_equal(time_words(plan, &row), "3 months");
    row.section = "crest";
    row.measure = "crest_change";
    row.at = 12.0;
    assert_string_equal(time_words(plan, &row), "12 months");
}

static void rows_are_named_by_what_they_are_about(void **state)
{
    const struct plan *plan = &((struct fixture *)*state)->plan;
    struct rt_figure row = interval(0.9, 0.8, 1.0);
    row.grouping = "window|operator";
    row.level = "12 months|A";
    assert_string_equal(row_words(plan, &row), "A");
    row.grouping = "window|depth_class|tissue_class";
    row.level = "all|0 to <1 mm|>=3 mm";
    assert_string_equal(row_words(plan, &row), "depth 0 to under 1, tissue 3 or more");
    row.grouping = "window";
    row.level = "period";
    assert_string_equal(row_words(plan, &row), "the period");
    row.grouping = "window|censoring";
    row.level = "period|last sighting";
    assert_string_equal(row_words(plan, &row), "the period, until last seen");
    row.section = "survival";
    row.measure = "survival";
    row.grouping = "censoring|density_found";
    row.level = "last sighting|D2";
    row.at = 3.0;
    assert_string_equal(row_words(plan, &row), "D2, 3 years");
}

static void rows_are_found_by_their_whole_key(void **state)
{
    struct fixture *fixture = *state;
    struct rt_figure row = interval(0.1, 0.0, 0.2);
    row.grouping = "window|operator";
    row.level = "12 months|A";
    assert_int_equal(rt_add_figure(&fixture->figures, &row, NULL), RT_OK);
    row.level = "12 months|B";
    row.unit_of_analysis = "patient";
    assert_int_equal(rt_add_figure(&fixture->figures, &row, NULL), RT_OK);
    row.unit_of_analysis = "implant";
    assert_int_equal(rt_add_figure(&fixture->figures, &row, NULL), RT_OK);
    struct key key = key_of("depth", "depth_bias", "window|operator", "12 months|B");
    assert_ptr_equal(find_row(&fixture->plan, key), &fixture->figures.rows[2]);
    key.unit = "patient";
    assert_ptr_equal(find_row(&fixture->plan, key), &fixture->figures.rows[1]);
    key.level = "12 months|C";
    assert_null(find_row(&fixture->plan, key));
    key = key_of("depth", "depth_bias", "window|operator", "12 months|");
    size_t at = 0;
    assert_ptr_equal(next_row(&fixture->plan, key, &at), &fixture->figures.rows[0]);
    assert_ptr_equal(next_row(&fixture->plan, key, &at), &fixture->figures.rows[2]);
    assert_null(next_row(&fixture->plan, key, &at));
}

/* Three lines of the simulation's file make a row of the appendix; shares become percentages, nothing else changes. */
static void coverage_is_printed_as_it_was_simulated(void **state)
{
    const struct fixture *fixture = *state;
    const struct rt_resource *file = rt_find_resource("reports/coverage.csv");
    assert_non_null(file);
    size_t lines = 0;
    for (const char *at = file->bytes; (at = strchr(at, '\n')) != NULL; at++)
        lines++;
    plan_coverage(&fixture->plan);
    const struct rt_table *table = fixture->document.chapters->blocks->tables;
    assert_true(fixture->document.chapters->reference);
    assert_int_equal(table->row_count, (lines - 1) / 3);
    const char *line = strstr(file->bytes, "\ndepth_bias,100,");
    assert_non_null(line);
    double coverage = 0.0, naive = 0.0;
    long practices = 0, defined = 0;
    char expected[64];
    assert_int_equal(
        sscanf(line, "\ndepth_bias,100,%ld,%ld,%lf,%lf", &practices, &defined, &coverage, &naive), 4);
    assert_int_equal(practices, defined);
    assert_true(coverage > 0.9 && naive < coverage);
    snprintf(expected, sizeof expected, "%.1f%% [%.1f%%]", 100.0 * coverage, 100.0 * naive);
    const struct rt_table_row *row = table->rows;
    while (row != NULL && strstr(row->label, "(depth_bias)") == NULL)
        row = row->next;
    assert_non_null(row);
    assert_string_equal(row->cells->next->text, expected);
}

/* Four lines of the simulation of verdicts make a row: the counts as they stand in the file, the share as a percentage. */
static void verdicts_are_printed_as_they_were_simulated(void **state)
{
    const struct fixture *fixture = *state;
    const struct rt_resource *file = rt_find_resource("reports/verdicts.csv");
    assert_non_null(file);
    size_t lines = 0;
    for (const char *at = file->bytes; (at = strchr(at, '\n')) != NULL; at++)
        lines++;
    plan_coverage(&fixture->plan);
    const struct rt_block *block = fixture->document.chapters->blocks->next;
    assert_string_equal(block->id, "verdicts-table");
    assert_int_equal(block->tables->row_count, (lines - 1) / 4);
    const char *line = strstr(file->bytes, "\nas the sample,torque-per-millimetre,holds,4000,");
    assert_non_null(line);
    long practices = 0, supported = 0, refuted = 0, open = 0, defined = 0;
    double truth = 0.0, mean = 0.0, coverage = 0.0;
    assert_int_equal(sscanf(line,
                            "\nas the sample,torque-per-millimetre,holds,4000,%ld,%ld,%ld,%ld,"
                            "rule_slope_adjusted,%lf,%ld,%lf,%lf",
                            &practices, &supported, &refuted, &open, &truth, &defined, &mean, &coverage),
                     8);
    assert_int_equal(supported + refuted + open, practices);
    char expected[64];
    snprintf(expected, sizeof expected, "%ld / %ld / %ld [%.1f%%]", supported, refuted, open,
             100.0 * coverage);
    const struct rt_table_row *row = block->tables->rows;
    assert_string_equal(row->label, "torque per millimetre: holds");
    assert_string_equal(row->cells->next->next->next->text, expected);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(direction_needs_the_whole_interval, start, stop),
        cmocka_unit_test_setup_teardown(shares_at_the_ends_have_words_of_their_own, start, stop),
        cmocka_unit_test_setup_teardown(classes_become_words, start, stop),
        cmocka_unit_test_setup_teardown(times_are_counted_in_words, start, stop),
        cmocka_unit_test_setup_teardown(rows_are_named_by_what_they_are_about, start, stop),
        cmocka_unit_test_setup_teardown(rows_are_found_by_their_whole_key, start, stop),
        cmocka_unit_test_setup_teardown(coverage_is_printed_as_it_was_simulated, start, stop),
        cmocka_unit_test_setup_teardown(verdicts_are_printed_as_they_were_simulated, start, stop),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
