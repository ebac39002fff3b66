/* Every check: records that raise it, with its exact words, and records like them that must not. */
#include "../support/records.h"

#include "ridgetally/base/resource.h"
#include "ridgetally/base/text.h"
#include "ridgetally/store/query.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define IMPLANTS "patient,implant,tooth,placed_on,uncovered_on,loaded_on,loaded"
#define SHOWN                                                                                                \
    "SELECT coalesce(p.label, ''), coalesce(i.label, ''), d.line, column_name, value, weight, blocks, "      \
    "reason, "                                                                                               \
    "remedy FROM doubt d LEFT JOIN patient p ON p.id = d.patient_id LEFT JOIN implant i ON i.id = "          \
    "d.implant_id WHERE state = 'waiting' AND check_name = "

/* The waiting doubts of a check. */
static void doubts_are(struct bench *bench, const char *check, const char *expected)
{
    char sql[600];
    snprintf(sql, sizeof sql, SHOWN "'%s' ORDER BY d.id", check);
    assert_string_equal(rows_of(bench, sql), expected);
}

static void load(struct bench *bench, const char *name, const char *text)
{
    enum rt_status status = load_text(bench, name, text);
    if (status != RT_OK)
        fail_msg("%s: %s%s", name, bench->error.message, bench->report.words.bytes);
}

static void dates_of_an_implant(void **state)
{
    struct bench *bench = *state;
    load(bench, "i.csv",
         IMPLANTS "\nP1,a,11,2024-03-10,2024-05-01,2024-03-09,\n"
                  "P1,b,12,2024-03-10,2024-03-09,2024-06-01,\n"
                  "P1,c,13,2024-03-10,2024-03-10,2024-03-10,yes\n"
                  "P1,d,14,2024-03-10,,2024-06-01,no\n"
                  "P1,e,15,,2024-01-01,2024-06-01,\n");
    const char *both = "correct the wrong one of the two dates";
    char expected[400];
    snprintf(expected, sizeof expected,
             "P1|a|2|loaded_on|2024-03-09|contradiction|survival,crest|loaded before its placement on "
             "2024-03-10|%s\n",
             both);
    doubts_are(bench, "loading-before-placement", expected);
    snprintf(
        expected, sizeof expected,
        "P1|b|3|uncovered_on|2024-03-09|contradiction||uncovered before its placement on 2024-03-10|%s\n",
        both);
    doubts_are(bench, "uncovering-before-placement", expected);
    snprintf(expected, sizeof expected,
             "P1|a|2|loaded_on|2024-03-09|contradiction|survival,crest|loaded before its uncovering on "
             "2024-05-01|%s\n",
             both);
    doubts_are(bench, "loading-before-uncovering", expected);
    doubts_are(bench, "loading-date-but-not-loaded",
               "P1|d|5|loaded|no|contradiction|survival,crest|said to be not loaded, yet loaded on "
               "2024-06-01|correct the "
               "wrong one of the two cells\n");
}

static void a_corrected_date_mends_its_doubt(void **state)
{
    struct bench *bench = *state;
    load(bench, "i.csv", "patient,implant,placed_on,loaded_on\nP1,a,2024-03-10,2024-03-09\n");
    load(bench, "i2.csv", "patient,implant,loaded_on\nP1,a,2024-06-09\n");
    doubts_are(bench, "loading-before-placement", "");
    assert_string_equal(rows_of(bench, "SELECT state, mended_batch_id FROM doubt WHERE check_name = "
                                       "'loading-before-placement'"),
                        "mended|2\n");
    load(bench, "i3.csv", "patient,implant,loaded_on\nP1,a,2024-03-09\n");
    assert_string_equal(
        rows_of(bench, "SELECT id, state FROM doubt WHERE check_name = 'loading-before-placement'"),
        rows_of(bench, "SELECT min(id), 'waiting' FROM doubt WHERE check_name = "
                       "'loading-before-placement'"));
}

static void depth_and_bone(void **state)
{
    struct bench *bench = *state;
    load(bench, "i.csv",
         "patient,implant,achieved_depth_mm,length_mm,bone_height_mm,graft\n"
         "P1,a,3,10,2.5,\n"
         "P1,b,1.5,10,11.5,\n"
         "P1,c,1.6,10,11.5,\n"
         "P1,d,1.6,10,11.5,yes\n"
         "P1,e,2,10,,\n"
         "P1,f,1.6,10,11.5,no\n");
    doubts_are(bench, "deeper-than-bone",
               "P1|a|2|achieved_depth_mm|3|contradiction|depth,crest|deeper than the bone height of 2.5 "
               "mm|correct the wrong "
               "one of the two numbers\n");
    doubts_are(
        bench, "beyond-bone",
        "P1|c|4|bone_height_mm|11.5|implausible||depth and length together are 11.6 mm, more than the bone "
        "height|check depth, length and bone height, or whether bone was added\n"
        "P1|f|7|bone_height_mm|11.5|implausible||depth and length together are 11.6 mm, more than the bone "
        "height|check depth, length and bone height, or whether bone was added\n");
}

static void stalls(void **state)
{
    struct bench *bench = *state;
    load(bench, "i.csv",
         "patient,implant,stalled,stall_height_mm,stall_torque_ncm,final_torque_ncm,achieved_depth_mm\n"
         "P1,a,yes,2,30,50,1\n"
         "P1,b,no,,30,50,1\n"
         "P1,c,,2,,50,1\n"
         "P1,d,yes,2,30,,1\n"
         "P1,e,yes,,,60,\n"
         "P1,f,yes,2,40,35,1\n"
         "P1,g,yes,2,80,>70,1\n"
         "P1,h,no,,,35,1\n");
    doubts_are(bench, "stall-details-without-stall",
               "P1|b|3|stalled|no|contradiction|stability,rules|said not to have stalled, yet the stall is "
               "described|type yes "
               "when the motor stalled, else clear the height and torque of the stall\n"
               "P1|c|4|stalled||contradiction|stability,rules|the stall is described, but stalled is "
               "empty|type yes when the "
               "motor stalled, else clear the height and torque of the stall\n");
    doubts_are(
        bench, "stall-incomplete",
        "P1|d|5|stalled|yes|missing|rules|stalled, but not recorded: final_torque_ncm|fill in what the "
        "surgical note "
        "says\n"
        "P1|e|6|stalled|yes|missing|rules|stalled, but not recorded: stall_height_mm, stall_torque_ncm, "
        "achieved_depth_mm|fill in what the surgical note says\n");
    doubts_are(bench, "final-below-stall",
               "P1|f|7|final_torque_ncm|35|implausible||lower than the torque at the stall, 40 "
               "Ncm|check both torques\n");
}

static void patients(void **state)
{
    struct bench *bench = *state;
    load(bench, "i.csv",
         "patient,implant,placed_on,birth_year,sex,smoking\n"
         "P1,a,2024-01-01,1960,F,never\n"
         "P1,b,2025-01-01,1960,F,current\n"
         "P2,a,2024-01-01,1960,,\n"
         "P2,b,2024-01-01,1961,M,\n"
         "P3,a,2024-01-01,1960,F,\n"
         "P3,b,2024-01-01,,M,\n"
         "P4,a,2024-01-01,2013,,\n"
         "P5,a,2024-01-01,2012,,\n"
         "P6,a,2024-01-01,1918,,\n");
    doubts_are(bench, "two-values-of-birth-year",
               "P2|a|4|birth_year|1960|contradiction||another row of this patient gives another year of "
               "birth|correct the wrong "
               "row\n"
               "P2|b|5|birth_year|1961|contradiction||another row of this patient gives another year of "
               "birth|correct the wrong "
               "row\n");
    doubts_are(
        bench, "two-values-of-sex",
        "P3|a|6|sex|F|contradiction||another row of this patient gives another sex|correct the wrong row\n"
        "P3|b|7|sex|M|contradiction||another row of this patient gives another sex|correct the wrong row\n");
    doubts_are(bench, "odd-year-of-birth",
               "P4|a|8|birth_year|2013|implausible||the patient would have been about 11 at placement|check "
               "the year of birth "
               "and the day of placement\n"
               "P6|a|10|birth_year|1918|implausible||the patient would have been about 106 at "
               "placement|check the year of birth "
               "and the day of placement\n");
    assert_string_equal(
        rows_of(bench, "SELECT label, birth_year, sex, smoking FROM patient_facts ORDER BY label LIMIT 3"),
        "P1|1960|F|\nP2||M|\nP3|1960||\n");
}

static void near_equal_labels(void **state)
{
    struct bench *bench = *state;
    load(
        bench, "i.csv",
        "patient,implant,tooth\n7,1\n007,1\n8,1\n8.0,2\n9,1\n\" 9\",1\n10,1\n10,01\n100,1\n1,1\nP0,1\nP,1\n");
    const char *words = "|contradiction||another patient has the same label but for leading zeros, spaces or "
                        ".0|if they are one "
                        "person, type one label everywhere\n";
    char expected[2000] = "";
    static const char *const labels[] = {"7", "007", "8", "8.0", "9", " 9"};
    assert_string_equal(
        rows_of(bench, "SELECT group_concat(label, ';') FROM (SELECT p.label FROM doubt d JOIN patient p ON "
                       "p.id = d.patient_id WHERE check_name = 'near-equal-patients' ORDER BY p.id)"),
        "7;007;8;8.0;9; 9\n");
    snprintf(expected, sizeof expected, "%s||0|patient|%s", labels[0], words);
    assert_memory_equal(strstr(rows_of(bench, SHOWN "'near-equal-patients' ORDER BY p.id"), "7||0"), expected,
                        strlen(expected));
    doubts_are(bench, "near-equal-implants",
               "10|1|8|implant||contradiction||another implant of this patient has the same label but for "
               "leading zeros, spaces "
               "or .0|if they are one implant, type one label everywhere\n"
               "10|01|9|implant||contradiction||another implant of this patient has the same label but for "
               "leading zeros, spaces "
               "or .0|if they are one implant, type one label everywhere\n");
}

static void codes_that_begin_alike(void **state)
{
    struct bench *bench = *state;
    load(bench, "i.csv",
         "patient,implant,tooth\nK0123456789ab-xyz,a\nK0123456789ab-xyy,a\nK0123456789ac-xyz,"
         "a\nP0123456789ab-xyz,"
         "a\n"
         "P0123456789ab-xyy,a\nK0123456789ad-xy,a\nK0123456789ad-xz,a\n");
    static const char words[] =
        "contradiction||another patient's label differs from this one's only in letter case, "
        "spaces, punctuation or leading zeros|if they are one person, type one label everywhere";
    char expected[512];
    snprintf(expected, sizeof expected,
             "K0123456789ab-xyy||0|patient||%s\nK0123456789ab-xyz||0|patient||%s\n", words, words);
    doubts_are(bench, "near-equal-codes", expected);
}

static void labels_that_identify(void **state)
{
    struct bench *bench = *state;
    load(bench, "i.csv", "patient,implant,tooth\nP1,a\nP-2,a\nA B,a\nMr 7,a\n");
    doubts_are(bench, "patient-labels-identify", "");
    load(bench, "i.csv",
         "patient,implant,tooth\nanna@example.org,a\nX 1960-03-02,a\n02.03.1960,a\nAnna Muster,a\n"
         "\"Muster, Bert\",a\nZo\xc3\xab \xc3\x98stg\xc3\xa5rd,a\n");
    doubts_are(bench, "patient-labels-identify",
               "||0|patient|e-mail addresses|notice||1 of 10 patient labels look like e-mail addresses|use "
               "pseudonyms: replace the "
               "labels in the sheets, make a new store and load them into it\n"
               "||0|patient|dates of birth|notice||2 of 10 patient labels look like dates of birth|use "
               "pseudonyms: replace "
               "the labels in the sheets, make a new store and load them into it\n"
               "||0|patient|names|notice||3 of 10 patient labels look like names|use pseudonyms: replace the "
               "labels in the "
               "sheets, make a new store and load them into it\n");
    const char *remedy =
        "use pseudonyms: replace the labels in the sheets, make a new store and load them into it";
    char expected[600];
    snprintf(expected, sizeof expected,
             "1 of 10 patient labels look like e-mail addresses: %s\n2 of 10 patient labels look like dates "
             "of birth: %s\n"
             "3 of 10 patient labels look like names: %s\n",
             remedy, remedy, remedy);
    assert_string_equal(bench->report.warnings.bytes, expected);
    /* the number grows, the doubt stays the same one */
    const char *id = rows_of(bench, "SELECT id FROM doubt WHERE value = 'names'");
    load(bench, "i2.csv", "patient,implant,tooth\nCarla Muster,a\n");
    assert_string_equal(rows_of(bench, "SELECT id FROM doubt WHERE value = 'names'"), id);
    assert_string_equal(rows_of(bench, "SELECT reason FROM doubt WHERE value = 'names'"),
                        "4 of 11 patient labels look like names\n");
}

static void readings_against_their_implant(void **state)
{
    struct bench *bench = *state;
    load(bench, "i.csv",
         "patient,implant,placed_on,length_mm\nP1,a,2024-03-10,10\nP1,b,2024-03-10,\nP1,c,,10\n");
    load(bench, "e.csv", "patient,implant,happened_on,event\nP1,a,2025-03-10,removed\n");
    load(bench, "f.csv",
         "patient,implant,seen_on,level_mesial_mm,level_distal_mm,level_kind,readable,imaged_length_mm\n"
         "P1,a,2024-03-09,,,,,\n"
         "P1,a,2024-03-10,1,1,,yes,10.5\n"
         "P1,a,2025-03-10,,,,,\n"
         "P1,a,2025-03-11,,,,,\n"
         "P1,b,2024-06-10,0.5,-1,contact,,\n"
         "P1,b,2024-07-10,0,-1,contact,,\n"
         "P1,b,2024-08-10,1,,,no,\n"
         "P1,b,2024-09-10,1,1,,,11\n"
         "P1,c,2020-01-01,1,1,,,7.99\n"
         "P1,c,2020-01-02,,1,,,15\n"
         "P1,c,2020-01-03,,,,,8\n"
         "P1,c,2020-01-04,,,,,12.5\n");
    const char *both = "correct the wrong one of the two dates";
    char expected[600];
    snprintf(expected, sizeof expected,
             "P1|a|2|seen_on|2024-03-09|contradiction|crest|seen before its placement on 2024-03-10|%s\n",
             both);
    doubts_are(bench, "reading-before-placement", expected);
    snprintf(
        expected, sizeof expected,
        "P1|a|5|seen_on|2025-03-11|contradiction|survival,crest|seen after its removal on 2025-03-10|%s\n",
        both);
    doubts_are(bench, "reading-after-removal", expected);
    doubts_are(bench, "contact-above-platform",
               "P1|b|6|level_kind|contact|contradiction|crest|recorded as first contact, yet a level above "
               "the platform is "
               "given|type crest, or check the sign of the levels\n");
    doubts_are(bench, "levels-of-unreadable-film",
               "P1|b|8|readable|no|contradiction|crest|the film is said to be unreadable, yet levels are "
               "given|correct the wrong "
               "one of the two\n");
    doubts_are(bench, "one-side-missing",
               "P1|b|8|level_distal_mm||missing|crest|only one side was read; the mean of both sides is "
               "missing|read the other "
               "side from the same film, if it can be read\n"
               "P1|c|11|level_mesial_mm||missing|crest|only one side was read; the mean of both sides is "
               "missing|read the other "
               "side from the same film, if it can be read\n");
    doubts_are(bench, "calibration-without-length",
               "P1|b|9|imaged_length_mm|11|missing||the length of the implant is not recorded, so the levels "
               "are used as they "
               "were read|fill in length_mm of the implant\n");
    doubts_are(bench, "odd-calibration",
               "P1|c|10|imaged_length_mm|7.99|implausible||the implant is 10 mm long: the levels are "
               "multiplied by 1.252, outside 0.8 to 1.25|check both lengths\n"
               "P1|c|11|imaged_length_mm|15|implausible||the implant is 10 mm long: the levels are "
               "multiplied by 0.667, outside 0.8 to 1.25|check both lengths\n");
}

static void removal_and_death_of_the_whole_patient(void **state)
{
    struct bench *bench = *state;
    load(bench, "i.csv", "patient,implant,placed_on\nP1,a,2024-01-01\nP2,a,2024-01-01\n");
    load(bench, "f.csv", "patient,implant,seen_on\nP1,a,2025-06-01\nP2,a,2025-06-01\n");
    load(bench, "e.csv",
         "patient,implant,happened_on,event,cause\nP1,,2025-05-31,removed,x\nP2,,2025-05-31,died,\n"
         "P2,a,2025-06-01,complication,\n");
    doubts_are(bench, "reading-after-removal",
               "P1|a|2|seen_on|2025-06-01|contradiction|survival,crest|seen after its removal on "
               "2025-05-31|correct the wrong "
               "one of the two dates\n");
    doubts_are(
        bench, "reading-after-death",
        "P2|a|3|seen_on|2025-06-01|contradiction|survival,crest|seen after the death of the patient on "
        "2025-05-31|correct the wrong one of the two dates\n");
    doubts_are(bench, "event-after-death",
               "P2|a|4|happened_on|2025-06-01|contradiction|survival|after the death of the patient on "
               "2025-05-31|correct the "
               "wrong one of the two dates\n");
}

static void events_of_an_implant(void **state)
{
    struct bench *bench = *state;
    load(bench, "i.csv", "patient,implant,placed_on\nP1,a,2024-01-10\nP1,b,2024-01-10\n");
    load(bench, "e.csv",
         "patient,implant,happened_on,event,cause\nP1,a,2024-01-09,complication,\n"
         "P1,b,2024-06-01,removed,\nP1,b,2024-07-01,elective,moved\n");
    doubts_are(bench, "event-before-placement",
               "P1|a|2|happened_on|2024-01-09|contradiction|survival|happened before the placement on "
               "2024-01-10|correct the "
               "wrong one of the two dates\n");
    doubts_are(bench, "removed-twice",
               "P1|b|4|event|elective|contradiction|survival|already removed on 2024-06-01|correct or "
               "delete the wrong one of the two events\n");
    doubts_are(bench, "cause-missing",
               "P1|b|3|cause||missing||removed, and no cause is recorded|fill in the cause as a short code, "
               "or unknown\n");
}

static void two_implants_on_one_site(void **state)
{
    struct bench *bench = *state;
    load(bench, "i.csv",
         "patient,implant,tooth,placed_on\nP1,a,16,2024-01-01\nP1,b,16,2024-09-01\n"
         "P2,a,16,2024-01-01\nP2,b,16,2024-09-01\nP3,a,16,2024-01-01\nP3,b,16,2024-01-01\n"
         "P4,a,16,2024-01-01\nP4,b,17,2024-09-01\nP5,a,16,\nP5,b,16,2024-09-01\n");
    load(bench, "e.csv", "patient,implant,happened_on,event,cause\nP2,a,2024-09-01,removed,x\n");
    doubts_are(bench, "site-twice",
               "P1|b|3|tooth|16|contradiction|survival|this site has had an implant since 2024-01-01, and no "
               "removal is "
               "recorded|record the removal, or correct the tooth or label\n"
               "P3|b|7|tooth|16|contradiction|survival|this site has had an implant since 2024-01-01, and no "
               "removal is "
               "recorded|record the removal, or correct the tooth or label\n");
    /* a removal after the second placement does not explain it; one before does */
    load(bench, "e2.csv",
         "patient,implant,happened_on,event,cause\nP1,a,2024-09-02,removed,x\nP3,a,2024-01-01,removed,x\n");
    assert_string_equal(
        rows_of(bench, "SELECT count(*) FROM doubt WHERE check_name = 'site-twice' AND state = 'waiting'"),
        "1\n");
}

static void dates_in_the_future(void **state)
{
    struct bench *bench = *state;
    setenv("SOURCE_DATE_EPOCH", "1735689600", 1); /* 2025-01-01T00:00:00Z, by `date -ud @1735689600` */
    load(bench, "i.csv", "patient,implant,placed_on,loaded_on\nP1,a,2025-01-01,2025-01-02\n");
    load(bench, "f.csv", "patient,implant,seen_on\nP1,a,2025-01-01\nP1,a,2026-01-01\n");
    load(bench, "e.csv", "patient,implant,happened_on,event\nP1,a,2525-01-01,remade\n");
    unsetenv("SOURCE_DATE_EPOCH");
    doubts_are(bench, "after-loading-the-file",
               "P1|a|2|loaded_on|2025-01-02|implausible||this date lay in the future when the file was "
               "loaded|correct the "
               "date\n"
               "P1|a|3|seen_on|2026-01-01|implausible||this date lay in the future when the file was "
               "loaded|correct the date\n"
               "P1|a|2|happened_on|2525-01-01|implausible||this date lay in the future when the file was "
               "loaded|correct the "
               "date\n");
}

static void unusual_values(void **state)
{
    struct bench *bench = *state;
    load(bench, "i.csv",
         "patient,implant,isq,final_torque_ncm,planned_depth_mm,tissue_mm,length_mm\n"
         "P1,a,40,10,-3,0.5,6\nP1,b,90,100,4,6,18\nP1,c,39,101,4.1,6.1,18.5\nP1,d,91,9,-3.1,0.4,5.5\n"
         "P1,e,,,,,\n");
    load(bench, "f.csv",
         "patient,implant,seen_on,level_mesial_mm,level_distal_mm,probing_mm\n"
         "P1,a,2025-01-01,-6,3,12\nP1,a,2025-01-02,-6.1,3.1,12.5\n");
    assert_string_equal(rows_of(bench,
                                "SELECT line, column_name, value, reason FROM doubt WHERE check_name = "
                                "'unusual-value' ORDER BY batch_id, line, column_name"),
                        "4|final_torque_ncm|101|unusual: outside 10 to 100 Ncm\n"
                        "4|isq|39|unusual: outside 40 to 90\n"
                        "4|length_mm|18.5|unusual: outside 6 to 18 mm\n"
                        "4|planned_depth_mm|4.1|unusual: outside -3 to 4 mm\n"
                        "4|tissue_mm|6.1|unusual: outside 0.5 to 6 mm\n"
                        "5|final_torque_ncm|9|unusual: outside 10 to 100 Ncm\n"
                        "5|isq|91|unusual: outside 40 to 90\n"
                        "5|length_mm|5.5|unusual: outside 6 to 18 mm\n"
                        "5|planned_depth_mm|-3.1|unusual: outside -3 to 4 mm\n"
                        "5|tissue_mm|0.4|unusual: outside 0.5 to 6 mm\n"
                        "3|level_distal_mm|3.1|unusual: outside -6 to 3 mm\n"
                        "3|level_mesial_mm|-6.1|unusual: outside -6 to 3 mm\n"
                        "3|probing_mm|12.5|unusual: outside 1 to 12 mm\n");
}

static void fields_left_empty(void **state)
{
    struct bench *bench = *state;
    load(bench, "i.csv",
         "patient,implant,placed_on,operator,planned_depth_mm,achieved_depth_mm,density_found,"
         "final_torque_ncm,tissue_mm,length_mm,loaded_on,loaded\n"
         "P1,a,2024-01-01,A,1,1,D2,35,2,10,2024-04-01,\n"
         "P1,b,2024-01-01,A,1,1,D2,35,,10,,no\n"
         "P1,c,2024-01-01,A,1,,D2,35,,10,,yes\n");
    doubts_are(bench, "not-recorded",
               "||0|tissue_mm||notice|crest|2 of 3 implants do not tell the tissue height|record it from now "
               "on if you want the "
               "figures that need it\n"
               "P1|c|4|achieved_depth_mm||missing|depth,crest|not recorded: the achieved depth|fill it in if "
               "the note or the film "
               "says it; leave it empty if it is not known\n"
               "P1|c|4|loaded_on||missing|crest|not recorded: the day of loading, or that it is not loaded "
               "yet|fill it in if the "
               "note or the film says it; leave it empty if it is not known\n");
}

static void first_contact(void **state)
{
    struct bench *bench = *state;
    load(bench, "i.csv",
         "patient,implant,placed_on,achieved_depth_mm\nP1,a,2024-01-01,1\nP1,b,2024-01-01,0.5\n"
         "P1,c,2024-01-01,2\nP1,d,2024-01-01,0.4\nP1,e,2024-01-01,3\n");
    const char *followups = "patient,implant,seen_on,level_mesial_mm,level_distal_mm,level_kind\n"
                            "P1,a,2024-01-01,0,-0.1,\nP1,b,2024-01-31,-0.2,0.2,\nP1,c,2024-01-02,1.5,1.5,\n"
                            "P1,d,2024-01-01,-1,-1,\nP1,e,2024-02-01,-1,-1,\nP1,e,2024-01-05,-1,,\n";
    load(bench, "f.csv", followups);
    doubts_are(bench, "recorded-as-first-contact",
               "||0|level_kind||contradiction|crest|recorded as first contact? 2 of 3 implants placed 0.5 mm "
               "or more below the "
               "crest start with a level of 0 or less|if so, type contact in level_kind; until this is "
               "settled the change of the "
               "crest is not told\n");
    load(bench, "f2.csv", "patient,implant,seen_on,level_kind\nP1,a,2024-01-01,contact\n");
    doubts_are(bench, "recorded-as-first-contact", "");
}

/* A check whose file no test above names would go untested. */
static void levels_from_visit_to_visit(void **state)
{
    struct bench *bench = *state;
    load(bench, "i.csv",
         "patient,implant,placed_on,length_mm\nP1,a,2024-01-01,6\nP1,b,2024-01-01,10\nP1,c,2024-01-01,10\n");
    load(bench, "f.csv",
         "patient,implant,seen_on,reader,level_mesial_mm,level_distal_mm,level_kind\n"
         "P1,a,2024-01-01,,1,1,\n"
         "P1,a,2025-01-01,,-3,-6,\n"    /* falls by 4 and 7; as deep as the implant is long */
         "P1,a,2026-01-01,,-1,-6.01,\n" /* rises by 2; deeper than the implant is long */
         "P1,b,2024-01-01,A,1,1,\n"
         "P1,b,2024-01-01,B,0,0,\n"      /* mean 0.5 */
         "P1,b,2025-01-01,A,2.51,1,\n"   /* rises by 2.01 */
         "P1,b,2026-01-01,A,-1.49,-3,\n" /* falls by 4 */
         "P1,c,2024-01-01,,1,1,\n"
         "P1,c,2025-01-01,,-5,-5,contact\n" /* of another kind: not compared */
         "P1,c,2026-01-01,,1,,\n");         /* one side alone: not compared */
    doubts_are(bench, "level-jump",
               "P1|a|3|level_distal_mm|-6.00|implausible||the crest falls by 7.00 mm since the visit of "
               "2024-01-01|check the levels, signs and implants of both films; leave it if both are right\n"
               "P1|b|7|level_mesial_mm|2.51|implausible||the crest rises by 2.01 mm since the visit of "
               "2024-01-01|check the levels, signs and implants of both films; leave it if both are right\n");
    doubts_are(bench, "level-beyond-implant",
               "P1|a|4|level_distal_mm|-6.01|contradiction|crest|further below the platform than the implant "
               "is long, 6 mm|check the level, its sign and the length of the implant\n");
}

static void sides_changed_over(void **state)
{
    struct bench *bench = *state;
    load(bench, "i.csv", "patient,implant,placed_on\nP1,a,2024-01-01\nP1,b,2024-01-01\nP1,c,2024-01-01\n");
    load(bench, "f.csv",
         "patient,implant,seen_on,film,reader,level_mesial_mm,level_distal_mm\n"
         "P1,a,2025-01-01,X,A,1,-0.5\n"
         "P1,a,2025-01-01,X,B,-0.7,0.8\n" /* the other way round */
         "P1,a,2025-01-01,Y,B,-0.7,0.8\n" /* of another film */
         "P1,a,2026-01-01,Z,A,1,-0.5\n"
         "P1,a,2026-01-01,Z,B,-0.1,0.8\n" /* no better when changed over */
         "P1,b,2024-02-01,,,1.5,0\n"
         "P1,b,2025-02-01,,,0.1,1.2\n" /* the other way round than before and after */
         "P1,b,2026-02-01,,,1.3,-0.1\n"
         "P1,c,2024-02-01,,,1.5,0\n"
         "P1,c,2025-02-01,,,0.1,1.2\n"
         "P1,c,2026-02-01,,,0.1,1\n"); /* it stays so */
    doubts_are(bench, "sides-swapped",
               "P1|a|3|level_mesial_mm|-0.7|implausible||mesial and distal of this film are the other way "
               "round in another reading of it|look at the film and change the two sides over in the wrong "
               "reading\n");
    doubts_are(
        bench, "sides-swapped-at-one-visit",
        "P1|b|8|level_mesial_mm|0.1|implausible||mesial and distal are the other way round than at the "
        "visits before and after|look at the film; if the sides were mistaken change them over\n");
}

static void films_entered_twice(void **state)
{
    struct bench *bench = *state;
    char text[4000] = "patient,implant,seen_on,film,level_mesial_mm,level_distal_mm,imaged_length_mm\n"
                      "P1,a,2025-01-01,F1,1,0.5,10.52\n"
                      "P1,b,2025-01-01,F1,1,0.5,10.52\n" /* neighbours on one film */
                      "P2,a,2025-01-01,F2,1,0.5,10.52\n"
                      "P1,a,2025-01-02,F2,1,0.4,10.52\n"
                      "P1,a,2025-01-03,F3,1,0.5,10.52\n" /* the numbers of the first day */
                      "P1,b,2025-01-04,F4,1,0.5,\n";
    char line[80];
    load(bench, "i.csv", "patient,implant,length_mm\nP1,a,10\nP1,b,10\nP2,a,10\n");
    for (int day = 1; day <= 6; day++) {
        snprintf(line, sizeof line, "P2,a,2024-01-%02d,G%d,,,\n", day, day);
        strcat(text, line);
    }
    load(bench, "f.csv", text);
    doubts_are(bench, "film-twice",
               "P2|a|4|film|F2|implausible||the same film is entered for another patient or another day|find "
               "out whose film it is and of which day; correct the other row\n"
               "P1|a|5|film|F2|implausible||the same film is entered for another patient or another day|find "
               "out whose film it is and of which day; correct the other row\n");
    doubts_are(bench, "readings-repeated",
               "P1|a|6|seen_on|2025-01-03|implausible||the same levels and imaged length as on "
               "2025-01-01|if one film was entered twice correct the wrong row; leave it if both films read "
               "the same\n");
    /* where labels are used again and again they do not stand for films */
    load(bench, "g.csv", "patient,implant,seen_on,film\nP1,a,2026-01-01,G1\nP1,a,2026-01-02,G2\n");
    doubts_are(bench, "film-twice", "");
}

/* The last film of an implant is like the first, or like none; however many lie between. */
static void a_reading_is_repeated_after_many(void **state)
{
    struct bench *bench = *state;
    struct rt_text sheet = {0};
    char expected[200] = "";
    static const int films[] = {2, 3, 24, 25, 26, 40};
    load(bench, "i.csv",
         "patient,implant,length_mm\nP2,a,10\nP3,a,10\nP24,a,10\nP25,a,10\nP26,a,10\nP40,a,10\n"
         "P2,b,10\nP3,b,10\nP24,b,10\nP25,b,10\nP26,b,10\nP40,b,10\n");
    rt_text_add(&sheet, "patient,implant,seen_on,imaged_length_mm,level_mesial_mm,level_distal_mm\n");
    for (size_t k = 0; k < sizeof films / sizeof films[0]; k++) {
        for (int i = 0; i < films[k]; i++) {
            int last = i == films[k] - 1;
            rt_text_format(&sheet, "P%d,a,2024-%02d-%02d,11,-1.%02d,-0.5\n", films[k], 1 + i / 28, 1 + i % 28,
                           last ? 0 : i);
            rt_text_format(&sheet, "P%d,b,2024-%02d-%02d,11,-1.%02d,-0.5\n", films[k], 1 + i / 28, 1 + i % 28,
                           i);
        }
    }
    load(bench, "f.csv", sheet.bytes);
    rt_text_release(&sheet);
    for (size_t k = 0; k < sizeof films / sizeof films[0]; k++) {
        char line[32];
        snprintf(line, sizeof line, "P%d|2024-%02d-%02d\n", films[k], 1 + (films[k] - 1) / 28,
                 1 + (films[k] - 1) % 28);
        strcat(expected, line);
    }
    assert_string_equal(rows_of(bench,
                                "SELECT p.label, d.value FROM doubt d JOIN patient p ON p.id = d.patient_id "
                                "WHERE check_name = 'readings-repeated' ORDER BY p.id"),
                        expected);
}

static void torque_against_the_step_after_the_stall(void **state)
{
    struct bench *bench = *state;
    load(bench, "i.csv",
         "patient,implant,stalled,stall_height_mm,stall_torque_ncm,final_torque_ncm,achieved_depth_mm\n"
         "P1,a,yes,2,30,100,1\n"   /* 30 + 3 x 10 = 60: within 40 */
         "P1,b,yes,2,30,100.5,1\n" /* beyond */
         "P1,c,yes,5,60,69,1\n"    /* 120: below by more than 40 */
         "P1,d,yes,5,60,>69,1\n"   /* a limit reached */
         "P1,e,yes,5,>60,10,1\n"
         "P1,f,no,2,30,150,1\n");
    doubts_are(bench, "torque-far-from-step",
               "P1|b|3|final_torque_ncm|100.5|implausible||the stall plus 10 Ncm for each further millimetre "
               "would be 60 Ncm|check both torques, the height of the stall and the depth; leave it if they "
               "are right\n"
               "P1|c|4|final_torque_ncm|69|implausible||the stall plus 10 Ncm for each further millimetre "
               "would be 120 Ncm|check both torques, the height of the stall and the depth; leave it if they "
               "are right\n");
}

static void treatment_that_cannot_have_been(void **state)
{
    struct bench *bench = *state;
    load(bench, "i.csv",
         "patient,implant,closure,placed_on,uncovered_on,loaded_on\n"
         "P1,a,one-stage,2024-01-01,2024-03-01,\n"
         "P1,b,two-stage,2024-01-01,2024-03-01,2024-05-01\n"
         "P1,c,one-stage,2024-01-01,,2024-05-01\n"
         "P2,a,,2024-01-01,2024-05-02,\n"
         "P2,b,,2024-05-03,,2024-06-01\n"
         "P2,c,,2024-01-01,,2024-05-01\n");
    load(bench, "e.csv",
         "patient,implant,happened_on,event\nP1,b,2024-04-30,removed\nP1,c,2024-05-01,removed\n"
         "P2,,2024-05-01,died\n");
    doubts_are(
        bench, "one-stage-uncovered",
        "P1|a|2|uncovered_on|2024-03-01|contradiction||placed in one stage, yet a day of uncovering is "
        "given|correct the wrong one of the two cells\n");
    doubts_are(bench, "loading-after-removal",
               "P1|b|3|loaded_on|2024-05-01|contradiction|survival,crest|after the removal on "
               "2024-04-30|correct the wrong one of the two dates\n");
    doubts_are(
        bench, "treatment-after-death",
        "P2|a|5|uncovered_on|2024-05-02|contradiction|survival,crest|after the death of the patient on "
        "2024-05-01|correct the wrong one of the two dates\n"
        "P2|b|6|placed_on|2024-05-03|contradiction|survival,crest|after the death of the patient on "
        "2024-05-01|correct the wrong one of the two dates\n");
}

static void every_check_is_tested_here(void **state)
{
    (void)state;
    static const char *const tested[] = {"after-loading-the-file",
                                         "beyond-bone",
                                         "calibration-without-length",
                                         "cause-missing",
                                         "contact-above-platform",
                                         "deeper-than-bone",
                                         "event-after-death",
                                         "event-before-placement",
                                         "film-twice",
                                         "final-below-stall",
                                         "gone-from-whole-sheet",
                                         "level-beyond-implant",
                                         "level-jump",
                                         "levels-of-unreadable-film",
                                         "loading-after-removal",
                                         "loading-before-placement",
                                         "loading-before-uncovering",
                                         "loading-date-but-not-loaded",
                                         "near-equal-codes",
                                         "near-equal-implants",
                                         "near-equal-patients",
                                         "not-recorded",
                                         "odd-calibration",
                                         "odd-year-of-birth",
                                         "one-side-missing",
                                         "one-stage-uncovered",
                                         "patient-labels-identify",
                                         "reading-after-death",
                                         "reading-after-removal",
                                         "reading-before-placement",
                                         "readings-repeated",
                                         "recorded-as-first-contact",
                                         "removed-twice",
                                         "sides-swapped-at-one-visit",
                                         "sides-swapped",
                                         "site-twice",
                                         "stall-details-without-stall",
                                         "stall-incomplete",
                                         "torque-far-from-step",
                                         "treatment-after-death",
                                         "two-values-of-birth-year",
                                         "two-values-of-sex",
                                         "uncovering-before-placement"};
    size_t count = 0;
    size_t found = 0;
    const struct rt_resource *all = rt_resources(&count);
    for (size_t i = 0; i < count; i++) {
        if (strncmp(all[i].name, "sql/checks/", 11) != 0)
            continue;
        char name[80];
        snprintf(name, sizeof name, "%.*s", (int)strcspn(all[i].name + 11, "."), all[i].name + 11);
        assert_true(found < sizeof tested / sizeof tested[0]);
        assert_string_equal(name, tested[found++]);
    }
    assert_int_equal(found, sizeof tested / sizeof tested[0]);
}

int main(void)
{
#define ON_BENCH(test) cmocka_unit_test_setup_teardown(test, open_bench, close_bench)
    const struct CMUnitTest tests[] = {
        ON_BENCH(dates_of_an_implant),
        ON_BENCH(a_corrected_date_mends_its_doubt),
        ON_BENCH(depth_and_bone),
        ON_BENCH(stalls),
        ON_BENCH(patients),
        ON_BENCH(near_equal_labels),
        ON_BENCH(codes_that_begin_alike),
        ON_BENCH(labels_that_identify),
        ON_BENCH(readings_against_their_implant),
        ON_BENCH(removal_and_death_of_the_whole_patient),
        ON_BENCH(events_of_an_implant),
        ON_BENCH(two_implants_on_one_site),
        ON_BENCH(dates_in_the_future),
        ON_BENCH(unusual_values),
        ON_BENCH(fields_left_empty),
        ON_BENCH(first_contact),
        ON_BENCH(levels_from_visit_to_visit),
        ON_BENCH(sides_changed_over),
        ON_BENCH(films_entered_twice),
        ON_BENCH(a_reading_is_repeated_after_many),
        ON_BENCH(torque_against_the_step_after_the_stall),
        ON_BENCH(treatment_that_cannot_have_been),
        cmocka_unit_test(every_check_is_tested_here),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
