/* A pipe can be read once, but a file is looked at several times: a pipe is copied first, into a file without a name. */
#include "loader.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { SPOOL_BUFFER = 64 * 1024 };

static enum rt_status fail_spool(const char *path, enum rt_status status, const char *words,
                                 const char *remedy, struct rt_error *error)
{
    rt_fail(error, status, "%s", words);
    rt_error_locate(error, path, 0, NULL);
    rt_error_remedy(error, "%s", remedy);
    return status;
}

/* Readable by no one else, and gone with the program however that ends. */
static int open_nameless(void)
{
    const char *folder = getenv("TMPDIR");
    char name[4096];
    if (folder == NULL || folder[0] == '\0')
        folder = "/tmp";
    int descriptor = open(folder, O_TMPFILE | O_RDWR | O_CLOEXEC, 0600);
    if (descriptor >= 0)
        return descriptor;
    int length = snprintf(name, sizeof name, "%s/ridgetally-XXXXXX", folder);
    if (length < 0 || (size_t)length >= sizeof name)
        return -1;
    descriptor = mkostemp(name, O_CLOEXEC);
    if (descriptor >= 0)
        unlink(name);
    return descriptor;
}

static bool write_all(int descriptor, const char *bytes, size_t length)
{
    while (length > 0) {
        ssize_t written = write(descriptor, bytes, length);
        if (written < 0 && errno == EINTR)
            continue;
        if (written <= 0)
            return false;
        bytes += written;
        length -= (size_t)written;
    }
    return true;
}

static enum rt_status copy_all(int from, int to, const char *path, struct rt_error *error)
{
    char buffer[SPOOL_BUFFER];
    for (;;) {
        ssize_t got = read(from, buffer, sizeof buffer);
        if (got == 0)
            return RT_OK;
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            return fail_spool(path, RT_SYSTEM, strerror(errno), "save what comes through the pipe to a file",
                              error);
        if (!write_all(to, buffer, (size_t)got))
            return fail_spool(path, RT_SYSTEM, strerror(errno),
                              "free some space in the folder for temporary files, or name another in TMPDIR",
                              error);
    }
}

static enum rt_status spool_from(int from, struct spool *spool, const char *path, struct rt_error *error)
{
    spool->descriptor = open_nameless();
    if (spool->descriptor < 0)
        return fail_spool(path, RT_SYSTEM, strerror(errno),
                          "name a folder for temporary files in TMPDIR, or save the rows to a file", error);
    snprintf(spool->own_path, sizeof spool->own_path, "/proc/self/fd/%d", spool->descriptor);
    spool->path = spool->own_path;
    return copy_all(from, spool->descriptor, path, error);
}

enum rt_status open_spool(const char *path, struct spool *spool, struct rt_error *error)
{
    struct stat information;
    *spool = (struct spool){.descriptor = -1, .path = path, .shown = path};
    if (strcmp(path, "-") == 0) {
        spool->shown = "standard input";
        return spool_from(STDIN_FILENO, spool, spool->shown, error);
    }
    if (stat(path, &information) != 0 || !S_ISFIFO(information.st_mode))
        return RT_OK; /* what is wrong with it is told by who reads it */
    int from = open(path, O_RDONLY | O_CLOEXEC);
    if (from < 0)
        return fail_spool(path, RT_SYSTEM, strerror(errno), "check its permissions", error);
    enum rt_status status = spool_from(from, spool, path, error);
    close(from);
    return status;
}

void close_spool(struct spool *spool, struct rt_error *error)
{
    if (spool->descriptor < 0)
        return;
    close(spool->descriptor);
    spool->descriptor = -1;
    if (error != NULL && strcmp(error->file, spool->own_path) == 0)
        snprintf(error->file, sizeof error->file, "%s", spool->shown);
}
