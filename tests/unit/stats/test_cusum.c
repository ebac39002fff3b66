/*
 * Bernoulli CUSUM. Scores: Steiner et al. (2000), section 2. Run lengths: worked by hand for two states, and compared
 * with simulation of the chart itself.
 */
#include "ridgetally/stats/cusum.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "../support/near.h"

static void scores_of_steiner(void **state)
{
    (void)state;
    /* p = 0.05, R = 2: a failure scores ln(2/1.05), a success ln(1/1.05) */
    assert_near(rt_cusum_score(true, 0.05, 2), log(2 / 1.05), 1e-15);
    assert_near(rt_cusum_score(false, 0.05, 2), log(1 / 1.05), 1e-15);
    /* a learning curve from 10% to 5%: ln(p1/p0) and ln((1 - p1)/(1 - p0)) */
    double ratio = rt_cusum_odds_ratio(0.10, 0.05);
    assert_near(rt_cusum_score(true, 0.10, ratio), log(0.5), 1e-14);
    assert_near(rt_cusum_score(false, 0.10, ratio), log(0.95 / 0.90), 1e-14);
}

static void chart_resets_when_told(void **state)
{
    (void)state;
    const int event[] = {1, 1, 0, 1};
    const double p0[] = {0.05, 0.05, 0.05, 0.05};
    double up = log(2 / 1.05);
    double down = log(1.05);
    struct rt_cusum_point points[4];
    rt_cusum(event, p0, 4, &(struct rt_cusum_design){2, 1, false}, points);
    assert_near(points[1].cusum, 2 * up, 1e-15);
    assert_true(!points[0].signal && points[1].signal && points[2].signal);
    assert_near(points[3].cusum, 3 * up - down, 1e-14);
    rt_cusum(event, p0, 4, &(struct rt_cusum_design){2, 1, true}, points);
    assert_true(points[1].signal);
    assert_near(points[2].cusum, 0, 0);
    assert_near(points[3].cusum, up, 1e-15);
}

static void run_length_by_hand(void **state)
{
    (void)state;
    struct rt_estimate length;
    /* any event signals: geometric with mean 1/p */
    struct rt_cusum_design low = {2, 0.1, false};
    assert_int_equal(rt_cusum_run_length(0.05, 0.05, &low, &length, NULL), RT_OK);
    assert_near(length.value, 20, 1e-9);
    /* two events in a row, or with fewer than 13 others between: h just above one step up. From 0, an event leads to the
     * top state; there each other leads one step down, 14 of them back to 0 (0.6444 / 0.0488 = 13.2). */
    double p = 0.05;
    double inside = 0;
    for (int m = 0; m < 14; m++)
        inside += pow(1 - p, m);
    double expected = (1 + p * inside) / (p * (1 - pow(1 - p, 14)));
    struct rt_cusum_design one = {2, log(2 / 1.05) * 1.001, false};
    assert_int_equal(rt_cusum_run_length(p, p, &one, &length, NULL), RT_OK);
    assert_near(length.value, expected, 1e-9 * expected);
}

static void run_length_agrees_with_simulation(void **state)
{
    (void)state;
    const double p0[] = {0.08};
    struct rt_cusum_stream stream = {p0, 1, {NULL, 0}, 0, 1};
    const struct rt_cusum_design designs[] = {{2, 1.6, false}, {0.5, 1.2, false}};
    for (size_t i = 0; i < 2; i++) {
        struct rt_estimate exact;
        struct rt_estimate simulated;
        assert_int_equal(rt_cusum_run_length(0.08, 0.08, &designs[i], &exact, NULL), RT_OK);
        assert_int_equal(rt_cusum_simulated_run_length(&stream, &designs[i], 7, 4000, &simulated, NULL),
                         RT_OK);
        assert_near(simulated.value, exact.value, 4 * simulated.standard_error);
        assert_true(simulated.standard_error < 0.03 * exact.value);
    }
}

static void clusters_raise_false_alarms(void **state)
{
    (void)state;
    double p0[12];
    size_t of[12];
    for (size_t i = 0; i < 12; i++) {
        p0[i] = 0.05;
        of[i] = i / 4;
    }
    struct rt_cusum_design design = {2, 2.5, false};
    struct rt_estimate free_cases;
    struct rt_estimate tied;
    struct rt_cusum_stream stream = {p0, 12, {of, 3}, 0, 1};
    assert_int_equal(rt_cusum_simulated_run_length(&stream, &design, 1, 1000, &free_cases, NULL), RT_OK);
    stream.correlation = 0.5;
    assert_int_equal(rt_cusum_simulated_run_length(&stream, &design, 1, 1000, &tied, NULL), RT_OK);
    assert_true(tied.value < 0.7 * free_cases.value);
    struct rt_estimate limit;
    assert_int_equal(rt_cusum_simulated_limit(&stream, &design, free_cases.value, 1, 500, &limit, NULL),
                     RT_OK);
    assert_true(limit.value > 2.5);
    /* the same seed, the same answer */
    struct rt_estimate again;
    assert_int_equal(rt_cusum_simulated_run_length(&stream, &design, 1, 1000, &again, NULL), RT_OK);
    assert_true(again.value == tied.value);
}

static void signal_probability_by_hand(void **state)
{
    (void)state;
    struct rt_estimate chance;
    struct rt_cusum_design low = {2, 0.1, false};
    assert_int_equal(rt_cusum_signal_probability(0.05, 0.05, &low, 30, &chance, NULL), RT_OK);
    assert_near(chance.value, 1 - pow(0.95, 30), 1e-12);
    assert_int_equal(rt_cusum_signal_probability(0.05, 0.05, &low, 0, &chance, NULL), RT_OK);
    assert_near(chance.value, 0, 0);
}

static void limits_keep_their_promise(void **state)
{
    (void)state;
    struct rt_estimate limit;
    struct rt_estimate answer;
    for (int down = 0; down < 2; down++) {
        struct rt_cusum_design design = {down ? 0.5 : 2, 0, false};
        assert_int_equal(rt_cusum_limit_for_run_length(0.05, &design, 400, &limit, NULL), RT_OK);
        design.limit = limit.value;
        assert_int_equal(rt_cusum_run_length(0.05, 0.05, &design, &answer, NULL), RT_OK);
        assert_true(answer.value >= 400 && answer.value < 500);
        assert_int_equal(rt_cusum_limit_for_false_alarm(0.05, &design, 0.1, 200, &limit, NULL), RT_OK);
        design.limit = limit.value;
        assert_int_equal(rt_cusum_signal_probability(0.05, 0.05, &design, 200, &answer, NULL), RT_OK);
        assert_true(answer.value <= 0.1 && answer.value > 0.05);
    }
}

static void impossible_questions_are_said(void **state)
{
    (void)state;
    struct rt_estimate answer;
    struct rt_cusum_design design = {2, 3, false};
    assert_int_equal(rt_cusum_run_length(0, 0.05, &design, &answer, NULL), RT_OK);
    assert_true(isnan(answer.value) && answer.reason != NULL);
    assert_int_equal(rt_cusum_run_length(0.05, 0, &design, &answer, NULL), RT_OK);
    assert_true(isnan(answer.value) && answer.reason != NULL);
    assert_int_equal(rt_cusum_run_length(0.5, 1e-9, &design, &answer, NULL), RT_OK);
    assert_true(isnan(answer.value) == (answer.reason != NULL));
    design.limit = 59;
    assert_int_equal(rt_cusum_run_length(0.05, 0.05, &design, &answer, NULL), RT_OK);
    assert_true(isnan(answer.value) && answer.reason != NULL);
    struct rt_cusum_stream nobody = {NULL, 0, {NULL, 0}, 0, 1};
    struct rt_error error = {0};
    assert_int_equal(rt_cusum_simulated_run_length(&nobody, &design, 1, 10, &answer, &error), RT_USE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(scores_of_steiner),           cmocka_unit_test(chart_resets_when_told),
        cmocka_unit_test(run_length_by_hand),          cmocka_unit_test(run_length_agrees_with_simulation),
        cmocka_unit_test(clusters_raise_false_alarms), cmocka_unit_test(signal_probability_by_hand),
        cmocka_unit_test(limits_keep_their_promise),   cmocka_unit_test(impossible_questions_are_said),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
