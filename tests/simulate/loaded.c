#include "loaded.h"

#include "dirt.h"
#include "table.h"

#include "ridgetally/base/file.h"
#include "ridgetally/intake/load.h"

#include <ftw.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { FILES = 3, PATH_ROOM = 128 };

static enum rt_status write_files(const struct rt_sample_practice *practice, bool dirty, const char *folder,
                                  char paths[FILES][PATH_ROOM], struct rt_error *error)
{
    struct rt_sample_tables tables;
    struct rt_sample_dirt_list dirt = {.count = 0};
    enum rt_status status = rt_sample_make_tables(practice, &tables, error);
    if (status == RT_OK && dirty)
        status = rt_sample_add_dirt(&tables, practice->settings.seed, &dirt, error);
    const struct rt_sample_table *const all[FILES] = {&tables.implants, &tables.followups, &tables.events};
    for (size_t i = 0; i < FILES && status == RT_OK; i++) {
        struct rt_text text = {0};
        snprintf(paths[i], PATH_ROOM, "%s/%s", folder, all[i]->name);
        rt_sample_table_to_csv(all[i], &text);
        status = rt_text_status(&text, error);
        if (status == RT_OK)
            status = rt_write_file(paths[i], text.bytes, text.length, error);
        rt_text_release(&text);
    }
    rt_sample_release_tables(&tables);
    return status;
}

static enum rt_status load_files(struct rt_store *store, char paths[FILES][PATH_ROOM], struct rt_error *error)
{
    const char *const names[FILES] = {paths[0], paths[1], paths[2]};
    const struct rt_load_options options = {.dry_run = false};
    struct rt_load_report reports[FILES] = {{.path = NULL}};
    size_t done = 0;
    enum rt_status status = rt_load_files(store, names, FILES, &options, reports, &done, error);
    for (size_t i = 0; i < FILES; i++)
        rt_release_load_report(&reports[i]);
    if (status == RT_PARTIAL) { /* rows with mistakes are refused, as they should be */
        rt_error_clear(error);
        status = RT_OK;
    }
    return status;
}

enum rt_status load_practice(const struct rt_sample_practice *practice, bool dirty, struct loaded *loaded,
                             struct rt_error *error)
{
    char path[PATH_ROOM], paths[FILES][PATH_ROOM];
    loaded->store = NULL;
    snprintf(loaded->folder, sizeof loaded->folder, "/tmp/ridgetally-simulate-XXXXXX");
    if (mkdtemp(loaded->folder) == NULL) {
        loaded->folder[0] = '\0';
        return rt_fail(error, RT_STORE, "no folder for a store in /tmp");
    }
    snprintf(path, sizeof path, "%s/practice.db", loaded->folder);
    enum rt_status status = write_files(practice, dirty, loaded->folder, paths, error);
    if (status == RT_OK)
        status = rt_store_create(path, error);
    if (status == RT_OK)
        status = rt_store_open(path, RT_STORE_WRITE, &loaded->store, error);
    return status == RT_OK ? load_files(loaded->store, paths, error) : status;
}

static int remove_entry(const char *path, const struct stat *information, int type, struct FTW *walk)
{
    (void)information;
    (void)type;
    (void)walk;
    return remove(path);
}

void close_loaded(struct loaded *loaded)
{
    rt_store_close(loaded->store);
    loaded->store = NULL;
    if (loaded->folder[0] != '\0')
        nftw(loaded->folder, remove_entry, 8, FTW_DEPTH | FTW_PHYS);
}
