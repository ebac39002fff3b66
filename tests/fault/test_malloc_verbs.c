/* Memory that runs out at every moment of the verbs that change a store, and of those that read sheets: each failed
 * allocation ends in exit code 4 with words, or is survived; nothing crashes or leaks (with SANITIZE=yes), and the store
 * is as before or as after. Our own allocations are wrapped by the linker, SQLite's by its configuration. */
#include "scenes.h"

#include "ridgetally/base/text.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <sqlite3.h>

void *__real_malloc(size_t size);
void *__real_calloc(size_t count, size_t size);
void *__real_realloc(void *block, size_t size);
void *__wrap_malloc(size_t size);
void *__wrap_calloc(size_t count, size_t size);
void *__wrap_realloc(void *block, size_t size);

static struct {
    bool counts;
    long asked, at; /* fails the at-th; below 0 = none */
    bool for_good;  /* and all after it */
} memory = {.at = -1};

static bool grants(void)
{
    if (!memory.counts)
        return true;
    long number = memory.asked++;
    return memory.at < 0 || number < memory.at || (number > memory.at && !memory.for_good);
}

void *__wrap_malloc(size_t size)
{
    return grants() ? __real_malloc(size) : NULL;
}

void *__wrap_calloc(size_t count, size_t size)
{
    return grants() ? __real_calloc(count, size) : NULL;
}

void *__wrap_realloc(void *block, size_t size)
{
    return grants() ? __real_realloc(block, size) : NULL;
}

static sqlite3_mem_methods plain;

static void *failing_malloc(int size)
{
    return grants() ? plain.xMalloc(size) : NULL;
}

static void *failing_realloc(void *block, int size)
{
    return grants() ? plain.xRealloc(block, size) : NULL;
}

/* Beside the scenes that write: what only reads, and the ways in for sheets. */
static const struct scene more[] = {
    {"doubts", "full.db", "doubts --store @/store.db", NULL, false, false},
    {"doubts as csv", "full.db", "doubts --as csv --store @/store.db", NULL, false, false},
    {"verify", "full.db", "verify --store @/store.db", NULL, false, false},
    {"pseudonyms", "empty.db", "load %/implants.csv --pseudonym --key %/key --store @/store.db", NULL, false,
     false},
    {"a foreign sheet", "empty.db", "load %/foreign.csv --map %/foreign.map --store @/store.db", NULL, false,
     false},
    {"match", NULL, "match %/foreign.csv", NULL, false, false},
    {"match a workbook", NULL, "match %/foreign.xlsx --sheet Cases~&~more", NULL, false, false},
    {"a workbook", "empty.db", "load %/foreign.xlsx --map %/book.map --store @/store.db", NULL, false, false},
};

/* What writes pages: a run takes a second, most of it gnuplot's, so that fewer moments are tried. */
static const struct scene pages[] = {
    {"deck", "full.db", "deck --out %/pages --store @/store.db", NULL, false, false},
    {"trend", "full.db", "trend --operator A --out %/pages --store @/store.db", NULL, false, false},
    {"due", "full.db", "due --out %/pages --store @/store.db", NULL, false, false},
};

static void count_memory(bool begins)
{
    memory.counts = begins;
}

struct tally {
    long total, tried, told, survived;
};

static int run(const struct scene *scene, long at, bool for_good, const char **words)
{
    memory.asked = 0;
    memory.at = at;
    memory.for_good = for_good;
    return scene_run(scene, words);
}

static void try_one(const struct scene *scene, const uint64_t states[2], long at, bool for_good,
                    struct tally *tally)
{
    const char *words = "";
    uint64_t content;
    scene_set_up(scene);
    int code = run(scene, at, for_good, &words);
    tally->tried++;
    tally->told += code == 4;
    tally->survived += code <= 1;
    if (code > 1 && code != 4)
        fail_msg("%s, allocation %ld: exit %d: %s", scene->name, at, code, words);
    if (code == 4 && strstr(words, "out of memory") == NULL)
        fail_msg("%s, allocation %ld: not told as what it is: %s", scene->name, at, words);
    if (!content_of(scene_path(disk_folder(), "store.db"), &content, &words))
        fail_msg("%s, allocation %ld: damaged: %s", scene->name, at, words);
    if (scene->start != NULL && content != states[0] && content != states[1])
        fail_msg("%s, allocation %ld: a state in between", scene->name, at);
}

static void try_scene(const struct scene *scene, long most, struct tally *all)
{
    struct tally tally = {0};
    uint64_t states[2] = {0, 0};
    const char *words = "";
    scene_set_up(scene);
    assert_true(content_of(scene_path(disk_folder(), "store.db"), &states[0], &words));
    int code = run(scene, -1, false, &words);
    if (code > 1)
        fail_msg("%s: exit %d: %s", scene->name, code, words);
    tally.total = memory.asked;
    assert_true(content_of(scene_path(disk_folder(), "store.db"), &states[1], &words));
    long step = tally.total / most + 1;
    for (long at = 0; at < tally.total; at += step)
        try_one(scene, states, at, at / step % 2 == 1, &tally);
    all->total += tally.total;
    all->tried += tally.tried;
    all->told += tally.told;
    all->survived += tally.survived;
    print_message("%s: %ld allocations, %ld of them failed in turn: %ld told, %ld survived\n", scene->name,
                  tally.total, tally.tried, tally.told, tally.survived);
}

static void every_verb(void **state)
{
    (void)state;
    const char *chosen = getenv("MALLOC_POINTS"); /* a scene; for a run of all of them */
    long most = chosen != NULL ? atol(chosen) : 200;
    struct tally all = {0};
    for (size_t i = 0; i < scene_count; i++)
        try_scene(&scenes[i], most, &all);
    for (size_t i = 0; i < sizeof more / sizeof more[0]; i++)
        try_scene(&more[i], most, &all);
    for (size_t i = 0; i < sizeof pages / sizeof pages[0]; i++)
        try_scene(&pages[i], most < 100 ? most : 100, &all);
    print_message("in all %ld allocations; %ld failed in turn: %ld told, %ld survived\n", all.total,
                  all.tried, all.told, all.survived);
    assert_true(all.told > 1000 || most < 200);
}

int main(void)
{
    sqlite3_config(SQLITE_CONFIG_GETMALLOC, &plain);
    sqlite3_mem_methods failing = plain;
    failing.xMalloc = failing_malloc;
    failing.xRealloc = failing_realloc;
    sqlite3_config(SQLITE_CONFIG_MALLOC, &failing);
    scenes_prepare();
    scenes_prepare_foreign();
    scene_watcher = count_memory;
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_verb)};
    int failures = cmocka_run_group_tests(tests, NULL, NULL);
    scenes_remove();
    return failures;
}
