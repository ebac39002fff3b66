/* Inside of intake: one sheet of an .xlsx workbook (ECMA-376: a zip of XML parts), streamed row by row. */
#ifndef RIDGETALLY_SRC_INTAKE_WORKBOOK_H
#define RIDGETALLY_SRC_INTAKE_WORKBOOK_H

#include "ridgetally/base/error.h"

#include <stddef.h>

/* Where cells go: text of length bytes (UTF-8); then the row they make, with its number. Any status but RT_OK stops. */
struct row_sink {
    enum rt_status (*cell)(void *context, const char *text, size_t length);
    enum rt_status (*row)(void *context, long line);
    void *context;
};

/* Read the sheet of that name (NULL = the only one). Numbers come with a decimal point and at most 15 digits, dates (told by
 * the cell's number format) as YYYY-MM-DD, booleans as yes and no, formulas as their last result; empty cells between
 * others as empty text. RT_INPUT with words for what is no workbook, is damaged, unpacks to too much, or lacks the sheet.
 * path, or (path NULL) length bytes in memory. */
enum rt_status read_workbook(const char *path, const char *bytes, size_t length, const char *sheet,
                             const struct row_sink *sink, struct rt_error *error);

#endif
