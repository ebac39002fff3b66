/* Appendix: how often the intervals hold the truth in simulated practices, from the table of the simulation
 * (tests/simulate), which is embedded. */
#include "plan.h"

#include "ridgetally/base/resource.h"
#include "ridgetally/figure/catalogue.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { SIZES = 3 };
static const long sizes[SIZES] = {30, 100, 400};

/* One line of the table. */
struct line {
    char method[160];
    long size, practices, defined;
    char coverage[16], naive[16];
};

/* method,size,practices,defined,coverage,naive_coverage,mean_width; empty cells where nothing was defined. */
static bool read_line(const char *text, struct line *line)
{
    int used = 0;
    *line = (struct line){.size = 0};
    if (sscanf(text, "%159[^,\n],%ld,%ld,%ld,%n", line->method, &line->size, &line->practices, &line->defined,
               &used) != 4 ||
        used == 0)
        return false;
    text += used;
    snprintf(line->coverage, sizeof line->coverage, "%.*s", (int)strcspn(text, ",\n"), text);
    text += strcspn(text, ",\n");
    text += *text == ',';
    snprintf(line->naive, sizeof line->naive, "%.*s", (int)strcspn(text, ",\n"), text);
    return true;
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
    add_lines(document, table, simulated->bytes);
}
