/* Sessions by hand: what one operator placed in one patient on one day, in time. */
#include "ridgetally/audit/sessions.h"

#include "ridgetally/audit/fate.h"
#include "ridgetally/base/date.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "../support/near.h"

enum { CUT = 1000 };

static struct rt_audit_implant placed(size_t patient, int operator_code, int day)
{
    return (struct rt_audit_implant){.patient = patient,
                                     .placed_on = day,
                                     .operator_code = operator_code,
                                     .smoking = -1,
                                     .graft = RT_ANSWER_MISSING,
                                     .planned_depth_mm = 1.0,
                                     .achieved_depth_mm = NAN,
                                     .removed_on = RT_NO_DATE,
                                     .elective_on = RT_NO_DATE,
                                     .unused_on = RT_NO_DATE,
                                     .died_on = RT_NO_DATE,
                                     .moved_on = RT_NO_DATE,
                                     .first_seen_on = day,
                                     .last_seen_on = day + 400};
}

static struct rt_cohort cohort_of(struct rt_audit_implant *implants, size_t count)
{
    return (struct rt_cohort){.period = {0, CUT},
                              .complete_since = RT_NO_DATE,
                              .recall_days = 365,
                              .death_recall_days = 547,
                              .implants = implants,
                              .count = count,
                              .operator_count = 2};
}

static void they_stand_in_time_by_operator(void **state)
{
    (void)state;
    struct rt_audit_implant implants[] = {placed(0, 1, 50), placed(0, 0, 80), placed(0, 1, 50),
                                          placed(1, 0, 20), placed(1, -1, 5), placed(2, 0, 20)};
    implants[0].achieved_depth_mm = 1.5;
    implants[2].achieved_depth_mm = 0.7;
    implants[3].achieved_depth_mm = 2.0;
    implants[3].blocked = RT_BLOCKS_DEPTH;
    struct rt_cohort cohort = cohort_of(implants, 6);
    struct rt_sessions sessions;
    size_t first;
    assert_int_equal(rt_take_sessions(&cohort, &sessions, NULL), RT_OK);
    assert_int_equal(sessions.count, 4);
    assert_int_equal(sessions.implants, 5); /* the one without an operator is in none */
    const size_t patients[] = {1, 2, 0, 0};
    const int days[] = {20, 20, 80, 50};
    for (size_t i = 0; i < 4; i++) {
        assert_int_equal(sessions.of[i].patient, patients[i]);
        assert_int_equal(sessions.of[i].placed_on, days[i]);
    }
    assert_int_equal(rt_sessions_of(&sessions, 0, &first), 3);
    assert_int_equal(first, 0);
    assert_int_equal(rt_sessions_of(&sessions, 1, &first), 1);
    assert_int_equal(sessions.of[first].count, 2);
    assert_near(sessions.of[first].depth_error_mm, 0.1, 1e-12); /* (0.5 - 0.3)/2 */
    assert_true(isnan(sessions.of[0].depth_error_mm));          /* left out for a doubt */
    size_t count;
    assert_int_equal(rt_count_session_patients(&sessions, 0, 3, false, NULL, &count, NULL), RT_OK);
    assert_int_equal(count, 3);
    assert_int_equal(rt_count_session_patients(&sessions, 0, 3, true, NULL, &count, NULL), RT_OK);
    assert_int_equal(count, 1);
    rt_release_sessions(&sessions);
}

/* Open from 180 days before the cut on; failed when one known implant failed; the facts are those of known implants. */
static void their_state_at_180_days(void **state)
{
    (void)state;
    struct rt_audit_implant implants[] = {placed(0, 0, 100),       placed(0, 0, 100),
                                          placed(1, 0, 200),       placed(2, 0, CUT - 180),
                                          placed(3, 0, CUT - 179), placed(4, 0, 300)};
    implants[0].removed_on = implants[0].last_seen_on = 280;
    implants[0].found = (struct rt_density){4, false};
    implants[0].smoking = 2;
    implants[1].last_seen_on = 150; /* never seen again: not known */
    implants[1].graft = RT_ANSWER_YES;
    implants[2].last_seen_on = 210;
    implants[3].removed_on = CUT; /* on day 180: early */
    implants[4].removed_on = CUT - 100;
    implants[5].blocked = RT_BLOCKS_SURVIVAL;
    struct rt_cohort cohort = cohort_of(implants, 6);
    struct rt_sessions sessions;
    assert_int_equal(rt_take_sessions(&cohort, &sessions, NULL), RT_OK);
    assert_int_equal(sessions.count, 5);
    const struct rt_session *first = &sessions.of[0];
    assert_int_equal(first->state, RT_SESSION_KNOWN);
    assert_true(first->failed);
    assert_int_equal(first->known, 1);
    assert_int_equal(first->failures, 1);
    assert_int_equal(first->softest, 4);
    assert_int_equal(first->current_smoker, RT_ANSWER_YES);
    assert_int_equal(first->graft, RT_ANSWER_MISSING); /* recorded of the other implant only */
    assert_int_equal(sessions.of[1].state, RT_SESSION_UNKNOWN);
    assert_int_equal(sessions.of[2].state, RT_SESSION_LEFT_OUT);
    assert_int_equal(sessions.of[3].state, RT_SESSION_KNOWN);
    assert_true(sessions.of[3].failed);
    assert_int_equal(sessions.of[4].state, RT_SESSION_OPEN);
    assert_false(sessions.of[4].failed);
    rt_release_sessions(&sessions);
}

static void densities_are_of_the_more_frequent_scale(void **state)
{
    (void)state;
    struct rt_audit_implant implants[] = {placed(0, 0, 100), placed(1, 0, 110), placed(2, 0, 120)};
    implants[0].found = (struct rt_density){2, true};
    implants[1].found = (struct rt_density){3, true};
    implants[2].found = (struct rt_density){4, false};
    struct rt_cohort cohort = cohort_of(implants, 3);
    struct rt_sessions sessions;
    assert_int_equal(rt_take_sessions(&cohort, &sessions, NULL), RT_OK);
    assert_true(sessions.lz);
    assert_int_equal(sessions.of[1].softest, 3);
    assert_int_equal(sessions.of[2].softest, 0);
    rt_release_sessions(&sessions);
}

static void no_implant_no_session(void **state)
{
    (void)state;
    struct rt_cohort cohort = cohort_of(NULL, 0);
    struct rt_sessions sessions;
    size_t first, count = 9;
    assert_int_equal(rt_take_sessions(&cohort, &sessions, NULL), RT_OK);
    assert_int_equal(sessions.count, 0);
    assert_int_equal(rt_sessions_of(&sessions, 0, &first), 0);
    assert_int_equal(rt_count_session_patients(&sessions, 0, 0, false, NULL, &count, NULL), RT_OK);
    assert_int_equal(count, 0);
    rt_release_sessions(&sessions);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(they_stand_in_time_by_operator),
        cmocka_unit_test(their_state_at_180_days),
        cmocka_unit_test(densities_are_of_the_more_frequent_scale),
        cmocka_unit_test(no_implant_no_session),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
