/* The cohort: classes at their cuts, readings resolved, events of patients, nothing after the period. */
#include "../support/audited.h"
#include "../support/near.h"

#include "ridgetally/audit/class_cuts.h"
#include "ridgetally/audit/cohort.h"
#include "ridgetally/audit/reliability.h"
#include "ridgetally/base/date.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static void load(struct bench *bench, const char *name, const char *text)
{
    if (load_text(bench, name, text) != RT_OK)
        fail_msg("%s: %s", name, bench->error.message);
}

static struct rt_cohort cohort_until(struct bench *bench, const char *last)
{
    struct rt_cohort cohort;
    const struct rt_period period = {day_of("2000-01-01"), day_of(last)};
    assert_int_equal(rt_load_cohort(bench->store, &period, &cohort, &bench->error), RT_OK);
    return cohort;
}

/* Depth <0, 0 to <1, 1 to 2, >2; tissue <2, 2 to <3, >=3; torque <20, 20 to <35, 35 to <50, >=50. */
static void classes_hold_their_cuts(void **state)
{
    struct bench *bench = *state;
    struct rt_class_cuts cuts;
    assert_int_equal(rt_load_class_cuts(bench->store, day_of("2024-01-01"), &cuts, &bench->error), RT_OK);
    assert_int_equal(rt_class_of(&cuts.depth, -0.01), 0);
    assert_int_equal(rt_class_of(&cuts.depth, 0.0), 1);
    assert_int_equal(rt_class_of(&cuts.depth, 0.99), 1);
    assert_int_equal(rt_class_of(&cuts.depth, 0.1 + 0.7 + 0.2), 2); /* 0.99999... in binary is 1 */
    assert_int_equal(rt_class_of(&cuts.depth, 2.0), 2);
    assert_int_equal(rt_class_of(&cuts.depth, 2.01), 3);
    assert_int_equal(rt_class_of(&cuts.tissue, 1.99), 0);
    assert_int_equal(rt_class_of(&cuts.tissue, 2.0), 1);
    assert_int_equal(rt_class_of(&cuts.tissue, 3.0), 2);
    assert_int_equal(rt_class_of(&cuts.torque, 19.99), 0);
    assert_int_equal(rt_class_of(&cuts.torque, 35.0), 2);
    assert_int_equal(rt_class_of(&cuts.torque, NAN), RT_NO_CLASS);
    assert_near(rt_lowest_cut(&cuts.torque), 20.0, 0.0);
}

/* >35 may be 35 to 50 or more; >50 is at least 50 for certain. */
static void a_cap_is_classed_only_in_the_highest_class(void **state)
{
    struct bench *bench = *state;
    struct rt_class_cuts cuts;
    assert_int_equal(rt_load_class_cuts(bench->store, day_of("2024-01-01"), &cuts, &bench->error), RT_OK);
    assert_int_equal(rt_class_of_capped(&cuts.torque, 35.0, true), RT_NO_CLASS);
    assert_int_equal(rt_class_of_capped(&cuts.torque, 35.0, false), 2);
    assert_int_equal(rt_class_of_capped(&cuts.torque, 50.0, true), 3);
    assert_int_equal(rt_class_of_capped(&cuts.torque, 70.0, true), 3);
}

static const char implants[] = "patient,implant,tooth,placed_on,length_mm,loaded_on,loaded\n"
                               "P1,a,16,2024-01-01,10,2024-04-01,yes\n"
                               "P1,b,26,2024-01-01,10,2025-02-01,yes\n"
                               "P2,c,36,2024-06-01,10,,\n"
                               "P3,d,46,2025-06-01,10,,no\n";

static void placements_and_loadings_after_the_period_are_ignored(void **state)
{
    struct bench *bench = *state;
    load(bench, "implants.csv", implants);
    struct rt_cohort cohort = cohort_until(bench, "2024-12-31");
    assert_int_equal(cohort.count, 3);
    assert_int_equal(cohort.patients, 2);
    assert_int_equal(cohort.placed_later, 1);
    assert_int_equal(cohort.implants[0].loaded_on, day_of("2024-04-01"));
    assert_int_equal(cohort.implants[1].loaded_on, RT_NO_DATE); /* loaded in 2025: not yet, and known so */
    assert_int_equal(cohort.implants[1].loaded, RT_ANSWER_NO);
    assert_int_equal(cohort.implants[2].loaded, RT_ANSWER_MISSING);
    assert_int_equal(cohort.implants[0].patient, cohort.implants[1].patient);
    rt_release_cohort(&cohort);
}

static void events_of_a_patient_concern_all_implants(void **state)
{
    struct bench *bench = *state;
    load(bench, "implants.csv", implants);
    load(bench, "events.csv",
         "patient,implant,happened_on,event\n"
         "P1,a,2024-08-01,removed\n"
         "P1,,2024-09-01,died\n"
         "P2,c,2025-01-15,removed\n"
         "P2,c,2024-10-01,remade\n");
    struct rt_cohort cohort = cohort_until(bench, "2024-12-31");
    assert_int_equal(cohort.implants[0].removed_on, day_of("2024-08-01"));
    assert_int_equal(cohort.implants[1].removed_on, RT_NO_DATE);
    assert_int_equal(cohort.implants[0].died_on, day_of("2024-09-01"));
    assert_int_equal(cohort.implants[1].died_on, day_of("2024-09-01"));
    assert_int_equal(cohort.implants[2].removed_on, RT_NO_DATE); /* dated after the period */
    rt_release_cohort(&cohort);
}

static const char readings[] =
    "patient,implant,seen_on,visit,film,reader,reading,level_mesial_mm,level_distal_mm,"
    "readable\n"
    "P1,a,2024-01-01,placement,F1,R2,1,1.9,1.9,yes\n"
    "P1,a,2024-01-01,placement,F1,R1,1,1.0,1.2,yes\n"
    "P1,a,2024-01-01,placement,F1,R1,2,1.4,1.6,yes\n"
    "P1,a,2024-07-01,review,F2,R1,1,,,no\n"
    "P1,a,2025-01-05,review,F3,R2,1,0.5,0.7,yes\n"
    "P1,b,2024-02-01,review,,,1,,,\n";

/* R1 is named the primary reader: its first reading stands for the day; where it did not read, the other's does. */
static void one_reading_stands_for_a_day(void **state)
{
    struct bench *bench = *state;
    load(bench, "implants.csv", implants);
    load(bench, "followups.csv", readings);
    set_setting(bench, "primary_reader", "R1");
    struct rt_cohort cohort = cohort_until(bench, "2025-12-31");
    const struct rt_audit_implant *a = &cohort.implants[0], *b = &cohort.implants[1];
    const struct rt_film *films = rt_films_of(&cohort, a);
    assert_int_equal(a->film_count, 2); /* the unreadable one is none */
    assert_near(films[0].mesial_mm, 1.0, 0.0);
    assert_near(films[0].distal_mm, 1.2, 0.0);
    assert_near(films[1].mesial_mm, 0.5, 0.0);
    assert_int_not_equal(films[0].reader, films[1].reader);
    assert_int_equal(a->last_seen_on, day_of("2025-01-05"));
    assert_true(a->followed);
    assert_int_equal(b->film_count, 0); /* seen, no film */
    assert_int_equal(b->last_seen_on, day_of("2024-02-01"));
    assert_null(rt_films_of(&cohort, b));
    rt_release_cohort(&cohort);
    set_setting(bench, "primary_reader", "R2");
    cohort = cohort_until(bench, "2025-12-31");
    assert_near(rt_films_of(&cohort, &cohort.implants[0])[0].mesial_mm, 1.9, 0.0);
    rt_release_cohort(&cohort);
}

static void sightings_after_the_period_are_ignored(void **state)
{
    struct bench *bench = *state;
    load(bench, "implants.csv", implants);
    load(bench, "followups.csv", readings);
    struct rt_cohort cohort = cohort_until(bench, "2024-12-31");
    assert_int_equal(cohort.implants[0].film_count, 1);
    assert_int_equal(cohort.implants[0].last_seen_on, day_of("2024-07-01"));
    assert_int_equal(cohort.implants[2].last_seen_on, cohort.implants[2].placed_on); /* never seen */
    assert_false(cohort.implants[2].followed);
    rt_release_cohort(&cohort);
}

/* A reading after the removal contradicts it: the implant is left out of survival and crest until that is settled. */
static void contradictions_bar_an_implant(void **state)
{
    struct bench *bench = *state;
    load(bench, "implants.csv", implants);
    load(bench, "followups.csv", readings);
    load(bench, "events.csv", "patient,implant,happened_on,event\nP1,a,2024-03-01,removed\n");
    struct rt_cohort cohort = cohort_until(bench, "2025-12-31");
    assert_int_equal(cohort.implants[0].blocked & RT_BLOCKS_SURVIVAL, RT_BLOCKS_SURVIVAL);
    assert_int_equal(cohort.implants[0].blocked & RT_BLOCKS_DEPTH, 0);
    assert_int_equal(cohort.implants[1].blocked, 0); /* a missing value bars nothing */
    rt_release_cohort(&cohort);
}

/* Two baseline films read twice by R1, means of both sites 1.1 and 1.3, 0.8 and 0.8: Dahlberg's sum of d^2 / 2n = 0.04/4. R2's
 * two readings (1.5 and 1.5) are a third film read twice: 0.04/6. Single readings, and films of later visits, count nowhere. */
static void repeated_readings_give_the_reading_error(void **state)
{
    struct bench *bench = *state;
    struct rt_reading_error result;
    assert_int_equal(
        rt_reading_error(bench->store, day_of("2025-12-31"), RT_BASELINE_FILMS, &result, &bench->error),
        RT_OK);
    assert_true(isnan(result.variance));
    load(bench, "implants.csv", implants);
    load(bench, "followups.csv",
         "patient,implant,seen_on,visit,film,reader,reading,level_mesial_mm,level_distal_mm\n"
         "P1,a,2024-01-01,placement,F1,R1,1,1.0,1.2\nP1,a,2024-01-01,placement,F1,R1,2,1.2,1.4\n"
         "P1,b,2024-01-01,placement,F2,R1,1,0.7,0.9\nP1,b,2024-01-01,placement,F2,R1,2,0.9,0.7\n"
         "P1,b,2024-01-01,placement,F2,R2,1,1.5,1.5\nP1,b,2024-01-01,placement,F2,R2,2,1.4,1.6\n"
         "P2,c,2024-06-01,placement,F3,R1,1,1.0,1.0\n"
         "P1,a,2025-01-05,review,F4,R1,1,0.5,0.5\nP1,a,2025-01-05,review,F4,R1,2,0.9,0.9\n");
    assert_int_equal(
        rt_reading_error(bench->store, day_of("2025-12-31"), RT_BASELINE_FILMS, &result, &bench->error),
        RT_OK);
    assert_int_equal(result.films, 3);
    assert_int_equal(result.implants, 2);
    assert_near(result.variance, 0.04 / 6.0, 1e-12);
}

/* 12 months are 365 days (365.25 rounded down), 18 months 547. */
static void settings_are_read(void **state)
{
    struct bench *bench = *state;
    struct rt_cohort cohort = cohort_until(bench, "2025-12-31");
    assert_int_equal(cohort.count, 0);
    assert_int_equal(cohort.recall_days, 365);
    assert_int_equal(cohort.death_recall_days, 547);
    assert_int_equal(cohort.complete_since, RT_NO_DATE);
    rt_release_cohort(&cohort);
    set_setting(bench, "complete_since", "2024-05-01");
    cohort = cohort_until(bench, "2025-12-31");
    assert_int_equal(cohort.complete_since, day_of("2024-05-01"));
    rt_release_cohort(&cohort);
}

static void the_default_period_is_the_last_complete_quarter(void **state)
{
    struct bench *bench = *state;
    struct rt_period period;
    assert_int_equal(rt_default_period(bench->store, &period, &bench->error), RT_INPUT);
    rt_error_clear(&bench->error);
    assert_int_equal(rt_whole_period(bench->store, &period, &bench->error), RT_INPUT);
    load(bench, "implants.csv", implants);
    assert_int_equal(rt_default_period(bench->store, &period, &bench->error), RT_OK);
    assert_int_equal(period.first_day, day_of("2025-01-01")); /* latest record 2025-06-01 */
    assert_int_equal(period.last_day, day_of("2025-03-31"));
    assert_int_equal(rt_year_start(&period), day_of("2024-04-01"));
    assert_int_equal(rt_closing_start(&period), day_of("2024-04-01"));
    assert_int_equal(rt_whole_period(bench->store, &period, &bench->error), RT_OK);
    assert_int_equal(period.first_day, day_of("2024-01-01"));
    assert_int_equal(period.last_day, day_of("2025-06-01"));
    assert_int_equal(rt_closing_start(&period), day_of("2024-01-01")); /* longer than 12 months: whole */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(classes_hold_their_cuts, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(a_cap_is_classed_only_in_the_highest_class, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(placements_and_loadings_after_the_period_are_ignored, open_bench,
                                        close_bench),
        cmocka_unit_test_setup_teardown(events_of_a_patient_concern_all_implants, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(one_reading_stands_for_a_day, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(sightings_after_the_period_are_ignored, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(contradictions_bar_an_implant, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(repeated_readings_give_the_reading_error, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(settings_are_read, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(the_default_period_is_the_last_complete_quarter, open_bench,
                                        close_bench),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
