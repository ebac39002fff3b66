/* The disk refuses: every call on the store's folder fails in turn, once and for good, as an error and for want of space.
 * The program then exits with 4 and says why, the store is as before or as after, and the same words work once the disk
 * does. Usage: io_errors [MOST-POINTS-A-SCENE] */
#include "disk.h"
#include "scenes.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct tally {
    long points, told, survived, before, after, faults;
};

static void blame(const struct scene *scene, enum disk_refusal refusal, long at, const char *what,
                  const char *words)
{
    static const char *const names[] = {"nothing", "once", "always", "full once", "full always"};
    printf("io-errors: %s, call %ld refused %s: %s %s\n", scene->name, at, names[refusal], what, words);
}

struct states {
    uint64_t before, after;
};

/* What the store holds; a new store has a random salt, so any that is sound is the state after. */
static bool state_of(const struct scene *scene, const struct states *states, uint64_t *content,
                     const char **words)
{
    bool sound = content_of(scene_path(disk_folder(), "store.db"), content, words);
    if (sound && scene->start == NULL && *content != CONTENT_ABSENT)
        *content = states->after;
    return sound;
}

static bool has_words(const char *words)
{
    return strncmp(words, "ridgetally: ", 12) == 0 && strlen(words) > 20;
}

/* The same words again, on a disk that works. */
static bool try_again(const struct scene *scene, const struct states *states, bool done, const char **words)
{
    uint64_t content;
    char first[300];
    int code = scene_run(scene, words);
    snprintf(first, sizeof first, "exit %d: %.250s", code, *words);
    /* what was done although it was said to have failed is refused now (an undone batch), or done twice (a load) */
    bool good = state_of(scene, states, &content, words) &&
                (done ? code <= 2 : code <= 1 && content == states->after);
    if (!good) {
        static char kept[300];
        snprintf(kept, sizeof kept, "%s", first);
        *words = kept;
    }
    return good;
}

static void try_point(const struct scene *scene, const struct states *states, enum disk_refusal refusal,
                      long at, struct tally *tally)
{
    uint64_t content;
    const char *words = "";
    scene_set_up(scene);
    disk_refuse(disk_folder(), refusal, at);
    int code = scene_run(scene, &words);
    long refused = disk_refused();
    /* a copy that was made and could not be put on the list of copies is told, and stands */
    bool unlisted = code == 0 && strstr(words, "is not on the store's list of copies") != NULL;
    disk_refuse("", DISK_REFUSE_NOTHING, 0);
    tally->points++;
    if (refused == 0)
        return;
    long faults = tally->faults;
    tally->told += code == 4;
    tally->survived += code <= 1;
    if (code > 1 && code != 4)
        tally->faults++, blame(scene, refusal, at, "not told as a failing system:", words);
    else if (code == 4 && !has_words(words))
        tally->faults++, blame(scene, refusal, at, "no words:", words);
    if (tally->faults > faults)
        return;
    if (!state_of(scene, states, &content, &words))
        tally->faults++, blame(scene, refusal, at, "damaged:", words);
    else if (content != states->before && content != states->after)
        tally->faults++, blame(scene, refusal, at, "a state in between", "");
    else if (code <= 1 && content != states->after && !unlisted)
        tally->faults++, blame(scene, refusal, at, "told to be done and not done", "");
    else if (!try_again(scene, states, content == states->after, &words))
        tally->faults++, blame(scene, refusal, at, "not so the second time:", words);
    tally->before += content == states->before;
    tally->after += content == states->after;
}

static void try_scene(const struct scene *scene, long most, struct tally *tally)
{
    struct states states = {0};
    const char *words = "";
    scene_set_up(scene);
    disk_pragma(scene->small_cache ? "PRAGMA cache_size = 12" : NULL);
    bool sound = content_of(scene_path(disk_folder(), "store.db"), &states.before, &words);
    disk_refuse(disk_folder(), DISK_REFUSE_NOTHING, 0);
    int code = scene_run(scene, &words);
    long calls = disk_calls();
    disk_refuse("", DISK_REFUSE_NOTHING, 0);
    if (code > 1 || !sound || !content_of(scene_path(disk_folder(), "store.db"), &states.after, &words)) {
        printf("io-errors: %s: exit %d: %s\n", scene->name, code, words);
        exit(1);
    }
    long step = calls / most + 1;
    for (int refusal = DISK_REFUSE_ONCE; refusal <= DISK_FULL_ALWAYS; refusal++)
        for (long at = (refusal * 7) % step; at < calls; at += step)
            try_point(scene, &states, (enum disk_refusal)refusal, at, tally);
    disk_pragma(NULL);
}

int main(int argc, char **argv)
{
    long most = argc > 1 ? atol(argv[1]) : 30;
    struct tally total = {0};
    disk_install();
    scenes_prepare();
    for (size_t i = 0; i < scene_count; i++)
        try_scene(&scenes[i], most, &total);
    scenes_remove();
    printf("io-errors: %ld calls refused in turn: %ld told (exit 4), %ld survived; %ld stores as before, %ld "
           "as after; %ld "
           "faults\n",
           total.points, total.told, total.survived, total.before, total.after, total.faults);
    return total.faults == 0 && total.told > 100 ? 0 : 1;
}
