#include "render.h"
#include "ridgetally/page/escape.h"
#include "ridgetally/page/number.h"

#include <string.h>

enum { FOLD_FROM_ROWS = 12 }; /* longer tables show their first rows and a switch for the rest */

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

/* The switch is a check box ahead of the table: it needs no script, and print ignores it in every browser. */
static void add_switch(struct rt_text *html, const char *id)
{
    rt_html_add_raw(html, "<input type=\"checkbox\" class=\"unfold\" id=\"");
    rt_html_add(html, id);
    rt_html_add_raw(html, "-all\"><label class=\"unfold\" for=\"");
    rt_html_add(html, id);
    rt_html_add_raw(html, "-all\">Show every row</label>\n");
}

enum rt_status rt_html_add_table(struct rt_text *html, const struct rt_table *table, const char *id,
                                 struct rt_error *error)
{
    bool folded = table->row_count > FOLD_FROM_ROWS;
    rt_html_add_raw(html, folded ? "<div class=\"numbers folded\">\n" : "<div class=\"numbers\">\n");
    if (folded)
        add_switch(html, id);
    rt_html_add_raw(html, "<div class=\"scroll\" role=\"region\" tabindex=\"0\" aria-labelledby=\"");
    rt_html_add(html, id);
    rt_html_add_raw(html, "\">\n<table><caption id=\"");
    rt_html_add(html, id);
    rt_html_add_raw(html, "\">");
    enum rt_status status = rt_html_add_sentence(html, table->caption, error);
    rt_html_add_raw(html, "</caption>\n");
    add_head(html, table);
    rt_html_add_raw(html, "<tbody>\n");
    for (const struct rt_table_row *row = table->rows; row != NULL; row = row->next)
        add_row(html, table, row);
    rt_html_add_raw(html, "</tbody></table></div>\n</div>\n");
    return status;
}
