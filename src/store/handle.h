/* Inside of the store, shared by its own files only. */
#ifndef RIDGETALLY_SRC_STORE_HANDLE_H
#define RIDGETALLY_SRC_STORE_HANDLE_H

#include "ridgetally/base/progress.h"
#include "ridgetally/store/store.h"

#include <sqlite3.h>
#include <stdbool.h>

struct rt_store {
    sqlite3 *db;
    char *path;
    char *notice; /* NULL = nothing to tell */
    enum rt_store_access access;
    int depth;                    /* open savepoints */
    struct rt_progress *progress; /* owned; NULL = no one watches */
    bool narrowed;                /* queries see the chosen implants only (narrow.c) */
};

/* Turn an SQLite result into a status with words: what we were doing, what went wrong, what to do. path may
 * be NULL. Returns RT_OK for SQLITE_OK, SQLITE_ROW and SQLITE_DONE. */
enum rt_status rt_fail_sqlite(sqlite3 *db, const char *path, int result, const char *doing,
                              struct rt_error *error);

/* " (PID 123, NAME)" for the program of this machine that holds a lock on path, or "" when none is found.
 * words has room for size bytes. */
void rt_lock_holder(const char *path, char *words, size_t size);

/* Run constant SQL on a bare connection. */
enum rt_status rt_run_sql(sqlite3 *db, const char *path, const char *sql, const char *doing,
                          struct rt_error *error);

/* One integer from a constant pragma or query. */
enum rt_status rt_read_integer(sqlite3 *db, const char *path, const char *sql, long *value,
                               struct rt_error *error);

/* Open an existing file as a connection with our settings (no check whose it is). */
enum rt_status rt_connect(const char *path, enum rt_store_access access, sqlite3 **db,
                          struct rt_error *error);

/* Apply all steps above the file's schema step in one transaction. */
enum rt_status rt_apply_steps(sqlite3 *db, const char *path, const struct rt_migration *steps, size_t count,
                              struct rt_error *error);

/* The embedded steps in order, an array the caller frees. */
enum rt_status rt_embedded_steps(struct rt_migration **steps, size_t *count, struct rt_error *error);

/* Whether the file at path carries our application_id. RT_STORE with words otherwise. */
enum rt_status rt_check_ours(const char *path, struct rt_error *error);

/* Copy db into a new file at path (replacing what is there): written beside, synced, renamed. */
enum rt_status rt_copy_database(sqlite3 *db, const char *source_path, const char *path,
                                struct rt_error *error);

#endif
