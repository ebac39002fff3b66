/* Answers to doubts: how they come back in the list, what they change, what is refused, how long they live. */
#include "../support/records.h"

#include "ridgetally/intake/answer.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define HEADER "number,weight,state,patient,implant,field,value,reason,answer,answered_by,reply\n"

/* One doubt that an unusual value raises, about implant 007/a. */
static const char odd_length[] = "patient,implant,tooth,placed_on,operator,length_mm,planned_depth_mm,"
                                 "achieved_depth_mm,density_found,final_"
                                 "torque_ncm,"
                                 "tissue_mm,loaded_on\n007,a,16,2024-03-01,A,40.5,1,1,D2,35,3,2024-07-01\n";
static const char usual_length[] = "patient,implant,length_mm\n007,a,10\n";
static const char odd_again[] = "patient,implant,length_mm\n007,a,40.5\n";

static enum rt_status answer(struct bench *bench, const char *text, struct rt_answer_report *report)
{
    rt_error_clear(&bench->error);
    rt_release_answer_report(report);
    *report = (struct rt_answer_report){0};
    return rt_answer_doubts(bench->store, put_file(bench, "answers.csv", text), report, &bench->error);
}

static void rows_are(struct bench *bench, const char *sql, const char *expected)
{
    assert_string_equal(rows_of(bench, sql), expected);
}

static const char states[] = "SELECT id, state FROM doubt ORDER BY id";

static void an_answer_turns_the_doubt_once(void **state)
{
    struct bench *bench = *state;
    struct rt_answer_report report = {0};
    assert_int_equal(load_text(bench, "i.csv", odd_length), RT_OK);
    rows_are(bench, "SELECT id, column_name, value, state FROM doubt", "1|length_mm|40.5|waiting\n");
    static const char left[] =
        HEADER "1,implausible,waiting,007,a,length_mm,40.5,x,Left as is,AB,\"long, through the cheek\"\n";
    assert_int_equal(answer(bench, left, &report), RT_OK);
    assert_int_equal(report.left, 1);
    rows_are(bench, states, "1|left\n");
    rows_are(bench, "SELECT doubt_id, state, reply, answered_by, after_batch_id FROM doubt_answer",
             "1|left|long, through the cheek|AB|1\n");
    assert_int_equal(answer(bench, left, &report), RT_OK);
    assert_int_equal(report.left, 0);
    assert_int_equal(report.unchanged, 1);
    rows_are(bench, "SELECT count(*) FROM doubt_answer", "1\n");
    /* a reply alone is a reply; nothing typed changes nothing; waiting takes it back */
    assert_int_equal(answer(bench, HEADER "1,,,007,a,length_mm,40.5,,,,asked the lab\n", &report), RT_OK);
    assert_int_equal(report.replied, 1);
    rows_are(bench, states, "1|replied\n");
    assert_int_equal(answer(bench, HEADER "1,,,007,a,length_mm,40.5,,,CD,\n", &report), RT_OK);
    rows_are(bench, states, "1|replied\n");
    assert_int_equal(answer(bench, HEADER "1,,,007,a,length_mm,40.5,,waiting,,\n", &report), RT_OK);
    assert_int_equal(report.withdrawn, 1);
    rows_are(bench, states, "1|waiting\n");
    rows_are(bench, "SELECT state FROM doubt_answer ORDER BY id", "left\nreplied\nwaiting\n");
    assert_int_equal(answer(bench, HEADER "1,,,007,a,length_mm,40.5,,waiting,,\n", &report), RT_OK);
    assert_int_equal(report.unchanged, 1);
    rt_release_answer_report(&report);
}

static void a_spreadsheet_may_have_had_the_list(void **state)
{
    struct bench *bench = *state;
    struct rt_answer_report report = {0};
    load_text(bench, "i.csv", odd_length);
    assert_int_equal(answer(bench,
                            "reply;number;patient;implant;field;value;answer;answered_by\r\n"
                            "'=1+1;1;7;a;length_mm;40.5;replied;@AB\r\n",
                            &report),
                     RT_OK);
    rows_are(bench, "SELECT reply, answered_by FROM doubt_answer", "=1+1|@AB\n");
    rt_release_answer_report(&report);
}

static void a_wrong_cell_takes_nothing(void **state)
{
    struct bench *bench = *state;
    struct rt_answer_report report = {0};
    load_text(bench, "i.csv", odd_length);
    static const struct {
        const char *row, *column, *message;
    } cases[] = {
        {"2,,,007,a,length_mm,40.5,,replied,AB,x", "number", "there is no doubt of that number"},
        {"1x,,,007,a,length_mm,40.5,,replied,AB,x", "number", "there is no doubt of that number"},
        {",,,007,a,length_mm,40.5,,replied,AB,x", "number", "there is no doubt of that number"},
        {"1,,,70,a,length_mm,40.5,,replied,AB,x", "patient", "not what the list had here"},
        {"1,,,007,b,length_mm,40.5,,,,", "implant", "not what the list had here"},
        {"1,,,007,a,isq,40.5,,,,", "field", "not what the list had here"},
        {"1,,,007,a,length_mm,10,,replied,AB,x", "value", "not what the list had here"},
        {"1,,,007,a,length_mm,4.5,,replied,AB,x", "value", "not what the list had here"},
        {"1,,,007,a,length_mm,40.5,,yes,AB,x", "answer", "not an answer"},
        {"1,,,007,a,length_mm,40.5,,replied,AB,", "reply", "empty"},
        {"1,,,007,a,length_mm,40.5,,left as is,,x", "answered_by", "empty"},
        {"1,,,007,a,length_mm,40.5,,left as is,AB,", "reply", "empty"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char text[600];
        snprintf(text, sizeof text, HEADER "1,,,007,a,length_mm,40.5,,replied,AB,good\n%s\n", cases[i].row);
        assert_int_equal(answer(bench, text, &report), RT_INPUT);
        assert_int_equal(bench->error.line, 3);
        assert_string_equal(bench->error.column, cases[i].column);
        assert_string_equal(bench->error.message, cases[i].message);
        rows_are(bench, "SELECT count(*) FROM doubt_answer", "0\n");
        rows_are(bench, states, "1|waiting\n");
    }
    assert_int_equal(answer(bench, "number,patient,implant,field,value,answer,reply\n", &report), RT_INPUT);
    assert_string_equal(bench->error.message, "column answered_by is missing");
    rt_release_answer_report(&report);
}

static void an_answer_outlives_its_mending(void **state)
{
    struct bench *bench = *state;
    struct rt_answer_report report = {0};
    load_text(bench, "i.csv", odd_length);
    answer(bench, HEADER "1,,,007,a,length_mm,40.5,,left as is,AB,it is so\n", &report);
    load_text(bench, "fix.csv", usual_length);
    rows_are(bench, states, "1|mended\n");
    load_text(bench, "again.csv", odd_again);
    rows_are(bench, states, "1|left\n");
    rows_are(bench, "SELECT mended_batch_id IS NULL FROM doubt", "1\n");
    /* an answer to a mended doubt waits for its return */
    load_text(bench, "fix.csv", usual_length);
    assert_int_equal(answer(bench, HEADER "1,,,007,a,length_mm,40.5,,replied,,typo\n", &report), RT_OK);
    rows_are(bench, states, "1|mended\n");
    load_text(bench, "again.csv", odd_again);
    rows_are(bench, states, "1|replied\n");
    rt_release_answer_report(&report);
}

static void undo_never_takes_answers_away(void **state)
{
    struct bench *bench = *state;
    struct rt_answer_report report = {0};
    load_text(bench, "first.csv", "patient,implant,length_mm\n007,a,10\n007,b,10\n007,c,10\n");
    char *before = dump_records(bench);
    load_text(bench, "i.csv", odd_again);
    rows_are(bench, "SELECT id, value FROM doubt WHERE value = '40.5'", "9|40.5\n");
    assert_int_equal(answer(bench, HEADER "9,,,007,a,length_mm,40.5,,replied,AB,x\n", &report), RT_OK);
    assert_int_equal(rt_undo_batch(bench->store, 2, &bench->error), RT_USE);
    assert_string_equal(bench->error.message, "batch 2 raised or mended 1 doubts that were answered since");
    rows_are(bench, "SELECT length_mm FROM implant WHERE label = 'a'", "40.5\n");
    assert_int_equal(answer(bench, HEADER "9,,,007,a,length_mm,40.5,,waiting,,\n", &report), RT_OK);
    rt_error_clear(&bench->error);
    assert_int_equal(rt_undo_batch(bench->store, 2, &bench->error), RT_OK);
    char *after = dump_records(bench);
    assert_string_equal(before, after);
    free(before);
    free(after);
    rt_release_answer_report(&report);
}

int main(void)
{
#define ON_BENCH(test) cmocka_unit_test_setup_teardown(test, open_bench, close_bench)
    const struct CMUnitTest tests[] = {
        ON_BENCH(an_answer_turns_the_doubt_once), ON_BENCH(a_spreadsheet_may_have_had_the_list),
        ON_BENCH(a_wrong_cell_takes_nothing),     ON_BENCH(an_answer_outlives_its_mending),
        ON_BENCH(undo_never_takes_answers_away),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
