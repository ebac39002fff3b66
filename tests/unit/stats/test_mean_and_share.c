/*
 * Means and shares. Check values: Newcombe (1998) Stat. Med. 17:857-872 Table I; Garwood (1936) Biometrika
 * 28:437-442; R 4.2.2 (binom.test, poisson.test, survey 4.1.1 svymean and svyciprop, clubSandwich 0.5.8).
 */
#include "../support/data_table.h"
#include "../support/survival_data.h"

#include "ridgetally/stats/beta_tail.h"
#include "ridgetally/stats/mean.h"
#include "ridgetally/stats/proportion.h"
#include "ridgetally/stats/rate.h"
#include "ridgetally/stats/share.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

static void newcombe_intervals_as_printed(void **state)
{
    (void)state;
    static const struct {
        double count, total, wilson_lower, wilson_upper, exact_lower, exact_upper;
    } printed[] = {{81, 263, 0.2553, 0.3662, 0.2527, 0.3676},
                   {15, 148, 0.0624, 0.1605, 0.0578, 0.1617},
                   {0, 20, 0, 0.1611, 0, 0.1684},
                   {1, 29, 0.0061, 0.1718, 0.0009, 0.1776}};
    for (size_t i = 0; i < 4; i++) {
        struct rt_limits wilson = rt_wilson_limits(printed[i].count, printed[i].total);
        struct rt_limits exact = rt_exact_limits(printed[i].count, printed[i].total);
        assert_printed(wilson.lower, printed[i].wilson_lower, 4);
        assert_printed(wilson.upper, printed[i].wilson_upper, 4);
        assert_printed(exact.lower, printed[i].exact_lower, 4);
        assert_printed(exact.upper, printed[i].exact_upper, 4);
        /* counting the others mirrors the interval */
        struct rt_limits mirror = rt_exact_limits(printed[i].total - printed[i].count, printed[i].total);
        assert_near(1 - mirror.upper, exact.lower, 1e-12);
    }
    assert_near(rt_exact_limits(1, 29).lower, 0.000872646883579922, 1e-12);
    assert_near(rt_wilson_limits(1, 29).lower, 0.00611321429276267, 1e-12);
    assert_near(rt_exact_limits(81, 263).upper, 0.367621922601351, 1e-13);
}

static void exact_limits_of_large_and_tiny_shares(void **state)
{
    (void)state;
    /* no event of n: upper limit 1 - 0.025^(1/n), in closed form */
    for (double n = 1; n < 2e9; n *= 7) {
        assert_near(rt_exact_limits(0, n).upper, -expm1(log(0.025) / n), 1e-8);
        assert_near(rt_exact_limits(n, n).lower, exp(log(0.025) / n), 1e-12);
    }
    /* the limit has the tail it should have */
    for (double n = 10; n < 2e9; n *= 30) {
        struct rt_limits limits = rt_exact_limits(3 * n / 10, n);
        assert_near(rt_beta_below(limits.lower, 3 * n / 10, 7 * n / 10 + 1), 0.025, 1e-8);
    }
    assert_near(rt_beta_below(0.3, 1, 1), 0.3, 1e-14);
    assert_near(rt_beta_below(0.3, 2, 1), 0.09, 1e-14);
    assert_near(rt_beta_below(0.3, 1, 3), 1 - 0.7 * 0.7 * 0.7, 1e-14);
    assert_true(isnan(rt_exact_limits(3, 2).lower) && isnan(rt_exact_limits(0, 0).upper));
    assert_true(isnan(rt_wilson_limits(-1, 2).lower) && isnan(rt_wilson_limits(0, 0).upper));
}

static void garwood_limits_as_printed(void **state)
{
    (void)state;
    static const double printed[][3] = {{0, 0, 3.689},      {1, 0.025, 5.572},  {2, 0.242, 7.225},
                                        {3, 0.619, 8.767},  {4, 1.090, 10.242}, {5, 1.623, 11.668},
                                        {10, 4.795, 18.390}};
    for (size_t i = 0; i < sizeof printed / sizeof printed[0]; i++) {
        struct rt_limits limits = rt_poisson_limits(printed[i][0]);
        assert_printed(limits.lower, printed[i][1], 3);
        assert_printed(limits.upper, printed[i][2], 3);
    }
    assert_near(rt_rate_limits(41, 2875.4).lower, 0.0102324225737133, 1e-12);
    assert_near(rt_rate_limits(41, 2875.4).upper, 0.0193437885392415, 1e-12);
    assert_true(isnan(rt_rate_limits(1, 0).upper));
    for (double count = 99997; count < 100003; count++) { /* two formulas meet here */
        assert_near(rt_poisson_limits(count + 1).lower - rt_poisson_limits(count).lower, 0.9969, 1e-4);
        assert_near(rt_poisson_limits(count + 1).upper - rt_poisson_limits(count).upper, 1.0031, 1e-4);
    }
    /* far out the limits are count + z^2/2 -+ z sqrt(count), within 1/sqrt(count) */
    struct rt_limits many = rt_poisson_limits(1e9);
    assert_near(many.upper - 1e9, 1.959963984540054 * sqrt(1e9), 1e-4);
    assert_near(1e9 - many.lower, 1.959963984540054 * sqrt(1e9), 1e-4);
}

/* Share with event == 1 of the simulated clusters: design error of survey::svymean. */
static void clustered_share(void **state)
{
    (void)state;
    size_t n;
    size_t patients;
    double *event = data_numbers("sim_clustered.csv", "event", &n);
    size_t *patient = data_codes("sim_clustered.csv", "patient", &n, &patients);
    int *y = calloc(n, sizeof *y);
    for (size_t i = 0; i < n; i++)
        y[i] = event[i] > 0.5 && event[i] < 1.5;
    struct rt_clusters clusters = {patient, patients};
    struct rt_share share;
    assert_int_equal(rt_share(y, n, &clusters, &share, NULL), RT_OK);
    assert_int_equal(share.clusters, 60);
    assert_near(share.estimate.value, 0.222614840989399, 1e-13);
    assert_near(share.design_error, 0.0372687701974815, 1e-12);
    assert_true(share.estimate.lower > 0.14 && share.estimate.upper < 0.32);
    free(event);
    free(patient);
    free(y);
}

static void no_event_or_only_events_are_exact_on_patients(void **state)
{
    (void)state;
    int none[6] = {0};
    int all[] = {1, 1, 1, 1, 1, 1};
    size_t of[] = {0, 0, 1, 1, 2, 2};
    struct rt_clusters clusters = {of, 5}; /* two codes without a row */
    struct rt_share share;
    assert_int_equal(rt_share(none, 6, &clusters, &share, NULL), RT_OK);
    assert_true(share.exact_on_clusters && share.estimate.value == 0 && share.estimate.lower == 0);
    assert_near(share.estimate.upper, 1 - cbrt(0.025), 1e-12);
    assert_true(isnan(share.estimate.standard_error) && share.estimate.reason != NULL);
    assert_int_equal(rt_share(all, 6, &clusters, &share, NULL), RT_OK);
    assert_true(share.estimate.upper == 1);
    assert_near(share.estimate.lower, cbrt(0.025), 1e-12);
    assert_int_equal(rt_share(all, 0, NULL, &share, NULL), RT_OK);
    assert_true(isnan(share.estimate.value) && share.estimate.reason != NULL);
    int mixed[] = {1, 0, 1};
    size_t same[] = {0, 0, 0};
    struct rt_clusters one = {same, 1};
    assert_int_equal(rt_share(mixed, 3, &one, &share, NULL), RT_OK);
    assert_true(isnan(share.estimate.lower) && share.estimate.reason != NULL);
    assert_near(share.estimate.value, 2.0 / 3, 1e-15);
}

static void patients_with_equal_shares_claim_no_more_than_their_rows(void **state)
{
    (void)state;
    int y[] = {0, 1, 1, 0, 1, 0};
    size_t of[] = {0, 0, 1, 1, 2, 2};
    struct rt_clusters clusters = {of, 3};
    struct rt_share share;
    assert_int_equal(rt_share(y, 6, &clusters, &share, NULL), RT_OK);
    struct rt_limits exact = rt_exact_limits(3, 6);
    assert_near(share.estimate.lower, exact.lower, 1e-14);
    assert_near(share.estimate.upper, exact.upper, 1e-14);
}

static void difference_of_shares(void **state)
{
    (void)state;
    /* unclustered 2 by 2 with n = 8 and 10: HC2 is p(1-p)/(n-1) summed over the groups */
    int y[18] = {1, 1, 1, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1, 0, 0, 0, 0};
    bool second[18] = {0};
    for (size_t i = 8; i < 18; i++)
        second[i] = true;
    struct rt_estimate difference;
    assert_int_equal(rt_share_difference(y, second, 18, NULL, &difference, NULL), RT_OK);
    assert_near(difference.value, 0.6 - 0.375, 1e-14);
    assert_near(difference.standard_error, sqrt(0.6 * 0.4 / 9 + 0.375 * 0.625 / 7), 1e-13);
    for (size_t i = 0; i < 8; i++)
        y[i] = 0;
    assert_int_equal(rt_share_difference(y, second, 18, NULL, &difference, NULL), RT_OK);
    assert_true(isnan(difference.standard_error) && difference.reason != NULL);
    struct rt_limits none = rt_exact_limits(0, 8);
    struct rt_limits six = rt_exact_limits(6, 10);
    assert_near(difference.lower, 0.6 - hypot(0.6 - six.lower, none.upper), 1e-12);
    assert_near(difference.upper, 0.6 + (six.upper - 0.6), 1e-12);
}

static void means_with_and_without_clusters(void **state)
{
    (void)state;
    /* unclustered: the textbook error and df */
    const double y[] = {3, 5, 4, 8, 9, 1};
    struct rt_estimate mean;
    assert_int_equal(rt_mean(y, 6, NULL, &mean, NULL), RT_OK);
    assert_near(mean.value, 5, 1e-15);
    assert_near(mean.standard_error, sqrt((4 + 0 + 1 + 9 + 16 + 16) / 5.0 / 6), 1e-14);
    assert_near(mean.df, 5, 1e-12);
    /* equal clusters: s of the cluster means over sqrt(clusters), on clusters - 1 df */
    size_t of[] = {0, 0, 1, 1, 2, 2};
    struct rt_clusters clusters = {of, 3};
    assert_int_equal(rt_mean(y, 6, &clusters, &mean, NULL), RT_OK);
    assert_near(mean.standard_error, sqrt((1 + 1 + 0) / 2.0 / 3), 1e-14);
    assert_near(mean.df, 2, 1e-12);
    struct rt_clusters one = {(size_t[]){0, 0, 0, 0, 0, 0}, 1};
    assert_int_equal(rt_mean(y, 6, &one, &mean, NULL), RT_OK);
    assert_true(isnan(mean.standard_error) && mean.reason != NULL);
    const double same[] = {0.1, 0.1, 0.1, 0.1, 0.1, 0.1};
    assert_int_equal(rt_mean(same, 6, &clusters, &mean, NULL), RT_OK);
    assert_near(mean.value, 0.1, 1e-15);
    assert_true(isnan(mean.standard_error) && mean.reason != NULL);
    assert_int_equal(rt_mean(y, 0, NULL, &mean, NULL), RT_OK);
    assert_true(isnan(mean.value) && mean.reason != NULL);
}

/* Two rows of each patient, one in each group: the difference is that of a paired comparison. */
static void a_patient_in_both_groups_is_paired(void **state)
{
    (void)state;
    const double y[] = {10, 12, 20, 21, 30, 36, 40, 41};
    bool second[] = {false, true, false, true, false, true, false, true};
    struct rt_clusters clusters = {(size_t[]){0, 0, 1, 1, 2, 2, 3, 3}, 4};
    struct rt_estimate difference;
    assert_int_equal(rt_mean_difference(y, second, 8, &clusters, &difference, NULL), RT_OK);
    /* differences 2 1 6 1: mean 2.5, s^2 = 17/3 */
    assert_near(difference.value, 2.5, 1e-13);
    assert_near(difference.standard_error, sqrt(17.0 / 3 / 4), 1e-13);
    assert_near(difference.df, 3, 1e-11);
    bool none[8] = {false};
    assert_int_equal(rt_mean_difference(y, none, 8, &clusters, &difference, NULL), RT_OK);
    assert_true(isnan(difference.value) && difference.reason != NULL);
}

/* Sets whose mean and error follow from their formula: NumAcc1-4 of the NIST Statistical Reference Datasets. */
static void means_with_many_leading_digits(void **state)
{
    (void)state;
    for (int set = 2; set <= 4; set++) {
        double offset = set == 2 ? 1 : set == 3 ? 1e6 : 1e7;
        double y[1001];
        y[0] = offset + 0.2;
        for (size_t i = 1; i < 1001; i++)
            y[i] = offset + (i % 2 == 1 ? 0.1 : 0.3);
        struct rt_estimate mean;
        assert_int_equal(rt_mean(y, 1001, NULL, &mean, NULL), RT_OK);
        assert_near(mean.value, offset + 0.2, 1e-15);
        assert_near(mean.standard_error * sqrt(1001), 0.1, set == 2 ? 1e-13 : 1e-8);
    }
    const double three[] = {10000001, 10000003, 10000002};
    struct rt_estimate mean;
    assert_int_equal(rt_mean(three, 3, NULL, &mean, NULL), RT_OK);
    assert_near(mean.value, 10000002, 1e-15);
    assert_near(mean.standard_error * sqrt(3), 1, 1e-15);
}

/* Mean 0.3, variance 0.2/5, so 0.21/0.04 = 5.25 rows' worth; limits by R's qbeta. */
static void shares_of_patients_weigh_the_same(void **state)
{
    (void)state;
    const double shares[] = {0, 0, 0, 0.5, 1};
    const double none[] = {0, 0, 0, 0}, halves[] = {0.5, 0.5, 0.5, 0.5};
    struct rt_estimate mean = rt_mean_of_shares(shares, 5);
    assert_near(mean.value, 0.3, 1e-15);
    assert_near(mean.standard_error, 0.2, 1e-14);
    assert_near(mean.lower, 0.024954707169, 1e-10);
    assert_near(mean.upper, 0.780434585780, 1e-10);
    mean = rt_mean_of_shares(none, 4); /* Clopper and Pearson for 0 of 4: 1 - 0.025^(1/4) */
    assert_near(mean.lower, 0, 0);
    assert_near(mean.upper, 1 - pow(0.025, 0.25), 1e-12);
    mean = rt_mean_of_shares(halves, 4); /* for 2 of 4 */
    assert_near(mean.lower, 0.0675859864886, 1e-10);
    assert_near(mean.upper, 0.9324140135114, 1e-10);
    mean = rt_mean_of_shares(shares, 1);
    assert_near(mean.value, 0, 0);
    assert_true(isnan(mean.lower) && mean.reason != NULL);
    assert_true(isnan(rt_mean_of_shares(shares, 0).value));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(newcombe_intervals_as_printed),
        cmocka_unit_test(exact_limits_of_large_and_tiny_shares),
        cmocka_unit_test(garwood_limits_as_printed),
        cmocka_unit_test(clustered_share),
        cmocka_unit_test(no_event_or_only_events_are_exact_on_patients),
        cmocka_unit_test(patients_with_equal_shares_claim_no_more_than_their_rows),
        cmocka_unit_test(difference_of_shares),
        cmocka_unit_test(means_with_and_without_clusters),
        cmocka_unit_test(a_patient_in_both_groups_is_paired),
        cmocka_unit_test(means_with_many_leading_digits),
        cmocka_unit_test(shares_of_patients_weigh_the_same),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
