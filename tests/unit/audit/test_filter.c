/*
 * Filters: a part of the records is audited as if the store held nothing else. The other store is made by deleting the
 * other rows from its tables, chosen by SQL of this test.
 */
#include "../support/audited.h"

#include "ridgetally/base/date.h"
#include "ridgetally/base/resource.h"
#include "ridgetally/store/narrow.h"
#include "ridgetally/store/query.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include <gsl/gsl_errno.h>

static void load(struct bench *bench, const char *name, const char *text)
{
    enum rt_status status = load_text(bench, name, text);
    if (status != RT_OK && status != RT_PARTIAL)
        fail_msg("%s: %s", name, bench->error.message);
    rt_error_clear(&bench->error);
}

/* The sample practice, and what it lacks: implants with few facts, a death written beside one of two implants. */
static int open_practice(void **state)
{
    open_bench(state);
    struct bench *bench = *state;
    static const char *const files[] = {"implants.csv", "followups.csv", "events.csv"};
    for (size_t i = 0; i < 3; i++) {
        char name[64];
        snprintf(name, sizeof name, "sample-data/%s", files[i]);
        load(bench, files[i], rt_find_resource(name)->bytes);
    }
    load(bench, "implants.csv",
         "patient,implant,tooth,placed_on,operator,density_found,density_planned\n"
         "Q1,a,36,2024-02-01,A,LZ2,LZ2\nQ1,b,11,2024-02-01,\"B, "
         "guest\",,\nQ2,a,,2024-03-01,,D1,\nQ3,a,24,,A,,\n");
    load(bench, "events.csv",
         "patient,implant,happened_on,event\nQ1,b,2024-09-01,died\nQ1,a,2024-05-01,removed\n");
    return 0;
}

static void run_sql(struct bench *bench, const char *sql)
{
    struct rt_query *query = NULL;
    if (rt_query_open_text(bench->store, sql, &query, &bench->error) != RT_OK ||
        rt_query_run(query, &bench->error) != RT_OK)
        fail_msg("%s: %s", sql, bench->error.message);
    rt_query_close(query);
}

/* Leave nothing in the tables but the implants that meet the condition and what belongs to them. */
static void delete_others(struct bench *bench, const char *condition)
{
    char sql[1024];
    run_sql(bench, "CREATE TEMP TABLE gone (id INTEGER PRIMARY KEY)");
    snprintf(sql, sizeof sql, "INSERT INTO gone SELECT id FROM implant WHERE coalesce(NOT (%s), 1)",
             condition);
    run_sql(bench, sql);
    run_sql(bench, "UPDATE OR IGNORE event SET implant_id = NULL WHERE implant_id IN (SELECT id FROM gone) "
                   "AND event IN ('died', 'moved_away')");
    run_sql(bench, "DELETE FROM doubt_answer");
    run_sql(bench, "DELETE FROM doubt WHERE implant_id IN (SELECT id FROM gone)");
    run_sql(bench, "DELETE FROM reading WHERE implant_id IN (SELECT id FROM gone)");
    run_sql(bench, "DELETE FROM event WHERE implant_id IN (SELECT id FROM gone)");
    run_sql(bench, "DELETE FROM implant WHERE id IN (SELECT id FROM gone)");
    run_sql(bench, "CREATE TEMP TABLE left_over AS SELECT id FROM patient WHERE id NOT IN (SELECT patient_id "
                   "FROM implant)");
    run_sql(bench, "DELETE FROM doubt WHERE patient_id IN (SELECT id FROM left_over)");
    run_sql(bench, "DELETE FROM event WHERE patient_id IN (SELECT id FROM left_over)");
    run_sql(bench, "DELETE FROM patient WHERE id IN (SELECT id FROM left_over)");
}

struct filter_case {
    const char *condition; /* SQL over table implant */
    enum rt_filter_fact fact;
    const char *values;
};

static const struct filter_case filter_cases[] = {
    {"operator = 'A'", RT_FILTER_OPERATOR, "A"},
    {"operator IN ('C', 'B')", RT_FILTER_OPERATOR, "C,B"},
    {"operator = 'B, guest' OR operator IS NULL", RT_FILTER_OPERATOR, "B\\, guest,not-recorded"},
    {"implant_line = 'line-1'", RT_FILTER_LINE, "line-1"},
    {"tooth BETWEEN 11 AND 28", RT_FILTER_JAW, "upper"},
    {"tooth IS NULL OR tooth > 30", RT_FILTER_JAW, "lower, Not Recorded"},
    {"tooth IN (11, 12, 13, 21, 22, 23, 34, 35, 36, 37, 38, 44, 45, 46, 47, 48)", RT_FILTER_REGION,
     "upper front,LOWER-BACK"},
    {"tooth IN (36, 46)", RT_FILTER_TOOTH, "36,46"},
    {"density_found = 2 AND density_found_scale = 'D'", RT_FILTER_DENSITY_FOUND, "d2"},
    {"density_found = 2 AND density_found_scale = 'LZ' OR density_found IS NULL", RT_FILTER_DENSITY_FOUND,
     "LZ2,not-recorded"},
    {"density_planned IN (3, 4) AND density_planned_scale = 'D'", RT_FILTER_DENSITY_PLANNED, "D3,D4"},
    {"stalled = 1", RT_FILTER_STALLED, "yes"},
    {"changed = 0", RT_FILTER_CHANGED, "no"},
    {"closure = 'one-stage'", RT_FILTER_CLOSURE, "one-stage"},
    {"timing NOT IN ('healed')", RT_FILTER_TIMING, "type-1,type 2,type-3,type-4,immediate,early,late"},
    {"graft IS NULL OR graft = 1", RT_FILTER_GRAFT, "yes,not-recorded"},
    {"substr(date(placed_on * 86400, 'unixepoch'), 1, 4) - birth_year BETWEEN 40 AND 59", RT_FILTER_AGE,
     "40-59"},
    {"substr(date(placed_on * 86400, 'unixepoch'), 1, 4) - birth_year NOT BETWEEN 36 AND 69", RT_FILTER_AGE,
     "-35,70-"},
    {"sex = 'F'", RT_FILTER_SEX, "f"},
    {"smoking = 'current'", RT_FILTER_SMOKING, "current"},
    {"smoking IS NULL", RT_FILTER_SMOKING, "not-recorded"},
    {"diabetes <> 'none'", RT_FILTER_DIABETES, "controlled,uncontrolled"},
    {"periodontitis = 1", RT_FILTER_PERIODONTITIS, "yes"},
};
enum { FILTER_CASES = sizeof filter_cases / sizeof filter_cases[0] };

static struct rt_audit_filters filters_of(const struct filter_case *one)
{
    struct rt_audit_filters filters = rt_no_filters();
    filters.values[one->fact] = one->values;
    return filters;
}

/* Everything an audit reads, as text. */
static char *seen_by_audits(struct bench *bench)
{
    static const char *const queries[] = {
        "sql/queries/audit-data.sql",           "sql/queries/audit-implants.sql",
        "sql/queries/audit-readings.sql",       "sql/queries/audit-events.sql",
        "sql/queries/audit-repeats.sql",        "sql/queries/audit-operators.sql",
        "sql/queries/audit-readers.sql",        "sql/queries/record-span.sql",
        "sql/queries/audit-primary-reader.sql", "sql/queries/doubts-to-mend.sql"};
    struct rt_text text = {0};
    for (size_t i = 0; i < sizeof queries / sizeof queries[0]; i++) {
        struct rt_query *query = NULL;
        bool row = true;
        assert_int_equal(rt_query_open(bench->store, queries[i], &query, &bench->error), RT_OK);
        if (rt_parameter(query, ":last_day") > 0)
            rt_bind_integer(query, ":last_day", day_of("2026-06-30"));
        if (rt_parameter(query, ":primary_reader") > 0)
            rt_bind_text(query, ":primary_reader", "R1");
        if (rt_parameter(query, ":all_films") > 0)
            rt_bind_integer(query, ":all_films", 1);
        while (row) {
            assert_int_equal(rt_query_next(query, &row, &bench->error), RT_OK);
            for (int c = 0; row && c < rt_column_count(query); c++)
                rt_text_format(&text, "%s|", rt_column_is_null(query, c) ? "" : rt_column_text(query, c));
            rt_text_add_character(&text, '\n');
        }
        rt_query_close(query);
    }
    return rt_text_detach(&text);
}

static void every_filter_shows_what_a_store_of_that_part_holds(void **state)
{
    struct bench *bench = *state;
    char *whole = seen_by_audits(bench);
    for (size_t i = 0; i < FILTER_CASES; i++) {
        struct rt_audit_filters filters = filters_of(&filter_cases[i]);
        if (rt_apply_filters(bench->store, &filters, &bench->error) != RT_OK)
            fail_msg("%s: %s", filter_cases[i].values, bench->error.message);
        char *part = seen_by_audits(bench);
        assert_int_equal(rt_widen_store(bench->store, &bench->error), RT_OK);
        char *again = seen_by_audits(bench);
        assert_string_equal(again, whole);
        run_sql(bench, "BEGIN");
        delete_others(bench, filter_cases[i].condition);
        char *other = seen_by_audits(bench);
        run_sql(bench, "ROLLBACK");
        if (strcmp(part, other) != 0)
            fail_msg("'%s' is not '%s'", filter_cases[i].values, filter_cases[i].condition);
        assert_string_not_equal(part, whole);
        assert_true(strlen(part) > 300); /* the settings and class cuts alone are more than this */
        free(part);
        free(again);
        free(other);
    }
    free(whole);
}

static char *figures_of(struct bench *bench, const struct rt_audit_filters *filters, char *hash)
{
    const struct rt_period period = {day_of("2026-04-01"), day_of("2026-06-30")};
    struct audited audited = {.figures = {.rows = NULL}};
    struct rt_text csv = {0};
    if (rt_audit_run(bench->store, &period, filters, &audited.figures, &audited.cases, &audited.info,
                     &bench->error) != RT_OK)
        fail_msg("audit: %s", bench->error.message);
    rt_figures_to_csv(&audited.figures, &csv);
    rt_text_format(&csv, "%zu series\n", audited.cases.count);
    snprintf(hash, 65, "%s", audited.info.data_hash);
    release_audited(&audited);
    return rt_text_detach(&csv);
}

static void the_audit_of_a_part_is_that_of_a_store_of_that_part(void **state)
{
    struct bench *bench = *state;
    static const size_t chosen[] = {0, 6, 16};
    char whole_hash[65], part_hash[65], other_hash[65];
    free(figures_of(bench, NULL, whole_hash));
    for (size_t i = 0; i < sizeof chosen / sizeof chosen[0]; i++) {
        struct rt_audit_filters filters = filters_of(&filter_cases[chosen[i]]);
        char *part = figures_of(bench, &filters, part_hash);
        run_sql(bench, "BEGIN");
        delete_others(bench, filter_cases[chosen[i]].condition);
        char *other = figures_of(bench, NULL, other_hash);
        run_sql(bench, "ROLLBACK");
        assert_string_equal(part, other);
        assert_string_not_equal(part_hash, other_hash); /* the filters' words are in it */
        assert_string_not_equal(part_hash, whole_hash);
        free(part);
        free(other);
    }
}

static void days_and_facts_are_joined(void **state)
{
    struct bench *bench = *state;
    struct rt_audit_filters filters = rt_no_filters();
    filters.values[RT_FILTER_OPERATOR] = "A,C";
    filters.values[RT_FILTER_STALLED] = "no";
    filters.placed_from = day_of("2023-01-15");
    filters.placed_to = day_of("2025-03-01");
    assert_int_equal(rt_apply_filters(bench->store, &filters, &bench->error), RT_OK);
    char *part = seen_by_audits(bench);
    assert_int_equal(rt_widen_store(bench->store, &bench->error), RT_OK);
    run_sql(bench, "BEGIN");
    delete_others(bench, "operator IN ('A', 'C') AND stalled = 0 AND date(placed_on * 86400, 'unixepoch') "
                         "BETWEEN '2023-01-15' AND '2025-03-01'");
    char *other = seen_by_audits(bench);
    run_sql(bench, "ROLLBACK");
    assert_string_equal(part, other);
    free(part);
    free(other);
}

static void fails(struct bench *bench, enum rt_filter_fact fact, const char *values, const char *message,
                  const char *remedy)
{
    struct rt_audit_filters filters = rt_no_filters();
    filters.values[fact] = values;
    rt_error_clear(&bench->error);
    assert_int_equal(rt_apply_filters(bench->store, &filters, &bench->error), RT_USE);
    assert_non_null(strstr(bench->error.message, message));
    assert_non_null(strstr(bench->error.remedy, remedy));
    rt_error_clear(&bench->error);
}

static void unknown_values_name_those_there_are(void **state)
{
    struct bench *bench = *state;
    fails(bench, RT_FILTER_OPERATOR, "A,D", "operator 'D'", "there are A, B, B, guest, C, not-recorded");
    fails(bench, RT_FILTER_OPERATOR, "a", "operator 'a'", "A, B");
    fails(bench, RT_FILTER_TOOTH, "99", "tooth '99'", "11, ");
    fails(bench, RT_FILTER_SMOKING, "sometimes", "--smoking has no value 'sometimes'",
          "never, former, current, not-recorded");
    fails(bench, RT_FILTER_AGE, "59-40", "--age has no value '59-40'", "40-59");
    fails(bench, RT_FILTER_AGE, "-", "--age has no value '-'", "40-59");
    fails(bench, RT_FILTER_AGE, "4x", "--age has no value '4x'", "40-59");
    fails(bench, RT_FILTER_AGE, "123456789012", "--age has no value", "40-59");
    fails(bench, RT_FILTER_SEX, "F,", "empty value", "");
    fails(bench, RT_FILTER_AGE, "998", "no implant", "leave one");
    assert_string_not_equal(rows_of(bench, "SELECT count(*) FROM implant"),
                            "0\n"); /* nothing is left narrowed */
}

static void the_words_say_what_is_chosen(void **state)
{
    (void)state;
    struct rt_text words = {0};
    struct rt_audit_filters filters = rt_no_filters();
    assert_false(rt_filters_given(NULL));
    assert_false(rt_filters_given(&filters));
    rt_filter_words(&filters, &words);
    assert_int_equal(words.length, 0);
    filters.values[RT_FILTER_OPERATOR] = "A, B\\, guest";
    filters.values[RT_FILTER_TIMING] = "TYPE-1,not-recorded";
    filters.values[RT_FILTER_AGE] = "-39,60-,45,50-54";
    filters.placed_from = day_of("2025-01-01");
    rt_filter_words(&filters, &words);
    assert_string_equal(words.bytes,
                        "placed from 2025-01-01; operator A or B, guest; timing type 1 or not recorded; "
                        "age at placement up to 39 or 60 or more or 45 or 50 to 54");
    rt_text_release(&words);
}

/* A store opened for reading is narrowed too, and still refuses to be written to. */
static void a_store_open_for_reading_stays_so(void **state)
{
    struct bench *bench = *state;
    struct rt_audit_filters filters = rt_no_filters();
    filters.values[RT_FILTER_JAW] = "upper";
    rt_store_close(bench->store);
    assert_int_equal(rt_store_open(bench->store_path, RT_STORE_READ, &bench->store, &bench->error), RT_OK);
    assert_int_equal(rt_apply_filters(bench->store, &filters, &bench->error), RT_OK);
    assert_string_equal(rows_of(bench, "SELECT count(*) FROM implant WHERE tooth > 30 OR tooth IS NULL"),
                        "0\n");
    struct rt_query *query = NULL;
    assert_int_equal(rt_query_open_text(bench->store, "DELETE FROM setting", &query, &bench->error), RT_OK);
    assert_int_not_equal(rt_query_run(query, &bench->error), RT_OK);
    rt_query_close(query);
    rt_error_clear(&bench->error);
    const int64_t one[] = {1};
    assert_int_equal(rt_narrow_store(bench->store, one, 1, &bench->error), RT_USE);
    assert_int_equal(rt_widen_store(bench->store, NULL), RT_OK);
    assert_int_equal(rt_widen_store(bench->store, NULL), RT_OK);
    assert_string_not_equal(rows_of(bench, "SELECT count(*) FROM implant WHERE tooth > 30"), "0\n");
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(every_filter_shows_what_a_store_of_that_part_holds, open_practice,
                                        close_bench),
        cmocka_unit_test_setup_teardown(the_audit_of_a_part_is_that_of_a_store_of_that_part, open_practice,
                                        close_bench),
        cmocka_unit_test_setup_teardown(days_and_facts_are_joined, open_practice, close_bench),
        cmocka_unit_test_setup_teardown(unknown_values_name_those_there_are, open_practice, close_bench),
        cmocka_unit_test(the_words_say_what_is_chosen),
        cmocka_unit_test_setup_teardown(a_store_open_for_reading_stays_so, open_practice, close_bench),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
