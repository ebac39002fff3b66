/* Maps: their text, and what they make of cells. Day numbers: 1900 and 1904 systems of spreadsheets, where 2020-02-29 is
 * 43890 and 42428; day numbers of 1970-01-01 and 1900 by calendar. Teeth: ISO 3950 against the 1 to 32 of the American
 * Dental Association. */
#include "../../../src/intake/convert.h"
#include "../support/records.h"

#include "ridgetally/base/date.h"
#include "ridgetally/intake/match.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define HEAD "ridgetally map 1\ncolumn \"P\" -> patient\n"

static void is_refused(const char *text, long line, const char *message)
{
    struct rt_map map = {.count = 0};
    struct rt_error error = {0};
    assert_int_equal(rt_parse_map("m", text, strlen(text), &map, &error), RT_INPUT);
    assert_string_equal(error.message, message);
    assert_string_equal(error.file, "m");
    assert_int_equal(error.line, line);
    assert_true(error.remedy[0] != '\0');
    rt_release_map(&map);
}

static void what_is_no_map(void **state)
{
    (void)state;
    is_refused("patient,implant\n", 1, "a map begins with the line `ridgetally map 1`, not 'patient'");
    is_refused("ridgetally map 2\n", 1, "a map begins with the line `ridgetally map 1`, not 'ridgetally'");
    is_refused("", 0, "the map has no column for patient");
    is_refused(HEAD, 0, "the map loads nothing but labels");
    is_refused("ridgetally map 1\ncolumn \"T\" -> tooth\n", 0, "the map has no column for patient");
    is_refused(HEAD "column \"T\" -> teeth\n", 3, "there is no field 'teeth'");
    is_refused(HEAD "column \"T\" tooth\n", 3, "a column is written column \"theirs\" -> field, not 'T'");
    is_refused(HEAD "\n# words\ncolumn \"T\" -> tooth\ncolumn \"U\" -> tooth\n", 6,
               "a second line (in the same set) gives 'tooth'");
    is_refused(HEAD "column \"T\" -> tooth unit cm\n", 3, "the field has no unit 'cm'");
    is_refused(HEAD "column \"T\" -> length_mm unit Ncm\n", 3, "the field has no unit 'Ncm'");
    is_refused(HEAD "column \"T\" -> tooth sign reversed\n", 3,
               "unit, sign and factor need a number field, not 'tooth'");
    is_refused(HEAD "column \"T\" -> length_mm factor 0\n", 3, "a column has no option 'factor'");
    is_refused(HEAD "column \"T\" -> length_mm set \" \n", 3, "a quote is never closed before ' '");
    is_refused(HEAD "column \"T\" -> graft codes \"J\" yes\n", 3,
               "a code is written \"theirs\" = ours, not 'J'");
    is_refused(HEAD "column \"I\" -> implant set 1\n", 3, "what belongs to all sets cannot be in set '1'");
    is_refused(HEAD "columns \"T\" -> tooth\n", 3, "this is no statement of a map: 'columns'");
    is_refused(HEAD "dates american\n", 3,
               "dates are day-first, month-first, serial-1900 or serial-1904, not 'american'");
    is_refused(HEAD "dates ask\n", 3, "the map leaves whether dates are day-first or month-first open");
    is_refused(HEAD "teeth ask\n", 3, "the map leaves whether teeth are numbered iso or 1-32 open");
    is_refused(HEAD "decimal ask\n", 3, "the map leaves the decimal mark open");
    is_refused(HEAD "column \"T\" -> ask\n", 3, "the map leaves what a column is open");
    is_refused(HEAD "column \"T\" -> length_mm unit ask\n", 3, "the map leaves the unit of a column open");
    is_refused(HEAD "column \"T\" -> graft codes \"hm\" = ask\n", 3, "the map leaves what a code means open");
    is_refused(HEAD "constant event ask\n", 3, "the map leaves a constant open");
}

static void statements(void **state)
{
    (void)state;
    const char *text =
        "# first\n" HEAD "decimal comma # as typed\r\nseparator tab\nheader-line 3\ndates day-first\n"
        "column \"the \"\"T\"\"\" -> tooth teeth 1-32\n"
        "column L -> length_mm unit cm sign reversed factor 2\n"
        "column \"d\" -> seen_on set \"1 y\"\nconstant visit review set \"1 y\"\n"
        "column G -> graft codes \"J\"=yes,\"N\" = no, \"?\" = empty\ncolumn \"#\" -> skip\n";
    struct rt_map map = {.count = 0};
    struct rt_text kept = {0};
    assert_int_equal(rt_parse_map("m", text, strlen(text), &map, NULL), RT_OK);
    assert_int_equal(map.dialect.decimal, ',');
    assert_int_equal(map.dialect.separator, '\t');
    assert_int_equal(map.dialect.header_line, 3);
    assert_int_equal(map.count, 7);
    assert_string_equal(map.lines[1].header, "the \"T\"");
    assert_int_equal(map.lines[1].teeth, RT_TEETH_1_32);
    assert_int_equal(map.lines[1].dates, RT_DATES_DAY_FIRST);
    assert_true(map.lines[2].factor == -20);
    assert_string_equal(map.lines[3].set, "1 y");
    assert_string_equal(map.lines[4].constant, "review");
    assert_int_equal(map.lines[5].codes, 3);
    assert_string_equal(map.lines[5].to[2], "");
    assert_true(map.lines[6].skip);
    assert_true(rt_map_feeds(&map, RT_IMPLANTS) && rt_map_feeds(&map, RT_FOLLOWUPS) &&
                !rt_map_feeds(&map, RT_EVENTS));
    rt_release_map(&map);
    rt_strip_map(text, &kept);
    assert_int_equal(strncmp(kept.bytes, HEAD "decimal comma\nseparator tab\n", strlen(HEAD) + 28), 0);
    assert_true(strstr(kept.bytes, "column \"#\" -> skip\n") != NULL);
    rt_text_release(&kept);
}

/* A cell through one line of a map, in a file with decimal commas; the reason when it cannot be converted. */
static void becomes(const char *line, const char *cell, const char *expected)
{
    struct rt_map map = {.count = 0};
    struct rt_dialect dialect = {.separator = ';', .decimal = ','};
    struct rt_text text = {0};
    struct rt_text out = {0};
    const char *reason = "";
    const char *remedy = "";
    rt_text_format(&text, HEAD "%s\n", line);
    assert_int_equal(rt_parse_map("m", text.bytes, text.length, &map, NULL), RT_OK);
    bool fits = convert_cell(&map.lines[map.count - 1], &dialect, cell, &out, &reason, &remedy);
    assert_string_equal(fits ? out.bytes : reason, expected);
    if (!fits)
        assert_string_equal(out.bytes, cell); /* the doubt shows it as typed */
    rt_text_release(&text);
    rt_text_release(&out);
    rt_release_map(&map);
}

static void cells(void **state)
{
    (void)state;
    becomes("column L -> length_mm", "9,5", "9.5");
    becomes("column L -> length_mm", " ", "");
    becomes("column L -> length_mm", "9.5", "a number with a point in a sheet of decimal commas");
    becomes("column L -> length_mm unit cm", "0,95", "9.5");
    becomes("column L -> length_mm unit in", "0,177165354330709", "4.5");
    becomes("column L -> length_mm unit cm", "long", "not a number");
    becomes("column L -> planned_depth_mm sign reversed", "-1,5", "1.5");
    becomes("column L -> planned_depth_mm sign reversed", "0", "0");
    becomes("column T -> final_torque_ncm unit Nm", ">0,7", ">70");
    becomes("column T -> final_torque_ncm unit Nm", "0,7+", "70+");
    becomes("column G -> graft codes \"J\" = yes, \"?\" = empty", "j", "yes");
    becomes("column G -> graft codes \"J\" = yes, \"?\" = empty", "?", "");
    becomes("column G -> graft codes \"J\" = yes", "no", "no");
    becomes("column D -> density_found codes \"hard\" = D1", "Hard", "D1");
}

static void teeth(void **state)
{
    (void)state;
    static const char *const iso[] = {"18", "17", "16", "15", "14", "13", "12", "11", "21", "22", "23",
                                      "24", "25", "26", "27", "28", "38", "37", "36", "35", "34", "33",
                                      "32", "31", "41", "42", "43", "44", "45", "46", "47", "48"};
    char cell[8];
    for (int i = 0; i < 32; i++) {
        snprintf(cell, sizeof cell, i % 2 == 0 ? "%d" : "#%d", i + 1);
        becomes("column T -> tooth teeth 1-32", cell, iso[i]);
    }
    becomes("column T -> tooth teeth 1-32", "33", "not a tooth from 1 to 32");
    becomes("column T -> tooth", "33", "33");
}

static void dates(void **state)
{
    (void)state;
    const char *either = "day and month could be the other way round";
    becomes("column D -> placed_on", "2020-02-29", "2020-02-29");
    becomes("column D -> placed_on", "2020/2/29", "2020-02-29");
    becomes("column D -> placed_on", "29.02.2020", "2020-02-29");
    becomes("column D -> placed_on", "02/29/2020", "2020-02-29");
    becomes("column D -> placed_on", "3/4/2021", either);
    becomes("column D -> placed_on", "4/4/2021", "2021-04-04");
    becomes("column D -> placed_on dates day-first", "3/4/2021", "2021-04-03");
    becomes("column D -> placed_on dates month-first", "3/4/2021", "2021-03-04");
    becomes("column D -> placed_on dates month-first", "13/4/2021", "not an existing date");
    becomes("column D -> placed_on dates day-first", "29.02.2021", "not an existing date");
    becomes("column D -> placed_on dates day-first", "3.4.21", "a date without a year of four digits");
    becomes("column D -> placed_on", "13 Jul 2020", "2020-07-13");
    becomes("column D -> placed_on", "13. M\xc3\xa4rz 2020", "2020-03-13");
    becomes("column D -> placed_on", "Jul 13, 2020", "2020-07-13");
    becomes("column D -> placed_on", "2020-07-13 00:00:00", "2020-07-13");
    becomes("column D -> placed_on", "2020-07-13T08:30", "2020-07-13");
    becomes("column D -> placed_on", "soon", "not an existing date");
    becomes("column D -> placed_on", "43890", "not an existing date");
    becomes("column D -> placed_on dates serial-1900", "43890", "2020-02-29");
    becomes("column D -> placed_on dates serial-1904", "42428", "2020-02-29");
    becomes("column D -> placed_on dates serial-1900", "1", "1900-01-01");
    becomes("column D -> placed_on dates serial-1900", "59", "1900-02-28");
    becomes("column D -> placed_on dates serial-1900", "60", "29 February 1900 did not exist");
    becomes("column D -> placed_on dates serial-1900", "61", "1900-03-01");
    becomes("column D -> placed_on dates serial-1900", "43890.75", "2020-02-29");
    becomes("column D -> placed_on dates serial-1900", "9e9", "not a day number of a spreadsheet");
}

static void means(const char *header, const char *field, const char *unit, bool reversed, const char *rest)
{
    char found_unit[8], found_rest[64];
    bool found_reversed = false;
    double confidence = 0;
    const struct rt_field *found = rt_meaning(header, found_unit, &found_reversed, found_rest, &confidence);
    assert_string_equal(found == NULL ? "" : found->name, field);
    if (found == NULL)
        return;
    assert_string_equal(found_unit, unit);
    assert_int_equal(found_reversed, reversed);
    assert_string_equal(found_rest, rest);
    assert_true(confidence >= 0.3 && confidence <= 1);
}

static void headers(void **state)
{
    (void)state;
    means("planned_depth_mm", "planned_depth_mm", "", false, "");
    means("Planned depth (cm)", "planned_depth_mm", "cm", false, "");
    means("Insertion torque [N cm]", "final_torque_ncm", "Ncm", false, "");
    means("Drehmoment (N m)", "final_torque_ncm", "Nm", false, "");
    means("Implantatl\xc3\xa4nge", "length_mm", "", false, "");
    means("Bone loss mesial, year 1", "level_mesial_mm", "", true, "year 1");
    means("Datum Kontrolle", "seen_on", "", false, "kontrolle");
    means("Favourite colour", "", "", false, "");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_no_map), cmocka_unit_test(statements), cmocka_unit_test(cells),
        cmocka_unit_test(teeth),          cmocka_unit_test(dates),      cmocka_unit_test(headers),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
