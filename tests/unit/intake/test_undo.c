/* Taking batches back out of the middle, held against a store into which they were never loaded. */
#include "../support/records.h"

#include "ridgetally/intake/answer.h"
#include "ridgetally/store/query.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define IMPLANTS "patient,implant,isq,length_mm\n"

static void rows_are(struct bench *bench, const char *sql, const char *expected)
{
    assert_string_equal(rows_of(bench, sql), expected);
}

static void refuses(struct bench *bench, int64_t batch, const char *message, const char *remedy)
{
    rt_error_clear(&bench->error);
    assert_int_equal(rt_undo_batch(bench->store, batch, &bench->error), RT_USE);
    assert_string_equal(bench->error.message, message);
    assert_string_equal(bench->error.remedy, remedy);
    rt_error_clear(&bench->error);
}

static void an_untouched_batch_goes_from_the_middle(void **state)
{
    struct bench *bench = *state;
    load_text(bench, "a.csv", IMPLANTS "P1,a,60,10\n");
    load_text(bench, "b.csv", IMPLANTS "P2,a,600,10\nP2,b,62,40.5\nP1,a,61,10\n");
    load_text(bench, "c.csv", IMPLANTS "P3,a,62,10\n");
    static const char audit[] =
        "INSERT INTO audit (first_day, last_day, data_hash, program, recorded_at) VALUES "
        "(0, 1, 'x', '1', '1999-01-01T00:00:00Z'), (0, 2, 'y', '1', '2999-01-01T00:00:00Z')";
    assert_int_equal(rt_run_script(bench->store, audit, &bench->error), RT_OK);
    assert_int_equal(rt_undo_batch(bench->store, 2, &bench->error), RT_OK);
    rows_are(bench,
             "SELECT p.label, i.label, isq FROM implant i JOIN patient p ON p.id = i.patient_id ORDER BY 1",
             "P1|a|60\nP3|a|62\n");
    rows_are(bench, "SELECT count(*) FROM doubt WHERE check_name IN ('refused', 'unusual-value')", "0\n");
    rows_are(bench, "SELECT count(*) FROM patient", "2\n");
    rows_are(bench, "SELECT last_day, restated_at IS NULL FROM audit ORDER BY 1", "1|1\n2|0\n");
    assert_int_equal(rt_store_verify(bench->store, &bench->error), RT_OK);
    assert_int_equal(rt_undo_batch(bench->store, 1, &bench->error), RT_OK);
    assert_int_equal(rt_undo_batch(bench->store, 3, &bench->error), RT_OK);
    rows_are(bench, "SELECT (SELECT count(*) FROM doubt), (SELECT count(*) FROM patient)", "0|0\n");
}

static void what_later_batches_touch_stays(void **state)
{
    struct bench *bench = *state;
    load_text(bench, "a.csv", IMPLANTS "P1,a,60,10\nP1,b,60,10\nP9,z,600,10\n");
    load_text(bench, "b.csv", IMPLANTS "P1,a,61,10\n");                         /* changes a row */
    load_text(bench, "c.csv", IMPLANTS "P1,a,61,10\nP1,b,60,10\nP4,a,60,10\n"); /* holds rows */
    load_text(bench, "d.csv", IMPLANTS "P1,c,60,10\n");                         /* of the same patient */
    load_text(bench, "e.csv", "patient,implant,seen_on\nP1,a,2025-01-01\n");    /* of the same implant */
    load_text(bench, "f.csv", IMPLANTS "P9,z,600,10\n");                        /* the same refused row */
    refuses(
        bench, 1,
        "later batches touch rows of batch 1: batch 2 (1), batch 3 (2), batch 4 (1), batch 5 (1), batch 6 "
        "(1)",
        "undo batch 6 first");
    refuses(bench, 2, "later batches touch rows of batch 2: batch 3 (1)", "undo batch 3 first");
    /* nothing touches these */
    assert_int_equal(rt_undo_batch(bench->store, 4, &bench->error), RT_OK);
    assert_int_equal(rt_undo_batch(bench->store, 3, &bench->error), RT_OK);
    assert_int_equal(rt_undo_batch(bench->store, 2, &bench->error), RT_OK);
    rows_are(bench, "SELECT label, isq FROM implant ORDER BY id", "a|60\nb|60\n");
    /* a batch older than the keeping of rows may hold them */
    load_text(bench, "c.csv", IMPLANTS "P1,a,60,10\nP1,b,60,10\n");
    load_text(bench, "g.csv", IMPLANTS "P5,a,60,10\n");
    rt_run_script(bench->store, "DELETE FROM seen_rows", &bench->error);
    refuses(bench, 1, "later batches touch rows of batch 1: batch 5 (1), batch 6 (1), batch 7 (2)",
            "undo batch 7 first");
}

/* --- any order, against a store that never had them ---------------------------------------------------------- */

enum { MOST = 12, TEXT = 600 };

struct file {
    char name[16], text[TEXT];
    bool in_force;
};

static unsigned draw(unsigned long *seed, unsigned most)
{
    *seed = *seed * 6364136223846793005UL + 1442695040888963407UL;
    return (unsigned)(*seed >> 33) % most;
}

static void make_file(struct file *file, int number, unsigned long *seed)
{
    static const char *const isq[] = {"60", "61", "", "600"};
    static const char *const lengths[] = {"10", "40.5", ""};
    unsigned kind = draw(seed, 3);
    unsigned rows = 1 + draw(seed, 3);
    snprintf(file->name, sizeof file->name, "%d.csv", number);
    snprintf(file->text, TEXT, "%s",
             kind == 0   ? IMPLANTS
             : kind == 1 ? "patient,implant,seen_on,level_mesial_mm,imaged_length_mm\n"
                         : "patient,implant,happened_on,event,cause\n");
    for (unsigned i = 0; i < rows; i++) {
        char row[120];
        char owner[16];
        snprintf(owner, sizeof owner, "P%u,%c", draw(seed, 4), (char)('a' + (int)draw(seed, 2)));
        if (kind == 0)
            snprintf(row, sizeof row, "%s,%s,%s\n", owner, isq[draw(seed, 4)], lengths[draw(seed, 3)]);
        else if (kind == 1)
            snprintf(row, sizeof row, "%s,2025-01-0%u,%u,%u\n", owner, 1 + draw(seed, 2), draw(seed, 3),
                     8 + draw(seed, 3));
        else
            snprintf(row, sizeof row, "%s,2025-0%u-01,removed,%s\n", owner, 1 + draw(seed, 2),
                     draw(seed, 2) == 0 ? "" : "loose");
        strncat(file->text, row, TEXT - strlen(file->text) - 1);
    }
    file->in_force = true;
}

/* What a store says, whatever its row ids: records, refused rows that wait, doubts that stand. */
static char *said(struct bench *bench)
{
    static const char *const sql[] = {
        "SELECT label FROM patient ORDER BY 1",
        "SELECT p.label, i.label, isq, length_mm, b.file_name, source_line FROM implant i JOIN patient p ON "
        "p.id "
        "= i.patient_id JOIN batch b ON b.id = i.source_batch_id ORDER BY 1, 2",
        "SELECT p.label, i.label, seen_on, level_mesial_mm, calibration, b.file_name FROM reading r JOIN "
        "implant i "
        "ON i.id = r.implant_id JOIN patient p ON p.id = i.patient_id JOIN batch b ON b.id = "
        "r.source_batch_id "
        "ORDER BY 1, 2, 3",
        "SELECT p.label, i.label, happened_on, cause FROM event e JOIN patient p ON p.id = e.patient_id LEFT "
        "JOIN "
        "implant i ON i.id = e.implant_id ORDER BY 1, 2, 3",
        "SELECT r.kind, b.file_name, r.line FROM refused_row r JOIN batch b ON b.id = r.batch_id WHERE "
        "r.mended_batch_id IS NULL ORDER BY 1, 2, 3",
        /* a refused row keeps the reason it was refused for */
        "SELECT 'refused', count(*) FROM doubt WHERE check_name = 'refused' AND state <> 'mended'",
        "SELECT check_name, p.label, i.label, column_name, value, d.reason FROM doubt d LEFT JOIN patient p "
        "ON p.id = "
        "d.patient_id LEFT JOIN implant i ON i.id = d.implant_id WHERE state <> 'mended' AND check_name <> "
        "'refused' "
        "ORDER BY 1, 2, 3, 4, 5, 6"};
    struct rt_text text = {0};
    for (size_t i = 0; i < sizeof sql / sizeof sql[0]; i++) {
        rt_text_add(&text, rows_of(bench, sql[i]));
        rt_text_add(&text, "--\n");
    }
    char *all = rt_text_detach(&text);
    assert_non_null(all);
    return all;
}

static void never_loaded(const struct file *files, int count, char **expected)
{
    void *state = NULL;
    assert_int_equal(open_bench(&state), 0);
    for (int i = 0; i < count; i++)
        if (files[i].in_force)
            load_text(state, files[i].name, files[i].text);
    *expected = said(state);
    close_bench(&state);
}

static void compare(struct bench *bench, const struct file *files, int count, unsigned long round)
{
    char *expected = NULL;
    never_loaded(files, count, &expected);
    char *now = said(bench);
    if (strcmp(now, expected) != 0) {
        for (int i = 0; i < count; i++)
            print_message("%d %s\n%s", i + 1, files[i].in_force ? "" : "undone", files[i].text);
        for (size_t at = 0; at < strlen(now); at += 900)
            print_message("%.900s", now + at);
        print_message("\nshould be\n");
        for (size_t at = 0; at < strlen(expected); at += 900)
            print_message("%.900s", expected + at);
        fail_msg("round %lu", round);
    }
    assert_int_equal(rt_store_verify(bench->store, &bench->error), RT_OK);
    free(now);
    free(expected);
}

static void any_undone_batch_might_never_have_been(void **state)
{
    (void)state;
    long undone = 0;
    for (unsigned long round = 1; round <= 10; round++) {
        unsigned long seed = round;
        struct file files[MOST];
        void *bench_state = NULL;
        int count = 0;
        assert_int_equal(open_bench(&bench_state), 0);
        struct bench *bench = bench_state;
        for (int step = 0; step < 20 && count < MOST; step++) {
            int batch = count == 0 ? 0 : (int)draw(&seed, (unsigned)count);
            if (count == 0 || !files[batch].in_force || draw(&seed, 3) > 0) {
                make_file(&files[count], count + 1, &seed);
                enum rt_status status = load_text(bench, files[count].name, files[count].text);
                assert_true(status == RT_OK || status == RT_PARTIAL);
                count++;
            } else if (rt_undo_batch(bench->store, batch + 1, &bench->error) == RT_OK) {
                files[batch].in_force = false;
                undone++;
                compare(bench, files, count, round);
            }
            rt_error_clear(&bench->error);
        }
        close_bench(&bench_state);
    }
    assert_true(undone >= 10);
}

int main(void)
{
#define ON_BENCH(test) cmocka_unit_test_setup_teardown(test, open_bench, close_bench)
    const struct CMUnitTest tests[] = {
        ON_BENCH(an_untouched_batch_goes_from_the_middle),
        ON_BENCH(what_later_batches_touch_stays),
        cmocka_unit_test(any_undone_batch_might_never_have_been),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
