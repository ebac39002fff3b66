/* How files are written: detected from what they prove. UTF-16: RFC 2781; Windows-1252: the Unicode consortium's table. */
#include "../support/records.h"

#include "ridgetally/base/file.h"
#include "ridgetally/intake/dialect.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include <cmocka.h>

/* Knows the columns id and size; only size holds numbers. */
static size_t known(const void *context, const struct rt_row *row)
{
    (void)context;
    size_t count = 0;
    for (size_t i = 0; i < row->count; i++)
        count += strcmp(row->cells[i], "id") == 0 || strcmp(row->cells[i], "size") == 0;
    return count;
}

static bool holds_numbers(const void *context, const char *name)
{
    (void)context;
    return strcmp(name, "size") == 0;
}

static const struct rt_header_judge judge = {known, holds_numbers, NULL};

static enum rt_status keep_row(void *context, const struct rt_row *row, struct rt_error *error)
{
    struct rt_text *text = context;
    rt_text_format(text, "%ld", row->line);
    for (size_t i = 0; i < row->count; i++)
        rt_text_format(text, "[%s]", row->cells[i]);
    rt_text_add(text, "\n");
    return rt_text_status(text, error);
}

/* Detect in memory, then read: the words, and the rows. */
static void is_read(const char *bytes, size_t length, const struct rt_dialect *given, const char *words,
                    const char *rows)
{
    struct rt_dialect dialect;
    struct rt_text text = {0};
    struct rt_error error = {0};
    assert_int_equal(rt_detect_dialect_bytes(bytes, length, true, given, &judge, &dialect, &error), RT_OK);
    rt_add_dialect(&text, &dialect);
    assert_string_equal(text.bytes, words);
    rt_text_clear(&text);
    assert_int_equal(rt_read_row_bytes("f", bytes, length, true, &dialect, keep_row, &text, &error), RT_OK);
    assert_string_equal(text.bytes, rows);
    rt_text_release(&text);
}

#define IS_READ(bytes, words, rows) is_read(bytes, sizeof(bytes) - 1, NULL, words, rows)

static void separators_by_the_header(void **state)
{
    (void)state;
    IS_READ("id,size\na,1.5\n", "UTF-8, commas, decimal point, header on line 1", "1[id][size]\n2[a][1.5]\n");
    IS_READ("id;size\na;1,5\n", "UTF-8, semicolons, decimal comma, header on line 1",
            "1[id][size]\n2[a][1,5]\n");
    IS_READ("id\tsize\r\na\t3\r\n", "UTF-8, tabs, no decimals seen, header on line 1",
            "1[id][size]\n2[a][3]\n");
    IS_READ("id|size\ra|3\r", "UTF-8, bars, no decimals seen, header on line 1", "1[id][size]\n2[a][3]\n");
    IS_READ("id,size\n\"a;b;c;d\",\"1,5\"\n", "UTF-8, commas, decimal comma, header on line 1",
            "1[id][size]\n2[a;b;c;d][1,5]\n");
    /* no header is known: the separator that cuts most */
    IS_READ("x;y;z\n1,2;3;4\n", "UTF-8, semicolons, no decimals seen, header on line 1",
            "1[x][y][z]\n2[1,2][3][4]\n");
}

static void headers_further_down(void **state)
{
    (void)state;
    struct rt_dialect given = {.header_line = 2};
    IS_READ("List of cases; printed, today\n\n;;;\nid;size\na;2\n\nid;size\nb;3\n",
            "UTF-8, semicolons, no decimals seen, header on line 4", "4[id][size]\n5[a][2]\n8[b][3]\n");
    is_read("id;size\nx;y\nid;size\n", 20, &given, "UTF-8, semicolons, no decimals seen, header on line 2",
            "2[x][y]\n3[id][size]\n");
    char late[64] = "";
    memset(late, '\n', 19);
    strcpy(late + 19, "id,size\na,1\n");
    is_read(late, strlen(late), NULL, "UTF-8, commas, no decimals seen, header on line 20",
            "20[id][size]\n21[a][1]\n");
}

static void encodings(void **state)
{
    (void)state;
    const char *rows = "1[id][size]\n2[\xc3\xa4\xe2\x82\xac][1]\n";
    IS_READ("\xef\xbb\xbfid,size\n\xc3\xa4\xe2\x82\xac,1\n",
            "UTF-8, commas, no decimals seen, header on line 1", rows);
    IS_READ("id,size\n\xe4\x80,1\n", "Windows-1252, commas, no decimals seen, header on line 1", rows);
    IS_READ("\xff\xfei\0d\0,\0s\0i\0z\0e\0\n\0\xe4\0\xac\x20,\0001\0\n\0",
            "UTF-16 LE, commas, no decimals seen, header on line 1", rows);
    IS_READ("\xfe\xff\0i\0d\0,\0s\0i\0z\0e\0\n\0\xe4\x20\xac\0,\0001\0\n",
            "UTF-16 BE, commas, no decimals seen, header on line 1", rows);
    IS_READ("i\0d\0,\0s\0i\0z\0e\0\n\0\xe4\0\xac\x20,\0001\0\n\0",
            "UTF-16 LE, commas, no decimals seen, header on line 1", rows);
    IS_READ("\0i\0d\0,\0s\0i\0z\0e\0\n\0\xe4\x20\xac\0,\0001\0\n",
            "UTF-16 BE, commas, no decimals seen, header on line 1", rows);
    /* a surrogate pair, U+1F9B7 = D83E DDB7 */
    IS_READ("\xff\xfei\0d\0\n\0\x3e\xd8\xb7\xdd\n\0", "UTF-16 LE, commas, no decimals seen, header on line 1",
            "1[id]\n2[\xf0\x9f\xa6\xb7]\n");
}

static void is_refused(const char *bytes, size_t length, const struct rt_dialect *given, long line,
                       const char *message, const char *remedy)
{
    struct rt_dialect dialect;
    struct rt_text text = {0};
    struct rt_error error = {0};
    assert_int_equal(rt_detect_dialect_bytes(bytes, length, true, given, &judge, &dialect, &error), RT_OK);
    assert_int_equal(rt_read_row_bytes("f", bytes, length, true, &dialect, keep_row, &text, &error),
                     RT_INPUT);
    assert_string_equal(error.message, message);
    assert_string_equal(error.remedy, remedy);
    assert_int_equal(error.line, line);
    rt_text_release(&text);
}

static void damaged_text_is_named_by_its_line(void **state)
{
    (void)state;
    const char *other = "save the sheet as CSV (UTF-8), or state another --encoding";
    struct rt_dialect windows = {.encoding = RT_ENCODING_WINDOWS_1252};
    struct rt_dialect late = {.header_line = 9};
    /* one letter in UTF-8 and one in another encoding: neither fits */
    is_refused("id\n\xc3\xa4\n\xe4x\n", 9, NULL, 3, "this line is not UTF-8 text",
               "save the sheet as CSV (UTF-8), or state its --encoding");
    is_refused("id\na\n\x81\n", 7, &windows, 3, "this line is not Windows-1252 text", other);
    is_refused("\xff\xfei\0d\0\n\0\xb7\xdd", 10, NULL, 2, "this line is not UTF-16 LE text", other);
    is_refused("\xff\xfei\0d\0\n\0a", 9, NULL, 2, "this line is not UTF-16 LE text", other);
    is_refused("id\na\n", 5, &late, 0, "there is no header on line 9 or below",
               "look in the file for the line with the column names");
    is_refused("\x7f"
               "ELF\1\0\2\0\0\0\0\7\0\0\0\0\3\0",
               18, NULL, 1, "this is not a text file", "save the sheet as CSV (UTF-8)");
}

static void decimals_written_both_ways(void **state)
{
    (void)state;
    const char *both = "id;size\na;1,5\nb;2\nc;2.5\n";
    struct rt_dialect given = {.decimal = ','};
    struct rt_dialect dialect;
    struct rt_error error = {0};
    assert_int_equal(rt_detect_dialect_bytes(both, strlen(both), true, NULL, &judge, &dialect, &error),
                     RT_INPUT);
    assert_string_equal(error.message, "'2.5' has a decimal point, but line 2 has a decimal comma");
    assert_int_equal(error.line, 4);
    assert_int_equal(rt_detect_dialect_bytes(both, strlen(both), true, &given, &judge, &dialect, NULL),
                     RT_OK);
    assert_int_equal(dialect.decimal, ',');
    /* between commas the point is the rule */
    const char *native = "id,size\na,\"1,5\"\nb,2.5\n";
    assert_int_equal(rt_detect_dialect_bytes(native, strlen(native), true, NULL, &judge, &dialect, NULL),
                     RT_OK);
    assert_int_equal(dialect.decimal, '.');
    /* columns that hold no numbers prove nothing */
    const char *text = "id;size\n1.5;1,5\n";
    assert_int_equal(rt_detect_dialect_bytes(text, strlen(text), true, NULL, &judge, &dialect, NULL), RT_OK);
    assert_int_equal(dialect.decimal, ',');
}

static void becomes(char separator, char decimal, const char *cell, const char *expected)
{
    struct rt_dialect dialect = {.separator = separator, .decimal = decimal};
    const char *reason = "";
    const char *remedy = "";
    char copy[32];
    strcpy(copy, cell);
    bool fits = rt_point_decimal(&dialect, copy, &reason, &remedy);
    assert_string_equal(fits ? copy : reason, expected);
}

static void marks_are_never_guessed(void **state)
{
    (void)state;
    const char *either = "a number whose mark could stand before decimals or after thousands";
    const char *point = "a number with a point in a sheet of decimal commas";
    becomes(';', ',', "1,5", "1.5");
    becomes(';', ',', "-0,25", "-0.25");
    becomes(';', ',', ">70,5", ">70.5");
    becomes(';', ',', "1,234", "1.234"); /* the file proves or states the comma */
    becomes(';', ',', "1.234", point);
    becomes(';', ',', "1.234,5", point);
    becomes(';', ',', "12", "12");
    becomes(';', ',', "13.07.2020", "13.07.2020"); /* no number: left for the field to refuse */
    becomes(';', '\0', "1,234", either);
    becomes(';', '\0', "1.234", either);
    becomes(',', '\0', "1,234", either);
    becomes(',', '\0', "1.234", "1.234"); /* the native file */
    becomes(';', '.', "1.234", "1.234");
    becomes(';', '\0', "0,234",
            "0,234"); /* no thousands, but the file stated no comma: refused as no number */
}

static void pipes_are_not_files(void **state)
{
    struct bench *bench = *state;
    struct rt_dialect dialect;
    char path[120];
    snprintf(path, sizeof path, "%s/pipe", bench->folder);
    assert_int_equal(mkfifo(path, 0600), 0);
    assert_int_equal(rt_detect_dialect(path, NULL, &judge, &dialect, &bench->error), RT_INPUT);
    assert_string_equal(bench->error.message, "this is a pipe or a device, not a file");
    assert_string_equal(bench->error.remedy,
                        "save it as a file first, because files are read more than once");
    assert_string_equal(bench->error.file, path);
    remove(path);
}

/* A file larger than the sample: its end has no say, and the row that the sample ends in none either. */
static void only_the_sample_is_weighed(void **state)
{
    struct bench *bench = *state;
    struct rt_text file = {0};
    struct rt_dialect dialect;
    rt_text_add(&file, "id;size\n");
    while (file.length < RT_SAMPLE_BYTES - 3)
        rt_text_add(&file, "a;1,5\n");
    rt_text_add(&file, "\"a\n\";2.5\n");
    const char *path = put_file(bench, "large.csv", file.bytes);
    assert_int_equal(rt_detect_dialect(path, NULL, &judge, &dialect, &bench->error), RT_OK);
    assert_int_equal(dialect.separator, ';');
    assert_int_equal(dialect.decimal, ',');
    rt_text_release(&file);
}

static void words_of_options(void **state)
{
    (void)state;
    enum rt_encoding encoding = RT_ENCODING_DETECT;
    char mark = '\0';
    assert_true(rt_find_encoding("windows-1252", &encoding) && encoding == RT_ENCODING_WINDOWS_1252);
    assert_false(rt_find_encoding("ascii", &encoding));
    assert_true(rt_find_separator("bar", &mark) && mark == '|');
    assert_false(rt_find_separator(";", &mark));
    assert_true(rt_find_decimal("comma", &mark) && mark == ',');
    assert_false(rt_find_decimal("", &mark));
}

int main(void)
{
#define ON_BENCH(test) cmocka_unit_test_setup_teardown(test, open_bench, close_bench)
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(separators_by_the_header),
        cmocka_unit_test(headers_further_down),
        cmocka_unit_test(encodings),
        cmocka_unit_test(damaged_text_is_named_by_its_line),
        cmocka_unit_test(decimals_written_both_ways),
        cmocka_unit_test(marks_are_never_guessed),
        ON_BENCH(pipes_are_not_files),
        ON_BENCH(only_the_sample_is_weighed),
        cmocka_unit_test(words_of_options),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
