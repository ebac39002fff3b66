/* The store: making, opening, refusing, updating, copying, verifying. Facts about the file format: "Database File
 * Format", sqlite.org (application_id at byte 68, user_version at byte 60). */
#include "../support/records.h"

#include "ridgetally/base/date.h"
#include "ridgetally/base/file.h"
#include "ridgetally/base/resource.h"
#include "ridgetally/store/query.h"

#include <fcntl.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>
#include <sqlite3.h>

static void path_in(const struct bench *bench, const char *name, char path[160])
{
    snprintf(path, 160, "%s/%s", bench->folder, name);
}

static enum rt_status try_open(struct bench *bench, const char *path)
{
    struct rt_store *store = NULL;
    rt_error_clear(&bench->error);
    enum rt_status status = rt_store_open(path, RT_STORE_WRITE, &store, &bench->error);
    rt_store_close(store);
    return status;
}

static unsigned long big_endian(const char *bytes)
{
    unsigned long value = 0;
    for (int i = 0; i < 4; i++)
        value = value << 8 | (unsigned char)bytes[i];
    return value;
}

static void a_new_store_is_ours_and_private(void **state)
{
    struct bench *bench = *state;
    struct stat information;
    char *bytes = NULL;
    size_t length = 0;
    assert_int_equal(stat(bench->store_path, &information), 0);
    assert_int_equal(information.st_mode & 0777, 0600);
    assert_int_equal(rt_read_file(bench->store_path, 1 << 24, &bytes, &length, NULL), RT_OK);
    assert_int_equal(big_endian(bytes + 68), 0x52645479);
    assert_int_equal(big_endian(bytes + 60), (unsigned long)rt_schema_number());
    assert_int_equal(bytes[18], 1); /* rollback journal, not write-ahead logging */
    free(bytes);
    assert_string_equal(rows_of(bench, "PRAGMA foreign_keys"), "1\n");
    assert_string_equal(rows_of(bench, "PRAGMA synchronous"), "3\n");
    assert_string_equal(rows_of(bench, "PRAGMA trusted_schema"), "0\n");
    assert_string_equal(rows_of(bench, "PRAGMA journal_mode"), "delete\n");
    assert_int_equal(rt_store_verify(bench->store, &bench->error), RT_OK);
}

static void an_existing_file_is_never_overwritten(void **state)
{
    struct bench *bench = *state;
    const char *path = put_file(bench, "notes.txt", "keep me");
    char *bytes = NULL;
    size_t length = 0;
    assert_int_equal(rt_store_create(path, &bench->error), RT_USE);
    assert_string_equal(bench->error.file, path);
    assert_string_equal(bench->error.message, "there is a file of this name already");
    assert_int_equal(rt_read_file(path, 100, &bytes, &length, NULL), RT_OK);
    assert_string_equal(bytes, "keep me");
    free(bytes);
}

static void a_folder_that_is_not_there(void **state)
{
    struct bench *bench = *state;
    char path[160];
    path_in(bench, "no/such/practice.db", path);
    assert_int_equal(rt_store_create(path, &bench->error), RT_SYSTEM);
    assert_string_equal(bench->error.message, "No such file or directory");
    assert_int_equal(try_open(bench, path), RT_STORE);
    assert_string_equal(bench->error.message, "there is no store here");
    assert_string_equal(bench->error.remedy,
                        "make one with `ridgetally new --store FILE`, or name yours with --store FILE");
}

static void refused_as_it_is(struct bench *bench, const char *path, const char *message)
{
    char *before = NULL;
    char *after = NULL;
    size_t length = 0;
    size_t again = 0;
    assert_int_equal(rt_read_file(path, 1 << 24, &before, &length, NULL), RT_OK);
    assert_int_equal(try_open(bench, path), RT_STORE);
    assert_string_equal(bench->error.message, message);
    assert_string_equal(bench->error.file, path);
    assert_true(bench->error.remedy[0] != '\0');
    assert_int_equal(rt_read_file(path, 1 << 24, &after, &again, NULL), RT_OK);
    assert_int_equal(length, again);
    assert_memory_equal(before, after, length);
    free(before);
    free(after);
}

/* What another program, or an error of this one, writes; its pages are sealed all the same. */
static void make_foreign(const char *path, const char *sql)
{
    sqlite3 *db = NULL;
    assert_int_equal(
        sqlite3_open_v2(path, &db, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, "ridgetally-sealed"),
        SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(db);
}

static void files_of_others_are_left_alone(void **state)
{
    struct bench *bench = *state;
    char path[160];
    refused_as_it_is(bench, put_file(bench, "a.db", ""), "this file is not a ridgetally store");
    refused_as_it_is(bench, put_file(bench, "b.db", "patient,implant\n"),
                     "this file is not a ridgetally store");
    path_in(bench, "c.db", path);
    make_foreign(path, "CREATE TABLE t (x); INSERT INTO t VALUES (1)");
    refused_as_it_is(bench, path, "this database belongs to another program");
    path_in(bench, "d.db", path);
    make_foreign(path, "PRAGMA journal_mode = WAL; PRAGMA application_id = 5; CREATE TABLE t (x)");
    refused_as_it_is(bench, path, "this database belongs to another program");
    assert_int_equal(try_open(bench, bench->folder), RT_STORE);
    assert_string_equal(bench->error.message, "this is a folder, not a store");
    assert_int_equal(try_open(bench, "/dev/null"), RT_STORE);
    assert_string_equal(bench->error.message, "this is not a regular file");
}

static void a_newer_store_is_refused(void **state)
{
    struct bench *bench = *state;
    char message[120];
    rt_store_close(bench->store);
    bench->store = NULL;
    make_foreign(bench->store_path, "PRAGMA user_version = 999");
    snprintf(message, sizeof message,
             "this store was written by a newer version (step 999, this program knows %d)",
             rt_schema_number());
    refused_as_it_is(bench, bench->store_path, message);
    make_foreign(bench->store_path, "PRAGMA user_version = 0");
    refused_as_it_is(bench, bench->store_path, "this store was never finished");
}

static const struct rt_migration two_steps[] = {
    {1, "CREATE TABLE one (x INTEGER) STRICT; INSERT INTO one VALUES (11)"},
    {2, "CREATE TABLE two (y INTEGER) STRICT; INSERT INTO two SELECT x + 1 FROM one"},
};
static const struct rt_migration broken_steps[] = {
    {1, "CREATE TABLE one (x INTEGER) STRICT"},
    {2, "CREATE TABLE two (y INTEGER) STRICT; INSERT INTO nowhere VALUES (1)"},
};

static void an_older_store_is_updated_after_a_copy(void **state)
{
    struct bench *bench = *state;
    char path[160];
    char copy[200];
    char notice[600];
    path_in(bench, "old.db", path);
    snprintf(copy, sizeof copy, "%s.before-update-1", path);
    snprintf(notice, sizeof notice, "%s was brought from step 1 to step 2; the store as it was is kept in %s",
             path, copy);
    assert_int_equal(rt_store_create_with(path, two_steps, 1, &bench->error), RT_OK);
    rt_store_close(bench->store);
    bench->store = NULL;
    assert_int_equal(rt_store_open_with(path, RT_STORE_READ, two_steps, 2, &bench->store, &bench->error),
                     RT_OK);
    assert_string_equal(rt_store_notice(bench->store), notice);
    assert_string_equal(rows_of(bench, "SELECT y FROM two"), "12\n");
    rt_store_close(bench->store);
    assert_int_equal(rt_store_open_with(path, RT_STORE_READ, two_steps, 2, &bench->store, &bench->error),
                     RT_OK);
    assert_string_equal(rt_store_notice(bench->store), "");
    rt_store_close(bench->store);
    struct stat information;
    assert_int_equal(stat(copy, &information), 0);
    assert_int_equal(information.st_mode & 0777, 0600);
    assert_int_equal(rt_store_open_with(copy, RT_STORE_READ, two_steps, 1, &bench->store, &bench->error),
                     RT_OK);
    assert_string_equal(rows_of(bench, "SELECT x FROM one"), "11\n");
}

/* A store as the first step made it, with a doubt in it, gets all later steps and keeps what it holds. */
static void a_store_of_the_first_step_is_updated(void **state)
{
    struct bench *bench = *state;
    char path[160];
    path_in(bench, "first.db", path);
    const struct rt_resource *first = rt_find_resource("sql/001-records.sql");
    assert_non_null(first);
    const struct rt_migration step = {1, first->bytes};
    static const char records[] =
        "INSERT INTO batch (file_name, kind, sha256, loaded_at, program, rows_read, rows_new) VALUES "
        "('i.csv', "
        "'implants', '"
        "1111111111111111111111111111111111111111111111111111111111111111', '2024-01-01T00:00:00Z', '1', 1, "
        "1);"
        "INSERT INTO patient (label, batch_id) VALUES ('P1', 1);"
        "INSERT INTO implant (patient_id, label, batch_id, source_batch_id, source_line) VALUES (1, 'a', 1, "
        "1, 2);"
        "INSERT INTO doubt (batch_id, check_name, subject, weight, reason, remedy, state) VALUES (1, 'x', "
        "'implant:1', 'missing', 'r', 'm', 'left')";
    assert_int_equal(rt_store_create_with(path, &step, 1, &bench->error), RT_OK);
    rt_store_close(bench->store);
    bench->store = NULL;
    assert_int_equal(rt_store_open_with(path, RT_STORE_WRITE, &step, 1, &bench->store, &bench->error), RT_OK);
    assert_int_equal(rt_run_script(bench->store, records, &bench->error), RT_OK);
    rt_store_close(bench->store);
    bench->store = NULL;
    assert_int_equal(rt_store_open(path, RT_STORE_WRITE, &bench->store, &bench->error), RT_OK);
    assert_string_not_equal(rt_store_notice(bench->store), "");
    assert_int_equal(rt_store_verify(bench->store, &bench->error), RT_OK);
    assert_string_equal(rows_of(bench, "SELECT id, label FROM implant"), "1|a\n");
    assert_string_equal(rows_of(bench, "SELECT id, state FROM doubt"), "1|left\n");
    assert_string_equal(rows_of(bench, "SELECT count(*) FROM doubt_answer"), "0\n");
    assert_string_equal(rows_of(bench, "SELECT gone_batch_id IS NULL FROM implant"), "1\n");
    assert_string_equal(rows_of(bench, "SELECT count(*) FROM seen_rows"), "0\n");
    assert_string_equal(rows_of(bench, "SELECT count(restated_at) FROM audit"), "0\n");
}

static void a_failed_update_leaves_the_store_as_it_was(void **state)
{
    struct bench *bench = *state;
    char path[160];
    path_in(bench, "old.db", path);
    rt_store_close(bench->store);
    bench->store = NULL;
    assert_int_equal(rt_store_create_with(path, broken_steps, 1, &bench->error), RT_OK);
    assert_int_equal(rt_store_open_with(path, RT_STORE_WRITE, broken_steps, 2, &bench->store, &bench->error),
                     RT_STORE);
    assert_null(bench->store);
    rt_error_clear(&bench->error);
    assert_int_equal(rt_store_open_with(path, RT_STORE_WRITE, broken_steps, 1, &bench->store, &bench->error),
                     RT_OK);
    assert_string_equal(rows_of(bench, "SELECT count(*) FROM sqlite_schema WHERE name = 'two'"), "0\n");
    assert_int_equal(rt_store_create_with("/tmp/never", broken_steps, 2, &bench->error), RT_STORE);
    assert_int_not_equal(access("/tmp/never", F_OK), 0);
}

static void values_are_bound_and_read_back(void **state)
{
    struct bench *bench = *state;
    struct rt_query *query = NULL;
    bool row = false;
    assert_int_equal(rt_query_open_text(bench->store,
                                        "SELECT :t AS t, :i AS i, :r AS r, :d AS d, :n AS n, :nan, :nodate",
                                        &query, NULL),
                     RT_OK);
    rt_bind_text(query, ":t", "O'Brien\"; DROP TABLE implant; --");
    rt_bind_integer(query, ":i", INT64_MIN);
    rt_bind_real(query, ":r", 0.1);
    rt_bind_date(query, ":d", -5);
    rt_bind_null(query, ":n");
    rt_bind_real(query, ":nan", NAN);
    rt_bind_date(query, ":nodate", RT_NO_DATE);
    assert_int_equal(rt_query_next(query, &row, NULL), RT_OK);
    assert_true(row);
    assert_string_equal(rt_column_text(query, rt_column(query, "t")), "O'Brien\"; DROP TABLE implant; --");
    assert_true(rt_column_integer(query, 1, 0) == INT64_MIN);
    assert_true(rt_column_real(query, 2) == 0.1);
    assert_int_equal(rt_column_date(query, 3), -5);
    assert_null(rt_column_text(query, 4));
    assert_true(rt_column_is_null(query, 5));
    assert_true(isnan(rt_column_real(query, 5)));
    assert_int_equal(rt_column_date(query, 6), RT_NO_DATE);
    assert_int_equal(rt_column_integer(query, 6, 42), 42);
    assert_int_equal(rt_column(query, "nothing"), -1);
    assert_int_equal(rt_query_next(query, &row, NULL), RT_OK);
    assert_false(row);
    rt_query_close(query);
}

static void wrong_queries_are_reported(void **state)
{
    struct bench *bench = *state;
    struct rt_query *query = NULL;
    bool row = true;
    assert_int_equal(rt_query_open(bench->store, "sql/queries/no-such.sql", &query, &bench->error), RT_USE);
    assert_string_equal(bench->error.message, "there is no query sql/queries/no-such.sql in this program");
    rt_bind_text(query, ":x", "a closed query is fine");
    assert_int_equal(rt_query_next(query, &row, NULL), RT_USE);
    assert_false(row);
    assert_int_equal(rt_query_open_text(bench->store, "SELECT FROM", &query, NULL), RT_STORE);
    assert_int_equal(rt_query_open_text(bench->store, "  -- nothing\n", &query, NULL), RT_USE);
    assert_int_equal(rt_query_open_text(bench->store, "SELECT 1", &query, NULL), RT_OK);
    rt_bind_integer(query, ":wrong", 1);
    rt_error_clear(&bench->error);
    assert_int_equal(rt_query_next(query, &row, &bench->error), RT_USE);
    assert_string_equal(bench->error.message, "the query has no parameter :wrong");
    rt_query_close(query);
    /* double quotes are names only, so that a misspelled column is an error and never a text */
    assert_int_equal(rt_query_open_text(bench->store, "SELECT \"no such column\"", &query, NULL), RT_STORE);
}

/* Two steps of one number would leave stores of the same number with different tables. */
static void steps_are_numbered_once_and_in_order(void **state)
{
    (void)state;
    size_t count = 0;
    int number = 0;
    const struct rt_resource *all = rt_resources(&count);
    for (size_t i = 0; i < count; i++) {
        if (strncmp(all[i].name, "sql/", 4) != 0 || strchr(all[i].name + 4, '/') != NULL)
            continue;
        int next = atoi(all[i].name + 4);
        if (next <= number || all[i].name[4 + 3] != '-')
            fail_msg("%s does not come after step %d", all[i].name, number);
        number = next;
    }
    assert_int_equal(number, rt_schema_number());
}

static void every_embedded_query_can_be_prepared(void **state)
{
    struct bench *bench = *state;
    size_t count = 0;
    size_t seen = 0;
    const struct rt_resource *all = rt_resources(&count);
    /* which the checks of a load make for themselves */
    assert_int_equal(
        rt_run_script(
            bench->store,
            "CREATE TEMP TABLE spread (implant_id, mesial, distal, mesial_lead, distal_lead, repeats)",
            &bench->error),
        RT_OK);
    for (size_t i = 0; i < count; i++) {
        const char *ending = strrchr(all[i].name, '.');
        if (strncmp(all[i].name, "sql/", 4) != 0 || ending == NULL || strcmp(ending, ".sql") != 0 ||
            strchr(all[i].name + 4, '/') == NULL)
            continue;
        if (strncmp(all[i].name, "sql/narrow/", 11) == 0)
            continue; /* scripts about temporary tables: tests/unit/audit/test_filter.c runs them */
        struct rt_query *query = NULL;
        if (rt_query_open(bench->store, all[i].name, &query, &bench->error) != RT_OK)
            fail_msg("%s: %s", all[i].name, bench->error.message);
        rt_query_close(query);
        seen++;
    }
    assert_true(seen > 20);
}

static void transactions_nest(void **state)
{
    struct bench *bench = *state;
    const char *count = "SELECT value FROM setting WHERE name = 'practice_name'";
    assert_int_equal(rt_transaction_begin(bench->store, NULL), RT_OK);
    rt_run_script(bench->store, "UPDATE setting SET value = 'outer' WHERE name = 'practice_name'", NULL);
    assert_int_equal(rt_transaction_begin(bench->store, NULL), RT_OK);
    rt_run_script(bench->store, "UPDATE setting SET value = 'inner' WHERE name = 'practice_name'", NULL);
    rt_transaction_rollback(bench->store);
    assert_string_equal(rows_of(bench, count), "outer\n");
    assert_int_equal(rt_transaction_begin(bench->store, NULL), RT_OK);
    rt_run_script(bench->store, "UPDATE setting SET value = 'kept' WHERE name = 'practice_name'", NULL);
    assert_int_equal(rt_transaction_commit(bench->store, NULL), RT_OK);
    assert_int_equal(rt_transaction_commit(bench->store, NULL), RT_OK);
    assert_string_equal(rows_of(bench, count), "kept\n");
    assert_int_equal(rt_transaction_begin(bench->store, NULL), RT_OK);
    rt_run_script(bench->store, "UPDATE setting SET value = 'lost' WHERE name = 'practice_name'", NULL);
    rt_transaction_rollback(bench->store);
    assert_string_equal(rows_of(bench, count), "kept\n");
    assert_int_equal(rt_transaction_commit(bench->store, NULL), RT_USE);
    rt_transaction_rollback(bench->store); /* nothing open: nothing happens */
}

static void a_reader_writes_nothing(void **state)
{
    struct bench *bench = *state;
    struct rt_store *reader = NULL;
    assert_int_equal(rt_store_open(bench->store_path, RT_STORE_READ, &reader, &bench->error), RT_OK);
    assert_int_equal(rt_run_script(reader, "DELETE FROM setting", &bench->error), RT_SYSTEM);
    rt_store_close(reader);
}

static void settings_and_constraints(void **state)
{
    struct bench *bench = *state;
    char *value = NULL;
    assert_int_equal(rt_setting(bench->store, "recall_interval_months", &value, NULL), RT_OK);
    assert_string_equal(value, "12");
    free(value);
    assert_int_equal(rt_setting(bench->store, "no such setting", &value, NULL), RT_OK);
    assert_string_equal(value, "");
    free(value);
    static const char *const refused[] = {
        "UPDATE setting SET value = 'soon' WHERE name = 'recall_interval_months'",
        "UPDATE setting SET value = '0' WHERE name = 'recall_interval_months'",
        "UPDATE setting SET value = '1' WHERE name = 'deck_threshold'",
        "UPDATE setting SET value = 'last year' WHERE name = 'complete_since'",
        "INSERT INTO patient (label, batch_id) VALUES ('P1', 77)",
        "INSERT INTO yardstick_target (yardstick, value, direction, origin, valid_from, set_by) VALUES "
        "('nothing', 1, "
        "'at_least', 'x', 0, 'y')"};
    for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++)
        assert_int_not_equal(rt_run_script(bench->store, refused[i], NULL), RT_OK);
}

static void copies(void **state)
{
    struct bench *bench = *state;
    char path[160];
    struct stat information;
    path_in(bench, "copy.db", path);
    rt_run_script(bench->store, "UPDATE setting SET value = 'Invented' WHERE name = 'practice_name'", NULL);
    assert_int_equal(rt_store_backup(bench->store, path, &bench->error), RT_OK);
    assert_int_equal(rt_store_backup(bench->store, path, &bench->error), RT_OK); /* over an earlier copy */
    assert_int_equal(stat(path, &information), 0);
    assert_int_equal(information.st_mode & 0777, 0600);
    struct bench copy = *bench;
    assert_int_equal(rt_store_open(path, RT_STORE_READ, &copy.store, &bench->error), RT_OK);
    assert_string_equal(rows_of(&copy, "SELECT value FROM setting WHERE name = 'practice_name'"),
                        "Invented\n");
    rt_store_close(copy.store);
    assert_int_equal(rt_store_backup(bench->store, bench->store_path, &bench->error), RT_USE);
    assert_string_equal(bench->error.message, "this is the store itself");
    rt_error_clear(&bench->error);
    assert_int_equal(rt_store_backup(bench->store, put_file(bench, "x.txt", "mine"), &bench->error), RT_USE);
    assert_string_equal(bench->error.message, "there is another file of this name");
    rt_error_clear(&bench->error);
    path_in(bench, "no/such/copy.db", path);
    assert_int_equal(rt_store_backup(bench->store, path, &bench->error), RT_SYSTEM);
}

static void a_store_in_use_names_its_holder(void **state)
{
    struct bench *bench = *state;
    int ready[2];
    int done[2];
    assert_int_equal(pipe(ready) + pipe(done), 0);
    pid_t child = fork();
    if (child == 0) {
        struct rt_store *store = NULL;
        char byte = 'x';
        if (rt_store_open(bench->store_path, RT_STORE_WRITE, &store, NULL) == RT_OK)
            rt_transaction_begin(store, NULL);
        _exit(write(ready[1], &byte, 1) == 1 && read(done[0], &byte, 1) == 1 ? 0 : 1);
    }
    char byte = 0;
    assert_int_equal(read(ready[0], &byte, 1), 1);
    assert_int_equal(rt_transaction_begin(bench->store, &bench->error), RT_SYSTEM);
    char expected[120];
    snprintf(expected, sizeof expected,
             "cannot write the store: the store is in use by another program (PID %d, ", (int)child);
    assert_memory_equal(bench->error.message, expected, strlen(expected));
    assert_string_equal(bench->error.remedy, "wait until it has finished, or close it, and try again");
    assert_int_equal(write(done[1], &byte, 1), 1);
    waitpid(child, NULL, 0);
    assert_int_equal(rt_transaction_begin(bench->store, NULL), RT_OK);
    rt_transaction_rollback(bench->store);
}

static void damage_byte(const char *path, long at)
{
    FILE *stream = fopen(path, "r+b");
    assert_non_null(stream);
    assert_int_equal(fseek(stream, at, SEEK_SET), 0);
    int byte = fgetc(stream);
    assert_int_equal(fseek(stream, at, SEEK_SET), 0);
    fputc(byte ^ 0x5a, stream);
    fclose(stream);
}

static enum rt_status verify_path(struct bench *bench, const char *path)
{
    struct rt_store *store = NULL;
    rt_error_clear(&bench->error);
    enum rt_status status = rt_store_open(path, RT_STORE_READ, &store, &bench->error);
    if (status == RT_OK)
        status = rt_store_verify(store, &bench->error);
    rt_store_close(store);
    return status;
}

static void verify_tells_damage(void **state)
{
    struct bench *bench = *state;
    rt_store_close(bench->store);
    bench->store = NULL;
    struct stat information;
    assert_int_equal(stat(bench->store_path, &information), 0);
    damage_byte(bench->store_path, 4096 * 2 + 3); /* the cell count of the third page */
    assert_int_equal(verify_path(bench, bench->store_path), RT_STORE);
    damage_byte(bench->store_path, 4096 * 2 + 3);
    assert_int_equal(verify_path(bench, bench->store_path), RT_OK);
    assert_int_equal(truncate(bench->store_path, information.st_size / 2), 0);
    assert_int_equal(verify_path(bench, bench->store_path), RT_STORE);
}

/* A digit in a cell: SQLite's own check does not see it. */
static void a_changed_digit_is_seen(void **state)
{
    struct bench *bench = *state;
    char *bytes = NULL;
    size_t length = 0;
    bool row = false;
    struct rt_query *query = NULL;
    assert_int_equal(load_text(bench, "i.csv", "patient,implant,tooth,placed_on\nP4711,a,11,2024-01-01\n"),
                     RT_OK);
    rt_store_close(bench->store);
    bench->store = NULL;
    assert_int_equal(rt_read_file(bench->store_path, 1 << 24, &bytes, &length, NULL), RT_OK);
    long changed = 0;
    for (size_t i = 0; i + 5 < length; i++) {
        if (memcmp(bytes + i, "P4711", 5) == 0) {
            damage_byte(bench->store_path, (long)i + 4);
            changed++;
        }
    }
    free(bytes);
    assert_true(changed >= 2); /* the table and its index */
    assert_int_equal(verify_path(bench, bench->store_path), RT_STORE);
    assert_non_null(strstr(bench->error.message, "not as they were written, the first is page"));
    /* no figure is computed from it either */
    assert_int_equal(rt_store_open(bench->store_path, RT_STORE_READ, &bench->store, NULL), RT_OK);
    assert_int_equal(rt_query_open_text(bench->store, "SELECT label FROM patient", &query, NULL), RT_OK);
    rt_error_clear(&bench->error);
    assert_int_equal(rt_query_next(query, &row, &bench->error), RT_STORE);
    assert_string_equal(bench->error.message,
                        "cannot read the store: the store is damaged (a page is not as it was written)");
    rt_query_close(query);
}

/* A store without reserved bytes, as programs before step 6 made them, gets seals when it is updated. */
static void an_older_store_is_sealed(void **state)
{
    struct bench *bench = *state;
    char path[160];
    sqlite3 *db = NULL;
    path_in(bench, "unsealed.db", path);
    const struct rt_resource *first = rt_find_resource("sql/001-records.sql");
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, "PRAGMA application_id = 1382306937", NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, first->bytes, NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, "PRAGMA user_version = 1", NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(db);
    char *bytes = NULL;
    size_t length = 0;
    assert_int_equal(rt_read_file(path, 1 << 24, &bytes, &length, NULL), RT_OK);
    assert_int_equal(bytes[20], 0);
    free(bytes);
    assert_int_equal(verify_path(bench, path), RT_OK);
    assert_int_equal(rt_read_file(path, 1 << 24, &bytes, &length, NULL), RT_OK);
    assert_int_equal(bytes[20], 16);
    free(bytes);
}

static void verify_tells_what_does_not_fit(void **state)
{
    struct bench *bench = *state;
    rt_store_close(bench->store);
    bench->store = NULL;
    make_foreign(bench->store_path,
                 "PRAGMA foreign_keys = OFF; INSERT INTO patient (label, batch_id) VALUES ('P', 9)");
    assert_int_equal(verify_path(bench, bench->store_path), RT_STORE);
    assert_string_equal(bench->error.message,
                        "the store is damaged, 1 faults, the first: a row of patient names a row "
                        "of batch that is not there");
    make_foreign(bench->store_path, "DELETE FROM patient; DROP INDEX event_key");
    assert_int_equal(verify_path(bench, bench->store_path), RT_STORE);
    assert_string_equal(
        bench->error.message,
        "the store is damaged, 1 faults, the first: its tables differ from those this program makes");
}

int main(void)
{
#define ON_BENCH(test) cmocka_unit_test_setup_teardown(test, open_bench, close_bench)
    const struct CMUnitTest tests[] = {
        ON_BENCH(a_new_store_is_ours_and_private),
        ON_BENCH(an_existing_file_is_never_overwritten),
        ON_BENCH(a_folder_that_is_not_there),
        ON_BENCH(files_of_others_are_left_alone),
        ON_BENCH(a_newer_store_is_refused),
        ON_BENCH(an_older_store_is_updated_after_a_copy),
        ON_BENCH(a_store_of_the_first_step_is_updated),
        ON_BENCH(a_failed_update_leaves_the_store_as_it_was),
        ON_BENCH(values_are_bound_and_read_back),
        ON_BENCH(wrong_queries_are_reported),
        cmocka_unit_test(steps_are_numbered_once_and_in_order),
        ON_BENCH(every_embedded_query_can_be_prepared),
        ON_BENCH(transactions_nest),
        ON_BENCH(a_reader_writes_nothing),
        ON_BENCH(settings_and_constraints),
        ON_BENCH(copies),
        ON_BENCH(a_store_in_use_names_its_holder),
        ON_BENCH(verify_tells_damage),
        ON_BENCH(a_changed_digit_is_seen),
        ON_BENCH(an_older_store_is_sealed),
        ON_BENCH(verify_tells_what_does_not_fit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
