#include "records.h"

#include "ridgetally/base/file.h"
#include "ridgetally/base/text.h"
#include "ridgetally/store/query.h"

#include <ftw.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

int open_bench(void **state)
{
    struct bench *bench = calloc(1, sizeof *bench);
    assert_non_null(bench);
    snprintf(bench->folder, sizeof bench->folder, "/tmp/ridgetally-test-XXXXXX");
    assert_non_null(mkdtemp(bench->folder));
    snprintf(bench->store_path, sizeof bench->store_path, "%s/practice.db", bench->folder);
    assert_int_equal(rt_store_create(bench->store_path, &bench->error), RT_OK);
    assert_int_equal(rt_store_open(bench->store_path, RT_STORE_WRITE, &bench->store, &bench->error), RT_OK);
    *state = bench;
    return 0;
}

static int remove_entry(const char *path, const struct stat *information, int type, struct FTW *walk)
{
    (void)information;
    (void)type;
    (void)walk;
    return remove(path);
}

int close_bench(void **state)
{
    struct bench *bench = *state;
    rt_store_close(bench->store);
    rt_release_load_report(&bench->report);
    nftw(bench->folder, remove_entry, 8, FTW_DEPTH | FTW_PHYS);
    free(bench);
    return 0;
}

const char *put_file(struct bench *bench, const char *name, const char *text)
{
    static char path[160];
    snprintf(path, sizeof path, "%s/%s", bench->folder, name);
    assert_int_equal(rt_write_file(path, text, strlen(text), NULL), RT_OK);
    return path;
}

enum rt_status load_text(struct bench *bench, const char *name, const char *text)
{
    const char *path = put_file(bench, name, text);
    struct rt_load_options options = {.free_text = bench->free_text};
    size_t done = 0;
    rt_release_load_report(&bench->report);
    bench->report = (struct rt_load_report){.path = NULL};
    rt_error_clear(&bench->error);
    return rt_load_files(bench->store, &path, 1, &options, &bench->report, &done, &bench->error);
}

static void add_rows(struct bench *bench, const char *sql, struct rt_text *text)
{
    struct rt_query *query = NULL;
    bool row = true;
    assert_int_equal(rt_query_open_text(bench->store, sql, &query, &bench->error), RT_OK);
    while (row) {
        assert_int_equal(rt_query_next(query, &row, &bench->error), RT_OK);
        for (int i = 0; row && i < rt_column_count(query); i++) {
            rt_text_add(text, i > 0 ? "|" : "");
            rt_text_add(text, rt_column_text(query, i));
        }
        rt_text_add(text, row ? "\n" : "");
    }
    rt_query_close(query);
}

const char *rows_of(struct bench *bench, const char *sql)
{
    static char kept[4][65536];
    static size_t turn;
    char *out = kept[turn++ % 4];
    struct rt_text text = {0};
    add_rows(bench, sql, &text);
    assert_true(text.length < sizeof kept[0]);
    snprintf(out, sizeof kept[0], "%s", text.bytes == NULL ? "" : text.bytes);
    rt_text_release(&text);
    return out;
}

char *dump_records(struct bench *bench)
{
    static const char *const tables[] = {
        "SELECT * FROM patient ORDER BY id", "SELECT * FROM implant ORDER BY id",
        "SELECT * FROM reading ORDER BY id", "SELECT * FROM event ORDER BY id",
        "SELECT * FROM history ORDER BY id", "SELECT * FROM refused_row ORDER BY id",
        "SELECT * FROM doubt ORDER BY id",   "SELECT * FROM doubt_answer ORDER BY id"};
    struct rt_text text = {0};
    for (size_t i = 0; i < sizeof tables / sizeof tables[0]; i++) {
        rt_text_add(&text, "--\n");
        add_rows(bench, tables[i], &text);
    }
    char *dump = rt_text_detach(&text);
    assert_non_null(dump);
    return dump;
}
