/* The power goes at every operation on the disk: after each, the store is sound and holds what it held before or after, and
 * what was told to be done is done. At last the same with syncing switched off, which must find damage: a test that
 * finds none there would find none anywhere. Usage: power_cut [SEEDS] */
#include "disk.h"
#include "scenes.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { EACH_VERIFIED = 5 /* disks, for `verify` takes longest */ };

struct tally {
    long points, disks, distinct, before, after, damaged, between, taken_back;
};

static struct {
    uint64_t *hashes;
    size_t count, room;
} seen;

static bool is_new(uint64_t hash)
{
    for (size_t i = 0; i < seen.count; i++)
        if (seen.hashes[i] == hash)
            return false;
    if (seen.count == seen.room) {
        seen.room = seen.room * 2 + 1024;
        seen.hashes = realloc(seen.hashes, seen.room * sizeof *seen.hashes);
        if (seen.hashes == NULL)
            exit(1);
    }
    seen.hashes[seen.count++] = hash;
    return true;
}

/* What the scene began from and came to. */
struct states {
    uint64_t before, after, old_copy;
};

static bool quiet; /* faults are expected and only counted */

static void blame(const struct scene *scene, size_t point, const char *what, const char *words)
{
    if (!quiet)
        printf("power-cut: %s, operation %zu: %s %s\n", scene->name, point, what, words);
}

/* A copy beside the store is one of the states a copy may have, or is not there where none was. */
static bool copy_is_good(const char *name, uint64_t first, uint64_t second, const char **words)
{
    uint64_t content;
    return content_of(scene_path(cut_folder(), name), &content, words) &&
           (content == first || content == second);
}

static void look(const struct scene *scene, const struct states *states, size_t point, bool told,
                 struct tally *tally)
{
    uint64_t content;
    const char *words = "";
    const char *store = scene_path(cut_folder(), "store.db");
    static const char kept[] = "store.db.before-update-5";
    if (!content_of(store, &content, &words)) {
        tally->damaged++;
        blame(scene, point, "damaged:", words);
    } else if (content != states->before && content != states->after) {
        tally->between++;
        blame(scene, point, "a state in between", "");
    } else if (content != CONTENT_ABSENT && tally->distinct % EACH_VERIFIED == 0 &&
               !verifies(store, &words)) {
        tally->damaged++;
        blame(scene, point, "verify says:", words);
    } else if (!copy_is_good("copy.db", states->old_copy, states->before, &words)) {
        tally->damaged++;
        blame(scene, point, "the copy is damaged:", words);
    } else if (!copy_is_good(kept, CONTENT_ABSENT, states->before, &words) ||
               (strcmp(scene->name, "update") == 0 && content == states->after &&
                access(scene_path(cut_folder(), kept), F_OK) != 0)) {
        tally->damaged++;
        blame(scene, point, "updated without a good copy of the store as it was:", words);
    } else if (told && content != states->after) {
        tally->taken_back++;
        blame(scene, point, "what was told to be done was taken back", "");
    }
    tally->before += content == states->before;
    tally->after += content == states->after && states->after != states->before;
}

static void try_point(const struct scene *scene, const struct states *states, size_t point, uint32_t seeds,
                      struct tally *tally)
{
    bool told = point == disk_recorded();
    for (uint32_t seed = 0; seed < seeds; seed++) {
        enum disk_fate fate = seed == 0       ? DISK_LOST
                              : seed == 1     ? DISK_KEPT
                              : seed % 2 == 0 ? DISK_MIXED
                                              : DISK_NOISY;
        uint64_t hash = disk_cut(fate, seed * 100003u + (uint32_t)point);
        tally->disks++;
        if (!is_new(told ? ~hash : hash))
            continue;
        tally->distinct++;
        disk_write_cut(cut_folder());
        look(scene, states, point, told, tally);
    }
    tally->points++;
}

static void try_scene(const struct scene *scene, const char *pragma, uint32_t seeds, struct tally *total)
{
    struct tally tally = {0};
    struct states states = {0};
    const char *words = "";
    scene_set_up(scene);
    disk_pragma(pragma != NULL ? pragma : scene->small_cache ? "PRAGMA cache_size = 12" : NULL);
    bool sound = content_of(scene_path(disk_folder(), "store.db"), &states.before, &words) &&
                 content_of(scene_path(disk_folder(), "copy.db"), &states.old_copy, &words);
    disk_watch(disk_folder());
    int code = scene_run(scene, &words);
    disk_stop();
    disk_pragma(NULL);
    if (code > 1 || !sound || !content_of(scene_path(disk_folder(), "store.db"), &states.after, &words)) {
        printf("power-cut: %s: exit %d: %s\n", scene->name, code, words);
        exit(1);
    }
    seen.count = 0;
    disk_rewind();
    size_t point = 0;
    do
        try_point(scene, &states, point++, seeds, &tally);
    while (disk_step());
    if (pragma == NULL)
        printf("power-cut: %s: %ld cut points, %ld disks tried, %ld of them distinct: %ld as before, %ld as "
               "after\n",
               scene->name, tally.points, tally.disks, tally.distinct, tally.before, tally.after);
    total->points += tally.points;
    total->disks += tally.disks;
    total->distinct += tally.distinct;
    total->before += tally.before;
    total->after += tally.after;
    total->damaged += tally.damaged;
    total->between += tally.between;
    total->taken_back += tally.taken_back;
    if (tally.before == 0 || (states.after != states.before && tally.after == 0)) {
        printf("power-cut: %s: never seen before, or never after\n", scene->name);
        total->damaged++;
    }
}

static const struct scene *scene_named(const char *name)
{
    for (size_t i = 0; i < scene_count; i++)
        if (strcmp(scenes[i].name, name) == 0)
            return &scenes[i];
    exit(1);
}

int main(int argc, char **argv)
{
    uint32_t seeds = argc > 1 ? (uint32_t)atoi(argv[1]) : 4;
    struct tally total = {0}, unsynced = {0}, full = {0};
    disk_install();
    scenes_prepare();
    for (size_t i = 0; i < scene_count; i++)
        try_scene(&scenes[i], NULL, seeds, &total);
    quiet = true;
    try_scene(scene_named("corrections"), "PRAGMA synchronous = OFF", seeds, &unsynced);
    try_scene(scene_named("corrections"), "PRAGMA synchronous = FULL", seeds, &full);
    scenes_remove();
    free(seen.hashes);
    printf("power-cut: %ld cut points, %ld disks tried, %ld distinct: %ld damaged, %ld in between, %ld taken "
           "back\n",
           total.points, total.disks, total.distinct, total.damaged, total.between, total.taken_back);
    printf("power-cut: without syncing %ld of %ld disks are damaged or in between; with a weaker syncing %ld "
           "told commits "
           "are taken back\n",
           unsynced.damaged + unsynced.between, unsynced.distinct, full.taken_back);
    bool good = total.damaged + total.between + total.taken_back == 0;
    return good && unsynced.damaged + unsynced.between > 0 && full.taken_back > 0 ? 0 : 1;
}
