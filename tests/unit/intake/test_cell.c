/* Reading single cells. Ranges and codes are those of the manual page, section FILES. */
#include "ridgetally/intake/cell.h"

#include "ridgetally/base/date.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static struct rt_value got[2];
static struct rt_cell_fault fault;

static const struct rt_field *field_of(enum rt_record_kind kind, const char *name)
{
    const struct rt_form *form = rt_form(kind);
    size_t at = rt_find_field(form, name);
    assert_true(at < form->count);
    return &form->fields[at];
}

static bool reads(enum rt_record_kind kind, const char *name, const char *cell)
{
    static char copy[1000];
    snprintf(copy, sizeof copy, "%s", cell);
    fault = (struct rt_cell_fault){.column = NULL};
    return rt_read_cell(field_of(kind, name), copy, got, &fault);
}

static void takes_real(const char *name, const char *cell, double value)
{
    assert_true(reads(RT_IMPLANTS, name, cell));
    assert_int_equal(got[0].kind, RT_VALUE_REAL);
    assert_true(got[0].real == value);
}

static void refuses(enum rt_record_kind kind, const char *name, const char *cell, const char *reason,
                    const char *remedy)
{
    if (reads(kind, name, cell))
        fail_msg("%s took '%s'", name, cell);
    assert_string_equal(fault.column, name);
    assert_string_equal(fault.reason, reason);
    if (remedy != NULL)
        assert_string_equal(fault.remedy, remedy);
}

static void numbers(void **state)
{
    (void)state;
    takes_real("planned_depth_mm", "1.5", 1.5);
    takes_real("planned_depth_mm", " -1.25\t", -1.25);
    takes_real("planned_depth_mm", "-5", -5);
    takes_real("planned_depth_mm", "8", 8);
    takes_real("planned_depth_mm", "-0", 0);
    assert_false(signbit(got[0].real) != 0);
    takes_real("wall_buccal_mm", "0", 0); /* zero is a value, not a gap */
    const char *decimal = "write it with a decimal point, such as 1.5";
    const char *digits = "type digits only, without the unit";
    refuses(RT_IMPLANTS, "planned_depth_mm", "1,5", "not a number", decimal);
    static const char *const bad[] = {"1.5mm", "1.5 mm", "0x10", "nan", "inf",
                                      "--1",   "1.5.2",  "?",    "n/a", "1e999"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        refuses(RT_IMPLANTS, "planned_depth_mm", bad[i], "not a number", digits);
    const char *check = "check the unit, the sign and the decimal point";
    refuses(RT_IMPLANTS, "planned_depth_mm", "8.01", "outside the possible range -5 to 8 mm", check);
    refuses(RT_IMPLANTS, "planned_depth_mm", "-5.01", "outside the possible range -5 to 8 mm", check);
    refuses(RT_FOLLOWUPS, "level_mesial_mm", "8.1", "outside the possible range -20 to 8 mm", check);
    refuses(RT_FOLLOWUPS, "probing_mm", "-1", "outside the possible range 0 to 20 mm", check);
}

static void missing_is_neither_zero_nor_no(void **state)
{
    (void)state;
    for (size_t k = 0; k < RT_RECORD_KINDS; k++) {
        const struct rt_form *form = rt_form((enum rt_record_kind)k);
        for (size_t i = 0; i < form->count; i++) {
            const struct rt_field *field = &form->fields[i];
            for (int blank = 0; blank < 2; blank++) {
                bool taken = reads((enum rt_record_kind)k, field->name, blank ? "  " : "");
                assert_int_equal(taken, !field->needed);
                if (field->needed)
                    assert_string_equal(fault.reason, "empty, and the row cannot be placed without it");
                else if (field->if_empty == NULL)
                    assert_int_equal(got[0].kind, RT_VALUE_NULL);
            }
        }
    }
    assert_true(reads(RT_FOLLOWUPS, "reading", ""));
    assert_true(got[0].integer == 1);
    assert_true(reads(RT_FOLLOWUPS, "level_kind", ""));
    assert_string_equal(got[0].text, "crest");
}

static void whole_numbers(void **state)
{
    (void)state;
    assert_true(reads(RT_IMPLANTS, "isq", "70"));
    assert_true(got[0].integer == 70);
    assert_true(reads(RT_IMPLANTS, "isq", "70.0"));
    assert_true(got[0].integer == 70);
    refuses(RT_IMPLANTS, "isq", "70.5", "not a whole number", "type digits only");
    refuses(RT_IMPLANTS, "isq", "0", "outside the possible range 1 to 100", NULL);
    refuses(RT_IMPLANTS, "isq", "101", "outside the possible range 1 to 100", NULL);
    refuses(RT_IMPLANTS, "isq", "1e300", "outside the possible range 1 to 100", NULL);
    refuses(RT_IMPLANTS, "birth_year", "60", "outside the possible range 1900 to 2100", NULL);
    refuses(RT_FOLLOWUPS, "reading", "0", "outside the possible range 1 to 99", NULL);
}

static void dates_are_strict(void **state)
{
    (void)state;
    assert_true(reads(RT_IMPLANTS, "placed_on", " 2024-02-29 "));
    assert_int_equal((int)got[0].integer, rt_parse_iso_date("2024-02-29"));
    static const char *const bad[] = {"2023-02-29", "20240229", "29.02.2023", "Monday", "9999", "80000"};
    static const char *const others[] = {"29.02.2024", "02/29/2024", "2024-2-9", "2024-02-29T10:00",
                                         "29 Feb 2024"};
    static const char *const numbers_of_days[] = {"44025", "45351.5", "10000", "79999"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        refuses(RT_IMPLANTS, "placed_on", bad[i], "not an existing date",
                "write it as YYYY-MM-DD, such as 2026-03-31");
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++)
        refuses(RT_IMPLANTS, "placed_on", others[i], "not an existing date",
                "write it as YYYY-MM-DD, such as 2026-03-31, or load the sheet through a map");
    for (size_t i = 0; i < sizeof numbers_of_days / sizeof numbers_of_days[0]; i++)
        refuses(RT_IMPLANTS, "placed_on", numbers_of_days[i], "a day number of a spreadsheet, not a date",
                "format the column as dates, YYYY-MM-DD, or load the sheet through a map");
    refuses(RT_IMPLANTS, "birth_year", "1962-05-06", "not a whole number",
            "type the year only, never the full date");
}

static void every_tooth_of_iso_3950(void **state)
{
    (void)state;
    int taken = 0;
    for (int i = 0; i < 1000; i++) {
        char cell[8];
        snprintf(cell, sizeof cell, "%d", i);
        bool permanent = i / 10 >= 1 && i / 10 <= 4 && i % 10 >= 1 && i % 10 <= 8;
        assert_int_equal(reads(RT_IMPLANTS, "tooth", cell), permanent);
        taken += permanent;
    }
    assert_int_equal(taken, 32);
    refuses(RT_IMPLANTS, "tooth", "51", "not a tooth position in ISO 3950",
            "type two digits: 11-18, 21-28, 31-38 or 41-48"); /* deciduous */
    refuses(RT_IMPLANTS, "tooth", "1.6", "not a tooth position in ISO 3950", NULL);
}

static void takes_torque(const char *cell, double value, int capped)
{
    assert_true(reads(RT_IMPLANTS, "final_torque_ncm", cell));
    assert_true(got[0].real == value);
    assert_int_equal((int)got[1].integer, capped);
}

static void torque_limits_are_not_exact_values(void **state)
{
    (void)state;
    takes_torque("35", 35, 0);
    takes_torque("32.5", 32.5, 0);
    takes_torque("0", 0, 0);
    takes_torque(">70", 70, 1);
    takes_torque("> 70", 70, 1);
    takes_torque(">=70", 70, 1);
    takes_torque("70+", 70, 1);
    takes_torque("\xe2\x89\xa5"
                 "70",
                 70, 1);
    const char *remedy = "type Ncm such as 35, or >70 where the device's limit was reached";
    static const char *const bad[] = {"<10",
                                      ">",
                                      "+",
                                      "+70",
                                      ">>70",
                                      ">70+",
                                      "-5",
                                      ">-5",
                                      "35 Ncm",
                                      "high",
                                      "70++",
                                      ">=",
                                      "0000000000000000000000000000000035"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        refuses(RT_IMPLANTS, "final_torque_ncm", bad[i], "not a torque", remedy);
    refuses(RT_IMPLANTS, "final_torque_ncm", ">201", "outside the possible range 0 to 200 Ncm", NULL);
}

static void takes_density(const char *cell, int value, const char *scale)
{
    assert_true(reads(RT_IMPLANTS, "density_found", cell));
    assert_int_equal((int)got[0].integer, value);
    assert_string_equal(got[1].text, scale);
}

static void density_carries_its_scale(void **state)
{
    (void)state;
    takes_density("D1", 1, "D");
    takes_density("d4", 4, "D");
    takes_density("LZ2", 2, "LZ");
    takes_density("lz3", 3, "LZ");
    const char *remedy = "type D1 to D4, or LZ1 to LZ4 for the 1985 type scale";
    static const char *const bad[] = {"2", "D0", "D5", "LZ", "LZ5", "D", "D12", "soft", "II", "D2-D3"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        refuses(RT_IMPLANTS, "density_found", bad[i], "not a density with its scale", remedy);
}

static void codes_and_yes_no(void **state)
{
    (void)state;
    for (size_t k = 0; k < RT_RECORD_KINDS; k++) {
        const struct rt_form *form = rt_form((enum rt_record_kind)k);
        for (size_t i = 0; i < form->count; i++) {
            for (size_t j = 0; form->fields[i].codes != NULL && form->fields[i].codes[j] != NULL; j++) {
                assert_true(reads((enum rt_record_kind)k, form->fields[i].name, form->fields[i].codes[j]));
                assert_string_equal(got[0].text, form->fields[i].codes[j]);
            }
        }
    }
    assert_true(reads(RT_IMPLANTS, "timing", "3"));
    assert_string_equal(got[0].text, "type 3");
    assert_true(reads(RT_IMPLANTS, "sex", "f"));
    assert_string_equal(got[0].text, "F");
    assert_true(reads(RT_IMPLANTS, "graft", "YES"));
    assert_true(got[0].integer == 1);
    assert_true(reads(RT_IMPLANTS, "graft", "no"));
    assert_true(got[0].integer == 0);
    refuses(RT_IMPLANTS, "smoking", "sometimes", "none of never, former, current",
            "type one of these words, or leave the cell empty");
    refuses(RT_IMPLANTS, "timing", "5",
            "none of type 1, type 2, type 3, type 4, immediate, early, late, healed", NULL);
    refuses(RT_EVENTS, "event", "lost",
            "none of removed, elective, unused, complication, moved_away, died, remade", NULL);
    static const char *const bad[] = {"y", "1", "0", "true", "x", "yes?"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        refuses(RT_IMPLANTS, "graft", bad[i], "neither yes nor no",
                "type yes or no, or leave the cell empty when it is not known");
}

static void text_is_kept_as_typed(void **state)
{
    (void)state;
    static const char *const kept[] = {"<script>alert(1)</script>",
                                       "'; DROP TABLE implant; --",
                                       "$(rm -rf /)",
                                       "`id`",
                                       "a\nb",
                                       "=1+1x",
                                       "{{7*7}}",
                                       "%s%n",
                                       "\xc3\xa4\xc3\xb6"};
    for (size_t i = 0; i < sizeof kept / sizeof kept[0]; i++) {
        assert_true(reads(RT_EVENTS, "cause", kept[i]));
        assert_string_equal(got[0].text, kept[i]);
        assert_true(reads(RT_EVENTS, "patient", kept[i]));
        assert_string_equal(got[0].text, kept[i]);
    }
    assert_true(reads(RT_EVENTS, "patient", " 12 ")); /* spaces of an id are reported, not guessed away */
    assert_string_equal(got[0].text, " 12 ");
    assert_true(reads(RT_EVENTS, "cause", "'=SUM(A1)")); /* our own guard comes off again */
    assert_string_equal(got[0].text, "=SUM(A1)");
    assert_true(reads(RT_EVENTS, "cause", "'quoted'"));
    assert_string_equal(got[0].text, "'quoted'");
    char long_text[600];
    memset(long_text, 'x', sizeof long_text);
    long_text[501] = '\0';
    refuses(RT_EVENTS, "cause", long_text, "longer than 500 bytes",
            "shorten it; a quote that was never closed also does this");
    long_text[101] = '\0';
    refuses(RT_EVENTS, "patient", long_text, "longer than 100 bytes", NULL);
    long_text[100] = '\0';
    assert_true(reads(RT_EVENTS, "patient", long_text));
}

static void values_print_as_typed(void **state)
{
    (void)state;
    static const struct {
        const char *field, *cell, *shown;
    } cases[] = {{"final_torque_ncm", "70+", ">70"},
                 {"final_torque_ncm", "32.50", "32.5"},
                 {"density_found", "lz2", "LZ2"},
                 {"graft", "YES", "yes"},
                 {"placed_on", "2024-02-29", "2024-02-29"},
                 {"tooth", "11", "11"},
                 {"operator", "A", "A"},
                 {"isq", "", "empty"}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct rt_text text = {0};
        assert_true(reads(RT_IMPLANTS, cases[i].field, cases[i].cell));
        rt_add_value(&text, field_of(RT_IMPLANTS, cases[i].field), got);
        assert_string_equal(text.bytes, cases[i].shown);
        rt_text_release(&text);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(numbers),
        cmocka_unit_test(missing_is_neither_zero_nor_no),
        cmocka_unit_test(whole_numbers),
        cmocka_unit_test(dates_are_strict),
        cmocka_unit_test(every_tooth_of_iso_3950),
        cmocka_unit_test(torque_limits_are_not_exact_values),
        cmocka_unit_test(density_carries_its_scale),
        cmocka_unit_test(codes_and_yes_no),
        cmocka_unit_test(text_is_kept_as_typed),
        cmocka_unit_test(values_print_as_typed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
