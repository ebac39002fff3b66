/* What became of an implant, and how long it was observed, by hand on day numbers. Recall 365 days, deaths compete up
 * to 547 days after the last sighting, the cut is day 2000. */
#include "ridgetally/audit/fate.h"
#include "ridgetally/base/date.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static struct rt_cohort cohort_to_2000(void)
{
    return (struct rt_cohort){
        .period = {0, 2000}, .complete_since = RT_NO_DATE, .recall_days = 365, .death_recall_days = 547};
}

/* Placed on day 0, last seen on a day. */
static struct rt_audit_implant seen_on(int last)
{
    return (struct rt_audit_implant){.placed_on = 0,
                                     .removed_on = RT_NO_DATE,
                                     .elective_on = RT_NO_DATE,
                                     .died_on = RT_NO_DATE,
                                     .moved_on = RT_NO_DATE,
                                     .first_seen_on = last > 0 ? last : RT_NO_DATE,
                                     .last_seen_on = last,
                                     .loaded_on = RT_NO_DATE};
}

static void observed(const struct rt_audit_implant *implant, enum rt_censoring censoring, int exit,
                     enum rt_cause cause)
{
    struct rt_cohort cohort = cohort_to_2000();
    struct rt_observation observation;
    assert_true(rt_observe(&cohort, implant, censoring, &observation));
    assert_int_equal(observation.entry, 0);
    assert_int_equal(observation.exit, exit);
    assert_int_equal(observation.cause, cause);
}

static void fate_is(const struct rt_audit_implant *implant, enum rt_fate fate)
{
    struct rt_cohort cohort = cohort_to_2000();
    assert_int_equal(rt_fate_of(&cohort, implant), fate);
}

/* 2000 - 365 = 1635: seen on 1635 is within the span, on 1634 is lost. */
static void the_lost_were_not_seen_within_the_recall_interval(void **state)
{
    (void)state;
    struct rt_audit_implant implant = seen_on(1635);
    fate_is(&implant, RT_IN_PLACE);
    observed(&implant, RT_LAST_SIGHTING, 1635, RT_CENSORED);
    observed(&implant, RT_RECALL, 2000, RT_CENSORED);
    observed(&implant, RT_WORST_CASE, 2000, RT_CENSORED);
    implant = seen_on(1634);
    fate_is(&implant, RT_LOST);
    observed(&implant, RT_LAST_SIGHTING, 1634, RT_CENSORED);
    observed(&implant, RT_RECALL, 1999, RT_CENSORED);
    observed(&implant, RT_WORST_CASE, 1635, RT_FAILURE);
    observed(&implant, RT_BEST_CASE, 2000, RT_CENSORED);
}

static void never_seen_is_lost_from_the_day_of_placement(void **state)
{
    (void)state;
    struct rt_audit_implant implant = seen_on(0);
    fate_is(&implant, RT_LOST);
    observed(&implant, RT_LAST_SIGHTING, 0, RT_CENSORED);
    observed(&implant, RT_RECALL, 365, RT_CENSORED);
    observed(&implant, RT_WORST_CASE, 1, RT_FAILURE);
}

static void a_removal_is_a_failure_under_every_censoring(void **state)
{
    (void)state;
    struct rt_audit_implant implant = seen_on(100);
    implant.removed_on = 900;
    fate_is(&implant, RT_REMOVED);
    for (int censoring = 0; censoring < RT_CENSORINGS; censoring++)
        observed(&implant, (enum rt_censoring)censoring, 900, RT_FAILURE);
    implant.elective_on = 900; /* the same day: a failure */
    fate_is(&implant, RT_REMOVED);
    implant.elective_on = 899;
    fate_is(&implant, RT_ELECTIVE);
    observed(&implant, RT_RECALL, 899, RT_ELECTIVE_REMOVAL);
}

/* Last seen on 1000: a death on 1547 competes, one on 1548 ends observation at the sighting. */
static void a_death_competes_within_recall_and_six_months(void **state)
{
    (void)state;
    struct rt_audit_implant implant = seen_on(1000);
    implant.died_on = 1547;
    fate_is(&implant, RT_DIED);
    observed(&implant, RT_LAST_SIGHTING, 1547, RT_DEATH);
    implant.died_on = 1548;
    fate_is(&implant, RT_DIED);
    observed(&implant, RT_LAST_SIGHTING, 1000, RT_CENSORED);
    observed(&implant, RT_RECALL, 1000, RT_CENSORED);
    implant.removed_on = 1548; /* removed on the day of death */
    fate_is(&implant, RT_REMOVED);
}

static void who_moved_away_is_observed_to_the_last_sighting(void **state)
{
    (void)state;
    struct rt_audit_implant implant = seen_on(800);
    implant.moved_on = 800;
    fate_is(&implant, RT_MOVED_AWAY);
    observed(&implant, RT_LAST_SIGHTING, 800, RT_CENSORED);
    observed(&implant, RT_RECALL, 800, RT_CENSORED);
    observed(&implant, RT_WORST_CASE, 800, RT_CENSORED);
    implant.last_seen_on = 801; /* came back */
    fate_is(&implant, RT_LOST);
}

static void early_state(const struct rt_audit_implant *implant, enum rt_early_state expected)
{
    struct rt_cohort cohort = cohort_to_2000();
    assert_int_equal(rt_early_state(&cohort, implant), expected);
}

static void early_failure_ends_on_day_180(void **state)
{
    (void)state;
    struct rt_audit_implant implant = seen_on(60);
    early_state(&implant, RT_EARLY_UNKNOWN);
    implant.removed_on = 180;
    early_state(&implant, RT_EARLY_FAILED);
    implant.removed_on = 181; /* in place on day 180 */
    early_state(&implant, RT_EARLY_NOT_FAILED);
    implant = seen_on(179);
    early_state(&implant, RT_EARLY_UNKNOWN);
    implant = seen_on(180);
    early_state(&implant, RT_EARLY_NOT_FAILED);
    implant = seen_on(10);
    implant.died_on = 100;
    early_state(&implant, RT_EARLY_NOT_FAILED);
    implant.died_on = 700; /* too long after the last sighting to know */
    early_state(&implant, RT_EARLY_UNKNOWN);
}

/* Placed on day 0, records complete from day 500: under observation from the first visit on. */
static void placed_before_complete_records_enter_late(void **state)
{
    (void)state;
    struct rt_cohort cohort = cohort_to_2000();
    struct rt_observation observation;
    cohort.complete_since = 500;
    struct rt_audit_implant implant = seen_on(700);
    implant.last_seen_on = 1900;
    assert_true(rt_observe(&cohort, &implant, RT_LAST_SIGHTING, &observation));
    assert_int_equal(observation.entry, 700);
    assert_int_equal(observation.exit, 1900);
    implant.removed_on = 700; /* found gone at the first visit: never under observation */
    assert_false(rt_observe(&cohort, &implant, RT_LAST_SIGHTING, &observation));
    implant = seen_on(0);
    assert_false(rt_observe(&cohort, &implant, RT_RECALL, &observation));
    assert_false(rt_is_analysed(&cohort, &implant));
    implant.placed_on = 500;
    implant.last_seen_on = 500;
    assert_true(rt_observe(&cohort, &implant, RT_RECALL, &observation));
    assert_int_equal(observation.entry, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_lost_were_not_seen_within_the_recall_interval),
        cmocka_unit_test(never_seen_is_lost_from_the_day_of_placement),
        cmocka_unit_test(a_removal_is_a_failure_under_every_censoring),
        cmocka_unit_test(a_death_competes_within_recall_and_six_months),
        cmocka_unit_test(who_moved_away_is_observed_to_the_last_sighting),
        cmocka_unit_test(early_failure_ends_on_day_180),
        cmocka_unit_test(placed_before_complete_records_enter_late),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
