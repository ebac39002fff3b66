/* Appendix: how often the verdicts on house rules are right in simulated practices whose truth is known, from the table of the
 * simulation (tests/simulate), which is embedded. */
#include "plan.h"

#include "ridgetally/base/resource.h"
#include "ridgetally/figure/wording.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Cells of a line of the table that are read. */
enum { RULE = 1, TRUTH = 2, IMPLANTS = 3, SUPPORTED = 5, NOT_SUPPORTED, CANNOT_TELL, COVERAGE = 12, CELLS };
enum { SIZES = 4, CELL_ROOM = 48 };
static const char *const sizes[SIZES] = {"30", "100", "400", "4000"};

/* The cells of the line at text; false when there are not so many. */
static bool read_cells(const char *text, char cells[CELLS][CELL_ROOM])
{
    for (int i = 0; i < CELLS; i++) {
        const size_t length = strcspn(text, ",\n");
        if (i < CELLS - 1 && text[length] != ',')
            return false;
        snprintf(cells[i], CELL_ROOM, "%.*s", (int)length, text);
        text += length + (text[length] == ',');
    }
    return true;
}

/* The rule by its name on the pages, and whether it is true in these practices. */
static const char *label_of(struct rt_document *document, char cells[CELLS][CELL_ROOM])
{
    const char *name = rt_wording(&document->arena, rt_document_text(document, "rules.%s.name", cells[RULE]));
    return rt_document_text(document, "%s: %s", name != NULL ? name : cells[RULE], cells[TRUTH]);
}

/* How often supported, not supported, cannot tell; in brackets the share of intervals that hold the truth. */
static const char *counts_of(struct rt_document *document, char cells[CELLS][CELL_ROOM])
{
    const char *counts = rt_document_text(document, "%s / %s / %s", cells[SUPPORTED], cells[NOT_SUPPORTED],
                                          cells[CANNOT_TELL]);
    if (cells[COVERAGE][0] == '\0')
        return counts;
    return rt_document_text(document, "%s [%.1f%%]", counts, 100.0 * strtod(cells[COVERAGE], NULL));
}

static void add_lines(struct rt_document *document, struct rt_table *table, const char *text)
{
    struct rt_table_row *row = NULL;
    char cells[CELLS][CELL_ROOM];
    int next = SIZES; /* size the next cell is for */
    for (text += strcspn(text, "\n"); *text == '\n' && read_cells(text + 1, cells);
         text += 1 + strcspn(text + 1, "\n")) {
        if (next == SIZES) {
            row = rt_add_row(document, table, label_of(document, cells));
            next = 0;
        }
        const bool expected = strcmp(cells[IMPLANTS], sizes[next++]) == 0;
        rt_add_text_cell(document, row, expected ? counts_of(document, cells) : "");
    }
}

void plan_simulated_verdicts(const struct plan *plan, struct rt_chapter *chapter)
{
    static const char *const headings[SIZES] = {"column.coverage.small", "column.coverage.middle",
                                                "column.coverage.large", "column.coverage.largest"};
    struct rt_document *document = plan->document;
    const struct rt_resource *simulated = rt_find_resource("reports/verdicts.csv");
    if (simulated == NULL)
        return;
    struct rt_block *block = rt_add_block(document, chapter, "verdicts-table", "heading.verdicts");
    rt_add_answer(document, block, "verdicts.answer");
    struct rt_table *table = rt_add_table(document, block, "caption.verdicts", "column.verdicts.rule");
    for (size_t i = 0; i < SIZES; i++)
        rt_add_column(document, table, headings[i], RT_PART_TEXT);
    add_lines(document, table, simulated->bytes);
}
