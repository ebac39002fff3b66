/* Sheets of .xlsx workbooks, made here part by part (ECMA-376). Day numbers: 43890 in the 1900 system and 42428 in the 1904
 * system are 2020-02-29. */
#include "../../../src/intake/workbook.h"

#include "../support/records.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <zip.h>

#include <cmocka.h>

#define XML "<?xml version=\"1.0\" encoding=\"UTF-8\"?>"
#define RELATIONS                                                                                            \
    XML "<Relationships><Relationship Id=\"r1\" Target=\"worksheets/one.xml\"/>"                             \
        "<Relationship Id=\"r2\" Target=\"/xl/worksheets/two.xml\"/></Relationships>"
#define STYLES                                                                                               \
    XML "<styleSheet><numFmts><numFmt numFmtId=\"164\" formatCode=\"[Red]0.0 &quot;days&quot;\"/>"           \
        "<numFmt numFmtId=\"165\" formatCode=\"dd\\-mmm\\-yy\"/></numFmts><cellStyleXfs><xf "                \
        "numFmtId=\"14\"/>"                                                                                  \
        "</cellStyleXfs><cellXfs><xf numFmtId=\"0\"/><xf numFmtId=\"14\"/><xf numFmtId=\"164\"/>"            \
        "<xf numFmtId=\"165\"/><xf numFmtId=\"20\"/></cellXfs></styleSheet>"
#define STRINGS                                                                                              \
    XML "<sst><si><t>plain</t></si><si><r><t>ri</t></r><r><t xml:space=\"preserve\">ch </t></r>"             \
        "<rPh><t>aid</t></rPh></si></sst>"

static void add_part(zip_t *zip, const char *name, const char *text)
{
    if (text != NULL)
        assert_true(zip_file_add(zip, name, zip_source_buffer(zip, text, strlen(text), 0), 0) >= 0);
}

/* The bytes of a workbook: two sheets when two is given. The caller frees them. */
static char *make_book(const char *properties, const char *one, const char *two, size_t *length)
{
    char workbook[512];
    zip_error_t error;
    zip_stat_t stat;
    zip_error_init(&error);
    zip_source_t *source = zip_source_buffer_create(NULL, 0, 0, &error);
    zip_t *zip = zip_open_from_source(source, ZIP_TRUNCATE, &error);
    assert_non_null(zip);
    zip_source_keep(source);
    snprintf(workbook, sizeof workbook,
             XML "<workbook>%s<sheets><sheet name=\"One\" r:id=\"r1\"/>%s</sheets></workbook>", properties,
             two == NULL ? "" : "<sheet name=\"Two &amp; more\" r:id=\"r2\"/>");
    add_part(zip, "xl/workbook.xml", workbook);
    add_part(zip, "xl/_rels/workbook.xml.rels", RELATIONS);
    add_part(zip, "xl/styles.xml", STYLES);
    add_part(zip, "xl/sharedStrings.xml", STRINGS);
    add_part(zip, "xl/worksheets/one.xml", one);
    add_part(zip, "xl/worksheets/two.xml", two);
    assert_int_equal(zip_close(zip), 0);
    assert_int_equal(zip_source_open(source), 0);
    assert_int_equal(zip_source_stat(source, &stat), 0);
    char *bytes = malloc(stat.size);
    assert_non_null(bytes);
    assert_int_equal(zip_source_read(source, bytes, stat.size), (zip_int64_t)stat.size);
    *length = stat.size;
    zip_source_close(source);
    zip_source_free(source);
    zip_error_fini(&error);
    return bytes;
}

static enum rt_status take_cell(void *context, const char *text, size_t length)
{
    rt_text_format(context, "[%.*s]", (int)length, text);
    return RT_OK;
}

static enum rt_status take_row(void *context, long line)
{
    rt_text_format(context, "%ld\n", line);
    return RT_OK;
}

static enum rt_status read_rows(const char *bytes, size_t length, const char *sheet, struct rt_text *rows,
                                struct rt_error *error)
{
    struct row_sink sink = {take_cell, take_row, rows};
    return read_workbook(NULL, bytes, length, sheet, &sink, error);
}

static void gives(const char *properties, const char *sheet, const char *expected)
{
    struct rt_text rows = {0};
    size_t length = 0;
    char *bytes = make_book(properties, sheet, NULL, &length);
    assert_int_equal(read_rows(bytes, length, NULL, &rows, NULL), RT_OK);
    assert_string_equal(rows.bytes, expected);
    rt_text_release(&rows);
    free(bytes);
}

#define SHEET(rows) XML "<worksheet><sheetData>" rows "</sheetData></worksheet>"

static void cells(void **state)
{
    (void)state;
    gives("",
          SHEET("<row r=\"2\"><c r=\"A2\" t=\"s\"><v>0</v></c><c r=\"C2\" t=\"s\"><v>1</v></c></row>"
                "<row r=\"5\"><c r=\"A5\"/><c r=\"B5\" "
                "t=\"inlineStr\"><is><t>in</t><rPh><t>x</t></rPh></is></c></row>"),
          "[plain][][rich ]2\n[][in]5\n");
    gives("", SHEET("<row><c><v>3.5</v></c><c><v>0.30000000000000004</v></c><c><v>1E2</v></c></row>"),
          "[3.5][0.3][100]1\n");
    gives("",
          SHEET("<row><c t=\"b\"><v>1</v></c><c t=\"b\"><v>0</v></c><c t=\"e\"><v>#N/A</v></c>"
                "<c t=\"str\"><f>A1&amp;\"x\"</f><v>ax</v></c></row>"),
          "[yes][no][#N/A][ax]1\n");
}

static void dates(void **state)
{
    (void)state;
    const char *days =
        SHEET("<row><c s=\"1\"><v>43890</v></c><c s=\"3\"><v>43890.75</v></c><c s=\"2\"><v>43890</v></c>"
              "<c s=\"4\"><v>0.5</v></c><c><v>43890</v></c></row>");
    gives("", days, "[2020-02-29][2020-02-29][43890][0.5][43890]1\n");
    gives("<workbookPr date1904=\"1\"/>",
          SHEET("<row><c s=\"1\"><v>42428</v></c><c s=\"1\"><v>0</v></c></row>"),
          "[2020-02-29][1904-01-01]1\n");
    gives("<workbookPr date1904=\"0\"/>",
          SHEET("<row><c s=\"1\"><v>1</v></c><c s=\"1\"><v>59</v></c><c s=\"1\"><v>60</v></c><c "
                "s=\"1\"><v>61</v></c></row>"),
          "[1900-01-01][1900-02-28][day number 60][1900-03-01]1\n");
    gives("", SHEET("<row><c s=\"1\"><v>-5</v></c><c s=\"1\"><v>1e9</v></c></row>"),
          "[day number -5][day number 1e9]1\n");
}

static void fails(const char *bytes, size_t length, const char *sheet, const char *message)
{
    struct rt_text rows = {0};
    struct rt_error error = {0};
    assert_int_equal(read_rows(bytes, length, sheet, &rows, &error), RT_INPUT);
    assert_string_equal(error.message, message);
    assert_true(error.remedy[0] != '\0');
    rt_text_release(&rows);
}

static void sheets_by_name(void **state)
{
    (void)state;
    struct rt_text rows = {0};
    size_t length = 0;
    char *bytes =
        make_book("", SHEET("<row><c><v>1</v></c></row>"), SHEET("<row><c><v>2</v></c></row>"), &length);
    fails(bytes, length, NULL, "the workbook has several sheets: One, Two & more");
    fails(bytes, length, "Three", "the workbook has no such sheet, but: One, Two & more");
    assert_int_equal(read_rows(bytes, length, "Two & more", &rows, NULL), RT_OK);
    assert_string_equal(rows.bytes, "[2]1\n");
    rt_text_release(&rows);
    free(bytes);
}

static void what_is_damaged(void **state)
{
    (void)state;
    size_t length = 0;
    static const char *const damaged[] = {
        SHEET("<row><c t=\"s\"><v>2</v></c></row>"),
        SHEET("<row><c t=\"s\"><v>-1</v></c></row>"),
        SHEET("<row><c t=\"s\"><v>x</v></c></row>"),
        SHEET("<row><c>"),
        "",
    };
    fails("PK\x03\x04rest", 8, NULL, "this workbook is damaged");
    for (size_t i = 0; i < sizeof damaged / sizeof damaged[0]; i++) {
        char *bytes = make_book("", damaged[i], NULL, &length);
        fails(bytes, length, NULL, "this workbook is damaged");
        fails(bytes, length / 2, NULL, "this workbook is damaged");
        free(bytes);
    }
    char *bytes = make_book("", SHEET("<row><c r=\"ZZZ1\"><v>1</v></c></row>"), NULL, &length);
    fails(bytes, length, NULL, "this workbook is damaged, or has more columns than a sheet of records");
    free(bytes);
    bytes = make_book("", NULL, NULL, &length);
    fails(bytes, length, NULL, "this is no workbook of sheets");
    free(bytes);
    bytes = make_book("", "<!DOCTYPE a [<!ENTITY b \"c\">]><worksheet/>", NULL, &length);
    fails(bytes, length, NULL, "this workbook has a document type, which no spreadsheet program writes");
    free(bytes);
}

/* 100 MB of spaces in a few hundred kilobytes. */
static void a_bomb_is_not_unpacked(void **state)
{
    (void)state;
    size_t size = (size_t)100 << 20;
    size_t length = 0;
    char *spaces = malloc(size + 1);
    assert_non_null(spaces);
    memset(spaces, ' ', size);
    memcpy(spaces, "<worksheet>", 11);
    spaces[size] = '\0';
    char *bytes = make_book("", spaces, NULL, &length);
    assert_true(length < size / 200);
    fails(bytes, length, NULL, "this workbook unpacks to far more than a sheet of records");
    free(bytes);
    free(spaces);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cells),
        cmocka_unit_test(dates),
        cmocka_unit_test(sheets_by_name),
        cmocka_unit_test(what_is_damaged),
        cmocka_unit_test(a_bomb_is_not_unpacked),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
