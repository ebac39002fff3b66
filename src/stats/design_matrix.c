#include "ridgetally/stats/design_matrix.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/base/text.h"

#include <string.h>

/* One source column: a number, or a category with the levels that have rows. */
struct variable {
    const struct rt_number_column *number; /* or */
    const struct rt_category_column *category;
    size_t *level; /* of a category: levels with rows; the first is the reference */
    size_t width;  /* columns it gives */
};

struct builder {
    const struct rt_design_columns *columns;
    struct variable *variables;
    size_t count; /* variables */
    struct rt_design *design;
    size_t next; /* column to be filled */
};

static double value_of(const struct variable *variable, size_t row, size_t which)
{
    if (variable->number != NULL)
        return variable->number->values[row];
    return variable->category->codes[row] == variable->level[which + 1] ? 1.0 : 0.0;
}

static void add_escaped(struct rt_text *text, const char *name)
{
    for (const char *at = name; *at != '\0'; at++) {
        if (*at == '|' || *at == '=' || *at == '\\')
            rt_text_add_character(text, '\\');
        rt_text_add_character(text, *at);
    }
}

static void add_name(struct rt_text *text, const struct variable *variable, size_t which)
{
    if (variable->number != NULL) {
        add_escaped(text, variable->number->name);
        return;
    }
    add_escaped(text, variable->category->name);
    rt_text_add(text, "=");
    add_escaped(text, variable->category->levels[variable->level[which + 1]]);
}

static enum rt_status count_levels(const struct rt_category_column *category, size_t n,
                                   struct variable *variable, struct rt_error *error)
{
    size_t *rows = rt_new_array(category->level_count, sizeof *rows);
    variable->level = rt_new_array(category->level_count, sizeof *variable->level);
    if (rows == NULL || variable->level == NULL) {
        free(rows);
        return rt_fail_memory(error);
    }
    for (size_t i = 0; i < n; i++) {
        if (category->codes[i] >= category->level_count) {
            free(rows);
            return rt_fail(error, RT_USE, "a code of '%.60s' is not below the number of levels",
                           category->name);
        }
        rows[category->codes[i]]++;
    }
    size_t used = 0;
    for (size_t level = 0; level < category->level_count; level++)
        if (rows[level] > 0)
            variable->level[used++] = level;
    variable->width = used > 0 ? used - 1 : 0;
    free(rows);
    return RT_OK;
}

static enum rt_status describe_variables(struct builder *b, struct rt_error *error)
{
    const struct rt_design_columns *columns = b->columns;
    b->count = columns->number_count + columns->category_count;
    b->variables = rt_new_array(b->count, sizeof *b->variables);
    if (b->variables == NULL)
        return rt_fail_memory(error);
    for (size_t j = 0; j < columns->number_count; j++)
        b->variables[j] = (struct variable){.number = &columns->numbers[j], .width = 1};
    for (size_t j = 0; j < columns->category_count; j++) {
        struct variable *variable = &b->variables[columns->number_count + j];
        variable->category = &columns->categories[j];
        enum rt_status status = count_levels(variable->category, columns->n, variable, error);
        if (status != RT_OK)
            return status;
    }
    for (size_t j = 0; j < columns->product_count; j++)
        if (columns->products[j].a >= b->count || columns->products[j].b >= b->count ||
            columns->products[j].a == columns->products[j].b)
            return rt_fail(error, RT_USE, "a product needs two different columns of the model");
    return RT_OK;
}

static size_t count_columns(const struct builder *b)
{
    size_t p = b->columns->without_intercept ? 0 : 1;
    for (size_t v = 0; v < b->count; v++)
        p += b->variables[v].width;
    for (size_t j = 0; j < b->columns->product_count; j++)
        p += b->variables[b->columns->products[j].a].width * b->variables[b->columns->products[j].b].width;
    return p;
}

/* The column of `a`, times that of `b` unless b is NULL. */
static enum rt_status add_column(struct builder *b, const struct variable *first, size_t which_first,
                                 const struct variable *second, size_t which_second, size_t source,
                                 struct rt_error *error)
{
    struct rt_design *design = b->design;
    struct rt_text name = {0};
    if (first == NULL)
        rt_text_add(&name, "intercept");
    else
        add_name(&name, first, which_first);
    if (second != NULL) {
        rt_text_add(&name, " x ");
        add_name(&name, second, which_second);
    }
    for (size_t i = 0; i < design->n; i++) {
        double value = first == NULL ? 1.0 : value_of(first, i, which_first);
        if (second != NULL)
            value *= value_of(second, i, which_second);
        design->x[i * design->p + b->next] = value;
    }
    enum rt_status status = rt_text_status(&name, error);
    design->terms[b->next] = rt_text_detach(&name);
    design->source[b->next] = source;
    b->next++;
    return status;
}

static enum rt_status fill_columns(struct builder *b, struct rt_error *error)
{
    enum rt_status status = RT_OK;
    if (!b->columns->without_intercept)
        status = add_column(b, NULL, 0, NULL, 0, RT_NO_COLUMN, error);
    for (size_t v = 0; v < b->count; v++)
        for (size_t k = 0; status == RT_OK && k < b->variables[v].width; k++)
            status = add_column(b, &b->variables[v], k, NULL, 0, v, error);
    for (size_t j = 0; j < b->columns->product_count; j++) {
        const struct variable *first = &b->variables[b->columns->products[j].a];
        const struct variable *second = &b->variables[b->columns->products[j].b];
        for (size_t k = 0; k < first->width; k++)
            for (size_t l = 0; status == RT_OK && l < second->width; l++)
                status = add_column(b, first, k, second, l, b->count + j, error);
    }
    return status;
}

enum rt_status rt_design_build(struct rt_design *design, const struct rt_design_columns *columns,
                               struct rt_error *error)
{
    *design = (struct rt_design){.n = columns->n};
    struct builder b = {.columns = columns, .design = design};
    enum rt_status status = describe_variables(&b, error);
    if (status == RT_OK) {
        design->p = count_columns(&b);
        design->x = rt_new_array(design->n * design->p, sizeof *design->x);
        design->terms = rt_new_array(design->p, sizeof *design->terms);
        design->source = rt_new_array(design->p, sizeof *design->source);
        if (design->x == NULL || design->terms == NULL || design->source == NULL)
            status = rt_fail_memory(error);
        else
            status = fill_columns(&b, error);
    }
    for (size_t v = 0; b.variables != NULL && v < b.count; v++)
        free(b.variables[v].level);
    free(b.variables);
    if (status != RT_OK)
        rt_design_release(design);
    return status;
}

void rt_design_release(struct rt_design *design)
{
    for (size_t j = 0; design->terms != NULL && j < design->p; j++)
        free(design->terms[j]);
    free(design->terms);
    free(design->x);
    free(design->source);
    *design = (struct rt_design){0};
}

size_t rt_design_find(const struct rt_design *design, const char *term)
{
    for (size_t j = 0; j < design->p; j++)
        if (strcmp(design->terms[j], term) == 0)
            return j;
    return RT_NO_COLUMN;
}
