/* The table of columns and codes against the schema, so that there is one code list. */
#include "../support/records.h"

#include "ridgetally/intake/form.h"
#include "ridgetally/store/query.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static void every_column_stands_in_its_table(void **state)
{
    struct bench *bench = *state;
    for (size_t k = 0; k < RT_RECORD_KINDS; k++) {
        const struct rt_form *form = rt_form((enum rt_record_kind)k);
        assert_true(form->count <= RT_MOST_FIELDS);
        for (size_t i = 0; i < form->count; i++) {
            const char *columns[] = {form->fields[i].column, form->fields[i].second_column};
            for (size_t j = 0; j < 2 && columns[j] != NULL; j++) {
                char sql[200];
                snprintf(sql, sizeof sql, "SELECT count(*) FROM pragma_table_info('%s') WHERE name = '%s'",
                         form->table, columns[j]);
                assert_string_equal(rows_of(bench, sql), "1\n");
            }
        }
    }
}

/* What the schema accepts for a column: the update of one row is tried. */
static bool accepts(struct bench *bench, const struct rt_form *form, const char *column,
                    const char *sql_value)
{
    char sql[256];
    snprintf(sql, sizeof sql, "UPDATE %s SET %s = %s WHERE id = 1", form->table, column, sql_value);
    return rt_run_script(bench->store, sql, NULL) == RT_OK;
}

static void the_schema_knows_the_codes_and_the_ranges(void **state)
{
    struct bench *bench = *state;
    char value[64];
    load_text(bench, "i.csv", "patient,implant,tooth\nP1,a,11\n");
    load_text(bench, "f.csv", "patient,implant,seen_on\nP1,a,2025-01-01\n");
    load_text(bench, "e.csv", "patient,implant,happened_on,event\nP1,a,2025-01-01,removed\n");
    assert_string_equal(rows_of(bench, "SELECT (SELECT count(*) FROM reading), (SELECT count(*) FROM event)"),
                        "1|1\n");
    for (size_t k = 0; k < RT_RECORD_KINDS; k++) {
        const struct rt_form *form = rt_form((enum rt_record_kind)k);
        for (size_t i = 0; i < form->count; i++) {
            const struct rt_field *field = &form->fields[i];
            for (size_t j = 0; field->codes != NULL && field->codes[j] != NULL; j++) {
                snprintf(value, sizeof value, "'%s'", field->codes[j]);
                if (!accepts(bench, form, field->column, value))
                    fail_msg("%s refuses %s", field->column, value);
            }
            if (field->codes != NULL)
                assert_false(accepts(bench, form, field->column, "'something else'"));
            if (field->type != RT_FIELD_NUMBER && field->type != RT_FIELD_INTEGER)
                continue;
            const double inside[] = {field->hard_least, field->hard_most};
            const double outside[] = {field->hard_least - 1, field->hard_most + 1};
            for (size_t j = 0; j < 2; j++) {
                snprintf(value, sizeof value, "%g", inside[j]);
                if (!accepts(bench, form, field->column, value))
                    fail_msg("%s refuses %s", field->column, value);
                snprintf(value, sizeof value, "%g", outside[j]);
                if (accepts(bench, form, field->column, value))
                    fail_msg("%s takes %s", field->column, value);
            }
            assert_true(isnan(field->soft_least) || field->soft_least >= field->hard_least);
            assert_true(isnan(field->soft_most) || field->soft_most <= field->hard_most);
        }
    }
}

static void headers_and_code_list(void **state)
{
    (void)state;
    struct rt_text text = {0};
    rt_form_header(rt_form(RT_EVENTS), &text);
    assert_string_equal(text.bytes, "patient,implant,happened_on,event,cause\n");
    rt_text_clear(&text);
    rt_form_header(rt_form(RT_FOLLOWUPS), &text);
    assert_string_equal(text.bytes,
                        "patient,implant,seen_on,visit,film,reader,reading,level_mesial_mm,level_distal_mm,"
                        "level_kind,imaged_length_mm,readable,radiolucency,probing_mm,bleeding,suppuration,"
                        "mobile,pain\n");
    rt_text_clear(&text);
    rt_form_header(rt_form(RT_IMPLANTS), &text);
    assert_string_equal(
        text.bytes, "patient,implant,tooth,placed_on,operator,implant_line,diameter_mm,length_mm,planned_"
                    "depth_mm,achieved_depth_mm,"
                    "depth_source,density_planned,density_found,stalled,stall_height_mm,stall_torque_ncm,"
                    "final_torque_ncm,isq,"
                    "tissue_mm,wall_buccal_mm,wall_lingual_mm,bone_height_mm,changed,dense_drilling,next_"
                    "size_possible,closure,timing,"
                    "graft,uncovered_on,loaded_on,loaded,birth_year,sex,smoking,diabetes,periodontitis\n");
    rt_text_clear(&text);
    rt_code_list(&text);
    assert_non_null(
        strstr(text.bytes, "removed | elective | unused | complication | moved_away | died | remade"));
    assert_non_null(strstr(text.bytes, "positive = below the crest"));
    assert_non_null(
        strstr(text.bytes, "Ncm, 0 to 200; >70, >=70 or 70+ where the device's limit was reached"));
    rt_text_release(&text);
}

static void names_are_found(void **state)
{
    (void)state;
    const struct rt_form *form = rt_form(RT_IMPLANTS);
    enum rt_record_kind kind = RT_IMPLANTS;
    assert_int_equal(rt_find_field(form, "patient"), 0);
    assert_int_equal(rt_find_field(form, "  Tooth "), 2);
    assert_int_equal(rt_find_field(form, "toot"), form->count);
    assert_int_equal(rt_find_field(form, "tooths"), form->count);
    assert_int_equal(rt_find_field(form, ""), form->count);
    assert_true(rt_find_kind("events", &kind));
    assert_int_equal(kind, RT_EVENTS);
    assert_false(rt_find_kind("event", &kind));
}

int main(void)
{
#define ON_BENCH(test) cmocka_unit_test_setup_teardown(test, open_bench, close_bench)
    const struct CMUnitTest tests[] = {
        ON_BENCH(every_column_stands_in_its_table),
        ON_BENCH(the_schema_knows_the_codes_and_the_ranges),
        cmocka_unit_test(headers_and_code_list),
        cmocka_unit_test(names_are_found),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
