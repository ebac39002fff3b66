/*
 * A CSV file (RFC 4180, comma, header row) held as text cells: 4 bytes per cell beside its text, so that a
 * million rows fit in a small machine. A UTF-8 byte order mark is dropped; CRLF, LF and CR end a row; blank
 * lines are skipped; spaces around an unquoted cell are dropped.
 */
#ifndef RIDGETALLY_CLI_TABLE_H
#define RIDGETALLY_CLI_TABLE_H

#include "ridgetally/base/error.h"
#include "ridgetally/base/text.h"

#include <stddef.h>
#include <stdint.h>

struct rt_table {
    char *file; /* as shown in errors; "-" for standard input */
    size_t column_count;
    long header_line;
    size_t row_count;     /* without the header */
    struct rt_text bytes; /* every cell, NUL-terminated */
    uint32_t *cells;      /* offsets into bytes: the header's cells, then row after row */
    size_t cell_count, cell_capacity;
    uint32_t *lines; /* the file's line on which each row begins */
    size_t line_capacity;
};

/* Read path, or standard input when path is "-". Refused (RT_INPUT, with file and line): a missing or empty
 * file, no header, a row longer or shorter than the header, an open quote, a NUL byte, an empty or repeated
 * column name, more than 4 GB of text. Release the table also after a failure. */
enum rt_status rt_read_table(struct rt_table *table, const char *path, struct rt_error *error);

/* Name of a column, 0-based. */
const char *rt_table_name(const struct rt_table *table, size_t column);

/* The column of that name in *column; RT_INPUT naming the columns there are. */
enum rt_status rt_find_column(const struct rt_table *table, const char *name, size_t *column,
                              struct rt_error *error);

/* Text of a cell; "" when empty. */
const char *rt_table_cell(const struct rt_table *table, size_t row, size_t column);

/* Line of the file on which a row begins. */
long rt_table_line(const struct rt_table *table, size_t row);

void rt_release_table(struct rt_table *table);

#endif
