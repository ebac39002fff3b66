/* Memory that runs out at every moment of a load: each failed allocation must end in RT_MEMORY with words, nothing may
 * leak or crash, and the store must be as before the file or as after it. Our own allocations are wrapped by the linker,
 * SQLite's by its configuration. */
#include "../unit/support/records.h"

#include "ridgetally/base/file.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <sqlite3.h>

void *__real_malloc(size_t size);
void *__real_calloc(size_t count, size_t size);
void *__real_realloc(void *block, size_t size);
void *__wrap_malloc(size_t size);
void *__wrap_calloc(size_t count, size_t size);
void *__wrap_realloc(void *block, size_t size);

static long until_failure = -1; /* allocations still granted; negative = all */
static long asked;              /* allocations since the start of the run */
static bool for_good;           /* after the first failure all fail */

static bool grants(void)
{
    asked++;
    if (until_failure < 0)
        return true;
    if (until_failure > 0) {
        until_failure--;
        return true;
    }
    if (!for_good)
        until_failure = -1;
    return false;
}

void *__wrap_malloc(size_t size)
{
    return grants() ? __real_malloc(size) : NULL;
}

void *__wrap_calloc(size_t count, size_t size)
{
    return grants() ? __real_calloc(count, size) : NULL;
}

void *__wrap_realloc(void *block, size_t size)
{
    return grants() ? __real_realloc(block, size) : NULL;
}

static sqlite3_mem_methods plain;

static void *failing_malloc(int size)
{
    return grants() ? plain.xMalloc(size) : NULL;
}

static void *failing_realloc(void *block, int size)
{
    return grants() ? plain.xRealloc(block, size) : NULL;
}

static const char *const files[][2] = {
    {"i.csv",
     "patient,implant,tooth,placed_on,length_mm,isq\nP1,a,11,2024-01-01,10,70\nP1,b,12,2024-01-01,99,700\n"
     "P2,a,21,2024-01-01,10,95\n"},
    {"f.csv", "patient,implant,seen_on,film,reader,level_mesial_mm,level_distal_mm,imaged_length_mm\n"
              "P1,a,2024-01-02,F1,R1,1,1,11\nP1,b,2024-01-02,F2,R1,1,1,11\n"},
    {"i.csv",
     "patient,implant,tooth,placed_on,length_mm,isq\nP1,a,11,2024-01-01,12,70\nP1,b,12,2024-01-01,10,70\n"
     "P2,a,21,2024-01-01,10,95\n"},
};
enum { FILES = sizeof files / sizeof files[0] };

/* Open, load all files one by one, verify, undo the last; the status of the first failure. */
static enum rt_status run_all(const char *store_path, char paths[FILES][160], struct rt_error *error)
{
    struct rt_store *store = NULL;
    enum rt_status status = rt_store_open(store_path, RT_STORE_WRITE, &store, error);
    for (int i = 0; status == RT_OK && i < FILES; i++) {
        const char *path = paths[i];
        struct rt_load_report report = {.path = NULL};
        struct rt_load_options options = {.dry_run = false};
        size_t done = 0;
        status = rt_load_files(store, &path, 1, &options, &report, &done, error);
        status = status == RT_PARTIAL ? RT_OK : status;
        rt_release_load_report(&report);
    }
    if (status == RT_OK)
        status = rt_undo_batch(store, FILES, error);
    if (status == RT_OK)
        status = rt_store_verify(store, error);
    rt_store_close(store);
    return status;
}

static void copy_file(const char *from, const char *to)
{
    char *bytes = NULL;
    size_t length = 0;
    assert_int_equal(rt_read_file(from, 1 << 24, &bytes, &length, NULL), RT_OK);
    assert_int_equal(rt_write_file(to, bytes, length, NULL), RT_OK);
    free(bytes);
}

/* What the store holds, as rows per table and batch. */
static void check_state(struct bench *bench)
{
    struct rt_error error = {0};
    rt_store_close(bench->store);
    bench->store = NULL;
    if (rt_store_open(bench->store_path, RT_STORE_READ, &bench->store, &error) != RT_OK ||
        rt_store_verify(bench->store, &error) != RT_OK)
        fail_msg("%s", error.message);
    const char *state =
        rows_of(bench, "SELECT (SELECT count(*) FROM batch), (SELECT count(*) FROM implant), (SELECT "
                       "count(*) FROM reading), (SELECT count(*) FROM refused_row WHERE mended_batch_id IS "
                       "NULL), (SELECT count(*) FROM batch WHERE undone_at IS NOT NULL)");
    static const char *const allowed[] = {"0|0|0|0|0\n", "1|2|0|1|0\n", "2|2|1|2|0\n", "3|3|2|0|0\n",
                                          "3|2|1|2|1\n"};
    for (size_t i = 0; i < sizeof allowed / sizeof allowed[0]; i++)
        if (strcmp(state, allowed[i]) == 0)
            return;
    fail_msg("the store is in between: %s", state);
}

static void fail_at(struct bench *bench, const char *fresh, char paths[FILES][160], long at, bool good)
{
    struct rt_error error = {0};
    rt_store_close(bench->store);
    bench->store = NULL;
    copy_file(fresh, bench->store_path);
    asked = 0;
    for_good = good;
    until_failure = at;
    enum rt_status status = run_all(bench->store_path, paths, &error);
    bool failed = until_failure != at && asked > at;
    until_failure = -1;
    for_good = false;
    /* SQLite survives some refusals by doing with less, and our reports of corrections may lack words; a failure that is
     * told must be told as what it is */
    if (status != RT_OK && (status != RT_MEMORY || error.message[0] == '\0' || !failed))
        fail_msg("allocation %ld: status %d: %s", at, (int)status, error.message);
    check_state(bench);
}

static void every_allocation_may_fail(void **state)
{
    struct bench *bench = *state;
    struct rt_error error = {0};
    char paths[FILES][160];
    char fresh[160];
    snprintf(fresh, sizeof fresh, "%s/fresh.db", bench->folder);
    rt_store_close(bench->store);
    bench->store = NULL;
    copy_file(bench->store_path, fresh);
    for (int i = 0; i < FILES; i++) {
        char name[32];
        snprintf(name, sizeof name, "%d-%s", i, files[i][0]);
        snprintf(paths[i], sizeof paths[i], "%s", put_file(bench, name, files[i][1]));
    }
    asked = 0;
    assert_int_equal(run_all(bench->store_path, paths, &error), RT_OK);
    long total = asked;
    assert_true(total > 1000);
    long step = total / 700 + 1;
    long runs = 0;
    for (long at = 0; at < total; at += at < 200 ? 1 : step) {
        fail_at(bench, fresh, paths, at, runs % 2 == 1);
        runs++;
    }
    print_message("%ld allocations in a run; %ld of them failed in turn\n", total, runs);
}

int main(void)
{
    sqlite3_config(SQLITE_CONFIG_GETMALLOC, &plain);
    sqlite3_mem_methods failing = plain;
    failing.xMalloc = failing_malloc;
    failing.xRealloc = failing_realloc;
    sqlite3_config(SQLITE_CONFIG_MALLOC, &failing);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(every_allocation_may_fail, open_bench, close_bench),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
