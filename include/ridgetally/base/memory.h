/*
 * Checked allocation. Sizes are counts times element size and are checked for overflow; a failed request
 * returns NULL and the caller reports RT_MEMORY. free() releases all of these.
 */
#ifndef RIDGETALLY_BASE_MEMORY_H
#define RIDGETALLY_BASE_MEMORY_H

#include <stddef.h>
#include <stdlib.h>

/* count elements of size bytes, zeroed. A count of 0 still gives a unique pointer. NULL when out of memory.
 */
void *rt_new_array(size_t count, size_t size);

/* Resize block to count elements of size bytes; new bytes are not zeroed. On failure NULL, block stays valid.
 */
void *rt_resize_array(void *block, size_t count, size_t size);

/* Make room for at least `needed` elements in a growable array kept as (*items, *capacity). Doubles. Returns
 * the (possibly moved) items, or NULL when out of memory, leaving *capacity and the old block as they were.
 */
void *rt_grow_array(void *items, size_t *capacity, size_t needed, size_t size);

/* Have freed memory kept for the next request instead of handed back to the system, which clears every page again. For a program
 * that ends soon; call before anything is allocated. */
void rt_keep_freed_memory(void);

/* A copy of text; NULL in gives NULL out; NULL when out of memory. */
char *rt_copy_text(const char *text);

#endif
