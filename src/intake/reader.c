#include "ridgetally/intake/reader.h"

#include "decode.h"
#include "workbook.h"

#include "ridgetally/base/memory.h"

#include <csv.h>
#include <errno.h>
#include <stdbool.h>
#include <stdint.h>
#include <string.h>
#include <sys/stat.h>

/* States of libcsv's parser that its header does not name. */
enum { BETWEEN_ROWS = 0, INSIDE_FIELD = 2 };

enum { CHUNK_BYTES = 64 * 1024, LONGEST_ROW = 1024 * 1024, MOST_CELLS = 4096 };

struct reader {
    const char *path;
    struct csv_parser parser;
    rt_row_function function;
    void *context;
    struct rt_error *error;
    enum rt_status status; /* first failure */
    struct rt_text bytes;  /* the cells of the row, each with its NUL */
    size_t *offsets;       /* where each cell begins in bytes */
    size_t offset_capacity;
    char **cells;
    size_t cell_capacity;
    size_t count;
    long line;     /* of the byte being read */
    long row_line; /* on which the row began */
    long rows;
    double bytes_read;
    bool after_return;        /* the last byte was a carriage return: a newline now is the same line end */
    int utf8_left;            /* continuation bytes still to come */
    unsigned char utf8_least; /* range of the next continuation byte */
    unsigned char utf8_most;
    struct rt_sha256 hash;
    struct rt_dialect dialect;
    struct decoder decoder;
    struct rt_text decoded; /* a part of the file as UTF-8 */
    bool skip_headers;      /* leave out what stands before the header and what repeats it */
    struct rt_text header;  /* its cells, each with its NUL */
};

static enum rt_status fail_input(struct reader *reader, long line, const char *message, const char *remedy)
{
    rt_fail(reader->error, RT_INPUT, "%s", message);
    rt_error_locate(reader->error, reader->path, line, NULL);
    rt_error_remedy(reader->error, "%s", remedy);
    return RT_INPUT;
}

static void take_cell(void *cell, size_t length, void *context)
{
    struct reader *reader = context;
    if (reader->status != RT_OK)
        return;
    size_t *offsets =
        rt_grow_array(reader->offsets, &reader->offset_capacity, reader->count + 1, sizeof *offsets);
    if (offsets == NULL) {
        reader->status = rt_fail_memory(reader->error);
        return;
    }
    reader->offsets = offsets;
    if (reader->count >= MOST_CELLS || reader->bytes.length + length > LONGEST_ROW) {
        reader->status = fail_input(reader, reader->row_line, "this row is too long",
                                    "look for a quote that is never closed on this line or above");
        return;
    }
    reader->offsets[reader->count++] = reader->bytes.length;
    rt_text_add_bytes(&reader->bytes, length > 0 ? cell : "", length);
    rt_text_add_bytes(&reader->bytes, "", 1);
    reader->status = rt_text_status(&reader->bytes, reader->error);
}

static bool row_is_blank(const struct reader *reader)
{
    for (size_t i = 0; i < reader->bytes.length; i++)
        if (reader->bytes.bytes[i] != '\0' && reader->bytes.bytes[i] != ' ')
            return false;
    return true;
}

/* Whether the row is to be left out: it stands before the header or repeats it. */
static bool is_beside(struct reader *reader)
{
    if (!reader->skip_headers)
        return false;
    if (reader->row_line < reader->dialect.header_line)
        return true;
    if (reader->header.length > 0)
        return reader->header.length == reader->bytes.length &&
               memcmp(reader->header.bytes, reader->bytes.bytes, reader->bytes.length) == 0;
    rt_text_add_bytes(&reader->header, reader->bytes.bytes, reader->bytes.length);
    reader->status = rt_text_status(&reader->header, reader->error);
    return false;
}

static void take_row(int terminator, void *context)
{
    (void)terminator;
    struct reader *reader = context;
    if (reader->status == RT_OK && !row_is_blank(reader) && !is_beside(reader) && reader->status == RT_OK) {
        char **cells = rt_grow_array(reader->cells, &reader->cell_capacity, reader->count, sizeof *cells);
        if (cells == NULL) {
            reader->status = rt_fail_memory(reader->error);
            return;
        }
        reader->cells = cells;
        for (size_t i = 0; i < reader->count; i++)
            cells[i] = reader->bytes.bytes + reader->offsets[i];
        reader->rows++;
        struct rt_row row = {cells, reader->count, reader->row_line, reader->bytes_read};
        reader->status = reader->function(reader->context, &row, reader->error);
    }
    reader->count = 0;
    rt_text_clear(&reader->bytes);
}

/* Begin a UTF-8 sequence (RFC 3629, section 4): how many bytes follow, and the range of the first of them. */
static bool begin_sequence(struct reader *reader, unsigned char byte)
{
    reader->utf8_least = 0x80;
    reader->utf8_most = 0xbf;
    if (byte >= 0xc2 && byte <= 0xdf)
        reader->utf8_left = 1;
    else if (byte >= 0xe0 && byte <= 0xef)
        reader->utf8_left = 2;
    else if (byte >= 0xf0 && byte <= 0xf4)
        reader->utf8_left = 3;
    else
        return false;
    if (byte == 0xe0)
        reader->utf8_least = 0xa0;
    if (byte == 0xed)
        reader->utf8_most = 0x9f;
    if (byte == 0xf0)
        reader->utf8_least = 0x90;
    if (byte == 0xf4)
        reader->utf8_most = 0x8f;
    return true;
}

static enum rt_status fail_utf8(struct reader *reader)
{
    return fail_input(reader, reader->line, "this line is not UTF-8 text",
                      reader->skip_headers ? "save the sheet as CSV (UTF-8), or state its --encoding"
                                           : "save the sheet as CSV (UTF-8)");
}

static enum rt_status check_byte(struct reader *reader, unsigned char byte)
{
    if (byte == 0)
        return fail_input(reader, reader->line, "this is not a text file", "save the sheet as CSV (UTF-8)");
    bool fits = true;
    if (reader->utf8_left > 0) {
        fits = byte >= reader->utf8_least && byte <= reader->utf8_most;
        reader->utf8_left--;
        reader->utf8_least = 0x80;
        reader->utf8_most = 0xbf;
    } else if (byte >= 0x80) {
        fits = begin_sequence(reader, byte);
    }
    return fits ? RT_OK : fail_utf8(reader);
}

static enum rt_status parse_part(struct reader *reader, const unsigned char *bytes, size_t length)
{
    if (csv_parse(&reader->parser, bytes, length, take_cell, take_row, reader) != length &&
        reader->status == RT_OK)
        return csv_error(&reader->parser) == CSV_ENOMEM
                   ? rt_fail_memory(reader->error)
                   : fail_input(reader, reader->line, csv_strerror(csv_error(&reader->parser)),
                                "look at this line");
    if (reader->status == RT_OK && reader->parser.entry_pos > LONGEST_ROW)
        return fail_input(reader, reader->row_line, "this row is too long",
                          "look for a quote that is never closed on this line or above");
    return reader->status;
}

/* Hand the parser one line at a time, so that a row knows the line it begins on. */
static enum rt_status take_bytes(struct reader *reader, const unsigned char *bytes, size_t length)
{
    size_t start = 0;
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < length; i++) {
        if (start == i && reader->parser.pstate == BETWEEN_ROWS)
            reader->row_line = reader->line;
        if (bytes[i] == 0 || bytes[i] >= 0x80 || reader->utf8_left > 0)
            status = check_byte(reader, bytes[i]);
        bool ends_line = bytes[i] == '\n' || bytes[i] == '\r';
        if (status == RT_OK && ends_line) {
            status = parse_part(reader, bytes + start, i + 1 - start);
            start = i + 1;
            if (bytes[i] == '\r' || !reader->after_return)
                reader->line++;
        }
        reader->after_return = bytes[i] == '\r';
    }
    if (status == RT_OK && start < length)
        status = parse_part(reader, bytes + start, length - start);
    return status;
}

static enum rt_status fail_encoding(struct reader *reader)
{
    char message[80];
    if (reader->dialect.encoding == RT_ENCODING_UTF8 || reader->dialect.encoding == RT_ENCODING_DETECT)
        return RT_OK;
    snprintf(message, sizeof message, "this line is not %s text", encoding_name(reader->dialect.encoding));
    return fail_input(reader, reader->line, message,
                      "save the sheet as CSV (UTF-8), or state another --encoding");
}

/* Bytes of the file as they are: to UTF-8, then to the parser. */
static enum rt_status decode_bytes(struct reader *reader, const unsigned char *bytes, size_t length)
{
    if (reader->dialect.encoding == RT_ENCODING_UTF8 || reader->dialect.encoding == RT_ENCODING_DETECT)
        return take_bytes(reader, bytes, length);
    rt_text_clear(&reader->decoded);
    bool fits = decode_part(&reader->decoder, bytes, length, &reader->decoded);
    enum rt_status status = rt_text_status(&reader->decoded, reader->error);
    if (status == RT_OK && reader->decoded.length > 0)
        status = take_bytes(reader, (const unsigned char *)reader->decoded.bytes, reader->decoded.length);
    return status == RT_OK && !fits ? fail_encoding(reader) : status;
}

/* What the first bytes say about the file; *skip receives the length of a byte order mark. */
static enum rt_status check_start(struct reader *reader, const unsigned char *bytes, size_t length,
                                  size_t *skip)
{
    *skip = length >= 3 && memcmp(bytes, "\xef\xbb\xbf", 3) == 0 ? 3 : 0;
    if (length == *skip)
        return fail_input(reader, 0, "this file is empty", "name a file with a header line and rows");
    bool utf16 =
        reader->dialect.encoding == RT_ENCODING_UTF16_LE || reader->dialect.encoding == RT_ENCODING_UTF16_BE;
    if (!utf16 && length >= 2 && (memcmp(bytes, "\xff\xfe", 2) == 0 || memcmp(bytes, "\xfe\xff", 2) == 0))
        return fail_input(reader, 0, "this file is UTF-16 text", "save the sheet as CSV (UTF-8)");
    if (length >= 4 && (memcmp(bytes, "PK\x03\x04", 4) == 0 || memcmp(bytes, "\xd0\xcf\x11\xe0", 4) == 0))
        return fail_input(reader, 0, "this is a spreadsheet workbook, not CSV",
                          "save each sheet as CSV (UTF-8), or all as .xlsx");
    if (length >= 2 && memcmp(bytes, "\x1f\x8b", 2) == 0)
        return fail_input(reader, 0, "this file is packed", "unpack it first");
    if (length >= 5 && memcmp(bytes, "%PDF-", 5) == 0)
        return fail_input(reader, 0, "this is a printed page (PDF), not a table",
                          "save the sheet it was made from as CSV (UTF-8)");
    if (!utf16 && length >= *skip + 2 && bytes[*skip] == '<' && strchr("!?hH", bytes[*skip + 1]) != NULL)
        return fail_input(reader, 0, "this is a web page or XML, not CSV",
                          "open it in a spreadsheet program and save it as CSV (UTF-8)");
    if (length >= 16 && memcmp(bytes, "SQLite format 3", 16) == 0)
        return fail_input(reader, 0, "this is a database, not CSV", "name the CSV files to load");
    return RT_OK;
}

/* The end of the text: nothing may be left open. */
static enum rt_status finish(struct reader *reader)
{
    enum rt_status status = decode_ended(&reader->decoder) ? RT_OK : fail_encoding(reader);
    if (status == RT_OK && reader->utf8_left > 0)
        status = fail_utf8(reader);
    if (status == RT_OK && reader->parser.pstate == INSIDE_FIELD && reader->parser.quoted != 0)
        status = fail_input(reader, reader->row_line, "a quote that begins in this row is never closed",
                            "close it, or save the sheet as CSV again");
    if (status == RT_OK && csv_fini(&reader->parser, take_cell, take_row, reader) != 0)
        status = rt_fail_memory(reader->error);
    return status == RT_OK ? reader->status : status;
}

static enum rt_status read_stream(struct reader *reader, FILE *stream)
{
    unsigned char chunk[CHUNK_BYTES];
    size_t got = 0;
    bool first = true;
    enum rt_status status = RT_OK;
    errno = 0;
    while (status == RT_OK && ((got = fread(chunk, 1, sizeof chunk, stream)) > 0 || first)) {
        size_t skip = 0;
        if (first && !ferror(stream))
            status = check_start(reader, chunk, got, &skip);
        first = false;
        rt_sha256_add(&reader->hash, chunk, got);
        reader->bytes_read += (double)got;
        if (status == RT_OK && got > skip)
            status = decode_bytes(reader, chunk + skip, got - skip);
    }
    if (ferror(stream)) {
        int reason = errno;
        rt_error_clear(reader->error);
        rt_fail(reader->error, RT_SYSTEM, "cannot read: %s", strerror(reason));
        rt_error_locate(reader->error, reader->path, 0, NULL);
        rt_error_remedy(reader->error, "check the disk or the connection to it");
        return RT_SYSTEM;
    }
    return status == RT_OK ? finish(reader) : status;
}

/* stat first: opening a pipe would wait for its other end. */
enum rt_status open_rows(const char *path, FILE **stream, bool again, struct rt_error *error)
{
    struct stat information;
    int reason = stat(path, &information) == 0 ? 0 : errno;
    *stream = NULL;
    if (reason == 0 && again && !S_ISREG(information.st_mode) && !S_ISDIR(information.st_mode)) {
        rt_fail(error, RT_INPUT, "this is a pipe or a device, not a file");
        rt_error_locate(error, path, 0, NULL);
        rt_error_remedy(error, "save it as a file first, because files are read more than once");
        return RT_INPUT;
    }
    if (reason == 0 && S_ISDIR(information.st_mode))
        reason = EISDIR;
    if (reason == 0 && (*stream = fopen(path, "rbe")) == NULL)
        reason = errno;
    if (reason == 0)
        return RT_OK;
    rt_fail(error, RT_INPUT, "%s", reason == EISDIR ? "this is a folder" : strerror(reason));
    rt_error_locate(error, path, 0, NULL);
    rt_error_remedy(error,
                    reason == EISDIR ? "name the CSV files inside it" : "check the name and its permissions");
    return RT_INPUT;
}

static enum rt_status start(struct reader *reader, const struct rt_dialect *dialect)
{
    rt_sha256_start(&reader->hash);
    if (dialect != NULL) {
        reader->dialect = *dialect;
        reader->skip_headers = true;
    }
    reader->decoder.encoding = reader->dialect.encoding;
    if (csv_init(&reader->parser, CSV_APPEND_NULL) != 0)
        return rt_fail_memory(reader->error);
    if (reader->dialect.separator != '\0')
        csv_set_delim(&reader->parser, (unsigned char)reader->dialect.separator);
    return RT_OK;
}

static enum rt_status sink_cell(void *context, const char *text, size_t length)
{
    struct reader *reader = context;
    take_cell((void *)(uintptr_t)text, length, reader); /* which only copies */
    return reader->status;
}

static enum rt_status sink_row(void *context, long line)
{
    struct reader *reader = context;
    reader->row_line = line;
    take_row('\n', reader);
    return reader->status;
}

/* The rows of a workbook's sheet, by the same way as those of a text file. */
static enum rt_status read_book(struct reader *reader, const char *path, const char *bytes, size_t length)
{
    struct row_sink sink = {sink_cell, sink_row, reader};
    enum rt_status status = read_workbook(path, bytes, length, reader->dialect.sheet, &sink, reader->error);
    if (status != RT_OK && status != RT_PARTIAL)
        rt_error_locate(reader->error, reader->path, 0, NULL);
    return status;
}

static enum rt_status hash_stream(struct reader *reader, FILE *stream)
{
    unsigned char chunk[CHUNK_BYTES];
    size_t got = 0;
    while ((got = fread(chunk, 1, sizeof chunk, stream)) > 0)
        rt_sha256_add(&reader->hash, chunk, got);
    if (!ferror(stream))
        return RT_OK;
    rt_fail(reader->error, RT_SYSTEM, "cannot read: %s", strerror(errno));
    rt_error_locate(reader->error, reader->path, 0, NULL);
    return RT_SYSTEM;
}

static enum rt_status check_any_row(struct reader *reader)
{
    char message[80];
    if (reader->rows > 0)
        return RT_OK;
    if (!reader->skip_headers || reader->dialect.header_line <= 1)
        return fail_input(reader, 0, "this file holds nothing but blank lines",
                          "name a file with a header line and rows");
    snprintf(message, sizeof message, "there is no header on line %ld or below", reader->dialect.header_line);
    return fail_input(reader, 0, message, "look in the file for the line with the column names");
}

static void release(struct reader *reader)
{
    csv_free(&reader->parser);
    rt_text_release(&reader->bytes);
    rt_text_release(&reader->decoded);
    rt_text_release(&reader->header);
    free(reader->offsets);
    free(reader->cells);
}

static enum rt_status read_file(const char *path, const struct rt_dialect *dialect, rt_row_function function,
                                void *context, char sha256[RT_SHA256_HEX], struct rt_error *error)
{
    FILE *stream = NULL;
    struct rt_error local = {0};
    struct reader reader = {.path = path, .function = function, .context = context, .line = 1, .row_line = 1};
    reader.error = error == NULL ? &local : error;
    enum rt_status status = open_rows(path, &stream, false, reader.error);
    if (status != RT_OK)
        return status;
    status = start(&reader, dialect);
    if (status == RT_OK)
        status = reader.dialect.workbook ? read_book(&reader, path, NULL, 0) : read_stream(&reader, stream);
    if (status == RT_OK && reader.dialect.workbook && sha256 != NULL)
        status = hash_stream(&reader, stream);
    if (status == RT_OK)
        status = check_any_row(&reader);
    if (sha256 != NULL)
        rt_sha256_finish_hex(&reader.hash, sha256);
    fclose(stream);
    release(&reader);
    return status;
}

enum rt_status rt_read_rows(const char *path, rt_row_function function, void *context,
                            char sha256[RT_SHA256_HEX], struct rt_error *error)
{
    return read_file(path, NULL, function, context, sha256, error);
}

enum rt_status rt_read_dialect_rows(const char *path, const struct rt_dialect *dialect,
                                    rt_row_function function, void *context, char sha256[RT_SHA256_HEX],
                                    struct rt_error *error)
{
    return read_file(path, dialect, function, context, sha256, error);
}

enum rt_status rt_read_row_bytes(const char *name, const char *bytes, size_t length, bool whole,
                                 const struct rt_dialect *dialect, rt_row_function function, void *context,
                                 struct rt_error *error)
{
    struct rt_error local = {0};
    struct reader reader = {.path = name, .function = function, .context = context, .line = 1, .row_line = 1};
    const unsigned char *start_of_bytes = (const unsigned char *)bytes;
    size_t skip = 0;
    reader.error = error == NULL ? &local : error;
    enum rt_status status = start(&reader, dialect);
    if (status == RT_OK && reader.dialect.workbook) {
        status = read_book(&reader, NULL, bytes, length);
        release(&reader);
        return status;
    }
    if (status == RT_OK)
        status = check_start(&reader, start_of_bytes, length, &skip);
    for (size_t at = skip; status == RT_OK && at < length; at += CHUNK_BYTES)
        status =
            decode_bytes(&reader, start_of_bytes + at, length - at < CHUNK_BYTES ? length - at : CHUNK_BYTES);
    if (status == RT_OK && whole)
        status = finish(&reader);
    if (status == RT_OK && whole)
        status = check_any_row(&reader);
    release(&reader);
    return status;
}
