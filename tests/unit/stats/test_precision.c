/*
 * Numbers of cases. Check values: Cohen (1988), Statistical Power Analysis, tables for d = 0.5 (64 a group at power 0.80, 86
 * at 0.90) and 0.2 (394 a group at 0.80); one group d = 0.5: 34; closed forms.
 */
#include "ridgetally/stats/precision.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "../support/near.h"

static const struct rt_clustering alone = {1, 0};

static void differences_of_means_as_tabled(void **state)
{
    (void)state;
    assert_near(rt_cases_for_mean_difference(1, 0.5, 0.80, 2, &alone).cases, 64, 0);
    assert_near(rt_cases_for_mean_difference(2, -1.0, 0.90, 2, &alone).cases, 86, 0);
    assert_near(rt_cases_for_mean_difference(1, 0.2, 0.80, 2, &alone).cases, 394, 0);
    assert_near(rt_cases_for_mean_difference(1, 0.5, 0.80, 1, &alone).cases, 34, 0);
}

static void noncentral_t_has_its_limits(void **state)
{
    (void)state;
    for (double df = 1; df < 1e7; df *= 7) {
        for (double t = -1; t < 4; t += 0.7)
            assert_near(rt_noncentral_t_above(t, df, 0), gsl_cdf_tdist_Q(t, df), 1e-9);
    }
    /* many df: normal with mean delta */
    assert_near(rt_noncentral_t_above(2, 1e9, 2.5), gsl_cdf_ugaussian_P(0.5), 1e-6);
}

static void intervals_are_as_narrow_as_asked(void **state)
{
    (void)state;
    /* large numbers: (2 z sd / width)^2, and (z^2 + 1)/2 more for t */
    double n = rt_cases_for_mean(1, 0.02, &alone).cases;
    assert_near(n, pow(2 * RT_Z_95 / 0.02, 2) + 2.42, 1);
    /* Wilson at a share of 0: z^2/(n + z^2) wide */
    assert_near(rt_cases_for_share(0, 0.05, &alone).cases, ceil(RT_Z_95 * RT_Z_95 * (1 / 0.05 - 1)), 0);
    assert_near(rt_cases_for_mean(0, 0.1, &alone).cases, 2, 0);
}

static void clusters_cost_the_design_effect(void **state)
{
    (void)state;
    const struct rt_clustering full = {4, 1};
    const struct rt_clustering some = {3, 0.25};
    assert_near(rt_design_effect(&some), 1.5, 1e-15);
    /* with a correlation of 1 only the patients count */
    struct rt_cases_needed shares = rt_cases_for_share(0.3, 0.1, &full);
    assert_near(shares.clusters, rt_cases_for_share(0.3, 0.1, &alone).cases, 0);
    double free_cases = rt_cases_for_share_difference(0.05, 0.10, 0.8, 2, &alone).cases;
    double tied = rt_cases_for_share_difference(0.05, 0.10, 0.8, 2, &some).cases;
    assert_near(tied / free_cases, 1.5, 0.02);
}

static void impossible_wishes_are_said(void **state)
{
    (void)state;
    assert_non_null(rt_cases_for_mean(1, 1e-9, &alone).reason);
    assert_non_null(rt_cases_for_mean(-1, 1, &alone).reason);
    assert_non_null(rt_cases_for_mean(1, 0, &alone).reason);
    assert_non_null(rt_cases_for_share(1.2, 0.1, &alone).reason);
    assert_non_null(rt_cases_for_share_difference(0.9, 0.2, 0.8, 2, &alone).reason);
    assert_non_null(rt_cases_for_share_difference(0.9, 0, 0.8, 2, &alone).reason);
    assert_non_null(rt_cases_for_mean_difference(0, 1, 0.8, 2, &alone).reason);
    assert_true(isnan(rt_cases_for_mean(1, 1e-9, &alone).cases));
    assert_null(rt_cases_for_share_difference(0, 1, 0.8, 1, &alone).reason);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(differences_of_means_as_tabled),   cmocka_unit_test(noncentral_t_has_its_limits),
        cmocka_unit_test(intervals_are_as_narrow_as_asked), cmocka_unit_test(clusters_cost_the_design_effect),
        cmocka_unit_test(impossible_wishes_are_said),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
