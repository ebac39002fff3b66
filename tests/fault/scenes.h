/* What the program is doing when the disk fails: verbs that write a store, each with the store it begins from. */
#ifndef RIDGETALLY_TESTS_FAULT_SCENES_H
#define RIDGETALLY_TESTS_FAULT_SCENES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct scene {
    const char *name;
    const char *start; /* the prepared store it begins from; NULL = none */
    const char
        *arguments; /* of the program, in words; %s stands for the folder of the prepared files. NULL: run */
    int (*run)(const char *store);
    bool has_old_copy; /* copy.db stands beside the store */
    bool small_cache;  /* pages go to the disk before the commit as well */
};

extern const struct scene scenes[];
extern const size_t scene_count;

/* A folder of its own (in memory where the machine has such a one), the prepared stores and sheets in it, an empty folder
 * "disk" for the scene and an empty "cut". Fails the program when something cannot be prepared. */
void scenes_prepare(void);
void scenes_remove(void);

/* Sheets of others, with maps for them, and a key: foreign.csv, foreign.map, foreign.xlsx, book.map, key. To be run from the
 * top of the repository. */
void scenes_prepare_foreign(void);

/* The paths, valid until the next call but three. */
const char *scene_path(const char *folder, const char *name);
const char *disk_folder(void);
const char *cut_folder(void);

/* Put the scene's files into the disk folder, and nothing else. */
void scene_set_up(const struct scene *scene);

/* Called with true before the program begins and with false when it has ended; NULL = nothing. */
extern void (*scene_watcher)(bool begins);

/* Run the scene there. Returns the exit code; *words receives what it wrote to standard error, valid until the next call. */
int scene_run(const struct scene *scene, const char **words);

enum { CONTENT_ABSENT = 0 };

/* A hash of all that the tables of the store hold, its schema and its step, read through SQLite's own VFS after its checks
 * of integrity and foreign keys; CONTENT_ABSENT when there is no file. false, with *words, when the store is not sound. */
bool content_of(const char *path, uint64_t *content, const char **words);

/* Whether `verify` finds it sound. */
bool verifies(const char *path, const char **words);

#endif
