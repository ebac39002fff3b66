#include "ridgetally/base/memory.h"

#include <stdint.h>
#include <string.h>
#include <sys/mman.h>

#ifdef __GLIBC__
#include <malloc.h>
#endif

/* A large array is walked in an order of its own (by time, by patient): in pages of 4 KiB, whose places the processor has to look
 * up again and again, that takes several times as long as it does in pages of 2 MiB. Asking for those before the array is first
 * written costs nothing; a system that has none leaves everything as it is. */
static void ask_for_large_pages(void *block, size_t bytes)
{
#ifdef MADV_HUGEPAGE
    const uintptr_t page = (uintptr_t)2 * 1024 * 1024;
    const uintptr_t begin = ((uintptr_t)block + page - 1) / page * page;
    const uintptr_t end = ((uintptr_t)block + bytes) / page * page;
    if (block != NULL && bytes >= 2 * page && begin < end)
        (void)madvise((void *)begin, end - begin, MADV_HUGEPAGE);
#else
    (void)block;
    (void)bytes;
#endif
}

void *rt_new_array(size_t count, size_t size)
{
    void *block = calloc(count == 0 ? 1 : count, size == 0 ? 1 : size);
    ask_for_large_pages(block, block == NULL ? 0 : count * size);
    return block;
}

void *rt_resize_array(void *block, size_t count, size_t size)
{
    if (count == 0)
        count = 1;
    if (size != 0 && count > SIZE_MAX / size)
        return NULL;
    void *moved = realloc(block, count * size);
    ask_for_large_pages(moved, count * size);
    return moved;
}

void *rt_grow_array(void *items, size_t *capacity, size_t needed, size_t size)
{
    if (needed <= *capacity && items != NULL)
        return items;
    size_t wanted = *capacity < 8 ? 8 : *capacity;
    while (wanted < needed) {
        if (wanted > SIZE_MAX / 2)
            return NULL;
        wanted *= 2;
    }
    void *moved = rt_resize_array(items, wanted, size);
    if (moved != NULL)
        *capacity = wanted;
    return moved;
}

char *rt_copy_text(const char *text)
{
    if (text == NULL)
        return NULL;
    size_t size = strlen(text) + 1;
    char *copy = malloc(size);
    if (copy != NULL)
        memcpy(copy, text, size);
    return copy;
}

void rt_keep_freed_memory(void)
{
#ifdef __GLIBC__
    const int mib = 1024 * 1024;
    /* the most glibc takes, and what it settles on by itself after a while */
    (void)mallopt(M_MMAP_THRESHOLD, 32 * mib);
    (void)mallopt(M_TRIM_THRESHOLD, 64 * mib);
    (void)mallopt(M_TOP_PAD, mib);
#endif
}
