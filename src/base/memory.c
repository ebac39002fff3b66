#include "ridgetally/base/memory.h"

#include <stdint.h>
#include <string.h>

void *rt_new_array(size_t count, size_t size)
{
    return calloc(count == 0 ? 1 : count, size == 0 ? 1 : size);
}

void *rt_resize_array(void *block, size_t count, size_t size)
{
    if (count == 0)
        count = 1;
    if (size != 0 && count > SIZE_MAX / size)
        return NULL;
    return realloc(block, count * size);
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
