/*
 * Case series: single cases for a chart that shows every case. Points carry numbers and a group, never a
 * label that names a patient or implant.
 */
#ifndef RIDGETALLY_FIGURE_CASE_SERIES_H
#define RIDGETALLY_FIGURE_CASE_SERIES_H

#include "ridgetally/base/arena.h"
#include "ridgetally/base/error.h"

#include <stdbool.h>
#include <stddef.h>

struct rt_case_point {
    double x, y;
    const char *group; /* level of the series' grouping, for example D2 or A */
    bool censored;     /* y is a limit reached, not an exact value */
};

struct rt_case_series {
    const char *name;     /* for example "depth_agreement"; see catalogue.h */
    const char *grouping; /* what group means, for example "operator" */
    struct rt_case_point *points;
    size_t count, capacity;
};

struct rt_case_series_list {
    struct rt_case_series *series;
    size_t count, capacity;
    struct rt_arena text;
};

/* Start a series of that name; the pointer is valid until the next series is added. NULL when out of memory.
 */
struct rt_case_series *rt_add_case_series(struct rt_case_series_list *list, const char *name,
                                          const char *grouping);

/* Append a point to a series of the list; group text is copied. */
enum rt_status rt_add_case_point(struct rt_case_series_list *list, struct rt_case_series *series,
                                 const struct rt_case_point *point, struct rt_error *error);

/* The series of that name, or NULL. */
const struct rt_case_series *rt_find_case_series(const struct rt_case_series_list *list, const char *name);

void rt_release_case_series(struct rt_case_series_list *list);

#endif
