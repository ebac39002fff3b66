/*
 * The store: one SQLite file that holds a practice's records.
 *
 * A file is ours when its header carries our application_id; any other file is never written. user_version is
 * the schema step. Rollback journal, synchronous=EXTRA (a commit that was told outlives a power cut), foreign keys,
 * defensive mode, trusted_schema off; mode 0600. Every page bears a seal, a checksum that is looked at whenever the page is
 * read. SQL reaches the store only through query.h.
 */
#ifndef RIDGETALLY_STORE_STORE_H
#define RIDGETALLY_STORE_STORE_H

#include "ridgetally/base/error.h"

#include <stdbool.h>

#include <stddef.h>
#include <stdint.h>

enum { RT_APPLICATION_ID = 0x52645479 }; /* "RdTy" at byte 68 of the file */

struct rt_store;    /* an open store */
struct rt_progress; /* base/progress.h */

enum rt_store_access {
    RT_STORE_READ, /* nothing is written, not even by mistake */
    RT_STORE_WRITE
};

/* One schema step: a number, rising, and its SQL. */
struct rt_migration {
    int number;
    const char *sql;
};

/* Make an empty store at path with all schema steps. The file appears complete or not at all (mode 0600). An
 * existing path is refused (RT_USE) and left as it is; RT_SYSTEM when the folder cannot be written. */
enum rt_status rt_store_create(const char *path, struct rt_error *error);

/* Open an existing store. RT_STORE when path is missing, not a file, not ours (it is not written), newer than
 * this program, or damaged. An older store is brought up to date after a safety copy (see
 * rt_store_notice); a read-only older store is refused. On RT_OK the caller closes *store. */
enum rt_status rt_store_open(const char *path, enum rt_store_access access, struct rt_store **store,
                             struct rt_error *error);

/* Close; rolls back an open transaction. NULL is fine. */
void rt_store_close(struct rt_store *store);

/* What the user should be told about opening (the safety copy before an update), or "" when nothing. Owned by
 * the store. */
const char *rt_store_notice(const struct rt_store *store);

const char *rt_store_path(const struct rt_store *store);

/* Tell progress of the long work that is done with the store. The store takes it over, ends and releases it when it is
 * closed or another one is given. */
void rt_store_watch(struct rt_store *store, struct rt_progress *progress);

/* To be told of long work (base/progress.h); NULL when no one watches. */
struct rt_progress *rt_store_progress(const struct rt_store *store);

/* The schema step this program writes. */
int rt_schema_number(void);

/* Create and open with the given steps instead of the embedded ones (count >= 1): for tests of updating. */
enum rt_status rt_store_create_with(const char *path, const struct rt_migration *steps, size_t count,
                                    struct rt_error *error);
enum rt_status rt_store_open_with(const char *path, enum rt_store_access access,
                                  const struct rt_migration *steps, size_t count, struct rt_store **store,
                                  struct rt_error *error);

/* A consistent copy of the open store at path, while others may use it: written beside its target, fsync'ed
 * and renamed; mode 0600. An existing regular file at path is replaced only when it is one of our stores and
 * not the open store itself; otherwise RT_USE. */
enum rt_status rt_store_backup(struct rt_store *store, const char *path, struct rt_error *error);

/* Put the copy at path on the store's list of its copies (absolute path and time), open for writing. */
enum rt_status rt_store_note_copy(struct rt_store *store, const char *path, struct rt_error *error);

/* Nested transactions (savepoints). The outermost begin of a writable store takes the write lock at once, so
 * that "in use by another program" is said before any work. Every begin is ended by commit or rollback;
 * rollback never fails. */
enum rt_status rt_transaction_begin(struct rt_store *store, struct rt_error *error);
enum rt_status rt_transaction_commit(struct rt_store *store, struct rt_error *error);
void rt_transaction_rollback(struct rt_store *store);

/* A number that stays the same while nobody but this connection writes the store; within a transaction nobody can. What was read
 * from the store before, and not changed through it, still holds where the number does. */
enum rt_status rt_store_version(struct rt_store *store, int64_t *version, struct rt_error *error);

/* Whether rows are held against the schema's CHECK constraints and foreign keys when they are written, which they are
 * by default. Only for rows whose cells were held against the same limits already (the tables of intake/form.c; a
 * unit test holds the two together) and whose owners were found in the same transaction, or in one before it with
 * rt_store_version the same: SQLite builds each list of allowed words anew for every row, and looks for three batches
 * and an owner. A recorded audit's rows, whose constraints one statement asks of all of them before the transaction
 * ends, are the other use. Takes hold of statements opened afterwards. */
enum rt_status rt_store_test_constraints(struct rt_store *store, bool test, struct rt_error *error);

/* Tell a damaged store from a good one: SQLite's integrity check, the seal of every page, foreign keys, application_id,
 * schema step and the invariants of sql/verify/. RT_OK when sound; RT_STORE with the first fault in words (count of
 * faults in the message). */
enum rt_status rt_store_verify(struct rt_store *store, struct rt_error *error);

/* The value of a setting: a copy the caller frees, "" when the setting is empty or not there. */
enum rt_status rt_setting(struct rt_store *store, const char *name, char **value, struct rt_error *error);

/* Give a setting a value; a value the schema does not allow is RT_STORE. */
enum rt_status rt_set_setting(struct rt_store *store, const char *name, const char *value,
                              struct rt_error *error);

/* A setting a user may change. */
struct rt_setting_entry {
    const char *name;
    const char *meaning; /* in plain words */
};

/* All of them in the order they are listed; *count receives how many. */
const struct rt_setting_entry *rt_settings(size_t *count);

/* Change a setting. RT_USE with words when there is none of that name or the value does not fit it; an empty value clears
 * those that may be empty. */
enum rt_status rt_change_setting(struct rt_store *store, const char *name, const char *value,
                                 struct rt_error *error);

#endif
