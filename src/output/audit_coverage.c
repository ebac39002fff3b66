/* Appendix: how often the intervals hold the truth in simulated practices, from the table of the simulation
 * (tests/simulate), which is embedded. */
#include "plan.h"

#include "ridgetally/base/number.h"
#include "ridgetally/base/resource.h"
#include "ridgetally/figure/catalogue.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { SIZES = 3 };
static const long sizes[SIZES] = {30, 100, 400};

/* The size nearest to a practice, by ratio. */
static size_t nearest_size(long implants)
{
    size_t nearest = 0;
    for (size_t i = 1; i < SIZES; i++)
        if ((double)implants * (double)implants > (double)sizes[i - 1] * (double)sizes[i])
            nearest = i;
    return nearest;
}

/* One line of the table. */
struct line {
    char method[160];
    long size, practices, defined;
    char coverage[16], naive[16];
};

/* Copy the cell at text, cut to size bytes; returns where the next one begins. */
static const char *take_cell(const char *text, char *cell, size_t size)
{
    const size_t length = strcspn(text, ",\n");
    snprintf(cell, size, "%.*s", (int)length, text);
    return text + length + (text[length] == ',');
}

static const char *take_number(const char *text, long *number)
{
    char cell[24];
    text = take_cell(text, cell, sizeof cell);
    if (!rt_parse_integer(cell, number))
        *number = -1;
    return text;
}

/* method,size,practices,defined,coverage,naive_coverage,mean_width; empty cells where nothing was defined. False at the
 * end of the table. */
static bool read_line(const char *text, struct line *line)
{
    text = take_cell(text, line->method, sizeof line->method);
    text = take_number(text, &line->size);
    text = take_number(text, &line->practices);
    text = take_number(text, &line->defined);
    text = take_cell(text, line->coverage, sizeof line->coverage);
    take_cell(text, line->naive, sizeof line->naive);
    return line->size > 0 && line->practices > 0 && line->defined >= 0;
}

/* What the catalogue calls the measure that a method's name begins with, and the rest of the name. */
static const char *label_of(struct rt_document *document, const char *method)
{
    size_t count = 0;
    const size_t length = strcspn(method, " ");
    const struct rt_measure *measures = rt_measures(&count);
    for (size_t i = 0; i < count; i++)
        if (strlen(measures[i].name) == length && strncmp(measures[i].name, method, length) == 0)
            return rt_document_text(document, "%s (%s)", measures[i].label, method);
    return rt_document_text(document, "%s", method);
}

static const char *percentage(struct rt_document *document, const char *share)
{
    return share[0] == '\0' ? "" : rt_document_text(document, "%.1f%%", 100.0 * strtod(share, NULL));
}

/* Covering share, that of the interval which ignores patients in brackets, and how many runs had an interval. */
static const char *cell_of(struct rt_document *document, const struct line *line)
{
    if (line->defined == 0)
        return "";
    const char *covers = percentage(document, line->coverage), *naive = percentage(document, line->naive);
    if (naive[0] != '\0')
        covers = rt_document_text(document, "%s [%s]", covers, naive);
    if (line->defined == line->practices)
        return covers;
    return rt_document_text(document, "%s, %ld of %ld", covers, line->defined, line->practices);
}

static void add_lines(struct rt_document *document, struct rt_table *table, const char *text)
{
    struct rt_table_row *row = NULL;
    char method[160] = "";
    size_t next = 0; /* size the next cell is for */
    for (text += strcspn(text, "\n"); *text == '\n'; text += strcspn(text, "\n")) {
        struct line line;
        if (!read_line(++text, &line))
            break;
        if (row == NULL || strcmp(line.method, method) != 0) {
            snprintf(method, sizeof method, "%s", line.method);
            row = rt_add_row(document, table, label_of(document, method));
            next = 0;
        }
        for (; next < SIZES && sizes[next] != line.size; next++)
            rt_add_text_cell(document, row, "");
        if (next < SIZES)
            rt_add_text_cell(document, row, cell_of(document, &line));
        next++;
    }
}

void plan_coverage(const struct plan *plan)
{
    static const char *const headings[SIZES] = {"column.coverage.small", "column.coverage.middle",
                                                "column.coverage.large"};
    struct rt_document *document = plan->document;
    const struct rt_resource *simulated = rt_find_resource("reports/coverage.csv");
    if (simulated == NULL)
        return;
    struct rt_chapter *chapter = rt_add_chapter(document, "coverage", "heading.coverage");
    if (chapter == NULL)
        return;
    chapter->reference = true;
    rt_add_lead(document, chapter, "coverage.lead");
    struct rt_block *block = rt_add_block(document, chapter, "coverage-table", NULL);
    struct rt_table *table = rt_add_table(document, block, "caption.coverage", "column.coverage.figure");
    for (size_t i = 0; i < SIZES; i++)
        rt_add_column(document, table, headings[i], RT_PART_TEXT);
    if (table != NULL) {
        const size_t own = nearest_size(plan->subject->info->implants_recorded);
        size_t i = 0;
        for (struct rt_column *column = table->columns; column != NULL; column = column->next)
            column->screen_only = i++ != own;
        table->print_note = rt_document_words(document, "coverage.print-own");
    }
    add_lines(document, table, simulated->bytes);
    plan_simulated_verdicts(plan, chapter);
}
