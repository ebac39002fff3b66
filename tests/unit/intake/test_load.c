/* Loading: what enters, what is corrected, what is refused and comes back, what undo restores. */
#include "../support/records.h"

#include "ridgetally/base/file.h"
#include "ridgetally/store/query.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

static const char two_implants[] =
    "patient,implant,tooth,placed_on,length_mm,final_torque_ncm,density_found\n"
    "P1,a,16,2024-03-01,10,35,D2\n"
    "P1,b,26,2024-03-01,12,>70,LZ1\n";

static void counts_are(const struct bench *bench, long fresh, long changed, long unchanged, long refused)
{
    assert_int_equal(bench->report.rows_new, fresh);
    assert_int_equal(bench->report.rows_changed, changed);
    assert_int_equal(bench->report.rows_unchanged, unchanged);
    assert_int_equal(bench->report.rows_refused, refused);
    assert_int_equal(bench->report.rows_read, fresh + changed + unchanged + refused);
}

static void rows_are(struct bench *bench, const char *sql, const char *expected)
{
    assert_string_equal(rows_of(bench, sql), expected);
}

static void rows_enter_typed(void **state)
{
    struct bench *bench = *state;
    assert_int_equal(load_text(bench, "implants.csv", two_implants), RT_OK);
    counts_are(bench, 2, 0, 0, 0);
    rows_are(
        bench,
        "SELECT p.label, i.label, tooth, date(placed_on * 86400, 'unixepoch'), length_mm, final_torque_ncm, "
        "final_torque_capped, density_found, density_found_scale, isq, source_line FROM implant i JOIN "
        "patient p ON "
        "p.id = i.patient_id ORDER BY i.id",
        "P1|a|16|2024-03-01|10.0|35.0|0|2|D||2\nP1|b|26|2024-03-01|12.0|70.0|1|1|LZ||3\n");
    rows_are(bench, "SELECT file_name, kind, rows_read, rows_new, rows_refused, length(sha256) FROM batch",
             "implants.csv|implants|2|2|0|64\n");
}

static void the_same_file_changes_nothing(void **state)
{
    struct bench *bench = *state;
    assert_int_equal(load_text(bench, "implants.csv", two_implants), RT_OK);
    char *before = dump_records(bench);
    assert_int_equal(load_text(bench, "copy.csv", two_implants), RT_OK);
    counts_are(bench, 0, 0, 2, 0);
    assert_int_equal(bench->report.same_as_batch, 1);
    assert_int_equal(bench->report.doubts_raised, 0);
    char *after = dump_records(bench);
    assert_string_equal(before, after);
    free(before);
    free(after);
}

static void a_correction_touches_only_its_columns(void **state)
{
    struct bench *bench = *state;
    load_text(bench, "implants.csv", two_implants);
    assert_int_equal(load_text(bench, "fix.csv",
                               "implant,patient,final_torque_ncm,density_found,isq\n"
                               "a,P1,40+,LZ2,\n"
                               "b,P1,>70,LZ1,66\n"),
                     RT_OK);
    counts_are(bench, 0, 2, 0, 0);
    assert_string_equal(bench->report.words.bytes, "line 2: density_found: corrected from D2 to LZ2\n"
                                                   "line 2: final_torque_ncm: corrected from 35 to >40\n"
                                                   "line 3: isq: corrected from empty to 66\n");
    rows_are(bench,
             "SELECT tooth, length_mm, final_torque_ncm, final_torque_capped, density_found_scale, isq FROM "
             "implant",
             "16|10.0|40.0|1|LZ|\n26|12.0|70.0|1|LZ|66\n");
    rows_are(bench,
             "SELECT table_name, row_id, column_name, old_value, new_value FROM history WHERE column_name "
             "NOT LIKE "
             "'source%' AND table_name = 'implant' ORDER BY row_id, column_name",
             "implant|1|density_found_scale|D|LZ\nimplant|1|final_torque_capped|0|1\n"
             "implant|1|final_torque_ncm|35.0|40.0\nimplant|2|isq||66\n");
    assert_int_equal(load_text(bench, "clear.csv", "patient,implant,isq\nP1,b,\n"), RT_OK);
    counts_are(bench, 0, 1, 0, 0);
    rows_are(bench, "SELECT isq IS NULL FROM implant WHERE label = 'b'", "1\n");
}

static void a_label_is_made_and_frozen(void **state)
{
    struct bench *bench = *state;
    assert_int_equal(load_text(bench, "i.csv",
                               "patient,implant,tooth,placed_on,isq\n"
                               "P1,,16,2024-03-01,60\n"
                               "P1,,,2024-03-01,61\n"
                               "P1,,17,,62\n"),
                     RT_PARTIAL);
    counts_are(bench, 1, 0, 0, 2);
    rows_are(bench, "SELECT label FROM implant", "16@2024-03-01\n");
    rows_are(bench, "SELECT line, column_name, reason, remedy FROM doubt WHERE weight = 'refused'",
             "3|implant|empty, and tooth and placed_on are not both there to make a label from|type a label, "
             "or the tooth "
             "and the day of placement\n"
             "4|implant|empty, and tooth and placed_on are not both there to make a label from|type a label, "
             "or the tooth "
             "and the day of placement\n");
    assert_int_equal(
        load_text(bench, "i2.csv", "patient,implant,tooth,placed_on,isq\nP1,,16,2024-03-01,63\n"), RT_OK);
    counts_are(bench, 0, 1, 0, 0);
    assert_int_equal(load_text(bench, "f.csv", "patient,implant,seen_on\nP1,16@2024-03-01,2025-03-01\n"),
                     RT_OK);
}

static void repeats_and_duplicates(void **state)
{
    struct bench *bench = *state;
    load_text(bench, "i.csv", two_implants);
    assert_int_equal(load_text(bench, "f.csv",
                               "patient,implant,seen_on,film,reader,reading,level_mesial_mm\n"
                               "P1,a,2025-03-01,F1,R1,1,0.5\n"
                               "P1,a,2025-03-01,F1,R1,2,0.6\n"
                               "P1,a,2025-03-01,F1,R2,1,0.7\n"
                               "P1,a,2025-03-01,F2,R1,1,0.8\n"
                               "P1,a,2025-03-01,F1,R1,,0.5\n"
                               "P1,a,2025-03-01,F1,R1,1,0.9\n"),
                     RT_PARTIAL);
    counts_are(bench, 4, 0, 1, 1);
    rows_are(
        bench, "SELECT line, substr(value, 1, 1), reason, remedy FROM doubt WHERE weight = 'refused'",
        "7|#|the same key as line 2 of this file, with other values|keep the right one of the two rows\n");
    assert_int_equal(load_text(bench, "f.csv",
                               "patient,implant,seen_on,film,reader,reading,level_mesial_mm\n"
                               "P1,a,2025-03-01,F1,R1,1,0.5\n"
                               "P1,a,2025-03-01,F1,R1,1,0.9\n"),
                     RT_PARTIAL);
    counts_are(bench, 0, 0, 1, 1);
    assert_string_equal(
        bench->report.words.bytes,
        "line 3: patient: the same key as an earlier line of this file, with other values: keep the right "
        "one of the two rows\n");
}

static void levels_are_calibrated(void **state)
{
    struct bench *bench = *state;
    load_text(bench, "i.csv", "patient,implant,length_mm\nP1,a,10\nP1,b,\n");
    load_text(bench, "f.csv",
              "patient,implant,seen_on,level_mesial_mm,level_distal_mm,imaged_length_mm\n"
              "P1,a,2025-03-01,0.5,-1,12.5\n"
              "P1,a,2025-04-01,0.5,,\n"
              "P1,b,2025-03-01,0.5,1,11\n");
    const char *levels =
        "SELECT level_mesial_raw_mm, level_distal_raw_mm, level_mesial_mm, level_distal_mm, calibration "
        "FROM reading ORDER BY id";
    rows_are(bench, levels, "0.5|-1.0|0.4|-0.8|0.8\n0.5||0.5||\n0.5|1.0|0.5|1.0|\n");
    /* the length arrives later, or was wrong */
    assert_int_equal(load_text(bench, "i2.csv", "patient,implant,length_mm\nP1,a,20\nP1,b,22\n"), RT_OK);
    rows_are(bench, levels, "0.5|-1.0|0.8|-1.6|1.6\n0.5||0.5||\n0.5|1.0|1.0|2.0|2.0\n");
    load_text(bench, "f2.csv", "patient,implant,seen_on,imaged_length_mm\nP1,b,2025-03-01,44\n");
    rows_are(bench, "SELECT level_mesial_mm, calibration FROM reading WHERE id = 3", "0.25|0.5\n");
    assert_int_equal(rt_undo_batch(bench->store, 4, &bench->error), RT_OK);
    assert_int_equal(rt_undo_batch(bench->store, 3, &bench->error), RT_OK);
    rows_are(bench, levels, "0.5|-1.0|0.4|-0.8|0.8\n0.5||0.5||\n0.5|1.0|0.5|1.0|\n");
}

static const char early_followups[] = "patient,implant,seen_on,film,reader,level_mesial_mm,bleeding\n"
                                      "P1,a,2025-03-01,\"F,1 \xc3\xa4\",R1,0.5,no\n"
                                      "P1,b,2025-03-02,,,,yes\n"
                                      "P2,a,2025-03-03,F3,R1,0.7,\n";

static void a_followup_waits_for_its_implant(void **state)
{
    struct bench *bench = *state;
    assert_int_equal(load_text(bench, "f.csv", early_followups), RT_PARTIAL);
    counts_are(bench, 0, 0, 0, 3);
    bench->free_text = true;
    assert_int_equal(load_text(bench, "e.csv",
                               "patient,implant,happened_on,event,cause\n"
                               "P1,,2026-01-01,moved_away,to the sea\n"),
                     RT_PARTIAL);
    rows_are(bench, "SELECT line, column_name, reason, state FROM doubt WHERE batch_id = 1",
             "2|patient|this patient is in no implants file loaded so far|waiting\n"
             "3|patient|this patient is in no implants file loaded so far|waiting\n"
             "4|patient|this patient is in no implants file loaded so far|waiting\n");
    assert_int_equal(load_text(bench, "i.csv", two_implants), RT_OK);
    assert_int_equal(bench->report.rows_mended, 3);
    rows_are(bench,
             "SELECT implant_id, film, reader, level_mesial_mm, bleeding, batch_id, source_batch_id, "
             "source_line FROM "
             "reading ORDER BY id",
             "1|F,1 \xc3\xa4|R1|0.5|0|3|1|2\n2||||1|3|1|3\n");
    rows_are(bench, "SELECT event, cause, implant_id IS NULL FROM event", "moved_away|to the sea|1\n");
    rows_are(bench, "SELECT line, state FROM doubt WHERE weight = 'refused' ORDER BY id",
             "2|mended\n3|mended\n4|waiting\n2|mended\n");
    /* the same files again bring nothing */
    assert_int_equal(load_text(bench, "f.csv", early_followups), RT_PARTIAL);
    counts_are(bench, 0, 0, 2, 1);
    assert_int_equal(bench->report.doubts_raised, 0);
}

static void why_an_implant_is_not_known(void **state)
{
    struct bench *bench = *state;
    load_text(bench, "i.csv",
              "patient,implant,tooth,placed_on,isq\n7,1,11,2024-01-01,\n8,,21,2024-01-01,710\n9,,31,,710\n");
    load_text(bench, "f.csv",
              "patient,implant,seen_on\n007,1,2025-01-01\n7,01,2025-01-01\n7.0,1,2025-01-01\n"
              "8,21@2024-01-01,2025-01-01\n7,2,2025-01-01\n70,1,2025-01-01\n");
    rows_are(
        bench,
        "SELECT line, column_name, reason FROM doubt WHERE weight = 'refused' AND batch_id = 2 ORDER BY id",
        "2|patient|not known, but for leading zeros, spaces or .0 it is like one that is\n"
        "3|implant|not known, but for leading zeros, spaces or .0 it is like one that is\n"
        "4|patient|not known, but for leading zeros, spaces or .0 it is like one that is\n"
        "5|patient|the row of this implant was refused\n"
        "6|implant|this patient has no implant of that label\n"
        "7|patient|this patient is in no implants file loaded so far\n");
    /* the corrected row of the implant lets its follow-up in */
    load_text(bench, "i2.csv", "patient,implant,tooth,placed_on,isq\n8,,21,2024-01-01,71\n");
    assert_int_equal(bench->report.rows_mended, 2);
    rows_are(bench,
             "SELECT line, state FROM doubt WHERE weight = 'refused' AND batch_id = 2 AND state = 'mended'",
             "5|mended\n");
}

/* Nothing of an id or free text cell of a refused row may stand in the file of the store. */
static void refused_ids_and_text_are_not_kept(void **state)
{
    struct bench *bench = *state;
    assert_int_equal(load_text(bench, "f.csv",
                               "patient,implant,seen_on,film,reader\n"
                               "Xylophon,Quagga,2025-03-01,Zwieback,Ypsilon\n"),
                     RT_PARTIAL);
    assert_int_equal(load_text(bench, "e.csv",
                               "patient,implant,happened_on,event,cause\n"
                               "Xylophon,Quagga,2025-03-01,removed,Vademecum\n"
                               "Xylophon,Quagga,Wednesday,Umlaut,Vademecum\n"),
                     RT_PARTIAL);
    rt_store_close(bench->store);
    bench->store = NULL;
    char *bytes = NULL;
    size_t length = 0;
    assert_int_equal(rt_read_file(bench->store_path, 1 << 26, &bytes, &length, NULL), RT_OK);
    static const char *const words[] = {"Xylophon",  "Quagga",    "Zwieback", "Ypsilon",
                                        "Vademecum", "Wednesday", "Umlaut"};
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        assert_null(memmem(bytes, length, words[i], strlen(words[i])));
    assert_non_null(memmem(bytes, length, "removed", 7));
    free(bytes);
}

static void refused_numbers_are_shown(void **state)
{
    struct bench *bench = *state;
    assert_int_equal(load_text(bench, "i.csv",
                               "patient,implant,isq,graft,birth_year,tooth,placed_on\n"
                               "P1,a,710,maybe,2026-01-05,99,30.02.2024\n"),
                     RT_PARTIAL);
    rows_are(
        bench,
        "SELECT column_name, CASE WHEN value LIKE '#____________' THEN '#' ELSE value END FROM doubt WHERE "
        "weight = 'refused' ORDER BY id",
        "tooth|99\nplaced_on|30.02.2024\nisq|710\ngraft|#\nbirth_year|#\n");
    rows_are(bench, "SELECT count(*) FROM implant", "0\n");
    rows_are(bench, "SELECT count(*) FROM patient", "0\n");
}

static void a_corrected_row_mends_its_refusal(void **state)
{
    struct bench *bench = *state;
    load_text(bench, "i.csv", "patient,implant,isq\nP1,a,710\nP1,b,70\n");
    rows_are(bench, "SELECT state FROM doubt WHERE check_name = 'refused'", "waiting\n");
    assert_int_equal(load_text(bench, "other.csv", "patient,implant,isq\nP1,a,71\n"), RT_OK);
    assert_int_equal(bench->report.rows_mended, 1);
    assert_int_equal(bench->report.doubts_mended >= 1, 1);
    rows_are(bench, "SELECT state, mended_batch_id FROM doubt WHERE check_name = 'refused'", "mended|2\n");
    /* the wrong row again: its doubt is back under its old number */
    assert_int_equal(load_text(bench, "i.csv", "patient,implant,isq\nP1,a,710\nP1,b,70\n"), RT_PARTIAL);
    assert_int_equal(bench->report.doubts_raised, 1);
    rows_are(bench, "SELECT id, state, mended_batch_id IS NULL FROM doubt WHERE check_name = 'refused'",
             rows_of(bench, "SELECT min(id), 'waiting', 1 FROM doubt WHERE check_name = 'refused'"));
}

static void a_later_state_of_the_sheet_mends_what_it_lacks(void **state)
{
    struct bench *bench = *state;
    load_text(bench, "i.csv", two_implants);
    load_text(bench, "f.csv", "patient,implant,seen_on\nP1,a,2025-02-30\nP1,a,2025-03-01\nP1,b,2025-03-01\n");
    /* another part under the same name does not have the row, and does not mend it */
    assert_int_equal(load_text(bench, "f.csv", "patient,implant,seen_on\nP1,b,2026-03-01\n"), RT_OK);
    rows_are(bench, "SELECT state FROM doubt WHERE check_name = 'refused'", "waiting\n");
    assert_int_equal(
        load_text(bench, "f.csv",
                  "patient,implant,seen_on\nP1,a,2025-02-28\nP1,a,2025-03-01\nP1,b,2025-03-01\n"),
        RT_OK);
    assert_int_equal(bench->report.rows_mended, 1);
    rows_are(bench, "SELECT state FROM doubt WHERE check_name = 'refused'", "mended\n");
}

static void headers(void **state)
{
    struct bench *bench = *state;
    static const struct {
        const char *text, *message, *remedy;
    } cases[] = {
        {"name,date\nx,y\n", "the header does not tell which records these are",
         "one of the first 20 lines must name the columns, as `ridgetally new --sheets DIR` writes them; or "
         "say "
         "--kind implants, followups or events"},
        {"tooth;diameter_mm;length_mm;implant;patient\n11;4,5;10;a;P1\n12;4.5;10;b;P1\n",
         "'4.5' has a decimal point, but line 2 has a decimal comma",
         "write all of them one way, or state --decimal comma or point; rows written the other way are then "
         "refused"},
        {"patient,seen_on\n1,2025-01-01\n", "column implant is missing, which every followups file must have",
         "add it to the header; `ridgetally new --sheets DIR` writes sheets to type into"},
        {"patient,implant,happened_on\n1,2,2025-01-01\n",
         "column event is missing, which every events file must have",
         "add it to the header; `ridgetally new --sheets DIR` writes sheets to type into"},
        {"patient,implant,tooth,Tooth \n1,2,11,12\n", "column tooth stands in the header twice",
         "remove or rename one of the two"},
        {"patient,implant,tooth\n", "this file has a header and no rows",
         "check that this is the right file"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        assert_int_equal(load_text(bench, "x.csv", cases[i].text), RT_INPUT);
        assert_string_equal(bench->error.message, cases[i].message);
        assert_string_equal(bench->error.remedy, cases[i].remedy);
        assert_true(strstr(bench->error.file, "x.csv") != NULL);
    }
    rows_are(bench, "SELECT count(*) FROM batch", "0\n");
    assert_int_equal(
        load_text(bench, "x.csv", " PATIENT ,Implant,shoe size,TOOTH,favourite colour\n1,2,44,11,\n"), RT_OK);
    assert_string_equal(bench->report.unknown_columns.bytes, "shoe size, favourite colour");
    rows_are(bench, "SELECT tooth FROM implant", "11\n");
}

static void a_pipe_is_read_to_its_end_and_named_as_typed(void **state)
{
    struct bench *bench = *state;
    struct rt_load_options options = {.kind_given = false};
    static const char rows[] = "patient;implant;tooth;length_mm\nP1;a;11;9,5\n";
    const char *path = "-";
    size_t done = 0;
    int ends[2];
    int kept = dup(STDIN_FILENO);
    for (int turn = 0; turn < 2; turn++) {
        assert_int_equal(pipe(ends), 0);
        if (turn == 0)
            assert_int_equal(write(ends[1], rows, sizeof rows - 1), sizeof rows - 1);
        close(ends[1]);
        assert_true(dup2(ends[0], STDIN_FILENO) >= 0);
        close(ends[0]);
        rt_release_load_report(&bench->report);
        bench->report = (struct rt_load_report){.path = NULL};
        assert_int_equal(
            rt_load_files(bench->store, &path, 1, &options, &bench->report, &done, &bench->error),
            turn == 0 ? RT_OK : RT_INPUT);
        assert_int_equal(done, turn == 0);
    }
    assert_true(dup2(kept, STDIN_FILENO) >= 0);
    close(kept);
    assert_string_equal(bench->error.file, "standard input");
    assert_string_equal(bench->error.message, "this file is empty");
    rows_are(bench, "SELECT file_name, (SELECT length_mm FROM implant) FROM batch", "standard input|9.5\n");
}

static void other_dialects(void **state)
{
    struct bench *bench = *state;
    assert_int_equal(load_text(bench, "x.csv",
                               "Cases of the year\n\nPatient;Implant;Tooth;Length (mm);Stall torque [N cm]\n"
                               "P1;a;11;9,5;>70,5\nPatient;Implant;Tooth;Length (mm);Stall torque [N cm]\n"
                               "P1;b;12;9.500;\nP1;c;13;1.234;35\n"),
                     RT_PARTIAL);
    counts_are(bench, 1, 0, 0, 2);
    rows_are(bench, "SELECT tooth, length_mm, stall_torque_ncm, stall_torque_capped FROM implant",
             "11|9.5|70.5|1\n");
    assert_string_equal(
        bench->report.words.bytes,
        "line 6: length_mm 9.500: a number with a point in a sheet of decimal commas: type it with a "
        "decimal comma and without a mark for thousands\n"
        "line 7: length_mm 1.234: a number with a point in a sheet of decimal commas: type it with a "
        "decimal comma and without a mark for thousands\n");
    rows_are(bench, "SELECT line, column_name, value FROM doubt WHERE check_name = 'refused' ORDER BY line",
             "6|length_mm|9.500\n7|length_mm|1.234\n");
    /* nothing proves a mark: 5,125 could be a length or five thousand */
    assert_int_equal(load_text(bench, "y.csv", "patient;implant;tooth;length_mm\nP2;a;11;5,125\n"),
                     RT_PARTIAL);
    assert_string_equal(
        bench->report.words.bytes,
        "line 2: length_mm 5,125: a number whose mark could stand before decimals or after thousands: type "
        "it without a mark for thousands, or state --decimal comma or point\n");
}

static void rows_that_do_not_fit_the_header(void **state)
{
    struct bench *bench = *state;
    assert_int_equal(load_text(bench, "x.csv", "patient,implant,tooth\nP1,a\nP1,b,11,\nP1,c,11,mm\n,d,12\n"),
                     RT_PARTIAL);
    counts_are(bench, 2, 0, 0, 2);
    assert_string_equal(
        bench->report.words.bytes,
        "line 4: patient: the row has more cells than the header: look for a comma inside a cell; put such "
        "a cell in quotes\n"
        "line 5: patient: empty, and the row cannot be placed without it: fill it in\n");
}

static void a_fault_in_the_middle_takes_nothing(void **state)
{
    struct bench *bench = *state;
    load_text(bench, "i.csv", two_implants);
    char *before = dump_records(bench);
    assert_int_equal(
        load_text(bench, "x.csv", "patient,implant,tooth\nP7,\xc3\xa4,11\nP8,a,12\nP9,caf\xe9,13\n"),
        RT_INPUT);
    char *after = dump_records(bench);
    assert_string_equal(before, after);
    rows_are(bench, "SELECT count(*) FROM batch", "1\n");
    free(before);
    free(after);
}

static void files_are_taken_in_order_and_dry_runs_write_nothing(void **state)
{
    struct bench *bench = *state;
    char paths[3][160];
    const char *order[3];
    static const char *const names[] = {"e.csv", "f.csv", "i.csv"};
    static const char *const texts[] = {"patient,implant,happened_on,event\nP1,a,2026-01-01,removed\n",
                                        "patient,implant,seen_on\nP1,a,2025-01-01\n", two_implants};
    for (size_t i = 0; i < 3; i++) {
        snprintf(paths[i], sizeof paths[i], "%s", put_file(bench, names[i], texts[i]));
        order[i] = paths[i];
    }
    struct rt_load_report reports[3] = {{.path = NULL}};
    struct rt_load_options options = {.dry_run = true};
    size_t done = 0;
    char *before = dump_records(bench);
    assert_int_equal(rt_load_files(bench->store, order, 3, &options, reports, &done, &bench->error), RT_OK);
    assert_int_equal(done, 3);
    assert_int_equal(reports[0].kind, RT_IMPLANTS);
    assert_int_equal(reports[1].kind, RT_FOLLOWUPS);
    assert_int_equal(reports[2].kind, RT_EVENTS);
    for (size_t i = 0; i < 3; i++) {
        assert_int_equal(reports[i].batch, (int)i + 1);
        assert_int_equal(reports[i].rows_new, i == 0 ? 2 : 1);
        rt_release_load_report(&reports[i]);
        reports[i] = (struct rt_load_report){.path = NULL};
    }
    char *after = dump_records(bench);
    assert_string_equal(before, after);
    rows_are(bench, "SELECT count(*) FROM batch", "0\n");
    options.dry_run = false;
    assert_int_equal(rt_load_files(bench->store, order, 3, &options, reports, &done, &bench->error), RT_OK);
    rows_are(bench, "SELECT kind FROM batch ORDER BY id", "implants\nfollowups\nevents\n");
    for (size_t i = 0; i < 3; i++)
        rt_release_load_report(&reports[i]);
    free(before);
    free(after);
}

/* --- undo --------------------------------------------------------------------------------------------------- */

static void undo_restores_each_state_exactly(void **state)
{
    struct bench *bench = *state;
    static const char *const files[][2] = {
        {"f.csv", early_followups},
        {"i.csv", two_implants},
        {"i2.csv", "patient,implant,tooth,placed_on,isq,length_mm\nP1,a,99,2024-03-01,66,10\nP2,a,11,2024-05-"
                   "01,200,9\n"},
        {"i3.csv",
         "patient,implant,tooth,placed_on,isq,length_mm\nP1,a,17,2024-04-01,66,11\nP2,a,11,2024-05-01,,9\n"},
        {"e.csv", "patient,implant,happened_on,event\nP1,a,2024-01-01,removed\nP3,,2024-01-01,died\n"},
        {"f2.csv", "patient,implant,seen_on,film,reader,level_mesial_mm,level_distal_mm,imaged_length_mm\n"
                   "P1,a,2025-03-01,\"F,1 \xc3\xa4\",R1,0.9,0.4,12\nP1,b,2023-03-02,,,,,\n"},
        {"i4.csv", "patient,implant,length_mm\nP1,a,13\nP3,z,8\n"},
        {"i5.csv",
         "patient,implant,density_planned,density_found,final_torque_ncm,stall_torque_ncm,operator\n"
         "P1,a,D2,,,>70,A\nP1,b,LZ3,D1,45,,\nP3,z,,D4,70+,30,\n"},
    };
    enum { FILES = sizeof files / sizeof files[0] };
    char *states[FILES];
    for (int i = 0; i < FILES; i++) {
        states[i] = dump_records(bench);
        enum rt_status status = load_text(bench, files[i][0], files[i][1]);
        assert_true(status == RT_OK || status == RT_PARTIAL);
    }
    for (int i = FILES - 1; i >= 0; i--) {
        assert_int_equal(rt_undo_batch(bench->store, i + 1, &bench->error), RT_OK);
        char *now = dump_records(bench);
        assert_string_equal(now, states[i]);
        free(now);
        free(states[i]);
    }
    assert_int_equal(rt_store_verify(bench->store, &bench->error), RT_OK);
    rows_are(bench, "SELECT count(*) FROM doubt", "0\n");
    rows_are(bench, "SELECT count(*) FROM batch WHERE undone_at IS NULL", "0\n");
}

static void undo_refuses_in_words(void **state)
{
    struct bench *bench = *state;
    load_text(bench, "i.csv", two_implants);
    load_text(bench, "f.csv", "patient,implant,seen_on\nP1,a,2025-01-01\n");
    assert_int_equal(rt_undo_batch(bench->store, 1, &bench->error), RT_USE);
    assert_string_equal(bench->error.message, "later batches touch rows of batch 1: batch 2 (1)");
    assert_string_equal(bench->error.remedy, "undo batch 2 first");
    rt_error_clear(&bench->error);
    assert_int_equal(rt_undo_batch(bench->store, 7, &bench->error), RT_USE);
    assert_string_equal(bench->error.message, "there is no batch 7");
    rt_error_clear(&bench->error);
    assert_int_equal(rt_undo_batch(bench->store, 2, &bench->error), RT_OK);
    assert_int_equal(rt_undo_batch(bench->store, 2, &bench->error), RT_USE);
    assert_string_equal(bench->error.message, "batch 2 is undone already");
    rt_error_clear(&bench->error);
    assert_int_equal(rt_undo_batch(bench->store, 1, &bench->error), RT_OK);
}

/* Text from a file must stay text, whatever it says. */
static void hostile_text_is_only_text(void **state)
{
    struct bench *bench = *state;
    static const char *const hostile[] = {"'; DROP TABLE implant; --",
                                          "\"\" OR 1=1",
                                          "<script>alert(1)</script>",
                                          "`touch /tmp/x`",
                                          "$(touch /tmp/x)",
                                          "a\nb",
                                          "%s%n%x",
                                          "=cmd|' /C calc'!A0"};
    for (size_t i = 0; i < sizeof hostile / sizeof hostile[0]; i++) {
        struct rt_text file = {0};
        rt_text_add(&file, "patient,implant,operator,implant_line\n");
        for (int j = 0; j < 4; j++) {
            rt_text_add(&file, j > 0 ? "," : "");
            rt_text_add_csv_cell(&file, hostile[i], true);
        }
        rt_text_add(&file, "\n");
        assert_int_equal(load_text(bench, "i.csv", file.bytes), RT_OK);
        rt_text_release(&file);
        struct rt_query *query = NULL;
        bool row = false;
        rt_query_open_text(
            bench->store,
            "SELECT p.label, i.label, i.operator, i.implant_line FROM implant i JOIN patient p ON p.id = "
            "i.patient_id WHERE p.label = :label",
            &query, NULL);
        rt_bind_text(query, ":label", hostile[i]);
        assert_int_equal(rt_query_next(query, &row, NULL), RT_OK);
        assert_true(row);
        for (int j = 0; j < 4; j++)
            assert_string_equal(rt_column_text(query, j), hostile[i]);
        rt_query_close(query);
    }
    rows_are(bench, "SELECT count(*) FROM implant", "8\n");
}

int main(void)
{
#define ON_BENCH(test) cmocka_unit_test_setup_teardown(test, open_bench, close_bench)
    const struct CMUnitTest tests[] = {
        ON_BENCH(rows_enter_typed),
        ON_BENCH(the_same_file_changes_nothing),
        ON_BENCH(a_correction_touches_only_its_columns),
        ON_BENCH(a_label_is_made_and_frozen),
        ON_BENCH(repeats_and_duplicates),
        ON_BENCH(levels_are_calibrated),
        ON_BENCH(a_followup_waits_for_its_implant),
        ON_BENCH(why_an_implant_is_not_known),
        ON_BENCH(refused_ids_and_text_are_not_kept),
        ON_BENCH(refused_numbers_are_shown),
        ON_BENCH(a_corrected_row_mends_its_refusal),
        ON_BENCH(a_later_state_of_the_sheet_mends_what_it_lacks),
        ON_BENCH(headers),
        ON_BENCH(a_pipe_is_read_to_its_end_and_named_as_typed),
        ON_BENCH(other_dialects),
        ON_BENCH(rows_that_do_not_fit_the_header),
        ON_BENCH(a_fault_in_the_middle_takes_nothing),
        ON_BENCH(files_are_taken_in_order_and_dry_runs_write_nothing),
        ON_BENCH(undo_restores_each_state_exactly),
        ON_BENCH(undo_refuses_in_words),
        ON_BENCH(hostile_text_is_only_text),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
