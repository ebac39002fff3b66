#include "ridgetally/figure/wording.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/base/resource.h"
#include "ridgetally/base/text.h"

#include <stdlib.h>
#include <string.h>

#define WORDING_FOLDER "reports/wording/"

/* One `key = text` entry: pointers into the embedded file. */
struct entry {
    const char *key;
    size_t key_length;
    const char *text; /* first line of the text, after the blanks behind `=` */
};

static const char *end_of_line(const char *at)
{
    const char *end = strchr(at, '\n');
    return end != NULL ? end : at + strlen(at);
}

static const char *next_line(const char *at)
{
    const char *end = end_of_line(at);
    return *end == '\n' ? end + 1 : end;
}

/* Read the entry that begins on this line; false for comments, blank lines and continuations. */
static bool read_entry(const char *line, struct entry *entry)
{
    if (*line == '#' || *line == ' ' || *line == '\n' || *line == '\0')
        return false;
    const char *end = end_of_line(line);
    const char *equals = memchr(line, '=', (size_t)(end - line));
    if (equals == NULL)
        return false;
    const char *key_end = equals;
    while (key_end > line && key_end[-1] == ' ')
        key_end--;
    const char *text = equals + 1;
    while (*text == ' ')
        text++;
    *entry = (struct entry){line, (size_t)(key_end - line), text};
    return true;
}

static bool each_entry(bool (*visit)(const struct entry *entry, void *context), void *context)
{
    size_t count = 0;
    const struct rt_resource *all = rt_resources(&count);
    for (size_t i = 0; i < count; i++) {
        if (strncmp(all[i].name, WORDING_FOLDER, strlen(WORDING_FOLDER)) != 0)
            continue;
        for (const char *line = all[i].bytes; *line != '\0'; line = next_line(line)) {
            struct entry entry = {0};
            if (read_entry(line, &entry) && !visit(&entry, context))
                return false;
        }
    }
    return true;
}

/* The first entry of a key: the texts are searched for it, not read line by line. */
static bool find_entry(const char *key, struct entry *found)
{
    size_t count = 0;
    const size_t length = strlen(key);
    const struct rt_resource *all = rt_resources(&count);
    for (size_t i = 0; i < count && length > 0; i++) {
        if (strncmp(all[i].name, WORDING_FOLDER, strlen(WORDING_FOLDER)) != 0)
            continue;
        for (const char *at = strstr(all[i].bytes, key); at != NULL; at = strstr(at + 1, key)) {
            bool begins = at == all[i].bytes || at[-1] == '\n';
            if (begins && read_entry(at, found) && found->key_length == length)
                return true;
        }
    }
    return false;
}

bool rt_has_wording(const char *key)
{
    struct entry found;
    return find_entry(key, &found);
}

static const char *join_lines(struct rt_arena *arena, const struct entry *entry)
{
    struct rt_text joined = {0};
    const char *line = entry->text;
    const char *end = end_of_line(line);
    rt_text_add_bytes(&joined, line, (size_t)(end - line));
    for (line = next_line(line); *line == ' '; line = next_line(line)) {
        while (*line == ' ')
            line++;
        end = end_of_line(line);
        rt_text_add_character(&joined, ' ');
        rt_text_add_bytes(&joined, line, (size_t)(end - line));
    }
    const char *copy = NULL;
    if (!joined.failed)
        copy = rt_arena_copy(arena, joined.bytes == NULL ? "" : joined.bytes);
    rt_text_release(&joined);
    return copy;
}

const char *rt_wording(struct rt_arena *arena, const char *key)
{
    struct entry found;
    return find_entry(key, &found) ? join_lines(arena, &found) : NULL;
}

struct rt_wordings {
    struct entry *entries; /* by key */
    size_t count, capacity;
    bool failed;
};

static bool note_entry(const struct entry *entry, void *context)
{
    struct rt_wordings *wordings = context;
    struct entry *entries =
        rt_grow_array(wordings->entries, &wordings->capacity, wordings->count + 1, sizeof *entries);
    wordings->failed = entries == NULL;
    if (entries == NULL)
        return false;
    wordings->entries = entries;
    entries[wordings->count++] = *entry;
    return true;
}

static int by_key(const void *a, const void *b)
{
    const struct entry *first = a, *second = b;
    const bool shorter = first->key_length < second->key_length;
    const int order = memcmp(first->key, second->key, shorter ? first->key_length : second->key_length);
    return order != 0 ? order : shorter ? -1 : first->key_length > second->key_length;
}

struct rt_wordings *rt_new_wordings(void)
{
    struct rt_wordings *wordings = rt_new_array(1, sizeof *wordings);
    if (wordings == NULL)
        return NULL;
    each_entry(note_entry, wordings);
    if (wordings->failed) {
        rt_release_wordings(wordings);
        return NULL;
    }
    qsort(wordings->entries, wordings->count, sizeof *wordings->entries, by_key);
    return wordings;
}

void rt_release_wordings(struct rt_wordings *wordings)
{
    if (wordings != NULL)
        free(wordings->entries);
    free(wordings);
}

const char *rt_find_wording(const struct rt_wordings *wordings, struct rt_arena *arena, const char *key,
                            bool *known)
{
    const struct entry wanted = {.key = key, .key_length = strlen(key)};
    const struct entry *found =
        bsearch(&wanted, wordings->entries, wordings->count, sizeof *wordings->entries, by_key);
    *known = found != NULL;
    return found == NULL ? NULL : join_lines(arena, found);
}

struct key_visit {
    bool (*visit)(const char *key, size_t length, void *context);
    void *context;
};

static bool visit_key(const struct entry *entry, void *context)
{
    struct key_visit *visit = context;
    return visit->visit(entry->key, entry->key_length, visit->context);
}

void rt_each_wording(bool (*visit)(const char *key, size_t length, void *context), void *context)
{
    struct key_visit keys = {visit, context};
    each_entry(visit_key, &keys);
}
