/*
 * How a text file spells its table: encoding, separator, decimal mark, and the line its header stands on. What is not
 * stated is detected in the first RT_SAMPLE_BYTES of the file. What the file does not prove is never guessed: a number
 * such as 1,234 proves nothing, and decimals written both ways are an error (between commas, where the point is the rule,
 * only the cells with a decimal comma are).
 */
#ifndef RIDGETALLY_INTAKE_DIALECT_H
#define RIDGETALLY_INTAKE_DIALECT_H

#include "ridgetally/base/text.h"
#include "ridgetally/intake/reader.h"

#include <stdbool.h>
#include <stddef.h>

enum { RT_SAMPLE_BYTES = 1024 * 1024, RT_HEADER_WITHIN = 20 /* lines */ };

enum rt_encoding {
    RT_ENCODING_DETECT,
    RT_ENCODING_UTF8,
    RT_ENCODING_UTF16_LE,
    RT_ENCODING_UTF16_BE,
    RT_ENCODING_WINDOWS_1252
};

/* Zero members: to be detected, or (decimal) not proven by any cell. */
struct rt_dialect {
    enum rt_encoding encoding;
    char separator;    /* , ; tab | */
    char decimal;      /* . or , */
    long header_line;  /* 1-based; rows before it are skipped, and rows that repeat it */
    bool workbook;     /* an .xlsx workbook: encoding and separator mean nothing */
    const char *sheet; /* of a workbook, owned by who states it; NULL = its only one */
};

/* Who knows what a header looks like. */
struct rt_header_judge {
    /* How many of the row's cells name something known; the row with most, the first of equals, is the header. */
    size_t (*known)(const void *context, const struct rt_row *row);
    /* Whether the column of that name holds numbers: only those prove a decimal mark. */
    bool (*holds_numbers)(const void *context, const char *name);
    const void *context;
};

/* Detect what given (may be NULL) leaves open. Without any known header cell the separator that cuts the first lines
 * into the most columns is taken and header_line stays 0. RT_INPUT when the file cannot be opened, is a folder, a pipe or
 * a device, or spells decimals both ways (file, line, column, value); what is wrong with the text itself is left to the
 * reading that follows. */
enum rt_status rt_detect_dialect(const char *path, const struct rt_dialect *given,
                                 const struct rt_header_judge *judge, struct rt_dialect *dialect,
                                 struct rt_error *error);

/* The same over the first bytes of a file in memory; whole: they are all of it. */
enum rt_status rt_detect_dialect_bytes(const char *bytes, size_t length, bool whole,
                                       const struct rt_dialect *given, const struct rt_header_judge *judge,
                                       struct rt_dialect *dialect, struct rt_error *error);

/* Rewrite a number cell in place with a decimal point. False, with a static reason and remedy, when the mark in it is
 * not the file's, or could mark thousands and nothing in the file tells. Cells that are no numbers are left alone. */
bool rt_point_decimal(const struct rt_dialect *dialect, char *cell, const char **reason, const char **remedy);

/* "UTF-8, semicolons, decimal comma, header on line 3". */
void rt_add_dialect(struct rt_text *text, const struct rt_dialect *dialect);

/* The words of options and maps: utf-8, utf-16le, utf-16be, windows-1252; comma, semicolon, tab, bar; comma, point.
 * False when word is none of them. */
bool rt_find_encoding(const char *word, enum rt_encoding *encoding);
bool rt_find_separator(const char *word, char *separator);
bool rt_find_decimal(const char *word, char *decimal);

#endif
