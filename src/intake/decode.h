/* Inside of intake: other encodings to UTF-8, in parts of any size. */
#ifndef RIDGETALLY_SRC_INTAKE_DECODE_H
#define RIDGETALLY_SRC_INTAKE_DECODE_H

#include "ridgetally/intake/dialect.h"

#include <stdint.h>

struct decoder {
    enum rt_encoding encoding;
    bool started;        /* a byte order mark may no longer come */
    bool half;           /* one byte of a 16-bit unit is kept in carry */
    unsigned char carry; /* that byte */
    uint32_t high;       /* first half of a surrogate pair; 0 = none */
};

/* Append the UTF-8 of length bytes to out. False at a byte or unit the encoding does not have; what stands before it has
 * been appended. */
bool decode_part(struct decoder *decoder, const unsigned char *bytes, size_t length, struct rt_text *out);

/* Whether the text ended between characters. */
bool decode_ended(const struct decoder *decoder);

/* The name for people: UTF-8, UTF-16 LE, UTF-16 BE, Windows-1252. */
const char *encoding_name(enum rt_encoding encoding);

/* The code point of a Windows-1252 byte; 0 = it has none. Source: the Unicode consortium's table of code page 1252. */
uint32_t windows_1252(unsigned char byte);

/* reader.c: open a file of rows. again: it is read more than once, which a pipe or a device cannot be. */
enum rt_status open_rows(const char *path, FILE **stream, bool again, struct rt_error *error);

#endif
