/*
 * Rows of a CSV file, streamed: memory holds one row. The bytes are checked on their way (UTF-8, no binary,
 * no UTF-16, one row at most 1 MiB); CR LF, a byte order mark, quoted newlines and blank lines are fine.
 * Other encodings and separators are read as a dialect says (intake/dialect.h); cells are always UTF-8.
 */
#ifndef RIDGETALLY_INTAKE_READER_H
#define RIDGETALLY_INTAKE_READER_H

#include "ridgetally/base/error.h"
#include "ridgetally/base/sha256.h"

#include <stdbool.h>
#include <stddef.h>

struct rt_dialect;

/* One row: count cells, NUL-terminated, writable, valid until the function returns. */
struct rt_row {
    char **cells;
    size_t count;
    long line;         /* 1-based line on which the row begins */
    double bytes_read; /* of the file so far, in parts larger than a row; 0 = not known (a workbook) */
};

/* Take a row. Any status but RT_OK stops the reading and is returned. */
typedef enum rt_status (*rt_row_function)(void *context, const struct rt_row *row, struct rt_error *error);

/* Read the file at path from its start, calling function for every row with a cell that is not blank (the
 * header is the first). sha256 (may be NULL) receives the hash of the file's bytes in hexadecimal. RT_INPUT,
 * naming file, line and remedy, when the file is missing, a folder, empty, binary, UTF-16, not UTF-8, or has
 * a quote that is never closed; RT_SYSTEM when reading fails. */
enum rt_status rt_read_rows(const char *path, rt_row_function function, void *context,
                            char sha256[RT_SHA256_HEX], struct rt_error *error);

/* The same in another dialect (detected members that are 0: UTF-8, comma, header on the first line with anything in it).
 * Rows before the header and rows that repeat it are left out. */
enum rt_status rt_read_dialect_rows(const char *path, const struct rt_dialect *dialect,
                                    rt_row_function function, void *context, char sha256[RT_SHA256_HEX],
                                    struct rt_error *error);

/* The same over bytes in memory; name stands for the file in errors. whole false: the bytes are the beginning of a file,
 * and the row and the character they end in are left out. */
enum rt_status rt_read_row_bytes(const char *name, const char *bytes, size_t length, bool whole,
                                 const struct rt_dialect *dialect, rt_row_function function, void *context,
                                 struct rt_error *error);

#endif
