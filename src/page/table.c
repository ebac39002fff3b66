#include "render.h"
#include "ridgetally/page/escape.h"
#include "ridgetally/page/number.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

enum {
    FOLD_FROM_ROWS = 12,      /* longer tables show their first rows and a switch for the rest */
    CARDS_FROM_COLUMNS = 4,   /* on a phone, a wider table that is not folded becomes a card a row */
    DENSE_FROM_COLUMNS = 5,   /* wider tables put intervals below their estimates, to fit a phone */
    SLIM_TO_CHARACTERS = 67,  /* what a line of one column of a printed sheet holds in the type of tables */
    SHEET_TO_CHARACTERS = 134 /* the same of a whole sheet */
};

static void add_classes(struct rt_text *html, const struct rt_column *column)
{
    const bool words = column->part == RT_PART_TEXT;
    if (words || column->screen_only)
        rt_text_format(html, " class=\"%s%s%s\"", words ? "words" : "",
                       words && column->screen_only ? " " : "", column->screen_only ? "on-screen" : "");
}

static void add_head(struct rt_text *html, const struct rt_table *table)
{
    rt_html_add_raw(html, "<thead><tr><th scope=\"col\">");
    rt_html_add(html, table->row_heading);
    rt_html_add_raw(html, "</th>");
    for (const struct rt_column *column = table->columns; column != NULL; column = column->next) {
        rt_html_add_raw(html, "<th scope=\"col\"");
        add_classes(html, column);
        rt_html_add_raw(html, ">");
        rt_html_add(html, column->heading);
        rt_html_add_raw(html, "</th>");
    }
    rt_html_add_raw(html, "</tr></thead>\n");
}

/* labelled: the cell carries its heading, which a card shows before it. */
static void add_cell(struct rt_text *html, const struct rt_column *column, const struct rt_cell *cell,
                     bool labelled)
{
    rt_html_add_raw(html, "<td");
    add_classes(html, column);
    if (labelled) {
        rt_html_add_raw(html, " data-label=\"");
        rt_html_add(html, column->heading);
        rt_html_add_raw(html, "\"");
    }
    rt_html_add_raw(html, ">");
    if (cell != NULL && cell->figure != NULL)
        rt_html_add_part(html, cell->figure, column->part, true);
    else if (cell != NULL)
        rt_html_add_name(html, cell->text);
    rt_html_add_raw(html, "</td>");
}

static size_t count_columns(const struct rt_table *table)
{
    size_t count = 0;
    for (const struct rt_column *column = table->columns; column != NULL; column = column->next)
        count++;
    return count;
}

/* Wide tables that are not folded, and those with sentences in their cells. */
static bool is_cards(const struct rt_table *table)
{
    bool words = false;
    for (const struct rt_column *column = table->columns; column != NULL; column = column->next)
        words = words || column->part == RT_PART_TEXT;
    return words ? count_columns(table) > 1
                 : table->row_count <= FOLD_FROM_ROWS && count_columns(table) >= CARDS_FROM_COLUMNS;
}

static void add_row(struct rt_text *html, const struct rt_table *table, const struct rt_table_row *row)
{
    rt_html_add_raw(html, row->screen_only ? "<tr class=\"on-screen\">" : "<tr>");
    rt_html_add_raw(html, row->named ? "<th scope=\"row\" class=\"name\">" : "<th scope=\"row\">");
    rt_html_add(html, row->label);
    rt_html_add_raw(html, "</th>");
    const struct rt_cell *cell = row->cells;
    for (const struct rt_column *column = table->columns; column != NULL; column = column->next) {
        add_cell(html, column, cell, is_cards(table));
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

/* Characters a reader sees in a piece of HTML; at most `most` of the text before and behind its interval when stacked. */
static size_t seen_characters(const char *html, bool stacked)
{
    size_t widest = 0, count = 0;
    for (const char *at = html; *at != '\0'; at++) {
        if (*at == '<') {
            if (stacked && strncmp(at, "<span class=\"interval\"", 22) == 0) {
                widest = count > widest ? count : widest;
                count = 0;
            }
            at += strcspn(at, ">");
            if (*at == '\0')
                break;
        } else if (((unsigned char)*at & 0xC0) != 0x80) {
            at += *at == '&' ? strcspn(at, ";") : 0;
            count++;
        }
    }
    return count > widest ? count : widest;
}

static size_t longest_word(const char *text)
{
    size_t longest = 0;
    for (const char *at = text; *at != '\0';) {
        size_t length = strcspn(at, " -");
        longest = length > longest ? length : longest;
        at += length + (at[length] != '\0');
    }
    return longest;
}

/* A label stays in one line up to here. */
enum { LABEL_CHARACTERS = 30 };

static size_t label_characters(const char *label)
{
    size_t length = strlen(label);
    return length <= LABEL_CHARACTERS ? length : LABEL_CHARACTERS;
}

static bool has_short_labels(const struct rt_table *table)
{
    for (const struct rt_table_row *row = table->rows; row != NULL; row = row->next)
        if (strlen(row->label) > LABEL_CHARACTERS)
            return false;
    return true;
}

/* A heading may take three lines. */
static size_t heading_characters(const char *heading)
{
    size_t third = (strlen(heading) + 2) / 3, word = longest_word(heading);
    return third > word ? third : word;
}

enum { BESIDE, STACKED, INTERVALS };

/* How wide the printed part of the table is, in characters of its type, with intervals beside their estimates and below. */
static enum rt_status printed_widths(const struct rt_table *table, size_t characters[INTERVALS],
                                     struct rt_error *error)
{
    struct rt_text cell_text = {0};
    size_t labels = heading_characters(table->row_heading), place = 0;
    for (const struct rt_table_row *row = table->rows; row != NULL; row = row->next) {
        size_t label = label_characters(row->label);
        labels = label > labels ? label : labels;
    }
    characters[BESIDE] = characters[STACKED] = labels;
    for (const struct rt_column *column = table->columns; column != NULL && !cell_text.failed;
         column = column->next, place++) {
        if (column->screen_only)
            continue;
        const size_t heading = heading_characters(column->heading);
        size_t widest[INTERVALS] = {heading, heading};
        for (const struct rt_table_row *row = table->rows; row != NULL; row = row->next) {
            if (row->screen_only)
                continue;
            const struct rt_cell *cell = row->cells;
            for (size_t i = 0; i < place && cell != NULL; i++)
                cell = cell->next;
            if (cell == NULL)
                continue;
            rt_text_clear(&cell_text);
            add_cell(&cell_text, column, cell, false);
            if (cell_text.failed)
                break;
            for (int way = 0; way < INTERVALS; way++) {
                size_t seen = seen_characters(cell_text.bytes, way == STACKED);
                if (column->part == RT_PART_TEXT)
                    seen = (seen + 1) / 2; /* words may wrap */
                widest[way] = seen > widest[way] ? seen : widest[way];
            }
        }
        for (int way = 0; way < INTERVALS; way++)
            characters[way] += widest[way] + 2;
    }
    enum rt_status status = rt_text_status(&cell_text, error);
    rt_text_release(&cell_text);
    return status;
}

/* How the table stands on paper, as a class: in one of the two columns or across both, with intervals beside or below. */
static enum rt_status print_class(const struct rt_table *table, const char **name, struct rt_error *error)
{
    size_t characters[INTERVALS];
    enum rt_status status = printed_widths(table, characters, error);
    *name = characters[BESIDE] <= SLIM_TO_CHARACTERS    ? ""
            : characters[STACKED] <= SLIM_TO_CHARACTERS ? " stacked"
            : characters[BESIDE] <= SHEET_TO_CHARACTERS ? " across"
                                                        : " across stacked";
    return status;
}

enum rt_status rt_html_add_table(struct rt_text *html, const struct rt_table *table, const char *id,
                                 struct rt_error *error)
{
    bool folded = table->row_count > FOLD_FROM_ROWS;
    const char *printed = "";
    enum rt_status status = print_class(table, &printed, error);
    rt_text_format(html, "<div class=\"numbers%s%s%s%s%s\">\n", folded ? " folded" : "",
                   has_short_labels(table) ? " short" : "", is_cards(table) ? " cards" : "",
                   count_columns(table) >= DENSE_FROM_COLUMNS ? " dense" : "", printed);
    rt_html_add_raw(html, "<div class=\"scroll\" role=\"group\" tabindex=\"0\" aria-labelledby=\"");
    rt_html_add(html, id);
    rt_html_add_raw(html, "\">\n<table><caption id=\"");
    rt_html_add(html, id);
    rt_html_add_raw(html, "\">");
    rt_html_add_raw(html, "<span class=\"caption\">");
    if (status == RT_OK)
        status = rt_html_add_sentence(html, table->caption, error);
    add_notes(html, table);
    if (table->print_note != NULL) {
        rt_html_add_raw(html, " <span class=\"definition in-print\">");
        rt_html_add(html, table->print_note);
        rt_html_add_raw(html, "</span>");
    }
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
