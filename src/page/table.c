#include "render.h"
#include "ridgetally/page/escape.h"
#include "ridgetally/page/number.h"

#include <math.h>
#include <stdbool.h>

enum {
    FOLD_FROM_ROWS = 12,   /* longer tables show their first rows and a switch for the rest */
    DENSE_FROM_COLUMNS = 5 /* wider tables put intervals below their estimates, to fit a sheet */
};

static void add_head(struct rt_text *html, const struct rt_table *table)
{
    rt_html_add_raw(html, "<thead><tr><th scope=\"col\">");
    rt_html_add(html, table->row_heading);
    rt_html_add_raw(html, "</th>");
    for (const struct rt_column *column = table->columns; column != NULL; column = column->next) {
        rt_html_add_raw(html, column->part == RT_PART_TEXT ? "<th scope=\"col\" class=\"words\">"
                                                           : "<th scope=\"col\">");
        rt_html_add(html, column->heading);
        rt_html_add_raw(html, "</th>");
    }
    rt_html_add_raw(html, "</tr></thead>\n");
}

static void add_cell(struct rt_text *html, const struct rt_column *column, const struct rt_cell *cell)
{
    bool words = column->part == RT_PART_TEXT;
    rt_html_add_raw(html, words ? "<td class=\"words\">" : "<td>");
    if (cell != NULL && cell->figure != NULL)
        rt_html_add_part(html, cell->figure, column->part, true);
    else if (cell != NULL)
        rt_html_add_name(html, cell->text);
    rt_html_add_raw(html, "</td>");
}

static void add_row(struct rt_text *html, const struct rt_table *table, const struct rt_table_row *row)
{
    rt_html_add_raw(html, "<tr><th scope=\"row\">");
    rt_html_add(html, row->label);
    rt_html_add_raw(html, "</th>");
    const struct rt_cell *cell = row->cells;
    for (const struct rt_column *column = table->columns; column != NULL; column = column->next) {
        add_cell(html, column, cell);
        cell = cell == NULL ? NULL : cell->next;
    }
    rt_html_add_raw(html, "</tr>\n");
}

/* The switch needs no script; print, and browsers that do not know :has(), show every row. */
static void add_switch(struct rt_text *html, const char *id)
{
    rt_html_add_raw(html, "<p class=\"unfold\"><input type=\"checkbox\" id=\"");
    rt_html_add(html, id);
    rt_html_add_raw(html, "-all\"><label for=\"");
    rt_html_add(html, id);
    rt_html_add_raw(html, "-all\">Show every row</label></p>\n");
}

static bool shows_interval(enum rt_slot_part part)
{
    return part == RT_PART_ESTIMATE || part == RT_PART_SHARE;
}

/* What the reader of this table must know of its intervals. */
static void add_notes(struct rt_text *html, const struct rt_table *table)
{
    bool interval = false, conservative = false;
    for (const struct rt_table_row *row = table->rows; row != NULL; row = row->next) {
        const struct rt_column *column = table->columns;
        for (const struct rt_cell *cell = row->cells; cell != NULL && column != NULL; cell = cell->next) {
            bool shown = cell->figure != NULL && shows_interval(column->part) &&
                         cell->figure->state == RT_FIGURE_OK && !isnan(cell->figure->lower);
            interval = interval || shown;
            conservative = conservative || (shown && rt_is_conservative(cell->figure));
            column = column->next;
        }
    }
    if (!interval)
        return;
    rt_html_add_raw(html, " <span class=\"definition\">In brackets: 95% intervals.");
    if (conservative)
        rt_html_add(html, " * Exact and conservative, as none or all had the event.");
    rt_html_add_raw(html, "</span>");
}

static size_t count_columns(const struct rt_table *table)
{
    size_t count = 0;
    for (const struct rt_column *column = table->columns; column != NULL; column = column->next)
        count++;
    return count;
}

enum rt_status rt_html_add_table(struct rt_text *html, const struct rt_table *table, const char *id,
                                 struct rt_error *error)
{
    bool folded = table->row_count > FOLD_FROM_ROWS;
    rt_text_format(html, "<div class=\"numbers%s%s\">\n", folded ? " folded" : "",
                   count_columns(table) >= DENSE_FROM_COLUMNS ? " dense" : "");
    rt_html_add_raw(html, "<div class=\"scroll\" role=\"group\" tabindex=\"0\" aria-labelledby=\"");
    rt_html_add(html, id);
    rt_html_add_raw(html, "\">\n<table><caption id=\"");
    rt_html_add(html, id);
    rt_html_add_raw(html, "\">");
    rt_html_add_raw(html, "<span class=\"caption\">");
    enum rt_status status = rt_html_add_sentence(html, table->caption, error);
    add_notes(html, table);
    rt_html_add_raw(html, "</span></caption>\n");
    add_head(html, table);
    rt_html_add_raw(html, "<tbody>\n");
    for (const struct rt_table_row *row = table->rows; row != NULL; row = row->next)
        add_row(html, table, row);
    rt_html_add_raw(html, "</tbody></table></div>\n");
    if (folded)
        add_switch(html, id);
    rt_html_add_raw(html, "</div>\n");
    return status;
}
