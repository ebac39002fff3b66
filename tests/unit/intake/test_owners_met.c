/* Several files in one call: what the later ones know of patients and implants is what the store holds then. */
#include "../support/records.h"

#include "ridgetally/base/progress.h"
#include "ridgetally/base/text.h"
#include "ridgetally/store/query.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { MOST_FILES = 3 };

struct file {
    const char *name, *text;
};

static enum rt_status load_together(struct bench *bench, const struct file *files, size_t count,
                                    long *refused)
{
    struct rt_load_report reports[MOST_FILES * RT_RECORD_KINDS] = {{.path = NULL}};
    struct rt_load_options options = {.free_text = false};
    char kept[MOST_FILES][160];
    const char *paths[MOST_FILES];
    size_t done = 0;
    for (size_t i = 0; i < count; i++) {
        snprintf(kept[i], sizeof kept[i], "%s", put_file(bench, files[i].name, files[i].text));
        paths[i] = kept[i];
    }
    enum rt_status status =
        rt_load_files(bench->store, paths, count, &options, reports, &done, &bench->error);
    assert_int_equal(done, count);
    *refused = 0;
    for (size_t i = 0; i < done; i++) {
        *refused += reports[i].rows_refused;
        rt_release_load_report(&reports[i]);
    }
    return status;
}

static const char implants[] = "patient,implant,length_mm\nP1,a,10\nP1,b,10\nP2,a,8\n";
static const char followups[] = "patient,implant,seen_on,film,imaged_length_mm,level_mesial_mm\n"
                                "P1,a,2024-06-01,F1,20,1\nP1,b,2024-06-01,F2,20,1\nP2,a,2024-06-01,F3,20,1\n";
static const char calibrations[] =
    "SELECT p.label, i.label, r.calibration FROM reading r JOIN implant i ON i.id = r.implant_id "
    "JOIN patient p ON p.id = i.patient_id ORDER BY r.id";

static void a_length_corrected_by_the_file_before_is_used(void **state)
{
    struct bench *bench = *state;
    const struct file files[] = {
        {"i.csv", implants}, {"j.csv", "patient,implant,length_mm\nP1,b,15\nP2,a,8\n"}, {"f.csv", followups}};
    long refused = 0;
    assert_int_equal(load_together(bench, files, 3, &refused), RT_OK);
    assert_string_equal(rows_of(bench, calibrations), "P1|a|0.5\nP1|b|0.75\nP2|a|0.4\n");
}

static void a_length_that_is_not_recorded_stays_unknown(void **state)
{
    struct bench *bench = *state;
    const struct file files[] = {{"i.csv", "patient,implant,length_mm\nP1,a,\nP1,b,10\nP2,a,8\n"},
                                 {"f.csv", followups}};
    long refused = 0;
    assert_int_equal(load_together(bench, files, 2, &refused), RT_OK);
    assert_string_equal(rows_of(bench, calibrations), "P1|a|\nP1|b|0.5\nP2|a|0.4\n");
}

/* --- another program writes between two files ---------------------------------------------------------------- */

struct meddler {
    struct rt_progress progress;
    const char *path, *sql;
    bool done;
};

static void show_nothing(struct rt_progress *progress, const struct rt_progress_step *step)
{
    (void)progress;
    (void)step;
}

/* Called when a file's transaction has ended. */
static void write_once(struct rt_progress *progress)
{
    struct meddler *meddler = (struct meddler *)progress;
    struct rt_store *other = NULL;
    if (meddler->done)
        return;
    meddler->done = true;
    assert_int_equal(rt_store_open(meddler->path, RT_STORE_WRITE, &other, NULL), RT_OK);
    assert_int_equal(rt_run_script(other, meddler->sql, NULL), RT_OK);
    rt_store_close(other);
}

static void release_nothing(struct rt_progress *progress)
{
    (void)progress;
}

static void what_another_program_changed_is_asked_anew(void **state)
{
    struct bench *bench = *state;
    const struct file files[] = {{"i.csv", implants}, {"f.csv", followups}};
    struct meddler meddler = {{show_nothing, write_once, release_nothing},
                              bench->store_path,
                              "UPDATE implant SET length_mm = 16 WHERE label = 'b'; "
                              "DELETE FROM implant WHERE patient_id = 2; DELETE FROM patient WHERE id = 2",
                              false};
    long refused = 0;
    rt_store_watch(bench->store, &meddler.progress);
    enum rt_status status = load_together(bench, files, 2, &refused);
    rt_store_watch(bench->store, NULL);
    assert_true(meddler.done);
    assert_int_equal(status, RT_PARTIAL);
    assert_int_equal(refused, 1);
    assert_string_equal(rows_of(bench, calibrations), "P1|a|0.5\nP1|b|0.8\n");
}

/* --- more than are remembered -------------------------------------------------------------------------------- */

/* Implant n of patient n / 3 is n % 12 + 5 mm long and imaged with 10 mm. */
static void each_of_many_is_found(void **state)
{
    enum { MANY = 70000 };
    struct bench *bench = *state;
    struct rt_text sheets[2] = {{0}, {0}};
    long refused = 0;
    rt_text_add(&sheets[0], "patient,implant,length_mm\n");
    rt_text_add(&sheets[1], "patient,implant,seen_on,film,imaged_length_mm,level_mesial_mm\n");
    for (int n = 0; n < MANY; n++) {
        rt_text_format(&sheets[0], "P%d,%d,%d\n", n / 3, n, n % 12 + 5);
        int back = MANY - 1 - n;
        rt_text_format(&sheets[1], "P%d,%d,2024-06-01,F%d,10,1\n", back / 3, back, back);
    }
    const struct file files[] = {{"i.csv", sheets[0].bytes}, {"f.csv", sheets[1].bytes}};
    assert_int_equal(load_together(bench, files, 2, &refused), RT_OK);
    assert_string_equal(
        rows_of(bench,
                "SELECT count(*), sum(p.label = 'P' || (CAST(i.label AS INTEGER) / 3)), sum(r.film = 'F' || "
                "i.label), "
                "sum(abs(r.calibration - (CAST(i.label AS INTEGER) % 12 + 5) / 10.0) < 1e-12), "
                "count(DISTINCT i.id) "
                "FROM reading r JOIN implant i ON i.id = r.implant_id JOIN patient p ON p.id = i.patient_id"),
        "70000|70000|70000|70000|70000\n");
    rt_text_release(&sheets[0]);
    rt_text_release(&sheets[1]);
}

int main(void)
{
#define ON_BENCH(test) cmocka_unit_test_setup_teardown(test, open_bench, close_bench)
    const struct CMUnitTest tests[] = {
        ON_BENCH(a_length_corrected_by_the_file_before_is_used),
        ON_BENCH(a_length_that_is_not_recorded_stays_unknown),
        ON_BENCH(what_another_program_changed_is_asked_anew),
        ON_BENCH(each_of_many_is_found),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
