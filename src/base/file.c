#include "ridgetally/base/file.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/base/text.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static enum rt_status fail_system(const char *path, const char *what, int reason, struct rt_error *error)
{
    rt_fail(error, RT_SYSTEM, "%s: %s", what, strerror(reason));
    rt_error_locate(error, path, 0, NULL);
    rt_error_remedy(error, "check the folder, its permissions and the free space");
    return RT_SYSTEM;
}

static int write_all(int descriptor, const char *bytes, size_t length)
{
    while (length > 0) {
        ssize_t written = write(descriptor, bytes, length);
        if (written < 0 && errno == EINTR)
            continue;
        if (written < 0)
            return errno;
        bytes += written;
        length -= (size_t)written;
    }
    return 0;
}

static enum rt_status write_in_place(const char *path, const char *bytes, size_t length,
                                     struct rt_error *error)
{
    int descriptor = open(path, O_WRONLY | O_CLOEXEC);
    if (descriptor < 0)
        return fail_system(path, "cannot open for writing", errno, error);
    int reason = write_all(descriptor, bytes, length);
    if (close(descriptor) != 0 && reason == 0)
        reason = errno;
    return reason == 0 ? RT_OK : fail_system(path, "cannot write", reason, error);
}

/* A rename is durable only when its folder has been synced too; folders that refuse fsync are left alone. */
void rt_sync_folder_of(const char *path)
{
    char *folder = rt_copy_text(path);
    if (folder == NULL)
        return;
    char *slash = strrchr(folder, '/');
    if (slash == folder)
        slash[1] = '\0';
    else if (slash != NULL)
        *slash = '\0';
    int descriptor = open(slash == NULL ? "." : folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (descriptor >= 0) {
        fsync(descriptor);
        close(descriptor);
    }
    free(folder);
}

static enum rt_status write_and_rename(const char *path, char *temporary, const char *bytes, size_t length,
                                       struct rt_error *error)
{
    int descriptor = mkstemp(temporary); /* mkstemp creates with mode 0600 */
    if (descriptor < 0)
        return fail_system(path, "cannot create a file in this folder", errno, error);
    int reason = write_all(descriptor, bytes, length);
    if (reason == 0 && fsync(descriptor) != 0 && errno != EINVAL)
        reason = errno;
    if (close(descriptor) != 0 && reason == 0)
        reason = errno;
    if (reason == 0 && rename(temporary, path) != 0)
        reason = errno;
    if (reason != 0) {
        unlink(temporary);
        return fail_system(path, "cannot write", reason, error);
    }
    rt_sync_folder_of(path);
    return RT_OK;
}

enum rt_status rt_write_file(const char *path, const char *bytes, size_t length, struct rt_error *error)
{
    struct stat status;
    if (stat(path, &status) == 0 && S_ISDIR(status.st_mode))
        return fail_system(path, "cannot write", EISDIR, error);
    if (stat(path, &status) == 0 && !S_ISREG(status.st_mode))
        return write_in_place(path, bytes, length, error);
    struct rt_text temporary = {0};
    rt_text_format(&temporary, "%s.part-XXXXXX", path);
    enum rt_status result = rt_text_status(&temporary, error);
    if (result == RT_OK)
        result = write_and_rename(path, temporary.bytes, bytes, length, error);
    rt_text_release(&temporary);
    return result;
}

static enum rt_status read_stream(FILE *stream, const char *path, size_t limit, char **bytes, size_t *length,
                                  struct rt_error *error)
{
    struct rt_text text = {0};
    char chunk[65536];
    size_t got = 0;
    enum rt_status status = RT_OK;
    while (status == RT_OK && (got = fread(chunk, 1, sizeof chunk, stream)) > 0) {
        rt_text_add_bytes(&text, chunk, got);
        if (text.length > limit) {
            status = rt_fail(error, RT_INPUT, "larger than %zu bytes", limit);
            rt_error_locate(error, path, 0, NULL);
            rt_error_remedy(error, "check that this is the right file");
        }
    }
    if (status == RT_OK && ferror(stream))
        status = fail_system(path, "cannot read", errno, error);
    if (status == RT_OK)
        status = rt_text_status(&text, error);
    if (status == RT_OK) {
        *length = text.length;
        *bytes = rt_text_detach(&text);
        if (*bytes == NULL)
            status = rt_fail_memory(error);
    }
    rt_text_release(&text);
    return status;
}

enum rt_status rt_read_file(const char *path, size_t limit, char **bytes, size_t *length,
                            struct rt_error *error)
{
    struct stat information;
    FILE *stream = fopen(path, "rbe");
    if (stream == NULL || fstat(fileno(stream), &information) != 0 || S_ISDIR(information.st_mode)) {
        int reason = stream == NULL ? errno : EISDIR;
        if (stream != NULL)
            fclose(stream);
        rt_fail(error, RT_INPUT, "cannot read: %s", strerror(reason));
        rt_error_locate(error, path, 0, NULL);
        rt_error_remedy(error, "check the name and its permissions");
        return RT_INPUT;
    }
    enum rt_status status = read_stream(stream, path, limit, bytes, length, error);
    fclose(stream);
    return status;
}

enum rt_status rt_make_folder(const char *path, struct rt_error *error)
{
    char *partial = rt_copy_text(path);
    if (partial == NULL)
        return rt_fail_memory(error);
    enum rt_status status = RT_OK;
    for (char *at = partial + 1; status == RT_OK; at++) {
        if (*at != '/' && *at != '\0')
            continue;
        char kept = *at;
        *at = '\0';
        struct stat information;
        if (mkdir(partial, 0700) != 0 &&
            (errno != EEXIST || stat(partial, &information) != 0 || !S_ISDIR(information.st_mode)))
            status = fail_system(partial, "cannot make the folder", errno, error);
        *at = kept;
        if (kept == '\0')
            break;
    }
    free(partial);
    return status;
}

enum rt_status rt_write_stream(FILE *stream, const char *bytes, size_t length, struct rt_error *error)
{
    errno = 0;
    if ((length > 0 && fwrite(bytes, 1, length, stream) != length) || fflush(stream) != 0) {
        rt_fail(error, RT_SYSTEM, "cannot write the output: %s", strerror(errno));
        rt_error_remedy(error, "check the free space, or where the output goes");
        return RT_SYSTEM;
    }
    return RT_OK;
}
