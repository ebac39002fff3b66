#include "ridgetally/base/arena.h"

#include <stdalign.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum { BLOCK_BYTES = 64 * 1024 };

struct rt_arena_block {
    struct rt_arena_block *next;
    size_t used;
    size_t size;
    alignas(max_align_t) unsigned char bytes[];
};

void *rt_arena_new(struct rt_arena *arena, size_t size)
{
    const size_t step = alignof(max_align_t);
    if (size > SIZE_MAX - 2 * BLOCK_BYTES)
        return NULL;
    size_t rounded = (size + step - 1) / step * step;
    struct rt_arena_block *block = arena->blocks;
    if (block == NULL || block->size - block->used < rounded) {
        size_t room = rounded > BLOCK_BYTES ? rounded : (size_t)BLOCK_BYTES;
        block = malloc(sizeof *block + room);
        if (block == NULL)
            return NULL;
        *block = (struct rt_arena_block){.next = arena->blocks, .size = room};
        arena->blocks = block;
    }
    void *bytes = block->bytes + block->used;
    block->used += rounded;
    memset(bytes, 0, rounded);
    return bytes;
}

const char *rt_arena_copy(struct rt_arena *arena, const char *text)
{
    if (text == NULL)
        return NULL;
    size_t size = strlen(text) + 1;
    char *copy = rt_arena_new(arena, size);
    if (copy != NULL)
        memcpy(copy, text, size);
    return copy;
}

void rt_arena_join(struct rt_arena *arena, struct rt_arena *other)
{
    struct rt_arena_block *last = other->blocks;
    if (last == NULL)
        return;
    while (last->next != NULL)
        last = last->next;
    if (arena->blocks == NULL) {
        arena->blocks = other->blocks;
    } else { /* behind the newest one, which has room left */
        last->next = arena->blocks->next;
        arena->blocks->next = other->blocks;
    }
    other->blocks = NULL;
}

void rt_arena_release(struct rt_arena *arena)
{
    struct rt_arena_block *block = arena->blocks;
    while (block != NULL) {
        struct rt_arena_block *next = block->next;
        free(block);
        block = next;
    }
    arena->blocks = NULL;
}
