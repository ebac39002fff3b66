#include "row_index.h"

#include "ridgetally/base/memory.h"

#include <stdint.h>

static size_t head_of(const char *measure)
{
    uint32_t hash = 2166136261u;
    for (; *measure != '\0'; measure++)
        hash = (hash ^ (unsigned char)*measure) * 16777619u;
    return hash % ROW_INDEX_HEADS;
}

enum rt_status make_row_index(struct row_index *index, const struct rt_figure_list *figures,
                              struct rt_error *error)
{
    *index = (struct row_index){.figures = figures, .next = rt_new_array(figures->count + 1, sizeof(size_t))};
    if (index->next == NULL)
        return rt_fail_memory(error);
    for (size_t i = figures->count; i-- > 0;) {
        const size_t head = head_of(figures->rows[i].measure);
        index->next[i] = index->head[head];
        index->head[head] = i + 1;
    }
    return RT_OK;
}

void release_row_index(struct row_index *index)
{
    free(index->next);
    index->next = NULL;
}

size_t next_place(const struct row_index *index, const struct rt_figure_list *figures, const char *measure,
                  size_t at)
{
    if (index == NULL || at >= figures->count)
        return at;
    const size_t head = head_of(measure);
    size_t place = index->head[head];
    if (at > 0 && head_of(figures->rows[at - 1].measure) == head)
        place = index->next[at - 1]; /* on from the row found last */
    while (place != 0 && place - 1 < at)
        place = index->next[place - 1];
    return place == 0 ? figures->count : place - 1;
}
