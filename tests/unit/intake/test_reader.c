/* Streaming rows of CSV files. Quoting: RFC 4180; UTF-8: RFC 3629. */
#include "../support/records.h"

#include "ridgetally/base/file.h"
#include "ridgetally/base/text.h"
#include "ridgetally/intake/reader.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static enum rt_status keep_row(void *context, const struct rt_row *row, struct rt_error *error)
{
    struct rt_text *text = context;
    rt_text_format(text, "%ld", row->line);
    for (size_t i = 0; i < row->count; i++)
        rt_text_format(text, "[%s]", row->cells[i]);
    rt_text_add(text, "\n");
    return rt_text_status(text, error);
}

static enum rt_status read_bytes(struct bench *bench, const char *bytes, size_t length, struct rt_text *rows)
{
    char path[160];
    snprintf(path, sizeof path, "%s/rows.csv", bench->folder);
    assert_int_equal(rt_write_file(path, bytes, length, NULL), RT_OK);
    rt_text_clear(rows);
    rt_error_clear(&bench->error);
    return rt_read_rows(path, keep_row, rows, NULL, &bench->error);
}

static void reads(struct bench *bench, const char *bytes, const char *expected)
{
    struct rt_text rows = {0};
    assert_int_equal(read_bytes(bench, bytes, strlen(bytes), &rows), RT_OK);
    assert_string_equal(rows.bytes, expected);
    rt_text_release(&rows);
}

static void refuses(struct bench *bench, const char *bytes, size_t length, long line, const char *message,
                    const char *remedy)
{
    struct rt_text rows = {0};
    assert_int_equal(read_bytes(bench, bytes, length, &rows), RT_INPUT);
    assert_string_equal(bench->error.message, message);
    assert_string_equal(bench->error.remedy, remedy);
    assert_int_equal(bench->error.line, line);
    assert_true(strstr(bench->error.file, "rows.csv") != NULL);
    rt_text_release(&rows);
}

static void rows_and_their_lines(void **state)
{
    struct bench *bench = *state;
    reads(bench, "a,b\n1,2\n", "1[a][b]\n2[1][2]\n");
    reads(bench, "a,b\r\n1,2\r\n3,4", "1[a][b]\n2[1][2]\n3[3][4]\n");
    reads(bench, "a,b\r1,2\r3,4\r", "1[a][b]\n2[1][2]\n3[3][4]\n");
    reads(bench,
          "\xef\xbb\xbf"
          "a,b\n1,2\n",
          "1[a][b]\n2[1][2]\n");
    reads(bench, "a\n\n\r\n  \n,,\nb\n", "1[a]\n6[b]\n");
    reads(bench, "a,b\n\"x\ny\r\nz\",2\nq,\n", "1[a][b]\n2[x\ny\r\nz][2]\n5[q][]\n");
    reads(bench, "a,\"b \"\"c\"\",d\"\n", "1[a][b \"c\",d]\n");
    reads(bench, " a , b \n", "1[a][b]\n"); /* spaces outside quotes do not count */
    reads(bench, "\" a \"\n", "1[ a ]\n");
    reads(bench, "\xc3\xa4,\xe2\x89\xa5,\xf0\x9f\xa6\xb7\n", "1[\xc3\xa4][\xe2\x89\xa5][\xf0\x9f\xa6\xb7]\n");
}

static void what_is_no_csv(void **state)
{
    struct bench *bench = *state;
    const char *save = "save the sheet as CSV (UTF-8)";
    refuses(bench, "", 0, 0, "this file is empty", "name a file with a header line and rows");
    refuses(bench, "\xef\xbb\xbf", 3, 0, "this file is empty", "name a file with a header line and rows");
    refuses(bench, "\n\n  \n", 5, 0, "this file holds nothing but blank lines",
            "name a file with a header line and rows");
    refuses(bench,
            "\xff\xfe"
            "a\0",
            4, 0, "this file is UTF-16 text", save);
    refuses(bench, "\xfe\xff\0a", 4, 0, "this file is UTF-16 text", save);
    refuses(bench, "PK\x03\x04zip", 7, 0, "this is a spreadsheet workbook, not CSV",
            "save each sheet as CSV (UTF-8), or all as .xlsx");
    refuses(bench, "\xd0\xcf\x11\xe0old", 7, 0, "this is a spreadsheet workbook, not CSV",
            "save each sheet as CSV (UTF-8), or all as .xlsx");
    refuses(bench, "SQLite format 3\0xxx", 19, 0, "this is a database, not CSV",
            "name the CSV files to load");
    refuses(bench, "a,b\n1,\0\n", 8, 2, "this is not a text file", save);
    refuses(bench, "a\nb\ncaf\xe9\n", 9, 3, "this line is not UTF-8 text", save);
    refuses(bench, "a\n\xc3", 3, 2, "this line is not UTF-8 text", save);
    refuses(bench, "a\n\xc0\xaf\n", 5, 2, "this line is not UTF-8 text", save);     /* overlong */
    refuses(bench, "a\n\xed\xa0\x80\n", 6, 2, "this line is not UTF-8 text", save); /* surrogate */
    refuses(bench, "a\n\xf5\x80\x80\x80\n", 7, 2, "this line is not UTF-8 text", save);
    refuses(bench, "a\n1\n\"open\nnever", 15, 3, "a quote that begins in this row is never closed",
            "close it, or save the sheet as CSV again");
}

static void a_row_without_end_is_cut_off(void **state)
{
    struct bench *bench = *state;
    size_t length = 3u << 20;
    char *bytes = malloc(length);
    assert_non_null(bytes);
    memset(bytes, 'x', length);
    bytes[0] = '"';
    refuses(bench, bytes, length, 1, "this row is too long",
            "look for a quote that is never closed on this line or above");
    memset(bytes, ',', length);
    bytes[0] = 'a';
    refuses(bench, bytes, length, 1, "this row is too long",
            "look for a quote that is never closed on this line or above");
    free(bytes);
}

/* Lines longer than the reading chunk, and sequences that lie across its end. */
static void chunks_do_not_show(void **state)
{
    struct bench *bench = *state;
    struct rt_text file = {0};
    struct rt_text expected = {0};
    struct rt_text rows = {0};
    for (int i = 0; i < 40000; i++) {
        rt_text_format(&file, "%d,\"\xe2\x89\xa5%d\r\n\"\r\n", i, i * 7);
        rt_text_format(&expected, "%d[%d][\xe2\x89\xa5%d\r\n]\n", 2 * i + 1, i, i * 7);
    }
    assert_int_equal(read_bytes(bench, file.bytes, file.length, &rows), RT_OK);
    assert_int_equal(rows.length, expected.length);
    assert_memory_equal(rows.bytes, expected.bytes, expected.length);
    rt_text_release(&file);
    rt_text_release(&expected);
    rt_text_release(&rows);
}

static void the_hash_is_of_the_bytes(void **state)
{
    struct bench *bench = *state;
    struct rt_text rows = {0};
    char hash[RT_SHA256_HEX];
    /* sha256 of the five bytes, by `printf 'a,b\r\n' | sha256sum` */
    assert_int_equal(rt_read_rows(put_file(bench, "h.csv", "a,b\r\n"), keep_row, &rows, hash, NULL), RT_OK);
    assert_string_equal(hash, "fbf6b30113a4b6418c623a96ed6844f17ef5751b908a16abaa919d0bcd6b7784");
    rt_text_release(&rows);
}

static void files_that_cannot_be_opened(void **state)
{
    struct bench *bench = *state;
    struct rt_text rows = {0};
    assert_int_equal(rt_read_rows(bench->folder, keep_row, &rows, NULL, &bench->error), RT_INPUT);
    assert_string_equal(bench->error.message, "this is a folder");
    assert_string_equal(bench->error.remedy, "name the CSV files inside it");
    rt_error_clear(&bench->error);
    assert_int_equal(rt_read_rows("/no/such/file.csv", keep_row, &rows, NULL, &bench->error), RT_INPUT);
    assert_string_equal(bench->error.message, "No such file or directory");
    assert_string_equal(bench->error.file, "/no/such/file.csv");
    assert_int_equal(rt_read_rows("/no/such/file.csv", keep_row, &rows, NULL, NULL), RT_INPUT);
    rt_text_release(&rows);
}

int main(void)
{
#define ON_BENCH(test) cmocka_unit_test_setup_teardown(test, open_bench, close_bench)
    const struct CMUnitTest tests[] = {
        ON_BENCH(rows_and_their_lines),         ON_BENCH(what_is_no_csv),
        ON_BENCH(a_row_without_end_is_cut_off), ON_BENCH(chunks_do_not_show),
        ON_BENCH(the_hash_is_of_the_bytes),     ON_BENCH(files_that_cannot_be_opened),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
