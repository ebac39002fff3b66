/* The promise of a control chart of failures is a number of cases between false signals. Each length that the engine states is held
 * against a simulation of the test's own (generator, score and chart written out here), and must be met within 5%; so must the
 * number of false signals of several charts together, which is what a page states. */
#include "ridgetally/stats/cusum.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

enum { RUNS = 20000 };

static uint64_t random_state;

/* splitmix64 (Steele, Lea, Flood 2014), 0 to below 1 */
static double draw(void)
{
    uint64_t z = random_state += 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return (double)((z ^ (z >> 31)) >> 11) / 9007199254740992.0;
}

/* Cases from 0 to the signal, failures coming with probability p. */
static double run_once(double p, double p0, double odds_ratio, double limit)
{
    const double failure = log(odds_ratio / (1 - p0 + odds_ratio * p0)),
                 success = log(1 / (1 - p0 + odds_ratio * p0));
    double sum = 0, cases = 0;
    while (sum <= limit) {
        sum += draw() < p ? failure : success;
        sum = sum < 0 ? 0 : sum;
        cases++;
    }
    return cases;
}

static double simulate(double p, double p0, double odds_ratio, double limit)
{
    double sum = 0;
    for (int i = 0; i < RUNS; i++)
        sum += run_once(p, p0, odds_ratio, limit);
    return sum / RUNS;
}

static const struct {
    double p0, odds_ratio, length; /* wanted: at least so long between false signals */
} charts[] = {{0.02, 2, 100}, {0.02, 0.5, 200}, {0.05, 2, 200}, {0.05, 0.5, 200}, {0.05, 2, 400},
              {0.10, 2, 400}, {0.10, 0.5, 100}, {0.20, 2, 200}, {0.20, 0.5, 400}};
enum { CHARTS = sizeof charts / sizeof charts[0] };

static void stated_lengths_are_met(void **state)
{
    (void)state;
    random_state = 20261127;
    for (size_t i = 0; i < CHARTS; i++) {
        struct rt_cusum_design design = {charts[i].odds_ratio, 0, true};
        struct rt_estimate limit, stated, detection;
        const double p0 = charts[i].p0,
                     changed = p0 * charts[i].odds_ratio / (1 - p0 + p0 * charts[i].odds_ratio);
        assert_int_equal(rt_cusum_limit_for_run_length(p0, &design, charts[i].length, &limit, NULL), RT_OK);
        design.limit = limit.value;
        assert_int_equal(rt_cusum_run_length(p0, p0, &design, &stated, NULL), RT_OK);
        assert_int_equal(rt_cusum_run_length(changed, p0, &design, &detection, NULL), RT_OK);
        double quiet = simulate(p0, p0, charts[i].odds_ratio, design.limit);
        double found = simulate(changed, p0, charts[i].odds_ratio, design.limit);
        print_message("failures %g, odds ratio %g, limit %.3f: between false signals stated %.1f, simulated "
                      "%.1f; to the "
                      "true one stated %.1f, simulated %.1f\n",
                      p0, charts[i].odds_ratio, design.limit, stated.value, quiet, detection.value, found);
        assert_true(stated.value >= charts[i].length);
        assert_true(fabs(quiet / stated.value - 1) < 0.05);
        assert_true(fabs(found / detection.value - 1) < 0.05);
        assert_true(found < quiet);
    }
}

/* All charts side by side, 60 cases a year each, begun again after each signal: false signals in 4,000 years. */
static void the_charts_of_a_page_together_give_as_many_false_signals_as_stated(void **state)
{
    (void)state;
    const double cases_a_year = 60, years = 4000;
    double stated = 0, seen = 0;
    random_state = 7;
    for (size_t i = 0; i < CHARTS; i++) {
        struct rt_cusum_design design = {charts[i].odds_ratio, 0, true};
        struct rt_estimate limit, length;
        assert_int_equal(rt_cusum_limit_for_run_length(charts[i].p0, &design, charts[i].length, &limit, NULL),
                         RT_OK);
        design.limit = limit.value;
        assert_int_equal(rt_cusum_run_length(charts[i].p0, charts[i].p0, &design, &length, NULL), RT_OK);
        stated += cases_a_year / length.value;
        for (double cases = 0;;) {
            cases += run_once(charts[i].p0, charts[i].p0, charts[i].odds_ratio, design.limit);
            if (cases > cases_a_year * years)
                break;
            seen++;
        }
    }
    print_message("false signals a year of %d charts: stated %.3f, simulated %.3f\n", CHARTS, stated,
                  seen / years);
    assert_true(fabs(seen / years / stated - 1) < 0.05);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(stated_lengths_are_met),
        cmocka_unit_test(the_charts_of_a_page_together_give_as_many_false_signals_as_stated)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
