/* The figures CSV as a reader of its own sees it, and a row of it found by the key that a page gives. */
#ifndef RIDGETALLY_TESTS_FIGURE_SHEET_H
#define RIDGETALLY_TESTS_FIGURE_SHEET_H

#include <stddef.h>

enum { SHEET_CELLS = 21 };

struct figure_sheet {
    char *bytes;
    char **cells; /* SHEET_CELLS each row, the header first */
    size_t rows;  /* 0: a row has another number of cells */
};

struct figure_sheet read_figure_sheet(const char *text);
void release_figure_sheet(struct figure_sheet *sheet);

/* The column of that name; SHEET_CELLS when there is none. */
size_t sheet_column(const struct figure_sheet *sheet, const char *name);

/* The cell without the apostrophe that keeps a spreadsheet from reading text as a formula. */
const char *sheet_plain(const char *cell);

/* How many rows have the key (eight parts between slashes, %XX decoded); *row receives the first. */
size_t sheet_find(const struct figure_sheet *sheet, const char *key, char ***row);

#endif
