#include "handle.h"
#include "seal.h"

#include "ridgetally/base/file.h"
#include "ridgetally/base/interrupt.h"
#include "ridgetally/base/text.h"
#include "ridgetally/store/clock.h"
#include "ridgetally/store/query.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { TRIES = 50, PAUSE_MILLISECONDS = 100 };

static enum rt_status fail_copy(const char *path, int reason, struct rt_error *error)
{
    rt_fail(error, RT_SYSTEM, "cannot write the copy: %s", strerror(reason));
    rt_error_locate(error, path, 0, NULL);
    rt_error_remedy(error, "check the folder, its permissions and the free space");
    return RT_SYSTEM;
}

/* All pages in one step, so that the copy is one state of the store even while others write. */
static enum rt_status copy_pages(sqlite3 *from, const char *source_path, sqlite3 *to, const char *path,
                                 struct rt_error *error)
{
    sqlite3_backup *backup = sqlite3_backup_init(to, "main", from, "main");
    if (backup == NULL)
        return rt_fail_sqlite(to, path, sqlite3_errcode(to), "write the copy", error);
    int result = SQLITE_BUSY;
    for (int i = 0; i < TRIES && rt_interrupted() == 0 && (result == SQLITE_BUSY || result == SQLITE_LOCKED);
         i++) {
        if (i > 0)
            sqlite3_sleep(PAUSE_MILLISECONDS);
        result = sqlite3_backup_step(backup, -1);
    }
    int finished = sqlite3_backup_finish(backup);
    if (result == SQLITE_DONE)
        result = finished;
    bool source_is_busy = result == SQLITE_BUSY || result == SQLITE_LOCKED;
    return rt_fail_sqlite(source_is_busy ? NULL : to, source_is_busy ? source_path : path, result,
                          "copy the store", error);
}

/* A free page may be torn (seal.c); where every other page is as it was written, it is handed on, for it holds nothing.
 * Looking at all seals reads the whole file once more, so that it is done only after a page was refused. */
static bool let_torn_free_pages_pass(sqlite3 *db, const char *path)
{
    struct rt_seal_count count;
    rt_refuse_broken_pages(db, false);
    bool whole = rt_count_seals(db, path, &count, NULL) == RT_OK && count.sealed && count.broken == 0;
    rt_refuse_broken_pages(db, !whole);
    return whole;
}

static enum rt_status copy_sound_pages(sqlite3 *db, const char *source_path, sqlite3 *copy, const char *path,
                                       struct rt_error *error)
{
    struct rt_error first = {.status = RT_OK};
    enum rt_status status = copy_pages(db, source_path, copy, path, &first);
    if (status == RT_OK)
        return RT_OK;
    if (rt_met_broken_page(db) && let_torn_free_pages_pass(db, source_path)) {
        status = copy_pages(db, source_path, copy, path, error);
        rt_refuse_broken_pages(db, true);
    } else if (error != NULL) {
        *error = first;
    }
    return status;
}

static enum rt_status fill_copy(sqlite3 *db, const char *source_path, const char *temporary, const char *path,
                                struct rt_error *error)
{
    sqlite3 *copy = NULL;
    const char *vfs = rt_seal_vfs();
    if (vfs == NULL)
        return rt_fail_memory(error);
    int result = sqlite3_open_v2(temporary, &copy, SQLITE_OPEN_READWRITE, vfs);
    enum rt_status status = rt_fail_sqlite(copy, path, result, "write the copy", error);
    if (status == RT_OK)
        status = copy_sound_pages(db, source_path, copy, path, error);
    sqlite3_close(copy);
    return status;
}

static int sync_file(const char *path)
{
    int descriptor = open(path, O_RDONLY | O_CLOEXEC);
    if (descriptor < 0)
        return errno;
    int reason = fsync(descriptor) == 0 ? 0 : errno;
    close(descriptor);
    return reason;
}

enum rt_status rt_copy_database(sqlite3 *db, const char *source_path, const char *path,
                                struct rt_error *error)
{
    struct rt_text temporary = {0};
    rt_text_format(&temporary, "%s.part-XXXXXX", path);
    enum rt_status status = rt_text_status(&temporary, error);
    int descriptor = status == RT_OK ? mkstemp(temporary.bytes) : -1; /* mode 0600 */
    if (status == RT_OK && descriptor < 0)
        status = fail_copy(path, errno, error);
    if (descriptor >= 0) {
        close(descriptor);
        status = fill_copy(db, source_path, temporary.bytes, path, error);
        int reason = status == RT_OK ? sync_file(temporary.bytes) : 0;
        if (status == RT_OK && reason == 0 && rename(temporary.bytes, path) != 0)
            reason = errno;
        if (reason != 0)
            status = fail_copy(path, reason, error);
        if (status != RT_OK)
            unlink(temporary.bytes);
        else
            rt_sync_folder_of(path);
    }
    rt_text_release(&temporary);
    return status;
}

enum rt_status rt_store_backup(struct rt_store *store, const char *path, struct rt_error *error)
{
    struct stat source;
    struct stat target;
    if (stat(path, &target) == 0) {
        bool same = stat(store->path, &source) == 0 && source.st_dev == target.st_dev &&
                    source.st_ino == target.st_ino;
        struct rt_error foreign = {0};
        if (same || rt_check_ours(path, &foreign) != RT_OK) {
            rt_fail(error, RT_USE, same ? "this is the store itself" : "there is another file of this name");
            rt_error_locate(error, path, 0, NULL);
            rt_error_remedy(error, "it was left as it is; choose another name for the copy");
            return RT_USE;
        }
    }
    return rt_copy_database(store->db, store->path, path, error);
}

enum rt_status rt_store_note_copy(struct rt_store *store, const char *path, struct rt_error *error)
{
    char now[RT_CLOCK_BYTES];
    struct rt_query *query = NULL;
    char *absolute = realpath(path, NULL);
    enum rt_status status = absolute == NULL ? fail_copy(path, errno, error) : RT_OK;
    if (status == RT_OK)
        status = rt_query_open_text(store,
                                    "INSERT INTO backup_copy (path, made_at) VALUES (:path, :now) "
                                    "ON CONFLICT (path) DO UPDATE SET made_at = excluded.made_at",
                                    &query, error);
    rt_bind_text(query, ":path", absolute);
    rt_bind_text(query, ":now", rt_clock(now));
    if (status == RT_OK)
        status = rt_query_run(query, error);
    rt_query_close(query);
    free(absolute);
    return status;
}
