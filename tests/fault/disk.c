/* The recording VFS and the wrapped calls of the C library. */
#include "disk.h"

#include "disk_model.h"

#include <errno.h>
#include <fcntl.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static struct {
    char folder[128];
    enum disk_refusal refusal;
    long at, calls, refused;
} refuse;

static const char *pragma_sql;

/* --- refusing ----------------------------------------------------------------------------------------------- */

void disk_refuse(const char *folder, enum disk_refusal refusal, long at)
{
    memset(&refuse, 0, sizeof refuse);
    snprintf(refuse.folder, sizeof refuse.folder, "%s", folder);
    refuse.refusal = refusal;
    refuse.at = at;
}

long disk_calls(void)
{
    return refuse.calls;
}

long disk_refused(void)
{
    return refuse.refused;
}

/* Whether this call on that path is to fail; writes says that it needs space. */
static bool refuses(const char *path, bool writes)
{
    size_t length = strlen(refuse.folder);
    if (length == 0 || path == NULL || strncmp(path, refuse.folder, length) != 0)
        return false;
    bool full = refuse.refusal == DISK_FULL_ONCE || refuse.refusal == DISK_FULL_ALWAYS;
    bool once = refuse.refusal == DISK_REFUSE_ONCE || refuse.refusal == DISK_FULL_ONCE;
    if (full && !writes)
        return false;
    long number = refuse.calls++;
    if (refuse.refusal == DISK_REFUSE_NOTHING || number < refuse.at || (once && refuse.refused > 0))
        return false;
    refuse.refused++;
    return true;
}

static bool is_full(void)
{
    return refuse.refusal == DISK_FULL_ONCE || refuse.refusal == DISK_FULL_ALWAYS;
}

/* --- a file under SQLite ------------------------------------------------------------------------------------ */

struct disk_file {
    sqlite3_file base;
    int file;         /* in the model; -1 = not watched */
    bool new_journal; /* its folder is synced with its first sync */
    char path[256];
};

static sqlite3_file *real(sqlite3_file *file)
{
    return (sqlite3_file *)((struct disk_file *)file + 1);
}

static struct disk_file *ours(sqlite3_file *file)
{
    return (struct disk_file *)file;
}

static int disk_close(sqlite3_file *file)
{
    return real(file)->pMethods->xClose(real(file));
}

static int disk_read(sqlite3_file *file, void *bytes, int amount, sqlite3_int64 offset)
{
    if (refuses(ours(file)->path, false))
        return SQLITE_IOERR_READ;
    return real(file)->pMethods->xRead(real(file), bytes, amount, offset);
}

static int disk_write(sqlite3_file *file, const void *bytes, int amount, sqlite3_int64 offset)
{
    if (refuses(ours(file)->path, true)) {
        if (amount > 1)
            real(file)->pMethods->xWrite(real(file), bytes, amount / 2, offset);
        return is_full() ? SQLITE_FULL : SQLITE_IOERR_WRITE;
    }
    if (ours(file)->file >= 0)
        model_record(FILE_WRITE, ours(file)->file, NULL, NULL, (size_t)offset, bytes, (size_t)amount);
    return real(file)->pMethods->xWrite(real(file), bytes, amount, offset);
}

static int disk_truncate(sqlite3_file *file, sqlite3_int64 size)
{
    if (refuses(ours(file)->path, false))
        return SQLITE_IOERR_TRUNCATE;
    if (ours(file)->file >= 0)
        model_record(FILE_TRUNCATE, ours(file)->file, NULL, NULL, (size_t)size, NULL, 0);
    return real(file)->pMethods->xTruncate(real(file), size);
}

/* The real file needs no syncing: the power of this machine stays on. */
static int disk_sync(sqlite3_file *file, int flags)
{
    (void)flags;
    if (refuses(ours(file)->path, false))
        return SQLITE_IOERR_FSYNC;
    if (ours(file)->file < 0)
        return SQLITE_OK;
    model_record(FILE_SYNC, ours(file)->file, NULL, NULL, 0, NULL, 0);
    if (ours(file)->new_journal)
        model_record(FOLDER_SYNC, -1, NULL, NULL, 0, NULL, 0);
    ours(file)->new_journal = false;
    return SQLITE_OK;
}

static int disk_size(sqlite3_file *file, sqlite3_int64 *size)
{
    if (refuses(ours(file)->path, false))
        return SQLITE_IOERR_FSTAT;
    return real(file)->pMethods->xFileSize(real(file), size);
}

static int disk_lock(sqlite3_file *file, int level)
{
    if (refuses(ours(file)->path, false))
        return SQLITE_IOERR_LOCK;
    return real(file)->pMethods->xLock(real(file), level);
}

/* A lock that could not be given back is gone when the program ends; so it is given back here. */
static int disk_unlock(sqlite3_file *file, int level)
{
    int result = real(file)->pMethods->xUnlock(real(file), level);
    return refuses(ours(file)->path, false) ? SQLITE_IOERR_UNLOCK : result;
}

static int disk_reserved(sqlite3_file *file, int *held)
{
    if (refuses(ours(file)->path, false))
        return SQLITE_IOERR_CHECKRESERVEDLOCK;
    return real(file)->pMethods->xCheckReservedLock(real(file), held);
}

static int disk_control(sqlite3_file *file, int operation, void *argument)
{
    return real(file)->pMethods->xFileControl(real(file), operation, argument);
}

static int disk_sector(sqlite3_file *file)
{
    return real(file)->pMethods->xSectorSize(real(file));
}

static int disk_device(sqlite3_file *file)
{
    return real(file)->pMethods->xDeviceCharacteristics(real(file));
}

static const sqlite3_io_methods disk_methods = {
    .iVersion = 1,
    .xClose = disk_close,
    .xRead = disk_read,
    .xWrite = disk_write,
    .xTruncate = disk_truncate,
    .xSync = disk_sync,
    .xFileSize = disk_size,
    .xLock = disk_lock,
    .xUnlock = disk_unlock,
    .xCheckReservedLock = disk_reserved,
    .xFileControl = disk_control,
    .xSectorSize = disk_sector,
    .xDeviceCharacteristics = disk_device,
};

/* --- the VFS ------------------------------------------------------------------------------------------------ */

static sqlite3_vfs *unix_vfs;

static int disk_open(sqlite3_vfs *vfs, const char *name, sqlite3_file *file, int flags, int *given)
{
    (void)vfs;
    struct disk_file *opened = ours(file);
    memset(opened, 0, sizeof *opened);
    memset(real(file), 0, (size_t)unix_vfs->szOsFile);
    opened->file = -1;
    snprintf(opened->path, sizeof opened->path, "%s", name == NULL ? "" : name);
    if (refuses(name, true))
        return SQLITE_CANTOPEN;
    int file_number = model_file(name);
    int result = unix_vfs->xOpen(unix_vfs, name, real(file), flags, given);
    opened->base.pMethods = real(file)->pMethods == NULL ? NULL : &disk_methods;
    if (result != SQLITE_OK || !model_watches(name))
        return result;
    opened->new_journal = file_number < 0 && (flags & SQLITE_OPEN_MAIN_JOURNAL) != 0;
    opened->file = file_number < 0 ? model_make(name) : file_number;
    return result;
}

static int disk_delete(sqlite3_vfs *vfs, const char *name, int sync_folder)
{
    (void)vfs;
    if (refuses(name, false))
        return SQLITE_IOERR_DELETE;
    if (model_file(name) >= 0) {
        model_record(NAME_GONE, -1, name, NULL, 0, NULL, 0);
        if (sync_folder != 0)
            model_record(FOLDER_SYNC, -1, NULL, NULL, 0, NULL, 0);
    }
    return unix_vfs->xDelete(unix_vfs, name, 0);
}

static int disk_access(sqlite3_vfs *vfs, const char *name, int flags, int *answer)
{
    (void)vfs;
    if (refuses(name, false))
        return SQLITE_IOERR_ACCESS;
    return unix_vfs->xAccess(unix_vfs, name, flags, answer);
}

void disk_install(void)
{
    static sqlite3_vfs vfs;
    sqlite3_initialize();
    unix_vfs = sqlite3_vfs_find("unix");
    vfs = *unix_vfs; /* what is not replaced takes no heed of the VFS it is called for */
    vfs.zName = "recording";
    vfs.szOsFile = (int)sizeof(struct disk_file) + unix_vfs->szOsFile;
    vfs.xOpen = disk_open;
    vfs.xDelete = disk_delete;
    vfs.xAccess = disk_access;
    sqlite3_vfs_register(&vfs, 1);
}

/* --- the C library ------------------------------------------------------------------------------------------ */

int __real_mkstemp(char *pattern);
int __real_rename(const char *from, const char *to);
int __real_link(const char *from, const char *to);
int __real_unlink(const char *path);
int __real_fsync(int descriptor);
ssize_t __real_write(int descriptor, const void *bytes, size_t length);
int __real_sqlite3_exec(sqlite3 *db, const char *sql, int (*callback)(void *, int, char **, char **),
                        void *context, char **words);
int __wrap_mkstemp(char *pattern);
int __wrap_rename(const char *from, const char *to);
int __wrap_link(const char *from, const char *to);
int __wrap_unlink(const char *path);
int __wrap_fsync(int descriptor);
ssize_t __wrap_write(int descriptor, const void *bytes, size_t length);
int __wrap_sqlite3_exec(sqlite3 *db, const char *sql, int (*callback)(void *, int, char **, char **),
                        void *context, char **words);

static int fails(int reason)
{
    errno = reason;
    return -1;
}

/* The path of an open file, "" when it cannot be told. */
static const char *path_of(int descriptor, char path[256])
{
    char link[64];
    snprintf(link, sizeof link, "/proc/self/fd/%d", descriptor);
    ssize_t length = readlink(link, path, 255);
    path[length < 0 ? 0 : length] = '\0';
    return path;
}

int __wrap_mkstemp(char *pattern)
{
    if (refuses(pattern, true))
        return fails(is_full() ? ENOSPC : EIO);
    int descriptor = __real_mkstemp(pattern);
    if (descriptor >= 0 && model_watches(pattern))
        model_make(pattern);
    return descriptor;
}

int __wrap_rename(const char *from, const char *to)
{
    if (refuses(to, false))
        return fails(EIO);
    int result = __real_rename(from, to);
    if (result == 0 && model_watches(from))
        model_record(NAME_CHANGED, -1, from, to, 0, NULL, 0);
    return result;
}

int __wrap_link(const char *from, const char *to)
{
    if (refuses(to, false))
        return fails(EIO);
    int result = __real_link(from, to);
    if (result == 0 && model_watches(to))
        model_record(NAME_MADE, model_file(from), to, NULL, 0, NULL, 0);
    return result;
}

int __wrap_unlink(const char *path)
{
    if (refuses(path, false))
        return fails(EIO);
    int result = __real_unlink(path);
    if (result == 0 && model_file(path) >= 0)
        model_record(NAME_GONE, -1, path, NULL, 0, NULL, 0);
    return result;
}

int __wrap_fsync(int descriptor)
{
    char path[256];
    struct stat information;
    path_of(descriptor, path);
    if (refuses(path, false))
        return fails(EIO);
    int file = model_file(path);
    if (file >= 0)
        model_record(FILE_SYNC, file, NULL, NULL, 0, NULL, 0);
    char inside[300];
    snprintf(inside, sizeof inside, "%s/x", path);
    if (fstat(descriptor, &information) == 0 && S_ISDIR(information.st_mode) && model_watches(inside))
        model_record(FOLDER_SYNC, -1, NULL, NULL, 0, NULL, 0);
    return 0;
}

ssize_t __wrap_write(int descriptor, const void *bytes, size_t length)
{
    char path[256];
    path_of(descriptor, path);
    if (refuses(path, true))
        return fails(is_full() ? ENOSPC : EIO);
    off_t at = lseek(descriptor, 0, SEEK_CUR);
    ssize_t written = __real_write(descriptor, bytes, length);
    int file = model_file(path);
    if (written > 0 && file >= 0)
        model_record(FILE_WRITE, file, NULL, NULL, (size_t)at, bytes, (size_t)written);
    return written;
}

void disk_pragma(const char *sql)
{
    pragma_sql = sql;
}

int __wrap_sqlite3_exec(sqlite3 *db, const char *sql, int (*callback)(void *, int, char **, char **),
                        void *context, char **words)
{
    int result = __real_sqlite3_exec(db, sql, callback, context, words);
    if (result == SQLITE_OK && pragma_sql != NULL && strncmp(sql, "PRAGMA synchronous", 18) == 0)
        result = __real_sqlite3_exec(db, pragma_sql, NULL, NULL, NULL);
    return result;
}
