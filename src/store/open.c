#include "ridgetally/store/store.h"

#include "handle.h"
#include "ridgetally/base/file.h"
#include "ridgetally/base/interrupt.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/base/text.h"
#include "seal.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { HEADER_BYTES = 100, APPLICATION_ID_AT = 68, BUSY_MILLISECONDS = 5000, STEPS_BETWEEN_ASKING = 1000 };

static enum rt_status fail_at(const char *path, enum rt_status status, const char *message,
                              const char *remedy, struct rt_error *error)
{
    rt_fail(error, status, "%s", message);
    rt_error_locate(error, path, 0, NULL);
    rt_error_remedy(error, "%s", remedy);
    return status;
}

static enum rt_status fail_foreign(const char *path, const char *message, struct rt_error *error)
{
    return fail_at(
        path, RT_STORE, message,
        "it was left as it is; name your store with --store FILE, or make one with `ridgetally new "
        "--store FILE`",
        error);
}

static enum rt_status check_header(const char *path, const unsigned char *header, ssize_t got,
                                   struct rt_error *error)
{
    static const char magic[] = "SQLite format 3"; /* its NUL is part of the mark */
    if (got < HEADER_BYTES || memcmp(header, magic, sizeof magic) != 0)
        return fail_foreign(path, "this file is not a ridgetally store", error);
    const unsigned char *id = header + APPLICATION_ID_AT;
    unsigned long value =
        (unsigned long)id[0] << 24 | (unsigned long)id[1] << 16 | (unsigned long)id[2] << 8 | id[3];
    if (value != RT_APPLICATION_ID)
        return fail_foreign(path, "this database belongs to another program", error);
    return RT_OK;
}

/* Read before SQLite opens the file, because opening may already replay a journal into it. */
enum rt_status rt_check_ours(const char *path, struct rt_error *error)
{
    struct stat information;
    if (stat(path, &information) != 0 && errno == ENOENT)
        return fail_at(path, RT_STORE, "there is no store here",
                       "make one with `ridgetally new --store FILE`, or name yours with --store FILE", error);
    int descriptor = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (descriptor < 0)
        return fail_at(path, RT_STORE, strerror(errno), "check the name and its permissions", error);
    enum rt_status status = RT_OK;
    unsigned char header[HEADER_BYTES] = {0};
    if (fstat(descriptor, &information) != 0 || !S_ISREG(information.st_mode))
        status = fail_foreign(path,
                              S_ISDIR(information.st_mode) ? "this is a folder, not a store"
                                                           : "this is not a regular file",
                              error);
    else
        status = check_header(path, header, read(descriptor, header, sizeof header), error);
    close(descriptor);
    return status;
}

/* What does not fit into memory while a query sorts goes into files of mode 0600 that lose their name as soon as they are
 * open. They stand in the store's own folder, so that nothing of it is written to another disk; where that folder cannot be
 * written, SQLite takes the system's folder for temporary files. */
static enum rt_status keep_temporary_files_beside(const char *path, struct rt_error *error)
{
    const char *slash = strrchr(path, '/');
    int length = slash == NULL ? 1 : slash == path ? 1 : (int)(slash - path);
    char *folder = sqlite3_mprintf("%.*s", length, slash == NULL ? "." : path);
    if (folder == NULL)
        return rt_fail_memory(error);
    sqlite3_free(sqlite3_temp_directory);
    sqlite3_temp_directory = folder;
    return RT_OK;
}

static enum rt_status harden(sqlite3 *db, const char *path, struct rt_error *error)
{
    static const int on[] = {SQLITE_DBCONFIG_DEFENSIVE, SQLITE_DBCONFIG_ENABLE_FKEY};
    static const int off[] = {SQLITE_DBCONFIG_TRUSTED_SCHEMA, SQLITE_DBCONFIG_DQS_DML,
                              SQLITE_DBCONFIG_DQS_DDL, SQLITE_DBCONFIG_ENABLE_LOAD_EXTENSION};
    int result = sqlite3_busy_timeout(db, BUSY_MILLISECONDS);
    for (size_t i = 0; result == SQLITE_OK && i < sizeof on / sizeof on[0]; i++)
        result = sqlite3_db_config(db, on[i], 1, NULL);
    for (size_t i = 0; result == SQLITE_OK && i < sizeof off / sizeof off[0]; i++)
        result = sqlite3_db_config(db, off[i], 0, NULL);
    enum rt_status status = rt_fail_sqlite(db, path, result, "open the store", error);
    if (status == RT_OK)
        status = rt_run_sql(db, path,
                            "PRAGMA synchronous = EXTRA; PRAGMA temp_store = FILE; PRAGMA secure_delete = ON;"
                            "PRAGMA cell_size_check = ON; PRAGMA cache_size = -16384",
                            "open the store", error);
    return status;
}

/* Asked by SQLite now and then while a statement runs; other than 0 stops it. */
static int stop_asked(void *context)
{
    (void)context;
    return rt_interrupted();
}

enum rt_status rt_connect(const char *path, enum rt_store_access access, sqlite3 **db, struct rt_error *error)
{
    *db = NULL;
    /* SQLite need not count what it allocates, which takes a lock each time; once it has begun this does nothing */
    (void)sqlite3_config(SQLITE_CONFIG_MEMSTATUS, 0);
    enum rt_status status = keep_temporary_files_beside(path, error);
    const char *vfs = rt_seal_vfs();
    if (status == RT_OK && vfs == NULL)
        status = rt_fail_memory(error);
    if (status == RT_OK) {
        int result = sqlite3_open_v2(path, db, SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX, vfs);
        status = rt_fail_sqlite(*db, path, result, "open the store", error);
    }
    if (status == RT_OK)
        status = harden(*db, path, error);
    if (status == RT_OK)
        sqlite3_progress_handler(*db, STEPS_BETWEEN_ASKING, stop_asked, NULL);
    if (status == RT_OK && access == RT_STORE_WRITE && sqlite3_db_readonly(*db, "main") == 1)
        status = fail_at(path, RT_SYSTEM, "the store cannot be written", "check the permissions of the file",
                         error);
    /* write-ahead logging fails on network and synced folders; a store switched to it is switched back */
    if (status == RT_OK && sqlite3_db_readonly(*db, "main") == 0)
        status = rt_run_sql(*db, path, "PRAGMA journal_mode = DELETE", "open the store", error);
    if (status != RT_OK) {
        sqlite3_close(*db);
        *db = NULL;
    }
    return status;
}

static enum rt_status build_new(const char *temporary, const struct rt_migration *steps, size_t count,
                                struct rt_error *error)
{
    sqlite3 *db = NULL;
    enum rt_status status = rt_connect(temporary, RT_STORE_WRITE, &db, error);
    char pragma[64]; /* a number of our own; pragmas take no parameters */
    snprintf(pragma, sizeof pragma, "PRAGMA application_id = %d", (int)RT_APPLICATION_ID);
    if (status == RT_OK)
        status = rt_seal_new(db, temporary, error);
    if (status == RT_OK)
        status = rt_run_sql(db, temporary, pragma, "make the store", error);
    if (status == RT_OK)
        status = rt_apply_steps(db, temporary, steps, count, error);
    sqlite3_close(db);
    return status;
}

/* Give the finished file its name, only if the name is still free. */
static enum rt_status publish_new(const char *temporary, const char *path, struct rt_error *error)
{
    int reason = link(temporary, path) == 0 ? 0 : errno;
    if (reason != 0 && reason != EEXIST) /* a file system without links */
        reason = access(path, F_OK) == 0 ? EEXIST : (rename(temporary, path) == 0 ? 0 : errno);
    if (reason == EEXIST)
        return fail_at(path, RT_USE, "there is a file of this name already",
                       "it was left as it is; choose another name with --store FILE", error);
    if (reason != 0)
        return fail_at(path, RT_SYSTEM, strerror(reason), "check the folder and its permissions", error);
    rt_sync_folder_of(path);
    return RT_OK;
}

enum rt_status rt_store_create_with(const char *path, const struct rt_migration *steps, size_t count,
                                    struct rt_error *error)
{
    struct stat information;
    if (lstat(path, &information) == 0)
        return fail_at(path, RT_USE, "there is a file of this name already",
                       "it was left as it is; choose another name with --store FILE", error);
    struct rt_text temporary = {0};
    rt_text_format(&temporary, "%s.part-XXXXXX", path);
    enum rt_status status = rt_text_status(&temporary, error);
    int descriptor = status == RT_OK ? mkstemp(temporary.bytes) : -1; /* mode 0600 */
    if (status == RT_OK && descriptor < 0)
        status = fail_at(path, RT_SYSTEM, strerror(errno), "check the folder and its permissions", error);
    if (descriptor >= 0) {
        close(descriptor);
        status = build_new(temporary.bytes, steps, count, error);
        if (status == RT_OK)
            status = publish_new(temporary.bytes, path, error);
        unlink(temporary.bytes);
    }
    rt_text_release(&temporary);
    return status;
}

enum rt_status rt_store_create(const char *path, struct rt_error *error)
{
    struct rt_migration *steps = NULL;
    size_t count = 0;
    enum rt_status status = rt_embedded_steps(&steps, &count, error);
    if (status == RT_OK)
        status = rt_store_create_with(path, steps, count, error);
    free(steps);
    return status;
}

/* A free name beside the store for the copy that is kept before an update. */
static enum rt_status name_safety_copy(const char *path, long step, struct rt_text *name,
                                       struct rt_error *error)
{
    for (int i = 1; i < 1000; i++) {
        rt_text_clear(name);
        rt_text_format(name, "%s.before-update-%ld", path, step);
        if (i > 1)
            rt_text_format(name, "-%d", i);
        if (rt_text_status(name, error) != RT_OK)
            return RT_MEMORY;
        if (access(name->bytes, F_OK) != 0)
            return RT_OK;
    }
    return fail_at(path, RT_SYSTEM, "there are too many copies from earlier updates", "move them away",
                   error);
}

static enum rt_status update_store(struct rt_store *store, long present, const struct rt_migration *steps,
                                   size_t count, struct rt_error *error)
{
    struct rt_text copy = {0};
    struct rt_text notice = {0};
    enum rt_status status = RT_OK;
    if (sqlite3_db_readonly(store->db, "main") == 1)
        status = fail_at(store->path, RT_STORE,
                         "this store is older than the program and cannot be written to update it",
                         "make the file writable", error);
    if (status == RT_OK)
        status = name_safety_copy(store->path, present, &copy, error);
    if (status == RT_OK)
        status = rt_copy_database(store->db, store->path, copy.bytes, error);
    if (status == RT_OK)
        status = rt_seal_store(store->db, store->path, error);
    if (status == RT_OK)
        status = rt_apply_steps(store->db, store->path, steps, count, error);
    if (status == RT_OK) {
        rt_text_format(&notice, "%s was brought from step %ld to step %d; the store as it was is kept in %s",
                       store->path, present, steps[count - 1].number, copy.bytes);
        store->notice = rt_text_detach(&notice);
        if (store->notice == NULL)
            status = rt_fail_memory(error);
    }
    rt_text_release(&copy);
    return status;
}

static enum rt_status check_step(struct rt_store *store, const struct rt_migration *steps, size_t count,
                                 struct rt_error *error)
{
    long present = 0;
    int latest = steps[count - 1].number;
    enum rt_status status = rt_read_integer(store->db, store->path, "PRAGMA user_version", &present, error);
    if (status != RT_OK)
        return status;
    if (present > latest) {
        rt_fail(error, RT_STORE,
                "this store was written by a newer version (step %ld, this program knows %d)", present,
                latest);
        rt_error_locate(error, store->path, 0, NULL);
        rt_error_remedy(error, "it was left as it is; install the newer version");
        return RT_STORE;
    }
    if (present < 1)
        return fail_at(store->path, RT_STORE, "this store was never finished",
                       "go back to your latest backup, or make a new store", error);
    return present == latest ? RT_OK : update_store(store, present, steps, count, error);
}

enum rt_status rt_store_open_with(const char *path, enum rt_store_access access,
                                  const struct rt_migration *steps, size_t count, struct rt_store **store,
                                  struct rt_error *error)
{
    *store = NULL;
    enum rt_status status = rt_check_ours(path, error);
    if (status != RT_OK)
        return status;
    struct rt_store *opened = rt_new_array(1, sizeof *opened);
    if (opened == NULL)
        return rt_fail_memory(error);
    opened->access = access;
    opened->path = rt_copy_text(path);
    status = opened->path == NULL ? rt_fail_memory(error) : rt_connect(path, access, &opened->db, error);
    if (status == RT_OK)
        status = check_step(opened, steps, count, error);
    if (status == RT_OK && access == RT_STORE_READ)
        status = rt_run_sql(opened->db, path, "PRAGMA query_only = ON", "open the store", error);
    if (status != RT_OK) {
        rt_store_close(opened);
        opened = NULL;
    }
    *store = opened;
    return status;
}

enum rt_status rt_store_open(const char *path, enum rt_store_access access, struct rt_store **store,
                             struct rt_error *error)
{
    struct rt_migration *steps = NULL;
    size_t count = 0;
    *store = NULL;
    enum rt_status status = rt_embedded_steps(&steps, &count, error);
    if (status == RT_OK)
        status = rt_store_open_with(path, access, steps, count, store, error);
    free(steps);
    return status;
}

void rt_store_close(struct rt_store *store)
{
    if (store == NULL)
        return;
    sqlite3_close(store->db); /* rolls back what is open */
    rt_progress_release(store->progress);
    free(store->path);
    free(store->notice);
    free(store);
}

void rt_store_watch(struct rt_store *store, struct rt_progress *progress)
{
    rt_progress_release(store->progress);
    store->progress = progress;
}

struct rt_progress *rt_store_progress(const struct rt_store *store)
{
    return store->progress;
}

const char *rt_store_notice(const struct rt_store *store)
{
    return store->notice == NULL ? "" : store->notice;
}

const char *rt_store_path(const struct rt_store *store)
{
    return store->path;
}
