/*
 * Arena: many small strings and structs with one lifetime. Nothing in an arena is freed alone; releasing the
 * arena frees all of it.
 */
#ifndef RIDGETALLY_BASE_ARENA_H
#define RIDGETALLY_BASE_ARENA_H

#include <stddef.h>

struct rt_arena_block;

struct rt_arena {
    struct rt_arena_block *blocks; /* newest first; zero-initialise the struct to start */
};

/* size zeroed bytes aligned for any type, or NULL when out of memory. */
void *rt_arena_new(struct rt_arena *arena, size_t size);

/* A copy of text owned by the arena; NULL in gives NULL out. */
const char *rt_arena_copy(struct rt_arena *arena, const char *text);

/* Let `arena` own what `other` owns, where it stands; other is empty afterwards. */
void rt_arena_join(struct rt_arena *arena, struct rt_arena *other);

/* Free everything and leave the arena empty and usable. */
void rt_arena_release(struct rt_arena *arena);

#endif
