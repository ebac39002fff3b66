/* Survival curves against published tables, values worked by hand, and the survival package for R
 * (version 3.5.3, named "R" below). */
#include "ridgetally/stats/incidence.h"
#include "ridgetally/stats/survival_curve.h"

#include "../support/survival_data.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static struct rt_survival_curve curve_of(const struct rt_follow_up *data)
{
    struct rt_survival_curve curve;
    struct rt_error error = {0};
    if (rt_survival_curve(&curve, data, RT_INTERVAL_DOUBLE_LOG, &error) != RT_OK)
        fail_msg("%s", error.message);
    return curve;
}

/* Klein & Moeschberger 2003, Survival Analysis, 2nd ed., Table 4.1 (S(16) is .627; their .628 is a rounded
 * product). */
static void six_mp_arm_of_the_remission_trial(void **state)
{
    (void)state;
    const double time[] = {6, 7, 10, 13, 16, 22, 23};
    const double survival[] = {0.857, 0.807, 0.753, 0.690, 0.627, 0.538, 0.448};
    const double error[] = {0.076, 0.087, 0.096, 0.107, 0.114, 0.128, 0.135};
    struct rt_follow_up data = gehan_arm(0);
    struct rt_survival_curve curve = curve_of(&data);
    for (size_t i = 0; i < sizeof time / sizeof time[0]; i++) {
        assert_printed(rt_survival_at(&curve, time[i]).value, survival[i], 3);
        assert_printed(rt_survival_at(&curve, time[i]).standard_error, error[i], 3);
    }
    assert_int_equal(curve.event_total, 9);
    assert_int_equal(rt_timeline_at_risk(&curve.timeline, 10), 15);
    struct rt_estimate at16 = rt_survival_at(&curve, 16); /* limits: R, conf.type = "log-log" */
    assert_near(at16.lower, 0.367510855987502, 1e-12);
    assert_near(at16.upper, 0.804912189471841, 1e-12);
    struct rt_estimate median = rt_survival_quantile(&curve, 0.5);
    assert_near(median.value, 23, 0);
    assert_near(median.lower, 13, 0);
    assert_true(isnan(median.upper));
    assert_non_null(median.reason);
    rt_survival_curve_release(&curve);
}

/* Klein & Moeschberger 2003, section 4.5: 23.287 weeks, error 2.827, 17.75 to 28.83. */
static void restricted_mean_of_the_remission_trial(void **state)
{
    (void)state;
    struct rt_follow_up data = gehan_arm(0);
    struct rt_survival_curve curve = curve_of(&data);
    struct rt_estimate mean;
    assert_int_equal(rt_restricted_mean(&curve, 35, &mean, NULL, NULL), RT_OK);
    assert_printed(mean.value, 23.287, 3);
    assert_printed(mean.standard_error, 2.827, 3);
    assert_printed(mean.lower, 17.75, 2);
    assert_printed(mean.upper, 28.83, 2);
    assert_int_equal(rt_restricted_mean(&curve, 36, &mean, NULL, NULL), RT_OK);
    assert_true(isnan(mean.value)); /* nobody is followed to week 36 */
    rt_survival_curve_release(&curve);
    data = gehan_arm(1); /* comes to 0 in week 23, so it is known beyond; 8.667 by hand: nobody is censored */
    curve = curve_of(&data);
    assert_int_equal(rt_restricted_mean(&curve, 35, &mean, NULL, NULL), RT_OK);
    assert_near(mean.value, 182.0 / 21, 1e-14);
    assert_near(mean.standard_error, 1.37739004126455, 1e-12); /* R */
    rt_survival_curve_release(&curve);
}

static void median_is_the_middle_of_the_span_at_one_half(void **state)
{
    (void)state;
    const double time[] = {1, 2, 3, 4, 5, 6, 7, 8, 9, 10};
    const int event[] = {1, 1, 1, 1, 1, 0, 1, 1, 1, 0};
    struct rt_follow_up data = {.n = 10, .time = time, .event = event};
    struct rt_survival_curve curve = curve_of(&data);
    struct rt_estimate median = rt_survival_quantile(&curve, 0.5); /* S = 0.5 on [5, 7) */
    assert_near(median.value, 6, 1e-15);
    assert_near(median.lower, 1, 1e-15);
    assert_near(median.upper, 9, 1e-15);
    assert_near(rt_survival_quantile(&curve, 0.75).value, 8.5, 1e-15);
    rt_survival_curve_release(&curve);
}

static void interval_forms(void **state)
{
    (void)state;
    double lower = 0;
    double upper = 0;
    rt_curve_limits(RT_INTERVAL_LOG, 0.8, 0.1, &lower, &upper);
    assert_near(lower, 0.8 * exp(-RT_Z_95 * 0.125), 1e-14);
    assert_near(upper, 1, 0);
    rt_curve_limits(RT_INTERVAL_UNTRANSFORMED, 0.1, 0.1, &lower, &upper);
    assert_near(lower, 0, 0);
    assert_near(upper, 0.1 + 0.1 * RT_Z_95, 1e-14);
    rt_curve_limits(RT_INTERVAL_DOUBLE_LOG, 1, 0, &lower, &upper);
    assert_true(isnan(lower) && isnan(upper));
}

/* With every row its own cluster the jackknife must give Greenwood's error (Therneau & Grambsch 2000). */
static void rows_as_clusters_give_greenwood(void **state)
{
    (void)state;
    size_t own[GEHAN_ARM];
    for (size_t i = 0; i < GEHAN_ARM; i++)
        own[i] = GEHAN_ARM - 1 - i;
    struct rt_follow_up data = gehan_arm(0);
    struct rt_survival_curve plain = curve_of(&data);
    data.clusters = (struct rt_clusters){own, GEHAN_ARM};
    struct rt_survival_curve clustered = curve_of(&data);
    for (size_t k = 0; k < plain.count; k++) {
        assert_near(clustered.standard_error[k], plain.standard_error[k], 1e-12);
        assert_int_equal(clustered.clusters_at_risk[k], plain.at_risk[k]);
    }
    struct rt_estimate a;
    struct rt_estimate b;
    assert_int_equal(rt_restricted_mean(&plain, 30, &a, NULL, NULL), RT_OK);
    assert_int_equal(rt_restricted_mean(&clustered, 30, &b, NULL, NULL), RT_OK);
    assert_near(b.standard_error, a.standard_error, 1e-12);
    rt_survival_curve_release(&plain);
    rt_survival_curve_release(&clustered);
}

/* Six rows in three clusters, worked by hand: with nobody censored S(t) is a mean, and the clustered variance
 * of a mean of n is the sum of squares of the clusters' sums of (x - mean) / n. */
static void clustered_error_without_censoring_is_that_of_a_mean(void **state)
{
    (void)state;
    const double time[] = {1, 2, 3, 4, 5, 6};
    const int event[] = {1, 1, 1, 1, 1, 1};
    const size_t cluster[] = {0, 0, 1, 1, 2, 2};
    struct rt_follow_up data = {.n = 6, .time = time, .event = event, .clusters = {cluster, 3}};
    struct rt_survival_curve curve = curve_of(&data);
    /* at t = 3: survivors per cluster 0, 1, 2 of 2 each; mean 1/2; sums -1, 0, 1; se = sqrt(2) / 6 */
    struct rt_estimate at3 = rt_survival_at(&curve, 3);
    assert_near(at3.value, 0.5, 1e-15);
    assert_near(at3.standard_error, sqrt(2) / 6, 1e-14);
    double influence[3];
    assert_int_equal(rt_survival_influence(&curve, 3, influence, NULL), RT_OK);
    assert_near(influence[0], -1.0 / 6, 1e-14);
    assert_near(influence[1], 0, 1e-15);
    assert_near(influence[2], 1.0 / 6, 1e-14);
    size_t clusters = 0;
    assert_int_equal(rt_clusters_at_risk(&curve.timeline, &curve.data, 3.5, &clusters, NULL), RT_OK);
    assert_int_equal(clusters, 2);
    rt_survival_curve_release(&curve);
}

static void delayed_entry_counts_from_after_the_entry(void **state)
{
    (void)state;
    const double time[] = {2, 3, 3, 5, 6};
    const double entry[] = {0, 2, 1, 3, -1};
    const int event[] = {1, 1, 0, 1, 0};
    struct rt_follow_up data = {.n = 5, .time = time, .entry = entry, .event = event};
    struct rt_survival_curve curve = curve_of(&data);
    assert_int_equal(curve.count, 4);
    assert_int_equal(curve.at_risk[0], 3); /* at 2: rows 1, 3, 5; row 2 enters at 2 */
    assert_int_equal(curve.at_risk[1], 3); /* at 3: rows 2, 3, 5 */
    assert_int_equal(curve.at_risk[2], 2); /* at 5: rows 4, 5 */
    assert_near(curve.survival[2], 2.0 / 3 * 2 / 3 * 1 / 2, 1e-15);
    assert_int_equal(rt_timeline_at_risk(&curve.timeline, 0), 2);
    assert_int_equal(rt_timeline_at_risk(&curve.timeline, 1.5), 3);
    assert_int_equal(rt_timeline_at_risk(&curve.timeline, 7), 0);
    rt_survival_curve_release(&curve);
}

static void times_apart_by_noise_are_one_time(void **state)
{
    (void)state;
    const double time[] = {0.1 + 0.2, 0.3, 0.3000001};
    const int event[] = {1, 0, 1};
    struct rt_follow_up data = {.n = 3, .time = time, .event = event};
    struct rt_survival_curve curve = curve_of(&data);
    assert_int_equal(curve.count, 2);
    assert_int_equal(curve.at_risk[0], 3);
    assert_near(curve.survival[0], 2.0 / 3, 1e-15);
    rt_survival_curve_release(&curve);
}

static void few_rows(void **state)
{
    (void)state;
    const double time[] = {4, 4, 4};
    const int none[] = {0, 0, 0};
    const int all[] = {1, 1, 1};
    const size_t one[] = {0, 0, 0};
    struct rt_estimate mean;
    for (size_t n = 0; n <= 3; n++) {
        struct rt_follow_up data = {.n = n, .time = time, .event = none};
        struct rt_survival_curve curve = curve_of(&data);
        struct rt_estimate at = rt_survival_at(&curve, 4);
        assert_true(n == 0 ? isnan(at.value) : at.value == 1 && at.standard_error == 0);
        assert_true(isnan(at.lower) && isnan(at.upper) && at.reason != NULL);
        assert_true(isnan(rt_survival_quantile(&curve, 0.5).value));
        assert_true(isnan(rt_survival_at(&curve, 5).value));
        assert_int_equal(rt_restricted_mean(&curve, 4, &mean, NULL, NULL), RT_OK);
        assert_true(n == 0 ? isnan(mean.value) : mean.value == 4 && mean.standard_error == 0);
        rt_survival_curve_release(&curve);
        data.event = all;
        curve = curve_of(&data);
        at = rt_survival_at(&curve, 9);
        assert_true(n == 0 ? isnan(at.value) : at.value == 0 && isnan(at.standard_error));
        assert_true(at.reason != NULL);
        rt_survival_curve_release(&curve);
        data.clusters = (struct rt_clusters){one, 1};
        data.event = none;
        curve = curve_of(&data);
        assert_non_null(curve.reason);
        assert_true(n == 0 || isnan(curve.standard_error[0]));
        rt_survival_curve_release(&curve);
    }
}

/* Clopper & Pearson 1934: 0 of n gives 1 - 0.025^(1/n); n = 10: 0.3085 (any table of exact limits). */
static void exact_limits_where_nobody_or_everybody_failed(void **state)
{
    (void)state;
    assert_printed(rt_survival_exact(1, 10).lower, 1 - 0.3085, 4);
    assert_printed(rt_survival_exact(0, 10).upper, 0.3085, 4);
    assert_near(rt_survival_exact(1, 10).upper, 1, 0);
    assert_true(isnan(rt_survival_exact(0.5, 10).lower));
    assert_true(isnan(rt_survival_exact(1, 0).lower));
}

static void bad_rows_are_refused(void **state)
{
    (void)state;
    const double bad_times[] = {-1, NAN, INFINITY};
    const int event[] = {1};
    struct rt_survival_curve curve;
    for (size_t i = 0; i < 3; i++) {
        struct rt_follow_up data = {.n = 1, .time = &bad_times[i], .event = event};
        assert_int_equal(rt_survival_curve(&curve, &data, RT_INTERVAL_LOG, NULL), RT_USE);
        rt_survival_curve_release(&curve);
    }
    const double time[] = {2};
    const double late[] = {3};
    const double same[] = {2};
    const int wrong[] = {2};
    struct rt_follow_up after = {.n = 1, .time = time, .entry = late, .event = event};
    assert_int_equal(rt_survival_curve(&curve, &after, RT_INTERVAL_LOG, NULL), RT_USE);
    rt_survival_curve_release(&curve);
    after.entry = same;
    assert_int_equal(rt_survival_curve(&curve, &after, RT_INTERVAL_LOG, NULL), RT_USE);
    rt_survival_curve_release(&curve);
    struct rt_follow_up coded = {.n = 1, .time = time, .event = wrong};
    assert_int_equal(rt_survival_curve(&curve, &coded, RT_INTERVAL_LOG, NULL), RT_USE);
    rt_survival_curve_release(&curve);
}

/* R: survfit(conf.type = "log-log", conf.lower = "modified") at 22, 23 (failures), 25, 32 and 34 weeks. */
static void lower_limit_falls_while_fewer_remain_at_risk(void **state)
{
    (void)state;
    const double time[] = {22, 23, 25, 32, 34};
    const double lower[] = {0.26777893676713, 0.18805200595923, 0.16659360508627, 0.13939191050322,
                            0.05735041949647};
    struct rt_follow_up data = gehan_arm(0);
    struct rt_survival_curve curve = curve_of(&data);
    for (size_t i = 0; i < sizeof time / sizeof time[0]; i++) {
        struct rt_estimate late = rt_survival_late_at(&curve, time[i]);
        assert_near(late.lower, lower[i], 1e-10);
        assert_near(late.upper, rt_survival_at(&curve, time[i]).upper, 0);
    }
    struct rt_estimate before = rt_survival_late_at(&curve, 3); /* nobody has failed: no limits */
    assert_near(before.value, 1, 0);
    assert_true(isnan(before.lower));
    rt_survival_curve_release(&curve);
}

/* One cause, 32 weeks: 6 at risk at the last failure with 0.537815 free before it, 4 with 0.448179 now, so the error of the
 * upper limit grows by the root of (6/0.537815)/(4/0.448179) = 1.25; limits of 0.551821 from R's error 0.134591. */
static void incidence_rises_while_fewer_remain_at_risk(void **state)
{
    (void)state;
    struct rt_follow_up data = gehan_arm(0);
    struct rt_incidence result;
    assert_int_equal(rt_incidence(&result, &data, 1, RT_INTERVAL_DOUBLE_LOG, NULL), RT_OK);
    struct rt_estimate late = rt_incidence_late_at(&result, 1, 32);
    assert_near(late.value, 1 - 0.448179271708683, 1e-12);
    assert_near(late.lower, 0.264861613674, 1e-8);
    assert_near(late.upper, 0.785082291378, 1e-8);
    assert_near(rt_incidence_late_at(&result, 1, 23).upper, 0.766396064991, 1e-8);
    assert_true(isnan(rt_incidence_late_at(&result, 1, 3).upper));
    rt_incidence_release(&result);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(six_mp_arm_of_the_remission_trial),
        cmocka_unit_test(restricted_mean_of_the_remission_trial),
        cmocka_unit_test(median_is_the_middle_of_the_span_at_one_half),
        cmocka_unit_test(interval_forms),
        cmocka_unit_test(rows_as_clusters_give_greenwood),
        cmocka_unit_test(clustered_error_without_censoring_is_that_of_a_mean),
        cmocka_unit_test(delayed_entry_counts_from_after_the_entry),
        cmocka_unit_test(times_apart_by_noise_are_one_time),
        cmocka_unit_test(few_rows),
        cmocka_unit_test(exact_limits_where_nobody_or_everybody_failed),
        cmocka_unit_test(bad_rows_are_refused),
        cmocka_unit_test(lower_limit_falls_while_fewer_remain_at_risk),
        cmocka_unit_test(incidence_rises_while_fewer_remain_at_risk),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
