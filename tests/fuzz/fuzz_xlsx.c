/* Any bytes as a workbook, or (first byte 1 to 5) as one part of a workbook that is whole otherwise: a zip's checksums would
 * keep most of what is tried from ever reaching the XML. */
#include "../../src/intake/workbook.h"

#include "ridgetally/intake/dialect.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <zip.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define XML "<?xml version=\"1.0\" encoding=\"UTF-8\"?>"

enum { PARTS = 5 };

static const char *const names[PARTS] = {"xl/worksheets/one.xml", "xl/sharedStrings.xml", "xl/styles.xml",
                                         "xl/workbook.xml", "xl/_rels/workbook.xml.rels"};

static const char *const whole[PARTS] = {
    XML "<worksheet><sheetData><row r=\"1\"><c r=\"A1\" t=\"s\"><v>0</v></c><c r=\"C1\" s=\"1\"><v>43890</v>"
        "</c></row></sheetData></worksheet>",
    XML "<sst><si><t>plain</t></si></sst>",
    XML "<styleSheet><cellXfs><xf numFmtId=\"0\"/><xf numFmtId=\"14\"/></cellXfs></styleSheet>",
    XML "<workbook><sheets><sheet name=\"One\" r:id=\"r1\"/></sheets></workbook>",
    XML "<Relationships><Relationship Id=\"r1\" Target=\"worksheets/one.xml\"/></Relationships>"};

/* The workbook with this part in the place of its own; NULL when memory ran out. */
static char *wrap(size_t part, const uint8_t *bytes, size_t size, size_t *length)
{
    zip_error_t error;
    zip_stat_t stat;
    char *book = NULL;
    zip_error_init(&error);
    zip_source_t *source = zip_source_buffer_create(NULL, 0, 0, &error);
    zip_t *zip = source == NULL ? NULL : zip_open_from_source(source, ZIP_TRUNCATE, &error);
    if (zip == NULL)
        return NULL;
    zip_source_keep(source);
    for (size_t i = 0; i < PARTS; i++) {
        const void *content = i == part ? (const void *)bytes : whole[i];
        size_t bytes_of = i == part ? size : strlen(whole[i]);
        zip_int64_t index =
            zip_file_add(zip, names[i], zip_source_buffer(zip, content, bytes_of, 0), ZIP_FL_ENC_UTF_8);
        if (index >= 0)
            zip_set_file_compression(zip, (zip_uint64_t)index, ZIP_CM_STORE, 0);
    }
    if (zip_close(zip) == 0 && zip_source_open(source) == 0) {
        if (zip_source_stat(source, &stat) == 0 && (book = malloc(stat.size)) != NULL &&
            zip_source_read(source, book, stat.size) == (zip_int64_t)stat.size)
            *length = stat.size;
        zip_source_close(source);
    }
    zip_source_free(source);
    zip_error_fini(&error);
    return book;
}

struct seen {
    long last_row;
    size_t cells, rows;
};

static enum rt_status take_cell(void *context, const char *text, size_t length)
{
    struct seen *seen = context;
    if (length > 0 && memchr(text, '\0', length) != NULL)
        abort(); /* cells become C strings */
    seen->cells++;
    return RT_OK;
}

static enum rt_status take_row(void *context, long line)
{
    struct seen *seen = context;
    if (line < 1)
        abort();
    seen->last_row = line;
    seen->rows++;
    return RT_OK;
}

static enum rt_status look(void *context, const struct rt_row *row, struct rt_error *error)
{
    (void)error;
    (void)context;
    for (size_t i = 0; i < row->count; i++)
        memset(row->cells[i], 'x', strlen(row->cells[i])); /* cells are the taker's to write */
    return RT_OK;
}

static void read_book(const char *bytes, size_t length)
{
    struct seen seen = {.rows = 0};
    struct rt_error error = {.status = RT_OK};
    const struct row_sink sink = {take_cell, take_row, &seen};
    struct rt_dialect dialect = {.workbook = true};
    enum rt_status status = read_workbook(NULL, bytes, length, NULL, &sink, &error);
    if (status != RT_OK && error.message[0] == '\0')
        abort(); /* what is wrong is told */
    rt_error_clear(&error);
    rt_read_row_bytes("fuzz.xlsx", bytes, length, true, &dialect, look, NULL, &error);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    size_t length = 0;
    if (size == 0)
        return 0;
    size_t part = data[0] % (PARTS + 1);
    char *book = part == 0 ? malloc(size) : wrap(part - 1, data + 1, size - 1, &length);
    if (book == NULL)
        return 0;
    if (part == 0) {
        length = size - 1;
        memcpy(book, data + 1, length);
    }
    read_book(book, length);
    free(book);
    return 0;
}
