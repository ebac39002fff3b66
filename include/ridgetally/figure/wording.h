/*
 * The words of the reports: sentences, headings and labels by key, read from reports/wording/ (embedded).
 *
 * A file holds lines `key = text`; a line that begins with a space continues the text above; `#` begins a
 * comment line. Text may hold slots: `{name}` stands for text, `{name.part}` for a part of a figure row bound
 * under that name (parts: see rt_slot_part in document.h). There is nothing else: no conditions, no loops.
 */
#ifndef RIDGETALLY_FIGURE_WORDING_H
#define RIDGETALLY_FIGURE_WORDING_H

#include "ridgetally/base/arena.h"

#include <stdbool.h>
#include <stddef.h>

/* The text of key, copied into arena with its lines joined by one space; NULL when there is no such key or memory
 * ran out (rt_has_wording tells which). */
const char *rt_wording(struct rt_arena *arena, const char *key);

/* True when there is a wording of that key. */
bool rt_has_wording(const char *key);

/* All wordings by key, for who asks for hundreds; no key is there twice. NULL when out of memory; release with rt_release_wordings
 * (NULL: nothing to do). */
struct rt_wordings;
struct rt_wordings *rt_new_wordings(void);
void rt_release_wordings(struct rt_wordings *wordings);

/* As rt_wording; *known says whether there is such a key. */
const char *rt_find_wording(const struct rt_wordings *wordings, struct rt_arena *arena, const char *key,
                            bool *known);

/* Call visit with every key in file order until it returns false. For tests and for lists of notes. The key
 * is not NUL-terminated. */
void rt_each_wording(bool (*visit)(const char *key, size_t length, void *context), void *context);

#endif
