#include "reckon_private.h"

#include "ridgetally/base/number.h"

#include <string.h>

/* Does this option of this call name columns, and which? *count 0 when not given. */
static const char *const *named_columns(struct rt_reckon *r, const struct rt_reckon_option *option,
                                        size_t *count, struct rt_error *error)
{
    const char *text = rt_reckon_text(r, option->name);
    double number = 0;
    *count = 0;
    if (text == NULL || !rt_option_names_columns(option->kind) ||
        (option->kind == RT_OPTION_NUMBER_OR_COLUMN && rt_parse_number(text, &number)))
        return rt_reckon_array(r, 1, sizeof(const char *), error);
    if (option->kind == RT_OPTION_NUMBERS_COLUMNS || option->kind == RT_OPTION_CATEGORIES_COLUMNS)
        return rt_split_words(r, text, count, error);
    const char **list = rt_reckon_array(r, 1, sizeof *list, error);
    if (list != NULL)
        list[(*count)++] = text;
    return list;
}

static enum rt_status mark_needed(struct rt_reckon *r, bool *needed, struct rt_error *error)
{
    for (const struct rt_reckon_option *option = r->method->options; option->name != NULL; option++) {
        size_t count = 0;
        const char *const *names = named_columns(r, option, &count, error);
        if (names == NULL)
            return RT_MEMORY;
        for (size_t i = 0; i < count; i++) {
            size_t column = 0;
            if (rt_find_column(&r->table, names[i], &column, error) != RT_OK)
                return RT_INPUT;
            needed[column] = true;
        }
    }
    return RT_OK;
}

static void remark_left_out(struct rt_reckon *r, const bool *needed, const size_t *empty)
{
    struct rt_text text = {0};
    for (size_t column = 0; column < r->table.column_count; column++)
        if (needed[column] && empty[column] > 0)
            rt_text_format(&text, "%s%.40s (%zu)", text.length == 0 ? "" : ", ",
                           rt_table_name(&r->table, column), empty[column]);
    if (!text.failed && r->n < r->table.row_count)
        rt_reckon_remark(r, "%zu of %zu rows left out, empty cell in %.300s", r->table.row_count - r->n,
                         r->table.row_count, text.bytes);
    rt_text_release(&text);
}

enum rt_status rt_reckon_clusters(struct rt_reckon *r, const char *option, struct rt_clusters *clusters,
                                  struct rt_error *error)
{
    const char **cells = NULL;
    *clusters = (struct rt_clusters){0};
    if (rt_reckon_text(r, option) == NULL)
        return RT_OK;
    enum rt_status status = rt_reckon_cells(r, option, &cells, error);
    size_t *codes = status == RT_OK ? rt_reckon_array(r, r->n, sizeof *codes, error) : NULL;
    if (codes == NULL)
        return status == RT_OK ? RT_MEMORY : status;
    const char **distinct = NULL;
    clusters->of = codes;
    return rt_code_texts(r, cells, r->n, codes, &distinct, &clusters->count, error);
}

static bool is_complete(struct rt_reckon *r, size_t row, const bool *needed, size_t *empty)
{
    bool complete = true;
    for (size_t column = 0; column < r->table.column_count; column++) {
        if (needed[column] && rt_table_cell(&r->table, row, column)[0] == '\0') {
            complete = false;
            empty[column]++;
        }
    }
    return complete;
}

enum rt_status rt_select_rows(struct rt_reckon *r, struct rt_error *error)
{
    bool *needed = rt_reckon_array(r, r->table.column_count, sizeof *needed, error);
    size_t *empty = rt_reckon_array(r, r->table.column_count, sizeof *empty, error);
    r->rows = rt_reckon_array(r, r->table.row_count, sizeof *r->rows, error);
    if (needed == NULL || empty == NULL || r->rows == NULL)
        return RT_MEMORY;
    /* without a file mark_needed finds no column, and the one row of numbers is complete */
    enum rt_status status = mark_needed(r, needed, error);
    if (status == RT_OK)
        status = rt_check_levels(r, error);
    if (status != RT_OK)
        return status;
    for (size_t row = 0; row < r->table.row_count; row++)
        if (is_complete(r, row, needed, empty))
            r->rows[r->n++] = row;
    remark_left_out(r, needed, empty);
    return rt_reckon_clusters(r, "--cluster", &r->clusters, error);
}

enum rt_status rt_reckon_fail_cell(struct rt_reckon *r, size_t row, const char *column, const char *what,
                                   const char *remedy, struct rt_error *error)
{
    size_t at = 0;
    struct rt_error ignored = {0};
    bool found = rt_find_column(&r->table, column, &at, &ignored) == RT_OK;
    rt_fail(error, RT_INPUT, "'%.40s' %s", found ? rt_table_cell(&r->table, r->rows[row], at) : "", what);
    rt_error_locate(error, r->file, rt_table_line(&r->table, r->rows[row]), column);
    rt_error_remedy(error, "%s", remedy);
    return RT_INPUT;
}

/* The column a one-column option names; *column is table.column_count when the option was not given. */
static enum rt_status column_of(struct rt_reckon *r, const char *option, size_t *column,
                                struct rt_error *error)
{
    const char *name = rt_reckon_text(r, option);
    *column = r->table.column_count;
    return name == NULL ? RT_OK : rt_find_column(&r->table, name, column, error);
}

enum rt_status rt_reckon_number_column(struct rt_reckon *r, const char *column, double **values,
                                       struct rt_error *error)
{
    size_t at = 0;
    enum rt_status status = rt_find_column(&r->table, column, &at, error);
    *values = status == RT_OK ? rt_reckon_array(r, r->n, sizeof **values, error) : NULL;
    if (*values == NULL)
        return status == RT_OK ? RT_MEMORY : status;
    for (size_t i = 0; i < r->n; i++)
        if (!rt_parse_number(rt_table_cell(&r->table, r->rows[i], at), &(*values)[i]))
            return rt_reckon_fail_cell(r, i, column, "is not a number",
                                       "write digits with a decimal point, or leave the cell empty", error);
    return RT_OK;
}

enum rt_status rt_reckon_numbers(struct rt_reckon *r, const char *option, double **values,
                                 struct rt_error *error)
{
    const char *text = rt_reckon_text(r, option);
    const struct rt_reckon_option *declared = rt_find_option(r->method, option);
    double number = 0;
    *values = NULL;
    if (text == NULL)
        return RT_OK;
    if (declared == NULL || declared->kind != RT_OPTION_NUMBER_OR_COLUMN || !rt_parse_number(text, &number))
        return rt_reckon_number_column(r, text, values, error);
    *values = rt_reckon_array(r, r->n, sizeof **values, error);
    for (size_t i = 0; *values != NULL && i < r->n; i++)
        (*values)[i] = number;
    return *values == NULL ? RT_MEMORY : RT_OK;
}

enum rt_status rt_reckon_capped_numbers(struct rt_reckon *r, const char *option, double **values,
                                        bool **capped, struct rt_error *error)
{
    const char **cells = NULL;
    bool any = false;
    *values = NULL;
    *capped = NULL;
    enum rt_status status = rt_reckon_cells(r, option, &cells, error);
    if (status != RT_OK || cells == NULL)
        return status;
    *values = rt_reckon_array(r, r->n, sizeof **values, error);
    *capped = rt_reckon_array(r, r->n, sizeof **capped, error);
    if (*values == NULL || *capped == NULL)
        return RT_MEMORY;
    for (size_t i = 0; i < r->n; i++) {
        if (!rt_parse_capped_number(cells[i], &(*values)[i], &(*capped)[i]))
            return rt_reckon_fail_cell(r, i, rt_reckon_text(r, option), "is not a number nor a limit reached",
                                       "write 70, or >70 for a limit of 70, or leave the cell empty", error);
        any |= (*capped)[i];
    }
    if (!any)
        *capped = NULL;
    return RT_OK;
}

enum rt_status rt_reckon_counts(struct rt_reckon *r, const char *option, double **counts,
                                struct rt_error *error)
{
    enum rt_status status = rt_reckon_numbers(r, option, counts, error);
    for (size_t i = 0; status == RT_OK && *counts != NULL && i < r->n; i++)
        if (!((*counts)[i] >= 0 && (*counts)[i] <= 1e15 && (*counts)[i] == floor((*counts)[i])))
            status = rt_reckon_fail_cell(r, i, rt_reckon_text(r, option), "is not a count",
                                         "write a whole number, 0 or more", error);
    return status;
}

enum rt_status rt_reckon_events(struct rt_reckon *r, const char *option, int **events, struct rt_error *error)
{
    const char **cells = NULL;
    enum rt_status status = rt_reckon_cells(r, option, &cells, error);
    *events = NULL;
    if (status != RT_OK || cells == NULL)
        return status;
    *events = rt_reckon_array(r, r->n, sizeof **events, error);
    if (*events == NULL)
        return RT_MEMORY;
    for (size_t i = 0; i < r->n; i++) {
        double number = NAN;
        if (!rt_parse_number(cells[i], &number) || (number != 0 && number != 1))
            return rt_reckon_fail_cell(r, i, rt_reckon_text(r, option), "is not an event",
                                       "write 1 for an event, 0 for none, or leave the cell empty", error);
        (*events)[i] = number == 1;
    }
    return RT_OK;
}

enum rt_status rt_reckon_cells(struct rt_reckon *r, const char *option, const char ***cells,
                               struct rt_error *error)
{
    size_t column = 0;
    enum rt_status status = column_of(r, option, &column, error);
    *cells = NULL;
    if (status != RT_OK || column == r->table.column_count)
        return status;
    *cells = rt_reckon_array(r, r->n, sizeof **cells, error);
    for (size_t i = 0; *cells != NULL && i < r->n; i++)
        (*cells)[i] = rt_table_cell(&r->table, r->rows[i], column);
    return *cells == NULL ? RT_MEMORY : RT_OK;
}
