/* What is due: each list's border cases on a small practice, thresholds met and just missed, and who is left out. */
#include "../support/audited.h"

#include "ridgetally/audit/due.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static void load(struct bench *bench, const char *name, const char *text)
{
    if (load_text(bench, name, text) != RT_OK || bench->report.rows_refused > 0)
        fail_msg("%s: %s", name, bench->error.message);
}

/* PATIENT/IMPLANT of every case of a kind, in the list's order. */
static const char *cases_of(struct bench *bench, const char *day, enum rt_case_kind kind)
{
    static char text[1024];
    struct rt_case_list list = {.of = NULL};
    struct rt_figure_list figures = {.rows = NULL};
    struct rt_audit_info info;
    text[0] = '\0';
    if (rt_due_run(bench->store, day_of(day), NULL, &list, &figures, &info, &bench->error) != RT_OK)
        fail_msg("due: %s", bench->error.message);
    long count = 0;
    for (size_t i = 0; i < list.count; i++) {
        if (list.of[i].kind != kind)
            continue;
        count++;
        size_t length = strlen(text);
        snprintf(text + length, sizeof text - length, "%s%s/%s", length > 0 ? " " : "", list.of[i].patient,
                 list.of[i].implant);
    }
    struct rt_figure key = rt_empty_figure();
    key.section = "flow";
    key.measure = "due_cases";
    key.grouping = "due";
    key.level = rt_case_kind_name(kind);
    key.unit_of_analysis = NULL;
    assert_int_equal(rt_find_figure(&figures, &key)->value, count);
    rt_release_cases(&list);
    rt_release_figures(&figures);
    return text;
}

static struct rt_case first_case(struct bench *bench, const char *day, enum rt_case_kind kind,
                                 struct rt_case_list *list)
{
    struct rt_figure_list figures = {.rows = NULL};
    struct rt_audit_info info;
    *list = (struct rt_case_list){.of = NULL};
    assert_int_equal(rt_due_run(bench->store, day_of(day), NULL, list, &figures, &info, &bench->error),
                     RT_OK);
    rt_release_figures(&figures);
    for (size_t i = 0; i < list->count; i++)
        if (list->of[i].kind == kind)
            return list->of[i];
    fail_msg("no case of kind %s", rt_case_kind_name(kind));
    return (struct rt_case){.kind = kind};
}

/* Recall interval 12 months: floor(12 x 30.4375) = 365 days. Seen 2024-01-31; overdue from 2025-01-31 on. */
static void recalls(void **state)
{
    struct bench *bench = *state;
    load(bench, "implants.csv",
         "patient,implant,placed_on\nA,1,2023-01-10\nA,2,2023-01-10\nB,1,2023-01-10\nC,1,2023-01-10\nD,1,"
         "2023-01-10\n"
         "E,1,2023-01-10\nF,1,2023-01-10\n");
    load(bench, "followups.csv",
         "patient,implant,seen_on\nA,1,2023-06-01\nA,2,2024-01-31\nC,1,2024-01-31\nD,1,2024-01-31\nE,1,2024-"
         "01-31\n"
         "E,1,2023-05-01\n");
    load(bench, "events.csv",
         "patient,implant,happened_on,event\nC,1,2024-02-10,removed\nD,,2024-03-01,moved_away\n"
         "E,,2023-07-01,moved_away\nF,,2023-03-01,died\n");
    assert_string_equal(cases_of(bench, "2025-01-30", RT_CASE_RECALL), "B/"); /* 365 days are within */
    assert_string_equal(cases_of(bench, "2025-01-31", RT_CASE_RECALL),
                        "B/ A/ E/"); /* E was seen after moving */
    struct rt_case_list list;
    struct rt_case one = first_case(bench, "2025-01-31", RT_CASE_RECALL, &list);
    assert_string_equal(one.finding, "not seen since placement, 752 days");
    assert_string_equal(one.beside, "1 implant in place");
    rt_release_cases(&list);
    /* what comes later is not known yet: C and D were not seen for a year, E had moved away */
    assert_string_equal(cases_of(bench, "2024-01-15", RT_CASE_RECALL), "B/ C/ D/");
}

static void baseline_films(void **state)
{
    struct bench *bench = *state;
    load(bench, "implants.csv",
         "patient,implant,placed_on,loaded_on\nA,1,2024-01-01,2024-06-01\nB,1,2024-01-01,\nC,1,2024-01-01,"
         "\nD,1,2024-01-01,\n"
         "E,1,2024-01-01,\nF,1,2024-01-01,\n");
    load(bench, "followups.csv",
         "patient,implant,seen_on,level_mesial_mm,level_distal_mm,readable\nA,1,2024-01-31,1,1,yes\nB,1,2024-"
         "02-01,1,1,yes\n"
         "C,1,2024-01-05,1,,yes\nD,1,2024-01-05,,,no\n");
    load(bench, "events.csv", "patient,implant,happened_on,event\nF,1,2024-01-20,removed\n");
    assert_string_equal(cases_of(bench, "2024-01-31", RT_CASE_BASELINE), ""); /* the 30 days are not over */
    assert_string_equal(cases_of(bench, "2024-07-01", RT_CASE_BASELINE), "B/1 C/1 D/1 E/1");
}

/* The house rule waits 84 days: 2024-01-01 + 84 = 2024-03-25. */
static void loading_and_torque(void **state)
{
    struct bench *bench = *state;
    load(bench, "implants.csv",
         "patient,implant,placed_on,loaded_on,loaded,final_torque_ncm\nA,1,2024-01-01,,no,15\nB,1,2024-01-01,"
         ",,15\n"
         "C,1,2024-01-01,2024-05-01,yes,15\nD,1,2024-01-01,,yes,15\nE,1,2024-01-01,,no,20\nF,1,2024-01-01,,"
         "no,>19\n"
         "G,1,2024-01-01,,no,15\nH,1,2024-01-01,,no,15\n");
    load(bench, "events.csv",
         "patient,implant,happened_on,event\nG,1,2024-02-01,unused\nH,1,2024-02-01,elective\n");
    assert_string_equal(cases_of(bench, "2024-03-25", RT_CASE_LOADING), "");
    assert_string_equal(cases_of(bench, "2024-03-26", RT_CASE_LOADING), "A/1 B/1 C/1 E/1 F/1");
    assert_string_equal(cases_of(bench, "2024-06-01", RT_CASE_LOADING), "A/1 B/1 E/1 F/1");
    /* 20 Ncm is not in the lowest class, and a limit of 19 reached may be more */
    assert_string_equal(cases_of(bench, "2024-06-01", RT_CASE_TORQUE), "A/1 B/1 G/1");
    struct rt_case_list list;
    struct rt_case one = first_case(bench, "2024-06-01", RT_CASE_TORQUE, &list);
    assert_string_equal(one.finding, "final torque 15 Ncm, not loaded");
    rt_release_cases(&list);
}

static void bone_beyond_a_threshold(void **state)
{
    struct bench *bench = *state;
    load(bench, "implants.csv",
         "patient,implant,placed_on,loaded_on\nA,1,2022-01-01,2022-06-01\nB,1,2022-01-01,2022-06-01\nC,1,"
         "2022-01-01,\n"
         "D,1,2022-01-01,\nE,1,2022-01-01,\nF,1,2022-01-01,\nG,1,2022-01-01,\nH,1,2022-01-01,\nI,1,2022-01-"
         "01,2022-06-01\n");
    load(
        bench, "followups.csv",
        "patient,implant,seen_on,level_mesial_mm,level_distal_mm,level_kind,probing_mm,bleeding,suppuration\n"
        /* since the film around loading: 2.0 at one site; the film after placement is another matter */
        "A,1,2022-01-01,3.0,3.0,crest,,,\nA,1,2022-06-10,1.0,1.0,crest,3,no,\nA,1,2023-06-10,-1.0,0.9,crest,"
        "5,yes,no\n"
        "B,1,2022-01-01,3.0,3.0,crest,,,\nB,1,2022-06-10,1.0,1.0,crest,,,\nB,1,2023-06-10,-0.99,0.9,crest,7,"
        "yes,yes\n"
        /* no film around loading: since placement */
        "C,1,2022-01-10,1.5,1.5,crest,,,\nC,1,2023-06-10,0.5,-0.5,crest,,,\n"
        /* no earlier film at all: 3 mm below the platform, and just not */
        "D,1,2023-06-10,-3.0,-1.0,crest,,,\nE,1,2023-06-10,-2.99,-1.0,crest,5,yes,\n"
        /* probing alone is for the wording and/or, and needs bleeding or pus */
        "F,1,2023-06-10,-1.0,-1.0,crest,6,no,yes\nG,1,2023-06-10,-1.0,-1.0,crest,7,no,no\n"
        /* films of two kinds cannot be compared: judged without a baseline */
        "H,1,2022-01-10,1.5,1.5,crest,,,\nH,1,2023-06-10,-3.2,-3.1,contact,,,\n"
        /* the latest film counts */
        "I,1,2022-06-10,1.0,1.0,crest,,,\nI,1,2023-06-10,-1.5,0.9,crest,,,\nI,1,2024-06-10,-0.5,0.9,crest,,,"
        "\n");
    assert_string_equal(cases_of(bench, "2024-12-31", RT_CASE_BONE), "A/1 C/1 D/1 F/1 H/1");
    struct rt_case_list list;
    struct rt_case one = first_case(bench, "2024-12-31", RT_CASE_BONE, &list);
    assert_string_equal(
        one.finding, "crest lost 2.00 mm (mesial) from the film around loading, 2022-06-10, to 2023-06-10");
    assert_string_equal(one.beside, "last recorded: bleeding yes, pus no, probing 5 mm (first 3 mm)");
    rt_release_cases(&list);
    assert_string_equal(cases_of(bench, "2023-12-31", RT_CASE_BONE), "A/1 C/1 D/1 F/1 H/1 I/1");
}

static void contradictions_and_filters(void **state)
{
    struct bench *bench = *state;
    struct rt_case_list list = {.of = NULL};
    struct rt_figure_list figures = {.rows = NULL};
    struct rt_audit_info info;
    struct rt_audit_filters filters = rt_no_filters();
    load(bench, "implants.csv",
         "patient,implant,placed_on,operator,loaded_on\nA,1,2024-02-01,X,2024-01-01\n"
         "B,1,2024-02-01,Y,2024-01-01\nC,1,2024-09-01,X,2024-08-01\n");
    assert_string_equal(cases_of(bench, "2024-06-01", RT_CASE_CONTRADICTION), "A/1 B/1"); /* C comes later */
    filters.values[RT_FILTER_OPERATOR] = "Y";
    assert_int_equal(
        rt_due_run(bench->store, day_of("2024-06-01"), &filters, &list, &figures, &info, &bench->error),
        RT_OK);
    for (size_t i = 0; i < list.count; i++)
        assert_string_equal(list.of[i].patient, "B");
    assert_true(list.count > 0);
    rt_release_cases(&list);
    rt_release_figures(&figures);
}

static void the_audits_own_lists(void **state)
{
    struct bench *bench = *state;
    struct rt_case_list list = {.of = NULL};
    const struct rt_period period = {day_of("2024-10-01"), day_of("2024-12-31")};
    load(bench, "implants.csv",
         "patient,implant,placed_on,loaded_on,loaded,final_torque_ncm\nA,1,2023-01-01,,no,40\nB,1,2023-01-01,"
         "2023-06-01,yes,10\n"
         "C,1,2024-02-01,,no,10\nD,1,2024-02-01,,,40\nE,1,2024-02-01,2024-01-01,,40\n");
    load(bench, "events.csv",
         "patient,implant,happened_on,event\nA,1,2024-01-01,removed\nB,1,2023-12-31,removed\n"
         "D,1,2025-01-01,removed\n");
    assert_int_equal(rt_audit_cases(bench->store, &period, NULL, &list, &bench->error), RT_OK);
    struct rt_text csv = {0};
    rt_cases_to_csv(&list, &csv);
    /* failures and placements of the 12 months to the end of the period; contradictions of all records */
    assert_non_null(strstr(
        csv.bytes, "\nfailure,A,1,,2024-01-01,lost 365 days after placement on 2023-01-01,before loading\n"));
    assert_null(strstr(csv.bytes, "failure,B"));
    assert_null(strstr(csv.bytes, "failure,D"));
    assert_non_null(strstr(
        csv.bytes, "\nlow torque placed,C,1,,2024-02-01,final torque 10 Ncm,\"in place, not loaded\"\n"));
    assert_null(strstr(csv.bytes, "low torque placed,B"));
    assert_non_null(strstr(csv.bytes, "\nleft out,E,1,"));
    rt_text_release(&csv);
    rt_release_cases(&list);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(recalls, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(baseline_films, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(loading_and_torque, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(bone_beyond_a_threshold, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(contradictions_and_filters, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(the_audits_own_lists, open_bench, close_bench),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
