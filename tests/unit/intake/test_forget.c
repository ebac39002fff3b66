/* Erasing a patient: what goes, what stays, and that no byte of the label is left in the file. */
#include "../support/records.h"

#include "ridgetally/base/file.h"
#include "ridgetally/intake/forget.h"
#include "ridgetally/store/query.h"

#include <setjmp.h>
#include <sqlite3.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

static const char implants[] = "patient,implant,tooth,placed_on,length_mm,final_torque_ncm,birth_year\n"
                               "Zebra-771,Quagga9,36,2024-03-01,10,35,1970\n"
                               "Zebra-771,Quagga8,46,2024-03-01,10,,1971\n"
                               "Okapi-2,b,36,2024-03-02,10,40,1980\n";
static const char corrected[] = "patient,implant,tooth,placed_on,length_mm,final_torque_ncm,birth_year\n"
                                "Zebra-771,Quagga9,36,2024-03-01,11.5,36,1970\n"
                                "Okapi-2,b,36,2024-03-02,12,40,1980\n";
static const char followups[] = "patient,implant,seen_on,film,level_mesial_mm,imaged_length_mm\n"
                                "Zebra-771,Quagga9,2025-03-01,Film55,-0.5,11\n"
                                "Zebra-771,unknown,2025-03-01,Film56,-0.5,11\n"
                                "Okapi-2,b,2025-03-01,f1,-0.4,11\n"
                                "Okapi-2,x,2025-03-01,f1,-0.4,11\n";
static const char events[] = "patient,implant,happened_on,event,cause\n"
                             "Zebra-771,Quagga9,2025-05-01,removed,Bongo77\n"
                             "Zebra-771,,2025-06-01,moved_away,\n"
                             "Okapi-2,b,2025-05-01,complication,loose\n";

static bool file_has(const char *path, const char *word)
{
    char *bytes = NULL;
    size_t length = 0;
    bool found = false;
    assert_int_equal(rt_read_file(path, 1 << 26, &bytes, &length, NULL), RT_OK);
    found = memmem(bytes, length, word, strlen(word)) != NULL;
    free(bytes);
    return found;
}

static void load_all(struct bench *bench)
{
    assert_int_equal(load_text(bench, "implants.csv", implants), RT_OK);
    assert_int_equal(load_text(bench, "Zebra-771.csv", followups), RT_PARTIAL);
    assert_int_equal(load_text(bench, "events.csv", events), RT_OK);
    assert_int_equal(load_text(bench, "implants.csv", corrected), RT_OK);
    assert_int_equal(
        rt_run_script(
            bench->store,
            "UPDATE batch SET map_text = 'patient = Zebra-771 # like Zebra-771, Okapi-2' WHERE id = 2;"
            "INSERT INTO doubt_answer (doubt_id, state, reply, answered_at, after_batch_id) "
            "SELECT min(id), 'replied', 'same as Zebra-771', '', 4 FROM doubt WHERE patient_id = "
            "(SELECT id FROM patient WHERE label = 'Okapi-2');"
            "INSERT INTO doubt_answer (doubt_id, state, reply, answered_at, after_batch_id) "
            "SELECT min(id), 'replied', 'no', '', 4 FROM doubt WHERE patient_id = "
            "(SELECT id FROM patient WHERE label = 'Zebra-771');"
            "INSERT INTO audit_note (first_day, last_day, decision, written_on) "
            "VALUES (1, 90, 'Call Zebra-771 back, not Zebra-7712.', 91)",
            &bench->error),
        RT_OK);
}

static void no_byte_is_left(void **state)
{
    struct bench *bench = *state;
    struct rt_forget_report gone;
    static const char *const words[] = {"Zebra-771", "Quagga", "Film55", "Bongo77"};
    load_all(bench);
    for (size_t i = 0; i < 4; i++)
        assert_true(file_has(bench->store_path, words[i]));
    assert_int_equal(rt_run_script(bench->store,
                                   "UPDATE batch SET map_text = replace(map_text, 'Zebra-771 #', 'id #');"
                                   "UPDATE audit_note SET decision = 'Call Zebra-771 back.'",
                                   &bench->error),
                     RT_OK);
    assert_int_equal(rt_forget_patient(bench->store, "Zebra-771", &gone, &bench->error), RT_OK);
    assert_int_equal(gone.implants, 2);
    assert_int_equal(gone.readings, 1);
    assert_int_equal(gone.events, 2);
    assert_int_equal(gone.refused, 1);
    assert_true(gone.doubts >= 2);  /* the refused row and the two years of birth */
    assert_true(gone.changes >= 2); /* the length and the torque that were corrected */
    for (size_t i = 0; i < 4; i++)
        assert_false(file_has(bench->store_path, words[i]));
    char journal[128];
    snprintf(journal, sizeof journal, "%s-journal", bench->store_path);
    assert_int_not_equal(access(journal, F_OK), 0);
    assert_int_equal(rt_store_verify(bench->store, &bench->error), RT_OK);
}

static void others_stay(void **state)
{
    struct bench *bench = *state;
    struct rt_forget_report gone;
    load_all(bench);
    assert_int_equal(rt_forget_patient(bench->store, "Zebra-771", &gone, &bench->error), RT_OK);
    assert_string_equal(rows_of(bench, "SELECT label FROM patient"), "Okapi-2\n");
    assert_string_equal(rows_of(bench, "SELECT label, length_mm FROM implant"), "b|12.0\n");
    assert_string_equal(rows_of(bench, "SELECT film FROM reading"), "f1\n");
    assert_string_equal(rows_of(bench, "SELECT cause FROM event"), "loose\n");
    assert_string_equal(rows_of(bench, "SELECT count(*) FROM refused_row"), "1\n");
    assert_string_equal(rows_of(bench,
                                "SELECT old_value, new_value FROM history WHERE table_name = 'implant' AND "
                                "column_name = 'length_mm'"),
                        "10.0|12.0\n");
    assert_string_equal(rows_of(bench, "SELECT map_text FROM batch WHERE id = 2"),
                        "patient = Zebra-771 # like (forgotten), Okapi-2\n");
    assert_string_equal(rows_of(bench, "SELECT decision FROM audit_note"),
                        "Call (forgotten) back, not Zebra-7712.\n");
    assert_string_equal(rows_of(bench, "SELECT reply FROM doubt_answer"), "same as (forgotten)\n");
    assert_string_equal(rows_of(bench, "SELECT file_name FROM batch WHERE id = 2"), "(forgotten).csv\n");
    assert_int_equal(rt_run_script(bench->store, "DELETE FROM doubt_answer", &bench->error), RT_OK);
    assert_int_equal(rt_undo_batch(bench->store, 4, &bench->error), RT_OK);
    assert_string_equal(rows_of(bench, "SELECT label, length_mm FROM implant"), "b|10.0\n");
    assert_int_equal(rt_store_verify(bench->store, &bench->error), RT_OK);
}

static void a_refused_patient_is_found(void **state)
{
    struct bench *bench = *state;
    struct rt_forget_report gone;
    load_all(bench);
    assert_int_equal(load_text(bench, "more.csv", "patient,implant,seen_on\nGnu-3,a,2025-01-01\n"),
                     RT_PARTIAL);
    assert_int_equal(rt_forget_patient(bench->store, "Gnu-3", &gone, &bench->error), RT_OK);
    assert_int_equal(gone.refused, 1);
    assert_int_equal(gone.doubts, 1);
    assert_int_equal(gone.implants, 0);
    assert_int_equal(rt_store_verify(bench->store, &bench->error), RT_OK);
}

static void an_unknown_label_changes_nothing(void **state)
{
    struct bench *bench = *state;
    struct rt_forget_report gone;
    load_all(bench);
    char *before = dump_records(bench);
    static const char *const labels[] = {"Zebra-7", "zebra-771", "", "b", "%", "Zebra-771' OR 1=1 --"};
    for (size_t i = 0; i < sizeof labels / sizeof labels[0]; i++) {
        rt_error_clear(&bench->error);
        assert_int_equal(rt_forget_patient(bench->store, labels[i], &gone, &bench->error), RT_USE);
    }
    char *after = dump_records(bench);
    assert_string_equal(before, after);
    free(before);
    free(after);
}

static void a_doubt_between_two_goes(void **state)
{
    struct bench *bench = *state;
    struct rt_forget_report gone;
    assert_int_equal(load_text(bench, "implants.csv",
                               "patient,implant,tooth,placed_on\n7,a,36,2024-01-01\n007,b,36,2024-01-01\n"),
                     RT_OK);
    const char *count =
        "SELECT count(*) FROM doubt WHERE check_name = 'near-equal-patients' AND state <> 'mended'";
    assert_string_equal(rows_of(bench, count), "2\n");
    assert_int_equal(rt_forget_patient(bench->store, "007", &gone, &bench->error), RT_OK);
    assert_string_equal(rows_of(bench, count), "0\n");
    assert_string_equal(rows_of(bench, "SELECT label FROM patient"), "7\n");
    assert_int_equal(rt_store_verify(bench->store, &bench->error), RT_OK);
}

/* A column of text added to the schema later has to be thought about: does forget reach what it holds? */
static void every_text_column_is_thought_of(void **state)
{
    struct bench *bench = *state;
    const char *columns = rows_of(
        bench,
        "SELECT t.name || '.' || c.name FROM sqlite_schema t, pragma_table_info(t.name) c WHERE "
        "t.type = 'table' AND c.type IN ('TEXT', 'ANY', 'BLOB') AND t.name NOT IN "
        /* whole rows go with their patient */
        "('patient', 'implant', 'reading', 'event', 'history', 'refused_row', 'doubt', 'doubt_answer', "
        /* of the practice, its rules and its figures */
        "'setting', 'class_cut', 'yardstick', 'yardstick_target', 'house_rule', "
        "'house_rule_parameter', 'house_rule_change', 'audit', 'figure', 'issued_deck', 'issued_deck_cell', "
        "'deck_letter', "
        "'backup_copy', 'operator_baseline') "
        "ORDER BY 1");
    /* the label is struck from file_name, map_text, decision and answer; the others are codes, names of staff and times */
    assert_string_equal(columns,
                        "audit_note.about\naudit_note.answer\naudit_note.answered_by\n"
                        "audit_note.decision\naudit_note.section\naudit_note.written_by\nbatch.file_name\n"
                        "batch.kind\nbatch.loaded_at\nbatch.map_text\nbatch.program\nbatch.sha256\n"
                        "batch.undone_at\n");
}

/* The ids of erased rows are given to other rows later: no batch may seem to have held those. */
static void batches_keep_no_trace_of_erased_rows(void **state)
{
    struct bench *bench = *state;
    struct rt_forget_report gone;
    const char *runs = "SELECT batch_id, first_id, last_id FROM seen_rows ORDER BY 1, 2";
    static const char first[] = "patient,implant,tooth\nA,1,11\nB,1,11\nA,2,12\nC,1,11\nC,2,12\nA,3,13\n";
    assert_int_equal(load_text(bench, "i.csv", first), RT_OK);
    assert_int_equal(load_text(bench, "a.csv", "patient,implant,tooth\nA,1,11\nA,2,12\n"), RT_OK);
    assert_int_equal(load_text(bench, "f.csv",
                               "patient,implant,seen_on\nA,9,2025-01-01\nB,9,2025-01-01\nC,1,2025-01-01\n"),
                     RT_PARTIAL);
    assert_string_equal(rows_of(bench, runs), "1|1|6\n2|1|1\n2|3|3\n3|1|1\n");
    assert_int_equal(rt_forget_patient(bench->store, "A", &gone, &bench->error), RT_OK);
    assert_string_equal(rows_of(bench, runs), "1|2|2\n1|4|5\n2|-1|-1\n3|1|1\n");
    assert_string_equal(rows_of(bench, "SELECT rows_read, rows_new, rows_refused FROM batch WHERE id = 3"),
                        "2|1|1\n");
    /* id 6 is given anew; batch 2, which held nothing but A, stands in the way of nothing */
    assert_int_equal(load_text(bench, "d.csv", "patient,implant,tooth\nD,1,11\n"), RT_OK);
    assert_string_equal(rows_of(bench, "SELECT max(id) FROM implant"), "6\n");
    assert_int_equal(rt_undo_batch(bench->store, 3, &bench->error), RT_OK);
    assert_int_equal(rt_undo_batch(bench->store, 1, &bench->error), RT_OK);
    assert_string_equal(rows_of(bench, "SELECT p.label FROM implant i JOIN patient p ON p.id = i.patient_id"),
                        "D\n");
    assert_int_equal(rt_store_verify(bench->store, &bench->error), RT_OK);
}

/* A number that was handed out names one doubt for ever. */
static void a_doubt_number_is_never_given_twice(void **state)
{
    struct bench *bench = *state;
    assert_int_equal(load_text(bench, "i.csv", "patient,implant,isq\nP1,a,710\n"), RT_PARTIAL);
    const char *latest = rows_of(bench, "SELECT max(id) FROM doubt");
    assert_string_equal(latest, "1\n");
    assert_int_equal(rt_undo_batch(bench->store, 1, &bench->error), RT_OK);
    assert_string_equal(rows_of(bench, "SELECT count(*) FROM doubt"), "0\n");
    assert_int_equal(load_text(bench, "i.csv", "patient,implant,isq\nP1,a,720\n"), RT_PARTIAL);
    assert_string_equal(rows_of(bench, "SELECT id, value FROM doubt"), "2|720\n");
}

static void labels_in_a_map_are_struck(void **state)
{
    struct bench *bench = *state;
    struct rt_forget_report gone;
    static const char map[] =
        "ridgetally map 1\n"
        "column \"No\" -> patient codes \"Zebra-771\" = \"Okapi-2\", \"x\" = \"Gnu 3\"\n"
        "column \"Zebra-771\" -> skip\n"
        "column \"Site\" -> tooth\n"
        "constant operator Zebra-771\n";
    load_all(bench);
    char *sql = sqlite3_mprintf("UPDATE batch SET map_text = %Q WHERE id = 1;"
                                "UPDATE batch SET map_text = 'constant patient Zebra-771' WHERE id = 3",
                                map);
    assert_int_equal(rt_run_script(bench->store, sql, &bench->error), RT_OK);
    sqlite3_free(sql);
    assert_int_equal(rt_forget_patient(bench->store, "Zebra-771", &gone, &bench->error), RT_OK);
    /* only what stands for a patient: other words of the map may be like the label by chance */
    assert_string_equal(rows_of(bench, "SELECT map_text FROM batch WHERE id = 1"),
                        "ridgetally map 1\n"
                        "column \"No\" -> patient codes \"x\" = \"Gnu 3\"\n"
                        "column \"Zebra-771\" -> skip\n"
                        "column \"Site\" -> tooth\n"
                        "constant operator Zebra-771\n\n");
    assert_string_equal(rows_of(bench, "SELECT map_text FROM batch WHERE id = 3"), "constant patient ask\n");
}

static void words_are_struck_whole(void **state)
{
    (void)state;
    static const struct {
        const char *text, *label, *expected;
        bool comments_only;
    } cases[] = {
        {"a P1 b", "P1", "a (forgotten) b", false},
        {"P1,P1", "P1", "(forgotten),(forgotten)", false},
        {"P11 xP1 P1", "P1", "P11 xP1 (forgotten)", false},
        {"P1=x # P1", "P1", "P1=x # (forgotten)", true},
        {"# P1\nP1", "P1", "# (forgotten)\nP1", true},
        {"(7) 7a", "(7)", "(forgotten) 7a", false},
        {"x", "", "x", false},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct rt_text out = {0};
        bool found = false;
        rt_strike_label(cases[i].text, cases[i].label, cases[i].comments_only, &out, &found);
        assert_string_equal(out.bytes, cases[i].expected);
        assert_int_equal(found, strcmp(cases[i].text, cases[i].expected) != 0);
        rt_text_release(&out);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(no_byte_is_left, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(others_stay, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(a_refused_patient_is_found, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(an_unknown_label_changes_nothing, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(a_doubt_between_two_goes, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(every_text_column_is_thought_of, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(batches_keep_no_trace_of_erased_rows, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(a_doubt_number_is_never_given_twice, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(labels_in_a_map_are_struck, open_bench, close_bench),
        cmocka_unit_test(words_are_struck_whole),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
