#include "ridgetally/figure/case_series.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <string.h>

struct rt_case_series *rt_add_case_series(struct rt_case_series_list *list, const char *name,
                                          const char *grouping)
{
    struct rt_case_series *all = rt_grow_array(list->series, &list->capacity, list->count + 1, sizeof *all);
    if (all == NULL)
        return NULL;
    list->series = all;
    struct rt_case_series *series = &all[list->count];
    *series = (struct rt_case_series){.name = rt_arena_copy(&list->text, name),
                                      .grouping = rt_arena_copy(&list->text, grouping)};
    if (series->name == NULL || series->grouping == NULL)
        return NULL;
    list->count++;
    return series;
}

/* Points of one group follow each other in most series: the last point's text is used again. */
static const char *group_text(struct rt_case_series_list *list, const struct rt_case_series *series,
                              const char *group)
{
    if (group == NULL)
        group = "";
    for (size_t back = 1; back <= 8 && back <= series->count; back++)
        if (strcmp(series->points[series->count - back].group, group) == 0)
            return series->points[series->count - back].group;
    return rt_arena_copy(&list->text, group);
}

enum rt_status rt_add_case_point(struct rt_case_series_list *list, struct rt_case_series *series,
                                 const struct rt_case_point *point, struct rt_error *error)
{
    if (!isfinite(point->x) || !isfinite(point->y))
        return rt_fail(error, RT_USE, "case series %s: a point without a number", series->name);
    const char *group = group_text(list, series, point->group);
    struct rt_case_point *points =
        rt_grow_array(series->points, &series->capacity, series->count + 1, sizeof *points);
    if (points != NULL)
        series->points = points;
    if (group == NULL || points == NULL)
        return rt_fail_memory(error);
    points[series->count] = *point;
    points[series->count++].group = group;
    return RT_OK;
}

const struct rt_case_series *rt_find_case_series(const struct rt_case_series_list *list, const char *name)
{
    for (size_t i = 0; i < list->count; i++)
        if (strcmp(list->series[i].name, name) == 0)
            return &list->series[i];
    return NULL;
}

void rt_release_case_series(struct rt_case_series_list *list)
{
    for (size_t i = 0; i < list->count; i++)
        free(list->series[i].points);
    free(list->series);
    rt_arena_release(&list->text);
    *list = (struct rt_case_series_list){0};
}
