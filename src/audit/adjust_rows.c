#include "ridgetally/audit/adjust_rows.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/figure/catalogue.h"
#include "ridgetally/stats/adjust.h"

#include <math.h>
#include <string.h>

static bool same_family(const struct rt_measure *a, const struct rt_measure *b)
{
    return strcmp(a->section, b->section) == 0 && strcmp(a->outcome, b->outcome) == 0;
}

/* Adjust over the rows of the family that measure stands for. p has room for every row. */
static enum rt_status adjust_family(struct rt_figure_list *list, const struct rt_measure *measure, double *p,
                                    struct rt_error *error)
{
    bool any = false;
    for (size_t i = 0; i < list->count; i++) {
        const struct rt_figure *row = &list->rows[i];
        const struct rt_measure *own =
            isnan(row->p) || !isnan(row->p_adjusted) ? NULL : rt_find_measure(row->section, row->measure);
        p[i] = own != NULL && same_family(own, measure) ? row->p : NAN;
        any = any || !isnan(p[i]);
    }
    if (!any)
        return RT_OK;
    enum rt_status status = rt_adjust_benjamini_hochberg(p, list->count, p, error);
    for (size_t i = 0; status == RT_OK && i < list->count; i++)
        if (!isnan(p[i]))
            list->rows[i].p_adjusted = p[i];
    return status;
}

/* Is the measure the first of its family? */
static bool opens_family(const struct rt_measure *measures, size_t index)
{
    for (size_t i = 0; i < index; i++)
        if (same_family(&measures[i], &measures[index]))
            return false;
    return true;
}

enum rt_status rt_adjust_rows(struct rt_figure_list *list, struct rt_error *error)
{
    size_t measure_count = 0;
    const struct rt_measure *measures = rt_measures(&measure_count);
    double *p = rt_new_array(list->count, sizeof *p);
    enum rt_status status = p != NULL ? RT_OK : rt_fail_memory(error);
    for (size_t i = 0; status == RT_OK && i < measure_count; i++)
        if (opens_family(measures, i))
            status = adjust_family(list, &measures[i], p, error);
    free(p);
    return status;
}

/* A row by reference, for sorting without moving the rows. */
struct row_reference {
    const struct rt_figure *row;
};

static int compare_references(const void *left, const void *right)
{
    const struct row_reference *a = left, *b = right;
    return rt_compare_figure_keys(a->row, b->row);
}

enum rt_status rt_check_row_keys(const struct rt_figure_list *list, struct rt_error *error)
{
    struct row_reference *order = rt_new_array(list->count, sizeof *order);
    enum rt_status status = order != NULL ? RT_OK : rt_fail_memory(error);
    for (size_t i = 0; status == RT_OK && i < list->count; i++)
        order[i].row = &list->rows[i];
    if (status == RT_OK && list->count > 0)
        qsort(order, list->count, sizeof *order, compare_references);
    for (size_t i = 1; status == RT_OK && i < list->count; i++)
        if (rt_compare_figure_keys(order[i - 1].row, order[i].row) == 0)
            status = rt_fail(error, RT_USE, "two rows with one key: %s/%s %s %.200s", order[i].row->section,
                             order[i].row->measure, order[i].row->grouping, order[i].row->level);
    free(order);
    return status;
}
