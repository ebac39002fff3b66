#include "reckon_private.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

double *rt_reckon_pick(struct rt_reckon *r, const double *values, const struct rt_reckon_group *group)
{
    double *picked = values == NULL ? NULL : rt_reckon_array(r, group->count, sizeof *picked, NULL);
    for (size_t i = 0; picked != NULL && i < group->count; i++)
        picked[i] = values[group->rows[i]];
    return picked;
}

bool *rt_reckon_pick_flags(struct rt_reckon *r, const bool *flags, const struct rt_reckon_group *group)
{
    bool *picked = flags == NULL ? NULL : rt_reckon_array(r, group->count, sizeof *picked, NULL);
    for (size_t i = 0; picked != NULL && i < group->count; i++)
        picked[i] = flags[group->rows[i]];
    return picked;
}

int *rt_reckon_pick_events(struct rt_reckon *r, const int *events, const struct rt_reckon_group *group)
{
    int *picked = events == NULL ? NULL : rt_reckon_array(r, group->count, sizeof *picked, NULL);
    for (size_t i = 0; picked != NULL && i < group->count; i++)
        picked[i] = events[group->rows[i]];
    return picked;
}

size_t *rt_reckon_pick_codes(struct rt_reckon *r, const size_t *codes, const struct rt_reckon_group *group)
{
    size_t *picked = codes == NULL ? NULL : rt_reckon_array(r, group->count, sizeof *picked, NULL);
    for (size_t i = 0; picked != NULL && i < group->count; i++)
        picked[i] = codes[group->rows[i]];
    return picked;
}

/* Clusters of one group's rows, coded afresh. renamed has clusters.count places, all 0, and is left so. */
static enum rt_status regroup_clusters(struct rt_reckon *r, struct rt_reckon_group *group, size_t *renamed,
                                       struct rt_error *error)
{
    if (r->clusters.of == NULL)
        return RT_OK;
    size_t *of = rt_reckon_array(r, group->count, sizeof *of, error);
    if (of == NULL)
        return RT_MEMORY;
    size_t count = 0;
    for (size_t i = 0; i < group->count; i++) {
        size_t *name = &renamed[r->clusters.of[group->rows[i]]];
        if (*name == 0)
            *name = ++count;
        of[i] = *name - 1;
    }
    for (size_t i = 0; i < group->count; i++)
        renamed[r->clusters.of[group->rows[i]]] = 0;
    group->clusters = (struct rt_clusters){of, count};
    return RT_OK;
}

/* Split every group by one more category. keep_empty: levels without rows stay (only for a single column). */
static enum rt_status split_groups(struct rt_reckon *r, const struct rt_reckon_category *category,
                                   bool keep_empty, struct rt_reckon_group **groups, size_t *count,
                                   struct rt_error *error)
{
    size_t levels = category->level_count;
    if (levels > 0 && *count > SIZE_MAX / levels)
        return rt_fail_memory(error);
    struct rt_reckon_group *all = rt_reckon_array(r, *count * levels, sizeof *all, error);
    size_t *fill = rt_reckon_array(r, levels, sizeof *fill, error);
    if (all == NULL || fill == NULL)
        return RT_MEMORY;
    size_t kept = 0;
    for (size_t g = 0; g < *count; g++) {
        const struct rt_reckon_group *from = &(*groups)[g];
        memset(fill, 0, levels * sizeof *fill);
        for (size_t i = 0; i < from->count; i++)
            fill[category->codes[from->rows[i]]]++;
        for (size_t level = 0; level < levels; level++) {
            if (fill[level] == 0 && !keep_empty)
                continue;
            struct rt_reckon_group *to = &all[kept++];
            to->name = from->name[0] == '\0' ? category->names[level]
                                             : rt_reckon_join(r, from->name, category->names[level]);
            to->rows = rt_reckon_array(r, fill[level], sizeof *to->rows, error);
            if (to->rows == NULL)
                return RT_MEMORY;
            for (size_t i = 0; i < from->count; i++)
                if (category->codes[from->rows[i]] == level)
                    to->rows[to->count++] = from->rows[i];
        }
    }
    *groups = all;
    *count = kept;
    return RT_OK;
}

enum rt_status rt_reckon_groups(struct rt_reckon *r, const char *option, struct rt_reckon_group **groups,
                                size_t *count, struct rt_error *error)
{
    size_t column_count = 0;
    const char *const *columns = rt_reckon_words(r, option, &column_count, error);
    *count = 1;
    *groups = rt_reckon_array(r, 1, sizeof **groups, error);
    size_t *all = rt_reckon_array(r, r->n, sizeof *all, error);
    size_t *renamed = rt_reckon_array(r, r->clusters.count, sizeof *renamed, error);
    if (columns == NULL || *groups == NULL || all == NULL || renamed == NULL)
        return RT_MEMORY;
    for (size_t i = 0; i < r->n; i++)
        all[i] = i;
    (*groups)[0] = (struct rt_reckon_group){.name = "", .rows = all, .count = r->n};
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < column_count; i++) {
        struct rt_reckon_category category;
        status = rt_reckon_category_column(r, columns[i], &category, error);
        if (status == RT_OK)
            status = split_groups(r, &category, column_count == 1, groups, count, error);
    }
    for (size_t i = 0; status == RT_OK && i < *count; i++)
        status = regroup_clusters(r, &(*groups)[i], renamed, error);
    return status;
}
