#include "ridgetally/figure/figure.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <string.h>

struct rt_figure rt_empty_figure(void)
{
    return (struct rt_figure){.section = "",
                              .measure = "",
                              .grouping = "",
                              .level = "",
                              .at = NAN,
                              .n_implants = RT_NO_COUNT,
                              .n_patients = RT_NO_COUNT,
                              .n_events = RT_NO_COUNT,
                              .n_due = RT_NO_COUNT,
                              .value = NAN,
                              .lower = NAN,
                              .upper = NAN,
                              .p = NAN,
                              .p_adjusted = NAN,
                              .unit = "",
                              .baseline = "",
                              .site = "",
                              .unit_of_analysis = "",
                              .method = "",
                              .state = RT_FIGURE_OK,
                              .remark = "",
                              .event_patients = RT_NO_COUNT,
                              .other_patients = RT_NO_COUNT,
                              .other_implants = RT_NO_COUNT};
}

/* The row's text members, so that copying and comparing need not name each one again. */
static void text_members(struct rt_figure *row, const char ***members)
{
    members[0] = &row->section;
    members[1] = &row->measure;
    members[2] = &row->grouping;
    members[3] = &row->level;
    members[4] = &row->unit;
    members[5] = &row->baseline;
    members[6] = &row->site;
    members[7] = &row->unit_of_analysis;
    members[8] = &row->method;
    members[9] = &row->remark;
}
enum { TEXT_MEMBERS = 10 };

/* before: the row added last, whose texts this one shares where they are the same, as they mostly are; or NULL. */
static bool copy_text_members(struct rt_figure *row, struct rt_figure *before, struct rt_arena *arena)
{
    const char **members[TEXT_MEMBERS], **shared[TEXT_MEMBERS];
    text_members(row, members);
    if (before != NULL)
        text_members(before, shared);
    for (size_t i = 0; i < TEXT_MEMBERS; i++) {
        if (*members[i] == NULL || **members[i] == '\0') {
            *members[i] = "";
            continue;
        }
        if (before != NULL && strcmp(*members[i], *shared[i]) == 0) {
            *members[i] = *shared[i];
            continue;
        }
        *members[i] = rt_arena_copy(arena, *members[i]);
        if (*members[i] == NULL)
            return false;
    }
    return true;
}

enum rt_status rt_add_figure(struct rt_figure_list *list, const struct rt_figure *row, struct rt_error *error)
{
    if (isinf(row->at) || isinf(row->value) || isinf(row->lower) || isinf(row->upper) || isinf(row->p) ||
        isinf(row->p_adjusted))
        return rt_fail(error, RT_USE, "figure %s/%s: an infinite number", row->section, row->measure);
    struct rt_figure *rows = rt_grow_array(list->rows, &list->capacity, list->count + 1, sizeof *rows);
    if (rows == NULL)
        return rt_fail_memory(error);
    list->rows = rows;
    rows[list->count] = *row;
    if (!copy_text_members(&rows[list->count], list->count > 0 ? &rows[list->count - 1] : NULL, &list->text))
        return rt_fail_memory(error);
    list->count++;
    return RT_OK;
}

enum rt_status rt_move_figures(struct rt_figure_list *list, struct rt_figure_list *other,
                               struct rt_error *error)
{
    enum rt_status status = RT_OK;
    if (other->count > 0) {
        struct rt_figure *rows =
            rt_grow_array(list->rows, &list->capacity, list->count + other->count, sizeof *rows);
        if (rows == NULL) {
            status = rt_fail_memory(error);
        } else {
            list->rows = rows;
            memcpy(rows + list->count, other->rows, other->count * sizeof *rows);
            list->count += other->count;
            rt_arena_join(&list->text, &other->text);
        }
    }
    rt_release_figures(other);
    return status;
}

static bool text_matches(const char *wanted, const char *found)
{
    return wanted == NULL || strcmp(wanted, found) == 0;
}

const struct rt_figure *rt_find_figure(const struct rt_figure_list *list, const struct rt_figure *key)
{
    for (size_t i = 0; i < list->count; i++) {
        const struct rt_figure *row = &list->rows[i];
        if (text_matches(key->measure, row->measure) && text_matches(key->section, row->section) &&
            text_matches(key->grouping, row->grouping) && text_matches(key->level, row->level) &&
            (isnan(key->at) || key->at == row->at) && text_matches(key->baseline, row->baseline) &&
            text_matches(key->site, row->site) && text_matches(key->unit_of_analysis, row->unit_of_analysis))
            return row;
    }
    return NULL;
}

int rt_compare_figure_keys(const struct rt_figure *a, const struct rt_figure *b)
{
    const char *const of_a[] = {a->section,  a->measure, a->grouping,        a->level,
                                a->baseline, a->site,    a->unit_of_analysis};
    const char *const of_b[] = {b->section,  b->measure, b->grouping,        b->level,
                                b->baseline, b->site,    b->unit_of_analysis};
    for (size_t i = 0; i < sizeof of_a / sizeof of_a[0]; i++) {
        int order = strcmp(of_a[i], of_b[i]);
        if (order != 0)
            return order;
    }
    if (isnan(a->at) || isnan(b->at))
        return (isnan(b->at) ? 1 : 0) - (isnan(a->at) ? 1 : 0);
    return (a->at > b->at) - (a->at < b->at);
}

const char *rt_figure_state_name(enum rt_figure_state state)
{
    switch (state) {
    case RT_FIGURE_OK:
        return "ok";
    case RT_FIGURE_TOO_FEW:
        return "too_few";
    case RT_FIGURE_UNDEFINED:
        return "undefined";
    case RT_FIGURE_WITHHELD:
        return "withheld";
    }
    return "undefined";
}

void rt_release_figures(struct rt_figure_list *list)
{
    free(list->rows);
    rt_arena_release(&list->text);
    *list = (struct rt_figure_list){0};
}
