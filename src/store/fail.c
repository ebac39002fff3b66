#include "handle.h"
#include "seal.h"

#include "ridgetally/base/interrupt.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>

static void read_program_name(long process, char *name, size_t size)
{
    char path[64];
    snprintf(path, sizeof path, "/proc/%ld/comm", process);
    FILE *stream = fopen(path, "re");
    if (stream == NULL || fgets(name, (int)size, stream) == NULL)
        name[0] = '\0';
    if (stream != NULL)
        fclose(stream);
    name[strcspn(name, "\n")] = '\0';
}

/* The process of a line of /proc/locks, `1: POSIX ADVISORY WRITE PID MAJOR:MINOR:INODE START END`, when it is about this
 * file; else 0. */
static long process_of(char *line, const struct stat *file)
{
    char *rest = NULL;
    const char *fields[6] = {NULL};
    size_t count = 0;
    for (char *word = strtok_r(line, " \n", &rest); word != NULL && count < 6;
         word = strtok_r(NULL, " \n", &rest))
        fields[count++] = word;
    if (count < 6)
        return 0;
    char *end = NULL;
    unsigned long device_major = strtoul(fields[5], &end, 16);
    unsigned long device_minor = *end == ':' ? strtoul(end + 1, &end, 16) : 0;
    unsigned long inode = *end == ':' ? strtoul(end + 1, &end, 10) : 0;
    bool same = *end == '\0' && inode == file->st_ino && device_major == major(file->st_dev) &&
                device_minor == minor(file->st_dev);
    return same ? strtol(fields[4], NULL, 10) : 0;
}

/* /proc/locks is read, the store itself is not opened again: closing a second descriptor would drop our locks. */
void rt_lock_holder(const char *path, char *words, size_t size)
{
    words[0] = '\0';
    struct stat file;
    FILE *locks = fopen("/proc/locks", "re");
    if (locks == NULL)
        return;
    char line[256];
    while (stat(path, &file) == 0 && words[0] == '\0' && fgets(line, sizeof line, locks) != NULL) {
        long process = process_of(line, &file);
        if (process > 0) {
            char name[64];
            read_program_name(process, name, sizeof name);
            snprintf(words, size, " (PID %ld%s%s)", process, name[0] == '\0' ? "" : ", ", name);
        }
    }
    fclose(locks);
}

static enum rt_status fail_busy(const char *path, const char *doing, struct rt_error *error)
{
    char holder[128] = "";
    if (path != NULL)
        rt_lock_holder(path, holder, sizeof holder);
    rt_fail(error, RT_SYSTEM, "cannot %s: the store is in use by another program%s", doing, holder);
    rt_error_remedy(error, "wait until it has finished, or close it, and try again");
    return RT_SYSTEM;
}

static enum rt_status fail_damaged(const char *words, const char *doing, struct rt_error *error)
{
    rt_fail(error, RT_STORE, "cannot %s: the store is damaged (%s)", doing, words);
    rt_error_remedy(error, "go back to your latest backup; `ridgetally verify` tells a good copy");
    return RT_STORE;
}

static enum rt_status fail_by_code(sqlite3 *db, const char *path, int result, const char *doing,
                                   struct rt_error *error)
{
    const char *words = db == NULL ? sqlite3_errstr(result) : sqlite3_errmsg(db);
    bool broken = result == SQLITE_IOERR_DATA ||
                  ((result & 0xff) == SQLITE_IOERR && db != NULL && rt_met_broken_page(db));
    if (broken)
        return fail_damaged("a page is not as it was written", doing, error);
    switch (result & 0xff) {
    case SQLITE_NOMEM:
        return rt_fail_memory(error);
    case SQLITE_INTERRUPT:
        return rt_fail_interrupted(error);
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return fail_busy(path, doing, error);
    case SQLITE_CORRUPT:
    case SQLITE_NOTADB:
        return fail_damaged(words, doing, error);
    case SQLITE_FULL:
    case SQLITE_IOERR:
    case SQLITE_CANTOPEN:
    case SQLITE_READONLY:
    case SQLITE_PERM:
        rt_fail(error, RT_SYSTEM, "cannot %s: %s", doing, words);
        rt_error_remedy(error, "check the free space and the permissions of the file and its folder");
        return RT_SYSTEM;
    default:
        rt_fail(error, RT_STORE, "cannot %s: %s", doing, words);
        rt_error_remedy(error, "run `ridgetally verify`");
        return RT_STORE;
    }
}

enum rt_status rt_fail_sqlite(sqlite3 *db, const char *path, int result, const char *doing,
                              struct rt_error *error)
{
    if (result == SQLITE_OK || result == SQLITE_ROW || result == SQLITE_DONE)
        return RT_OK;
    enum rt_status status = fail_by_code(db, path, result, doing, error);
    rt_error_locate(error, path, 0, NULL);
    return status;
}

enum rt_status rt_run_sql(sqlite3 *db, const char *path, const char *sql, const char *doing,
                          struct rt_error *error)
{
    return rt_fail_sqlite(db, path, sqlite3_exec(db, sql, NULL, NULL, NULL), doing, error);
}

enum rt_status rt_read_integer(sqlite3 *db, const char *path, const char *sql, long *value,
                               struct rt_error *error)
{
    sqlite3_stmt *statement = NULL;
    int result = sqlite3_prepare_v2(db, sql, -1, &statement, NULL);
    if (result == SQLITE_OK)
        result = sqlite3_step(statement);
    if (result == SQLITE_ROW)
        *value = (long)sqlite3_column_int64(statement, 0);
    enum rt_status status = rt_fail_sqlite(db, path, result, "read the store", error);
    sqlite3_finalize(statement);
    return status;
}
