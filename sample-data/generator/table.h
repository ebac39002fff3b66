/*
 * The three record files of a practice as tables of cells, before they are written. Dirt is put into cells,
 * so the practice itself stays clean.
 */
#ifndef RIDGETALLY_SAMPLE_TABLE_H
#define RIDGETALLY_SAMPLE_TABLE_H

#include "practice.h"

#include "ridgetally/base/arena.h"
#include "ridgetally/base/text.h"

struct rt_sample_table {
    const char *name;           /* file name */
    const char *const *columns; /* names, column_count of them */
    size_t column_count;
    const char ***rows; /* rows[i][column], "" for an empty cell */
    size_t row_count, row_capacity;
    struct rt_arena arena; /* owns rows and cells */
};

struct rt_sample_tables {
    struct rt_sample_table implants, followups, events;
};

/* Fill the three tables, rows in the order of placement, visit and event. The caller releases them. */
enum rt_status rt_sample_make_tables(const struct rt_sample_practice *practice,
                                     struct rt_sample_tables *tables, struct rt_error *error);

void rt_sample_release_tables(struct rt_sample_tables *tables);

/* Number of the column of that name; the name must exist. */
size_t rt_sample_column(const struct rt_sample_table *table, const char *column);

/* Put a copy of text into a cell. RT_OK or RT_MEMORY. */
enum rt_status rt_sample_set_cell(struct rt_sample_table *table, size_t row, const char *column,
                                  const char *text, struct rt_error *error);

/* Insert a copy of row `from` before row `to` (to = row_count appends). */
enum rt_status rt_sample_copy_row(struct rt_sample_table *table, size_t from, size_t to,
                                  struct rt_error *error);

/* The whole table as CSV, header first, LF line ends. */
void rt_sample_table_to_csv(const struct rt_sample_table *table, struct rt_text *text);

#endif
