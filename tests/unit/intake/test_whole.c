/* Sheets that are all of the records: what is gone from them, what comes back, what undo makes of it. */
#include "../support/records.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define IMPLANTS  "patient,implant,tooth,placed_on,isq\n"
#define FOLLOWUPS "patient,implant,seen_on,probing_mm\n"

static const char abc[] = IMPLANTS "P1,a,11,2024-03-01,60\nP1,b,12,2024-03-01,61\nP2,c,13,2024-03-01,62\n";

static enum rt_status load_whole(struct bench *bench, const char *name, const char *text)
{
    const char *path = put_file(bench, name, text);
    const struct rt_load_options options = {.whole = true};
    size_t done = 0;
    rt_release_load_report(&bench->report);
    bench->report = (struct rt_load_report){0};
    rt_error_clear(&bench->error);
    return rt_load_files(bench->store, &path, 1, &options, &bench->report, &done, &bench->error);
}

static void rows_are(struct bench *bench, const char *sql, const char *expected)
{
    assert_string_equal(rows_of(bench, sql), expected);
}

static const char gone[] = "SELECT subject, value, source_batch_id, state FROM doubt WHERE check_name = "
                           "'gone-from-whole-sheet' ORDER BY id";

static void a_part_says_nothing_about_the_rest(void **state)
{
    struct bench *bench = *state;
    load_text(bench, "i.csv", abc);
    load_text(bench, "part.csv", IMPLANTS "P1,b,12,2024-03-01,61\n");
    assert_int_equal(bench->report.rows_gone, 0);
    rows_are(bench, gone, "");
    rows_are(bench, "SELECT batch_id, first_id, last_id FROM seen_rows", "1|1|3\n2|2|2\n");
    rows_are(bench, "SELECT whole FROM batch", "0\n0\n");
}

static void what_is_gone_stays_as_a_doubt_until_it_is_back(void **state)
{
    struct bench *bench = *state;
    load_text(bench, "i.csv", abc);
    char *before = dump_records(bench);
    assert_int_equal(load_whole(bench, "i.csv", IMPLANTS "P1,b,12,2024-03-01,65\nP3,d,14,2024-03-01,\n"),
                     RT_OK);
    assert_int_equal(bench->report.rows_gone, 2);
    assert_int_equal(bench->report.rows_changed, 1);
    assert_int_equal(bench->report.rows_new, 1);
    rows_are(bench, gone, "implant:1||2|waiting\nimplant:3||2|waiting\n");
    rows_are(bench, "SELECT count(*) FROM implant", "4\n");
    rows_are(bench, "SELECT whole FROM batch WHERE id = 2", "1\n");
    /* again without them: nothing more is gone */
    assert_int_equal(load_whole(bench, "i.csv", IMPLANTS "P1,b,12,2024-03-01,65\nP3,d,14,2024-03-01,\n"),
                     RT_OK);
    assert_int_equal(bench->report.rows_gone, 0);
    /* one is back, in a part */
    load_text(bench, "part.csv", IMPLANTS "P1,a,11,2024-03-01,60\n");
    assert_int_equal(bench->report.rows_back, 1);
    rows_are(bench, gone, "implant:1||2|mended\nimplant:3||2|waiting\n");
    /* and gone again, under its old number */
    assert_int_equal(load_whole(bench, "i.csv", IMPLANTS "P1,b,12,2024-03-01,65\nP3,d,14,2024-03-01,\n"),
                     RT_OK);
    assert_int_equal(bench->report.rows_gone, 1);
    rows_are(bench, "SELECT count(*) FROM doubt WHERE subject = 'implant:1' AND check_name LIKE 'gone%'",
             "1\n");
    rows_are(bench, gone, "implant:1||2|waiting\nimplant:3||2|waiting\n");
    for (int64_t batch = 5; batch >= 2; batch--)
        assert_int_equal(rt_undo_batch(bench->store, batch, &bench->error), RT_OK);
    char *after = dump_records(bench);
    assert_string_equal(before, after);
    rows_are(bench, "SELECT count(*) FROM seen_rows WHERE batch_id > 1", "0\n");
    assert_int_equal(rt_store_verify(bench->store, &bench->error), RT_OK);
    free(before);
    free(after);
}

static void followups_and_events_can_be_gone(void **state)
{
    struct bench *bench = *state;
    load_text(bench, "i.csv", abc);
    load_text(bench, "f.csv", FOLLOWUPS "P1,a,2025-03-01,3\nP1,a,2026-03-01,3\nP2,c,2025-03-01,3\n");
    load_text(bench, "e.csv",
              "patient,implant,happened_on,event\nP1,,2026-05-01,moved_away\nP2,c,2026-05-01,unused\n");
    assert_int_equal(load_whole(bench, "f.csv", FOLLOWUPS "P1,a,2025-03-01,3\nP2,c,2025-03-01,3\n"), RT_OK);
    assert_int_equal(
        load_whole(bench, "e.csv", "patient,implant,happened_on,event\nP2,c,2026-05-01,unused\n"), RT_OK);
    rows_are(bench, gone, "reading:2|2026-03-01|4|waiting\nevent:1|2026-05-01|5|waiting\n");
}

/* A row that is in the sheet and cannot be taken is not gone. */
static void refused_rows_are_not_gone(void **state)
{
    struct bench *bench = *state;
    load_text(bench, "i.csv", abc);
    assert_int_equal(load_whole(bench, "i.csv", IMPLANTS "P1,a,11,2024-03-01,600\nP1,b,12,2024-03-01,61\n"),
                     RT_PARTIAL);
    assert_int_equal(bench->report.rows_gone, 1);
    rows_are(bench, gone, "implant:3||2|waiting\n");
    load_text(bench, "f.csv", FOLLOWUPS "P1,a,2025-03-01,3\nP1,b,2025-03-01,3\n");
    assert_int_equal(load_whole(bench, "f.csv", FOLLOWUPS "P1,a,2025-02-30,3\n"), RT_PARTIAL);
    assert_int_equal(bench->report.rows_gone, 1);
    rows_are(bench, gone, "implant:3||2|waiting\nreading:2|2025-03-01|4|waiting\n");
}

static void two_sheets_of_one_kind_are_not_both_all(void **state)
{
    struct bench *bench = *state;
    char first[128];
    snprintf(first, sizeof first, "%s", put_file(bench, "a.csv", abc));
    const char *paths[] = {first, put_file(bench, "b.csv", IMPLANTS "P9,z,11,2024-03-01,60\n")};
    const struct rt_load_options options = {.whole = true};
    struct rt_load_report reports[2 * RT_RECORD_KINDS] = {{0}};
    size_t done = 0;
    assert_int_equal(rt_load_files(bench->store, paths, 2, &options, reports, &done, &bench->error), RT_USE);
    assert_string_equal(bench->error.message, "two files of implants cannot each be all of them");
    rows_are(bench, "SELECT count(*) FROM batch", "0\n");
    for (size_t i = 0; i < 2 * RT_RECORD_KINDS; i++)
        rt_release_load_report(&reports[i]);
}

int main(void)
{
#define ON_BENCH(test) cmocka_unit_test_setup_teardown(test, open_bench, close_bench)
    const struct CMUnitTest tests[] = {
        ON_BENCH(a_part_says_nothing_about_the_rest),
        ON_BENCH(what_is_gone_stays_as_a_doubt_until_it_is_back),
        ON_BENCH(followups_and_events_can_be_gone),
        ON_BENCH(refused_rows_are_not_gone),
        ON_BENCH(two_sheets_of_one_kind_are_not_both_all),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
