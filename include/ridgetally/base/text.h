/*
 * Growable text. A failed allocation sets `failed` and makes later additions do nothing, so that a long run
 * of additions needs one check at its end (rt_text_status).
 *
 *     struct rt_text text = {0};
 *     rt_text_add(&text, "n = ");
 *     rt_text_format(&text, "%d", n);
 *     status = rt_text_status(&text, error);
 *     rt_text_release(&text);
 */
#ifndef RIDGETALLY_BASE_TEXT_H
#define RIDGETALLY_BASE_TEXT_H

#include "ridgetally/base/error.h"

#include <stdbool.h>
#include <stddef.h>

struct rt_text {
    char *bytes; /* NUL-terminated once anything was added; NULL before */
    size_t length;
    size_t capacity;
    bool failed; /* an allocation failed; the text is not complete */
};

void rt_text_add(struct rt_text *text, const char *string);
void rt_text_add_bytes(struct rt_text *text, const char *bytes, size_t length);
void rt_text_add_character(struct rt_text *text, char character);
void rt_text_format(struct rt_text *text, const char *format, ...) RT_PRINTF(2, 3);

/* Add "1 row" or "2 rows": the count, a space and the noun, which takes an s unless count is 1. */
void rt_text_add_count(struct rt_text *text, long count, const char *noun);

/* Add string for a terminal: control characters, newlines too, become ?. NULL adds nothing. */
void rt_text_add_plain(struct rt_text *text, const char *string);

/* Add value with 15 significant digits in the shortest plain form that keeps them (never locale dependent).
 * Adds nothing for NaN and infinities: an undefined number is an empty cell. */
void rt_text_add_number(struct rt_text *text, double value);

/* Add string as one CSV cell (RFC 4180): quoted when it holds a comma, quote, CR or LF or begins or ends with
 * a space. neutralise_formula: a text cell from data that begins with = + - @ tab or CR gets a leading
 * apostrophe, so that a spreadsheet shows it as text; reading our files back removes it. NULL is an empty
 * cell. Never use neutralise_formula for numbers. */
void rt_text_add_csv_cell(struct rt_text *text, const char *string, bool neutralise_formula);

/* Add string as the inside of a JSON string, quotes included, control characters escaped; NULL gives null. */
void rt_text_add_json(struct rt_text *text, const char *string);

/* Empty the text, keeping its memory. */
void rt_text_clear(struct rt_text *text);

/* RT_OK, or RT_MEMORY with error filled when an addition failed. */
enum rt_status rt_text_status(const struct rt_text *text, struct rt_error *error);

/* Hand the bytes to the caller (who frees them) and leave the text empty. NULL when failed; "" when empty. */
char *rt_text_detach(struct rt_text *text);

void rt_text_release(struct rt_text *text);

#endif
