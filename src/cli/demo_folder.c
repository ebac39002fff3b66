#include "ridgetally/cli/demo_folder.h"

#include "ridgetally/base/file.h"

#include <dirent.h>
#include <errno.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static const char list_name[] = ".made-by-demo";

enum { LONGEST_LIST = 1 << 20 };

static enum rt_status join(const char *folder, const char *name, struct rt_text *path, struct rt_error *error)
{
    rt_text_clear(path);
    rt_text_format(path, "%s/%s", folder, name);
    return rt_text_status(path, error);
}

/* Is the name one of the lines of "\nNAME\nNAME\n"? */
static bool is_listed(const struct rt_text *list, const char *name)
{
    size_t length = strlen(name);
    for (const char *at = list->bytes; at != NULL && at[0] != '\0'; at = strchr(at + 1, '\n'))
        if (strncmp(at + 1, name, length) == 0 && at[1 + length] == '\n')
            return true;
    return false;
}

/* Names in the folder apart from the list itself, each ended by a newline, after a first newline. */
static enum rt_status read_names(const char *path, struct rt_text *names, struct rt_error *error)
{
    rt_text_add(names, "\n");
    DIR *folder = opendir(path);
    if (folder == NULL) {
        rt_fail(error, RT_SYSTEM, "cannot look into the folder: %s", strerror(errno));
        rt_error_locate(error, path, 0, NULL);
        return RT_SYSTEM;
    }
    for (const struct dirent *entry = readdir(folder); entry != NULL; entry = readdir(folder)) {
        if (strcmp(entry->d_name, ".") == 0 || strcmp(entry->d_name, "..") == 0 ||
            strcmp(entry->d_name, list_name) == 0)
            continue;
        rt_text_format(names, "%s\n", entry->d_name);
    }
    closedir(folder);
    return rt_text_status(names, error);
}

/* Remove what the list names. Only plain names of this folder are followed, whatever the list says. */
static enum rt_status remove_listed(const char *path, char *list, struct rt_error *error)
{
    struct rt_text file = {0};
    enum rt_status status = RT_OK;
    char *rest = NULL;
    for (char *name = strtok_r(list, "\n", &rest); name != NULL && status == RT_OK;
         name = strtok_r(NULL, "\n", &rest)) {
        if (strchr(name, '/') != NULL || strcmp(name, "..") == 0 || strcmp(name, ".") == 0)
            continue;
        status = join(path, name, &file, error);
        if (status == RT_OK && unlink(file.bytes) != 0 && errno != ENOENT && errno != EISDIR &&
            errno != EPERM) {
            rt_fail(error, RT_SYSTEM, "cannot remove a file of the earlier demo: %s", strerror(errno));
            rt_error_locate(error, file.bytes, 0, NULL);
            status = RT_SYSTEM;
        }
    }
    rt_text_release(&file);
    return status;
}

/* Clear an earlier demo out of the folder, if its list is there; *ours tells whether it was. */
static enum rt_status clear_earlier(const char *path, bool *ours, struct rt_error *error)
{
    struct rt_text list_path = {0};
    char *list = NULL;
    size_t length = 0;
    enum rt_status status = join(path, list_name, &list_path, error);
    *ours = status == RT_OK && access(list_path.bytes, F_OK) == 0;
    if (*ours)
        status = rt_read_file(list_path.bytes, LONGEST_LIST, &list, &length, error);
    if (*ours && status == RT_OK)
        status = remove_listed(path, list, error);
    free(list);
    rt_text_release(&list_path);
    return status;
}

static enum rt_status check_free(const struct rt_demo_folder *folder, bool ours, const char *const *names,
                                 size_t count, struct rt_error *error)
{
    if (!ours && folder->kept.length > 1) {
        rt_fail(error, RT_USE, "the folder holds files that no demo made");
        rt_error_locate(error, folder->path, 0, NULL);
        rt_error_remedy(error, "choose another one with --out");
        return RT_USE;
    }
    for (size_t i = 0; i < count; i++) {
        if (!is_listed(&folder->kept, names[i]))
            continue;
        rt_fail(error, RT_USE, "there is a file %s that no demo made", names[i]);
        rt_error_locate(error, folder->path, 0, NULL);
        rt_error_remedy(error, "move it away, or choose another folder with --out");
        return RT_USE;
    }
    return RT_OK;
}

static enum rt_status write_list(const char *path, const struct rt_text *list, struct rt_error *error)
{
    struct rt_text list_path = {0};
    enum rt_status status = rt_text_status(list, error);
    if (status == RT_OK)
        status = join(path, list_name, &list_path, error);
    if (status == RT_OK)
        status = rt_write_file(list_path.bytes, list->bytes, list->length, error);
    rt_text_release(&list_path);
    return status;
}

enum rt_status rt_open_demo_folder(struct rt_demo_folder *folder, const char *path, const char *const *names,
                                   size_t count, struct rt_error *error)
{
    struct rt_text planned = {0};
    bool ours = false;
    *folder = (struct rt_demo_folder){.path = path};
    enum rt_status status = rt_make_folder(path, error);
    if (status == RT_OK)
        status = clear_earlier(path, &ours, error);
    if (status == RT_OK)
        status = read_names(path, &folder->kept, error);
    if (status == RT_OK)
        status = check_free(folder, ours, names, count, error);
    for (size_t i = 0; i < count; i++)
        rt_text_format(&planned, "%s\n", names[i]);
    if (status == RT_OK) /* before anything is written: a demo that is killed can be cleared away too */
        status = write_list(path, &planned, error);
    rt_text_release(&planned);
    return status;
}

enum rt_status rt_list_demo_folder(const struct rt_demo_folder *folder, struct rt_error *error)
{
    struct rt_text now = {0};
    struct rt_text made = {0};
    enum rt_status status = read_names(folder->path, &now, error);
    char *rest = NULL;
    for (char *name = status == RT_OK ? strtok_r(now.bytes, "\n", &rest) : NULL; name != NULL;
         name = strtok_r(NULL, "\n", &rest))
        if (!is_listed(&folder->kept, name))
            rt_text_format(&made, "%s\n", name);
    if (status == RT_OK)
        status = write_list(folder->path, &made, error);
    rt_text_release(&now);
    rt_text_release(&made);
    return status;
}

void rt_release_demo_folder(struct rt_demo_folder *folder)
{
    rt_text_release(&folder->kept);
}
