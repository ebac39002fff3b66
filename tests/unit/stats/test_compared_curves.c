/* Difference of curves, log-rank, life table and cumulative incidence against print, hand and the survival
 * package for R (version 3.5.3, named "R" below). */
#include "ridgetally/stats/curve_difference.h"
#include "ridgetally/stats/incidence.h"
#include "ridgetally/stats/life_table.h"
#include "ridgetally/stats/log_rank.h"

#include "../support/survival_data.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

static void difference_of_two_arms(void **state)
{
    (void)state;
    struct rt_follow_up placebo = gehan_arm(1);
    struct rt_follow_up treated = gehan_arm(0);
    struct rt_survival_curve a;
    struct rt_survival_curve b;
    assert_int_equal(rt_survival_curve(&a, &placebo, RT_INTERVAL_DOUBLE_LOG, NULL), RT_OK);
    assert_int_equal(rt_survival_curve(&b, &treated, RT_INTERVAL_DOUBLE_LOG, NULL), RT_OK);
    struct rt_curve_difference at10;
    assert_int_equal(rt_curve_difference(&a, &b, 10, &at10, NULL), RT_OK);
    assert_near(at10.difference.value, -0.371988795518207, 1e-12); /* R */
    assert_near(at10.difference.standard_error, 0.14322410555851, 1e-12);
    assert_near(at10.difference.p, 0.00939735241172867, 1e-10);
    assert_near(at10.difference.lower, -0.652702884130849, 1e-12);
    struct rt_estimate mean;
    assert_int_equal(rt_restricted_mean_difference(&a, &b, 35, &mean, NULL), RT_OK);
    assert_near(mean.value, -14.6207282913165, 1e-12); /* R */
    assert_near(mean.standard_error, 3.1451194710199, 1e-12);
    assert_int_equal(rt_curve_difference(&a, &b, 3, &at10, NULL), RT_OK); /* no event on 6-MP by week 3 */
    assert_true(isnan(at10.difference.standard_error) && at10.difference.reason != NULL);
    assert_true(at10.recovered_lower < at10.difference.value && at10.recovered_upper > at10.difference.value);
    rt_survival_curve_release(&a);
    rt_survival_curve_release(&b);
}

/* The same patients in both groups with the same times: the difference is 0 and does not vary. */
static void shared_clusters_carry_their_covariance(void **state)
{
    (void)state;
    const double time[] = {1, 2, 3, 4};
    const int event[] = {1, 0, 1, 1};
    const size_t cluster[] = {0, 1, 2, 3};
    struct rt_follow_up data = {.n = 4, .time = time, .event = event, .clusters = {cluster, 4}};
    struct rt_survival_curve a;
    struct rt_survival_curve b;
    assert_int_equal(rt_survival_curve(&a, &data, RT_INTERVAL_DOUBLE_LOG, NULL), RT_OK);
    assert_int_equal(rt_survival_curve(&b, &data, RT_INTERVAL_DOUBLE_LOG, NULL), RT_OK);
    struct rt_curve_difference result;
    assert_int_equal(rt_curve_difference(&a, &b, 3, &result, NULL), RT_OK);
    assert_near(result.difference.standard_error, 0, 1e-15);
    assert_near(result.correlation, 1, 1e-12);
    assert_int_equal(result.clusters_both, 4);
    assert_true(isnan(result.difference.p));
    rt_survival_curve_release(&a);
    rt_survival_curve_release(&b);
}

/* Cox & Oakes 1984; Kleinbaum & Klein 2012 ch. 2: observed 9 and 21, expected 19.25 and 10.75,
 * chi-square 16.79. */
static void log_rank_of_the_remission_trial(void **state)
{
    (void)state;
    struct rt_log_rank_input input = {.data = {.n = GEHAN_ROWS, .time = gehan_time, .event = gehan_event},
                                      .group = gehan_group,
                                      .groups = 2};
    struct rt_log_rank result;
    assert_int_equal(rt_log_rank(&result, &input, NULL), RT_OK);
    assert_near(result.observed[0], 9, 0);
    assert_near(result.observed[1], 21, 0);
    assert_printed(result.expected[0], 19.25, 2);
    assert_printed(result.expected[1], 10.75, 2);
    assert_printed(result.test.statistic, 16.79, 2);
    assert_near(result.test.df, 1, 0);
    assert_near(result.test.statistic, 16.7929409892165, 1e-12); /* R */
    assert_near(result.test.p, 4.16880910933453e-05, 1e-10);
    assert_near(result.trend.statistic * result.trend.statistic, result.test.statistic, 1e-12);
    rt_log_rank_release(&result);
}

/* Eight rows by hand. Rows as clusters, no ties, two groups: the robust variance of O - E is the sum of
 * squares of the score residuals. Values: R, coxph(Surv(time, event) ~ group, ties = "breslow", cluster =
 * 1:8)$rscore. */
static void robust_log_rank(void **state)
{
    (void)state;
    const double time[] = {1, 2, 3, 4, 5, 6, 7, 8};
    const int event[] = {1, 1, 0, 1, 1, 1, 0, 1};
    const size_t group[] = {0, 1, 0, 0, 1, 1, 0, 1};
    const size_t own[] = {0, 1, 2, 3, 4, 5, 6, 7};
    const size_t one[] = {0, 0, 0, 0, 0, 0, 0, 0};
    struct rt_log_rank_input input = {
        .data = {.n = 8, .time = time, .event = event, .clusters = {own, 8}}, .group = group, .groups = 2};
    struct rt_log_rank result;
    assert_int_equal(rt_log_rank(&result, &input, NULL), RT_OK);
    assert_near(result.test.statistic, 0.00763418860994674, 1e-10);
    assert_near(result.robust[0], result.robust[3], 1e-12);
    assert_near(result.robust[0], -result.robust[1], 1e-12);
    rt_log_rank_release(&result);
    input.data.clusters = (struct rt_clusters){one, 1};
    assert_int_equal(rt_log_rank(&result, &input, NULL), RT_OK);
    assert_true(isnan(result.test.p) && result.test.reason != NULL);
    assert_true(result.model_test.p > 0);
    rt_log_rank_release(&result);
}

static void log_rank_without_a_comparison(void **state)
{
    (void)state;
    const double time[] = {1, 2, 3, 4};
    const int none[] = {0, 0, 0, 0};
    const int first[] = {1, 1, 0, 0};
    const size_t group[] = {0, 0, 1, 1};
    const size_t alone[] = {0, 0, 0, 0};
    const size_t stratum[] = {0, 0, 1, 1};
    struct rt_log_rank_input input = {
        .data = {.n = 4, .time = time, .event = none}, .group = group, .groups = 2};
    struct rt_log_rank result;
    assert_int_equal(rt_log_rank(&result, &input, NULL), RT_OK); /* no event */
    assert_true(isnan(result.test.p) && result.test.reason != NULL);
    rt_log_rank_release(&result);
    input.data.event = first;
    input.group = alone; /* the second group is empty */
    assert_int_equal(rt_log_rank(&result, &input, NULL), RT_OK);
    assert_true(isnan(result.test.p) && result.test.reason != NULL);
    rt_log_rank_release(&result);
    input.group = group;
    input.stratum = stratum; /* the groups never meet in a stratum */
    input.strata = 2;
    assert_int_equal(rt_log_rank(&result, &input, NULL), RT_OK);
    assert_true(isnan(result.test.p) && isnan(result.trend.p));
    rt_log_rank_release(&result);
    input.data.n = 0;
    assert_int_equal(rt_log_rank(&result, &input, NULL), RT_OK);
    assert_non_null(result.test.reason);
    rt_log_rank_release(&result);
}

/* Cutler & Ederer 1958, Tables 1 and 2: 126 men with kidney cancer. */
static void life_table_of_cutler_and_ederer(void **state)
{
    (void)state;
    const double start[] = {0, 1, 2, 3, 4, 5};
    const double withdrawn[] = {19, 17, 15, 9, 6};
    const double failed[] = {47, 5, 2, 2, 0};
    const double exposed[] = {116.5, 51.5, 30.5, 16.5, 7.0};
    const double q[] = {0.40, 0.10, 0.07, 0.12, 0.00};
    const double survival[] = {0.60, 0.54, 0.50, 0.44, 0.44};
    struct rt_life_interval table[5];
    assert_int_equal(rt_life_table_grouped(5, start, 126, withdrawn, failed, table, NULL), RT_OK);
    for (size_t j = 0; j < 5; j++) {
        assert_near(table[j].exposed, exposed[j], 1e-15);
        assert_printed(1 - table[j].interval_survival, q[j], 2);
        assert_printed(table[j].cumulative_survival, survival[j], 2);
    }
    assert_printed(table[4].standard_error, 0.060, 3);
    assert_int_equal(rt_life_table_grouped(5, start, 50, withdrawn, failed, table, NULL), RT_USE);
}

static void single_times_are_grouped_with_borders_in_the_later_interval(void **state)
{
    (void)state;
    const double time[] = {0, 0.1, 0.3, 0.1 * 3, 0.55, 0.7};
    const int event[] = {1, 0, 1, 0, 0, 1};
    struct rt_life_interval *table = NULL;
    size_t count = 0;
    assert_int_equal(rt_life_table(6, time, event, 0.1, &table, &count, NULL), RT_OK);
    assert_int_equal(count, 8); /* to [0.7, 0.8) */
    assert_near(table[0].failed, 1, 0);
    assert_near(table[1].withdrawn, 1, 0);
    assert_near(table[3].failed, 1, 0);
    assert_near(table[3].withdrawn, 1, 0);
    assert_near(table[5].withdrawn, 1, 0);
    assert_near(table[7].cumulative_survival, 0, 0);
    assert_true(isnan(table[7].standard_error) && table[7].reason != NULL);
    free(table);
    assert_int_equal(rt_life_table(0, time, event, 1, &table, &count, NULL), RT_OK);
    assert_int_equal(count, 0);
    assert_int_equal(rt_life_table(6, time, event, 0, &table, &count, NULL), RT_USE);
    assert_int_equal(rt_life_table(6, time, event, 1e-9, &table, &count, NULL), RT_USE);
    const double open[] = {0, 0.3, INFINITY};
    struct rt_life_interval two[2];
    assert_int_equal(rt_life_table_between(6, time, event, 2, open, two, NULL), RT_OK);
    assert_near(two[0].entering, 6, 0);
    assert_near(two[1].entering, 4, 0);
    assert_near(two[1].failed, 2, 0);
    assert_true(isnan(two[1].hazard));
    const double closed[] = {0, 0.3, 0.7};
    assert_int_equal(rt_life_table_between(6, time, event, 2, closed, two, NULL), RT_USE);
}

/* F(4) of the first cause by hand: 1/10 + 9/10 1/9 + 9/10 7/9 1/6; errors by the formula of Gaynor et al.
 * (1993) as written out in R. */
static void incidence_of_two_causes(void **state)
{
    (void)state;
    struct rt_follow_up data = {.n = TWO_CAUSES_ROWS, .time = two_causes_time, .event = two_causes_event};
    struct rt_incidence result;
    assert_int_equal(rt_incidence(&result, &data, 2, RT_INTERVAL_DOUBLE_LOG, NULL), RT_OK);
    assert_near(rt_incidence_at(&result, 1, 4).value, 0.1 + 0.9 / 9 + 0.9 * 7 / 9 / 6, 1e-14);
    assert_near(rt_incidence_at(&result, 1, 4).standard_error, 0.152509866104653, 1e-12);
    assert_near(rt_incidence_at(&result, 1, 9).value, 0.472222222222222, 1e-12);
    assert_near(rt_incidence_at(&result, 1, 9).standard_error, 0.17812466157646, 1e-12);
    assert_near(rt_incidence_at(&result, 2, 8.5).value, 0.372222222222222, 1e-12);
    assert_near(rt_incidence_at(&result, 2, 8.5).standard_error, 0.173703308852114, 1e-12);
    assert_true(isnan(rt_incidence_at(&result, 2, 1).lower));
    assert_true(isnan(rt_incidence_at(&result, 1, 10).value));
    for (size_t k = 0; k < result.count; k++)
        assert_near(result.event_free[k] + result.incidence[k] + result.incidence[result.count + k], 1,
                    1e-14);
    rt_incidence_release(&result);
}

/* With one cause the incidence is 1 - S and both errors are those of the survival curve. */
static void one_cause_is_the_complement_of_survival(void **state)
{
    (void)state;
    size_t pair[GEHAN_ARM];
    for (size_t i = 0; i < GEHAN_ARM; i++)
        pair[i] = i / 3;
    for (int clustered = 0; clustered < 2; clustered++) {
        struct rt_follow_up data = gehan_arm(0);
        if (clustered)
            data.clusters = (struct rt_clusters){pair, 7};
        struct rt_survival_curve curve;
        struct rt_incidence result;
        assert_int_equal(rt_survival_curve(&curve, &data, RT_INTERVAL_DOUBLE_LOG, NULL), RT_OK);
        assert_int_equal(rt_incidence(&result, &data, 1, RT_INTERVAL_DOUBLE_LOG, NULL), RT_OK);
        double psi[GEHAN_ARM];
        double phi[GEHAN_ARM];
        assert_int_equal(rt_survival_influence(&curve, 20, psi, NULL), RT_OK);
        assert_int_equal(rt_incidence_influence(&result, 1, 20, phi, NULL), RT_OK);
        for (size_t k = 0; k < curve.count; k++) {
            assert_near(result.incidence[k], 1 - curve.survival[k], 1e-12);
            assert_near(result.standard_error[k], curve.standard_error[k], 1e-12);
        }
        for (size_t c = 0; c < (clustered ? 7 : GEHAN_ARM); c++)
            assert_near(psi[c] + phi[c], 0, 1e-14);
        rt_survival_curve_release(&curve);
        rt_incidence_release(&result);
    }
}

static void incidence_of_few_rows(void **state)
{
    (void)state;
    const double time[] = {1, 1, 1};
    const int all[] = {1, 1, 1};
    const int none[] = {0, 0, 0};
    for (size_t n = 0; n <= 3; n++) {
        struct rt_follow_up data = {.n = n, .time = time, .event = all};
        struct rt_incidence result;
        assert_int_equal(rt_incidence(&result, &data, 2, RT_INTERVAL_DOUBLE_LOG, NULL), RT_OK);
        assert_true(n == 0 || (result.incidence[0] == 1 && result.standard_error[0] == 0));
        assert_true(n == 0 || (result.incidence[1] == 0 && isnan(result.lower[1])));
        assert_non_null(rt_incidence_at(&result, 1, 1).reason);
        rt_incidence_release(&result);
        data.event = none;
        assert_int_equal(rt_incidence(&result, &data, 2, RT_INTERVAL_DOUBLE_LOG, NULL), RT_OK);
        assert_true(n == 0 || result.incidence[0] == 0);
        rt_incidence_release(&result);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(difference_of_two_arms),
        cmocka_unit_test(shared_clusters_carry_their_covariance),
        cmocka_unit_test(log_rank_of_the_remission_trial),
        cmocka_unit_test(robust_log_rank),
        cmocka_unit_test(log_rank_without_a_comparison),
        cmocka_unit_test(life_table_of_cutler_and_ederer),
        cmocka_unit_test(single_times_are_grouped_with_borders_in_the_later_interval),
        cmocka_unit_test(incidence_of_two_causes),
        cmocka_unit_test(one_cause_is_the_complement_of_survival),
        cmocka_unit_test(incidence_of_few_rows),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
