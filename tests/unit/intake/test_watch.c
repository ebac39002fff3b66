/* Columns that identify people are warned of by name, and free text stays out. */
#include "../support/records.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define UNLOADED "it is not loaded; take it out of the sheet, which others may see\n"

static const char *warnings(const struct bench *bench)
{
    return bench->report.warnings.bytes == NULL ? "" : bench->report.warnings.bytes;
}

/* A sheet of three patients with one more column, of a native header or of one nobody knows. */
static void load_column(struct bench *bench, const char *header, const char *const cells[3])
{
    char sheet[2048];
    snprintf(sheet, sizeof sheet,
             "patient,implant,tooth,placed_on,%s\nP1,a,36,2024-03-01,%s\nP2,a,36,2024-03-01,%s\n"
             "P3,a,36,2024-03-01,%s\n",
             header, cells[0], cells[1], cells[2]);
    enum rt_status status = load_text(bench, "sheet.csv", sheet);
    assert_true(status == RT_OK || status == RT_PARTIAL);
}

static void cells_are_recognised(void **state)
{
    struct bench *bench = *state;
    static const struct {
        const char *looks;
        const char *cells[3];
    } cases[] = {
        {"e-mail addresses", {"nothing", "someone@post.example", ""}},
        {"telephone numbers", {"+44 20 7946 0000", "020 7946-0001", "(020) 79460002"}},
        {"telephone numbers", {"0301234567", "0307654321", "030/111222"}},
        {"addresses", {"1 Long Road", "Hauptstrasse 5", "12 rue Haute"}},
        {"national or insurance numbers", {"123-45-6789", "987-65-4321", "111-22-3333"}},
        {"national or insurance numbers", {"A123456789", "B123456789", "C 123456789"}},
        {"dates of birth", {"1961-05-04", "04.05.1962", "5/4/1963"}},
        {"names", {"Anna Example", "\"Example, Bert\"", "C. Casus-Muster"}},
        {"names", {"\xc3\x84nne M\xc3\xbcster", "Zo\xc3\xab Test", "Jan Van-Test"}},
        {NULL, {"Anna", "Bert", "Carl"}},                      /* one word is a code as well */
        {NULL, {"bone loss", "screw loose", "Crown chipped"}}, /* no capitals throughout */
        {NULL, {"2024-03-01", "01.04.2024", "2023-12-31"}},    /* a day of treatment */
        {NULL, {"3.75", "0.5", "1234567"}},
        {NULL, {"IMG_0001.jpg", "IMG_0002.jpg", "IMG_0003.jpg"}},
        {NULL, {"Anna Example", "Bert Example", "x"}}, /* two are no habit */
        {NULL, {"", "", ""}},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char expected[256] = "";
        if (cases[i].looks != NULL)
            snprintf(expected, sizeof expected, "column 'Column x' looks like %s: " UNLOADED, cases[i].looks);
        load_column(bench, "Column x", cases[i].cells);
        assert_string_equal(warnings(bench), expected);
    }
}

static void headers_are_recognised(void **state)
{
    struct bench *bench = *state;
    static const struct {
        const char *header, *looks;
    } cases[] = {
        {"E-Mail", "e-mail addresses"},
        {"Phone (home)", "telephone numbers"},
        {"Telefon", "telephone numbers"},
        {"Adresse", "addresses"},
        {"Postal code", "addresses"},
        {"Insurance no.", "national or insurance numbers"},
        {"Date of birth", "dates of birth"},
        {"Geburtsdatum", "dates of birth"},
        {"Surname", "names"},
        {"Patient name", "names"},
        {"Pr\xc3\xa9nom", "names"},
        {"Name", "names"},
        {"Implant name", NULL},
        {"File name", NULL},
        {"Street light", "addresses"},
        {"mobile", NULL},
        {"Shoe size", NULL},
        {"Telescope crown", NULL},
    };
    static const char *const plain[] = {"x", "y", "z"};
    static const char *const empty[] = {"", "", ""};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char expected[256] = "";
        if (cases[i].looks != NULL)
            snprintf(expected, sizeof expected, "column '%s' looks like %s: " UNLOADED, cases[i].header,
                     cases[i].looks);
        load_column(bench, cases[i].header, plain);
        assert_string_equal(warnings(bench), expected);
        load_column(bench, cases[i].header, empty); /* nothing stands in it */
        assert_string_equal(warnings(bench), "");
    }
}

static void loaded_columns_say_what_to_do(void **state)
{
    struct bench *bench = *state;
    static const char *const names[] = {"Anna Example", "Bert Example", "Carl Casus"};
    static const char *const dates[] = {"1961", "1962", "1963-05-06"};
    load_column(bench, "operator", names);
    assert_string_equal(warnings(bench), "column 'operator' looks like names: use short codes of your own\n");
    load_column(bench, "birth_year", dates);
    assert_string_equal(warnings(bench),
                        "column 'birth_year' looks like dates of birth: rows with a full date are refused; "
                        "type the year only\n");
    assert_null(strstr(bench->report.words.bytes, "1963"));
    assert_int_equal(
        load_text(bench, "p.csv",
                  "patient,implant,tooth\n123-45-6789,a,36\n123-45-6780,a,36\n123-45-6781,a,36\n"),
        RT_OK);
    assert_string_equal(
        warnings(bench),
        "column 'patient' looks like national or insurance numbers: load into a new store with "
        "--pseudonym, or use labels of your own\n");
    assert_int_equal(load_text(bench, "p.csv", "patient,implant,tooth\nP1,a,36\nP2,a,36\nP3,a,36\n"), RT_OK);
    assert_string_equal(warnings(bench), "");
}

static const char events[] = "patient,implant,happened_on,event,cause\n"
                             "P1,a,2025-01-01,complication,screw-loose\n"
                             "P1,a,2025-01-02,complication,told by her sister\n"
                             "P1,a,2025-01-03,complication,someone@post.example\n"
                             "P1,a,2025-01-04,complication,01234567\n"
                             "P1,a,2025-01-05,complication,\n"
                             "P1,a,2025-01-06,complication, K4.1/b_2+ \n"
                             "P1,a,2025-01-07,complication,abcdefghijklmnopqrstuvwxy\n";

static void only_codes_are_taken_from_free_text(void **state)
{
    struct bench *bench = *state;
    const char *causes = "SELECT coalesce(cause, '-') FROM event ORDER BY happened_on";
    assert_int_equal(load_text(bench, "i.csv", "patient,implant,tooth\nP1,a,36\n"), RT_OK);
    assert_int_equal(load_text(bench, "e.csv", events), RT_OK);
    assert_int_equal(bench->report.text_left_out, 4);
    assert_string_equal(rows_of(bench, causes), "screw-loose\n-\n-\n-\n-\nK4.1/b_2+\n-\n");
    bench->free_text = true;
    assert_int_equal(load_text(bench, "e.csv", events), RT_OK);
    assert_int_equal(bench->report.text_left_out, 0);
    assert_int_equal(bench->report.rows_changed, 4);
    assert_string_equal(rows_of(bench, causes),
                        "screw-loose\ntold by her sister\nsomeone@post.example\n01234567\n-\nK4.1/b_2+\n"
                        "abcdefghijklmnopqrstuvwxy\n");
    /* text in the store is not taken away by a load that leaves text out, and a code replaces it */
    bench->free_text = false;
    assert_int_equal(load_text(bench, "e.csv", events), RT_OK);
    assert_int_equal(bench->report.rows_unchanged, 7);
    assert_int_equal(
        load_text(bench, "e.csv",
                  "patient,implant,happened_on,event,cause\nP1,a,2025-01-02,complication,told\n"),
        RT_OK);
    assert_int_equal(bench->report.rows_changed, 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(cells_are_recognised, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(headers_are_recognised, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(loaded_columns_say_what_to_do, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(only_codes_are_taken_from_free_text, open_bench, close_bench),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
