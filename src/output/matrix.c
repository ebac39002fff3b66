/* Tables of a two-way grouping with one of its groupings across: a curve of each class side by side, quarters down and operators
 * across. A tenth of the paper that a row a level takes. */
#include "plan.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_COLUMNS = 8 }; /* of figures, beside the labels */

/* One row: a row of the figures that stands for it, and its level without the part that goes across. */
struct line {
    const struct rt_figure *figure;
    const char *rest;
};

struct matrix {
    const struct plan *plan;
    struct key key;
    size_t part; /* of grouping and level, which goes across */
    struct line *lines;
    size_t line_count;
    const char *groups[MOST_COLUMNS];
    size_t group_count;
    bool too_wide;
};

/* A joined text without one of its parts. */
static const char *without_part(const struct plan *plan, const char *joined, size_t part)
{
    const char *rest = "";
    for (size_t i = 0; level_part(plan, joined, i)[0] != '\0'; i++)
        if (i != part)
            rest = rt_document_text(plan->document, "%s%s%s", rest, rest[0] == '\0' ? "" : "|",
                                    level_part(plan, joined, i));
    return rest;
}

static bool same_time(double a, double b)
{
    return isnan(a) ? isnan(b) : a == b;
}

static void note_group(struct matrix *matrix, const char *group)
{
    for (size_t i = 0; i < matrix->group_count; i++)
        if (strcmp(matrix->groups[i], group) == 0)
            return;
    matrix->too_wide = matrix->too_wide || matrix->group_count == MOST_COLUMNS;
    if (!matrix->too_wide)
        matrix->groups[matrix->group_count++] = group;
}

static void note_line(struct matrix *matrix, const struct rt_figure *row)
{
    const char *rest = without_part(matrix->plan, row->level, matrix->part);
    for (size_t i = 0; i < matrix->line_count; i++)
        if (strcmp(matrix->lines[i].rest, rest) == 0 && same_time(matrix->lines[i].figure->at, row->at))
            return;
    matrix->lines[matrix->line_count++] = (struct line){row, rest};
}

/* By time, or by level where levels are dates or quarters. */
static int compare_lines(const void *a, const void *b)
{
    const struct line *p = a;
    const struct line *q = b;
    if (!isnan(p->figure->at) && !isnan(q->figure->at))
        return (p->figure->at > q->figure->at) - (p->figure->at < q->figure->at);
    return strcmp(p->rest, q->rest);
}

static bool is_sortable(const struct matrix *matrix)
{
    for (size_t i = 0; i < matrix->line_count; i++)
        if (isnan(matrix->lines[i].figure->at) &&
            (matrix->lines[i].rest[0] < '0' || matrix->lines[i].rest[0] > '9'))
            return false;
    return true;
}

/* What heads the row: the words of its level without the part that goes across. */
static const char *line_words(const struct matrix *matrix, const struct line *line)
{
    struct rt_figure row = *line->figure;
    row.grouping = without_part(matrix->plan, row.grouping, matrix->part);
    row.level = line->rest;
    return row_words(matrix->plan, &row);
}

/* The row of a line and a group, for a measure. */
static const struct rt_figure *cell_of(const struct matrix *matrix, const struct line *line,
                                       const char *group, const struct level_column *column)
{
    struct key key = matrix->key;
    key.measure = column->measure;
    size_t at = 0;
    for (const struct rt_figure *row = next_row(matrix->plan, key, &at); row != NULL;
         row = next_row(matrix->plan, key, &at))
        if (same_time(row->at, line->figure->at) &&
            strcmp(level_part(matrix->plan, row->level, matrix->part), group) == 0 &&
            strcmp(without_part(matrix->plan, row->level, matrix->part), line->rest) == 0)
            return row;
    return NULL;
}

static void add_columns(const struct matrix *matrix, struct rt_table *table,
                        const struct level_column *columns, size_t count)
{
    struct rt_document *document = matrix->plan->document;
    const char *grouping = level_part(matrix->plan, matrix->key.grouping, matrix->part);
    for (size_t g = 0; g < matrix->group_count; g++)
        for (size_t i = 0; i < count; i++)
            rt_add_named_column(document, table,
                                rt_document_text(document, "%s: %s",
                                                 level_words(matrix->plan, grouping, matrix->groups[g]),
                                                 rt_document_words(document, columns[i].heading)),
                                columns[i].part);
}

static void add_lines(const struct matrix *matrix, struct rt_table *table, const struct level_column *columns,
                      size_t count)
{
    for (size_t l = 0; l < matrix->line_count; l++) {
        const struct line *line = &matrix->lines[l];
        struct rt_table_row *row = rt_add_row(matrix->plan->document, table, line_words(matrix, line));
        for (size_t g = 0; g < matrix->group_count; g++)
            for (size_t i = 0; i < count; i++)
                rt_add_figure_cell(matrix->plan->document, row,
                                   cell_of(matrix, line, matrix->groups[g], &columns[i]));
    }
}

void add_matrix_table(const struct plan *plan, struct rt_block *block, const char *caption,
                      const char *row_heading, struct key key, size_t part, const char *long_row_heading,
                      const struct level_column *columns, size_t count)
{
    struct matrix matrix = {.plan = plan, .key = key, .part = part};
    matrix.key.measure = columns[0].measure;
    matrix.lines = rt_new_array(plan->figures->count + 1, sizeof *matrix.lines);
    if (matrix.lines == NULL) {
        plan->document->out_of_memory = true;
        return;
    }
    size_t at = 0;
    for (const struct rt_figure *row = next_row(plan, matrix.key, &at); row != NULL;
         row = next_row(plan, matrix.key, &at)) {
        if (is_void(row))
            continue;
        note_group(&matrix, level_part(plan, row->level, part));
        note_line(&matrix, row);
    }
    if (matrix.too_wide || matrix.group_count < 2 || matrix.group_count * count > MOST_COLUMNS) {
        add_level_table(plan, block, caption, long_row_heading, key, columns, count);
    } else {
        if (is_sortable(&matrix))
            qsort(matrix.lines, matrix.line_count, sizeof *matrix.lines, compare_lines);
        struct rt_table *table = rt_add_table(plan->document, block, caption, row_heading);
        add_columns(&matrix, table, columns, count);
        add_lines(&matrix, table, columns, count);
    }
    free(matrix.lines);
}
