/*
 * Quantiles, the bootstrap, adjusted p-values and Welch's t. Check values: Benjamini & Hochberg (1995, sec. 4), Borenstein et
 * al. (2009, ch. 4) and Moore & McCabe as printed; small cases by hand.
 */
#include "../support/data_table.h"
#include "../support/near.h"
#include "ridgetally/stats/adjust.h"
#include "ridgetally/stats/quantile.h"
#include "ridgetally/stats/resample.h"
#include "ridgetally/stats/welch.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

/* --- quantiles ----------------------------------------------------------------------------------------- */

static void the_median_and_its_limits_by_hand(void **state)
{
    (void)state;
    double values[101];
    for (size_t i = 0; i < 101; i++)
        values[i] = (double)((i * 37) % 101); /* 0..100 in some order */
    struct rt_estimate q;
    assert_int_equal(rt_quantile(values, 101, 0.5, NULL, &q, NULL), RT_OK);
    assert_near(q.value, 50, 0);
    /* 51 of 101 at or below; error sqrt(101/100 * 51*50/101)/101; t(0.975, 100) = 1.983971518523552 */
    double half = 1.983971518523552 * sqrt(51 * 50 / 100.0) / 101;
    assert_near(q.lower, 100 * (0.5 - half), 1e-9);
    assert_near(q.upper, 100 * (0.5 + half), 1e-9);
}

/* Rows doubled within clusters carry no more than the clusters do. */
static void doubled_rows_change_nothing(void **state)
{
    (void)state;
    double values[80];
    size_t of[80];
    for (size_t i = 0; i < 40; i++) {
        values[i] = values[i + 40] = (double)((i * 11) % 40);
        of[i] = of[i + 40] = i;
    }
    struct rt_estimate once;
    struct rt_estimate twice;
    assert_int_equal(rt_quantile(values, 40, 0.5, NULL, &once, NULL), RT_OK);
    assert_int_equal(rt_quantile(values, 80, 0.5, &(struct rt_clusters){of, 40}, &twice, NULL), RT_OK);
    assert_near(twice.df, 39, 0);
    assert_near(twice.value, once.value, 0);
    assert_near(twice.standard_error, once.standard_error, 0.25); /* places between other order statistics */
}

static void quantiles_of_few_are_undefined_in_words(void **state)
{
    (void)state;
    const double values[] = {1, 2, 3};
    const size_t one[] = {0, 0, 0};
    struct rt_estimate q;
    assert_int_equal(rt_quantile(values, 0, 0.5, NULL, &q, NULL), RT_OK);
    assert_true(isnan(q.value) && q.reason != NULL);
    assert_int_equal(rt_quantile(values, 3, 0.5, NULL, &q, NULL), RT_OK);
    assert_near(q.value, 2, 0);
    assert_true(isnan(q.lower) && q.reason != NULL);
    assert_int_equal(rt_quantile(values, 3, 0.5, &(struct rt_clusters){one, 1}, &q, NULL), RT_OK);
    assert_true(isnan(q.lower) && q.reason != NULL);
    assert_int_equal(rt_quantile(values, 3, 1, NULL, &q, NULL), RT_USE);
}

static void capped_values_push_quantiles_up_or_out(void **state)
{
    (void)state;
    const double values[] = {10, 20, 30, 40, 50, 60};
    const bool none[] = {false, false, false, false, false, false};
    const bool top[] = {false, false, false, true, true, true};
    const bool all[] = {true, true, true, true, true, true};
    double beyond = 0;
    struct rt_estimate q;
    assert_int_equal(rt_capped_quantile(values, none, 6, 0.5, NULL, &q, &beyond, NULL), RT_OK);
    assert_near(q.value, 35, 1e-12); /* S is 1/2 from 30 to 40 */
    assert_int_equal(rt_capped_quantile(values, top, 6, 0.25, NULL, &q, &beyond, NULL), RT_OK);
    assert_near(q.value, 20, 0);
    assert_int_equal(rt_capped_quantile(values, top, 6, 0.75, NULL, &q, &beyond, NULL), RT_OK);
    assert_true(isnan(q.value) && q.reason != NULL);
    assert_near(beyond, 60, 0);
    assert_int_equal(rt_capped_quantile(values, all, 6, 0.5, NULL, &q, NULL, NULL), RT_OK);
    assert_true(isnan(q.value) && q.reason != NULL);
    assert_int_equal(rt_capped_quantile(values, all, 0, 0.5, NULL, &q, &beyond, NULL), RT_OK);
    assert_true(isnan(q.value) && isnan(beyond));
}

/* --- bootstrap ----------------------------------------------------------------------------------------- */

static void the_bootstrap_repeats_itself(void **state)
{
    (void)state;
    const double values[] = {1, 5, 2, 8, 3, 9, 4, 7};
    const size_t of[] = {0, 0, 1, 1, 2, 2, 3, 4};
    struct rt_clusters clusters = {of, 5};
    struct rt_resample first;
    struct rt_resample second;
    assert_int_equal(rt_resample(values, 8, &clusters, RT_RESAMPLE_MEDIAN, 7, 500, &first, NULL), RT_OK);
    assert_int_equal(rt_resample(values, 8, &clusters, RT_RESAMPLE_MEDIAN, 7, 500, &second, NULL), RT_OK);
    assert_near(first.percentile.lower, second.percentile.lower, 0);
    assert_near(first.bca_upper, second.bca_upper, 0);
    assert_near(first.percentile.value, 4.5, 0);
    assert_int_equal(rt_resample(values, 8, &clusters, RT_RESAMPLE_MEAN, 8, 500, &second, NULL), RT_OK);
    assert_near(second.percentile.value, 39 / 8.0, 1e-15);
    assert_true(second.percentile.lower < 4.8 && second.percentile.upper > 4.9);
}

/* Two clusters: the replicate means are the two values and their average, with chances 1/4, 1/4, 1/2. */
static void two_clusters_have_three_replicates(void **state)
{
    (void)state;
    const double values[] = {0, 1};
    struct rt_resample r;
    assert_int_equal(rt_resample(values, 2, NULL, RT_RESAMPLE_MEAN, 1, 20000, &r, NULL), RT_OK);
    assert_near(r.percentile.lower, 0, 0);
    assert_near(r.percentile.upper, 1, 0);
    assert_near(r.percentile.standard_error, sqrt(1 / 8.0), 0.01);
    assert_near(r.acceleration, 0, 1e-15);
}

static void the_bootstrap_says_why_it_is_undefined(void **state)
{
    (void)state;
    const double equal[] = {0.3, 0.3, 0.3};
    const size_t one[] = {0, 0, 0};
    struct rt_resample r;
    assert_int_equal(rt_resample(equal, 0, NULL, RT_RESAMPLE_MEAN, 1, 10, &r, NULL), RT_OK);
    assert_true(isnan(r.percentile.value) && r.percentile.reason != NULL);
    assert_int_equal(rt_resample(equal, 3, &(struct rt_clusters){one, 1}, RT_RESAMPLE_MEAN, 1, 10, &r, NULL),
                     RT_OK);
    assert_true(isnan(r.percentile.lower) && r.bca_reason != NULL);
    assert_int_equal(rt_resample(equal, 3, NULL, RT_RESAMPLE_MEAN, 1, 10, &r, NULL), RT_OK);
    assert_true(isnan(r.bca_lower) && r.bca_reason != NULL);
    assert_int_equal(rt_resample(equal, 3, NULL, RT_RESAMPLE_MEAN, 1, 0, &r, NULL), RT_USE);
}

/* --- adjusted p-values --------------------------------------------------------------------------------- */

static void benjamini_and_hochberg_as_printed(void **state)
{
    (void)state;
    size_t n = 0;
    double *p = data_numbers("pvalues_bh1995.csv", "p", &n);
    double *bh = calloc(n, sizeof *bh);
    double *holm = calloc(n, sizeof *holm);
    assert_true(n == 15 && bh != NULL && holm != NULL);
    assert_int_equal(rt_adjust_benjamini_hochberg(p, n, bh, NULL), RT_OK);
    assert_int_equal(rt_adjust_holm(p, n, holm, NULL), RT_OK);
    size_t rejected = 0;
    size_t by_bonferroni = 0;
    for (size_t i = 0; i < n; i++) {
        rejected += bh[i] <= 0.05;
        by_bonferroni += holm[i] <= 0.05;
    }
    assert_int_equal(rejected, 4);      /* "four hypotheses" */
    assert_int_equal(by_bonferroni, 3); /* Bonferroni rejects three; Holm's step-down no more here */
    free(p);
    free(bh);
    free(holm);
}

static void gaps_are_kept_and_not_counted(void **state)
{
    (void)state;
    double p[] = {0.01, NAN, 0.04, 0.03};
    double adjusted[4];
    assert_int_equal(rt_adjust_holm(p, 4, adjusted, NULL), RT_OK);
    assert_near(adjusted[0], 0.03, 1e-15);
    assert_true(isnan(adjusted[1]));
    assert_near(adjusted[2], 0.06, 1e-15);
    assert_near(adjusted[3], 0.06, 1e-15);
    assert_int_equal(rt_adjust_benjamini_hochberg(p, 4, p, NULL), RT_OK); /* in place */
    assert_near(p[0], 0.03, 1e-15);
    assert_near(p[3], 0.04, 1e-15);
    p[0] = 1.5;
    assert_int_equal(rt_adjust_holm(p, 4, adjusted, NULL), RT_USE);
    assert_int_equal(rt_adjust_holm(p, 0, adjusted, NULL), RT_OK);
}

/* --- Welch --------------------------------------------------------------------------------------------- */

static void summaries_as_printed(void **state)
{
    (void)state;
    struct rt_welch r;
    assert_int_equal(
        rt_welch(&(struct rt_summary){21, 51.48, 11.01}, &(struct rt_summary){23, 41.52, 17.15}, &r, NULL),
        RT_OK);
    assert_near(r.difference.statistic, 2.31, 5e-3);
    assert_near(r.difference.df, 37.9, 0.05);
    assert_int_equal(
        rt_welch(&(struct rt_summary){50, 103, 5.5}, &(struct rt_summary){50, 100, 4.5}, &r, NULL), RT_OK);
    assert_near(r.pooled_sd, 5.0249, 5e-5);
    assert_near(r.cohen_d, 0.5970, 5e-5);
    assert_near(r.hedges_g.value, 0.5924, 5e-5);
    assert_near(r.hedges_g.standard_error * r.hedges_g.standard_error, 0.0411, 5e-5);
}

/* J at m = 2 is gamma(1)/(sqrt(1) gamma(1/2)) = 1/sqrt(pi). */
static void the_small_sample_factor_is_exact(void **state)
{
    (void)state;
    struct rt_welch r;
    assert_int_equal(rt_welch(&(struct rt_summary){2, 1, 1}, &(struct rt_summary){2, 0, 1}, &r, NULL), RT_OK);
    assert_near(r.hedges_g.value, 1 / sqrt(3.141592653589793), 1e-14);
    assert_int_equal(rt_welch(&(struct rt_summary){5e7, 1, 1}, &(struct rt_summary){5e7, 0, 1}, &r, NULL),
                     RT_OK);
    assert_near((1 - r.hedges_g.value) / (3 / (4.0 * 1e8)), 1, 1e-4); /* 1 - 3/(4m) for large m */
}

static void summaries_that_cannot_be(void **state)
{
    (void)state;
    struct rt_welch r;
    struct rt_summary fine = {5, 1, 1};
    assert_int_equal(rt_welch(&(struct rt_summary){1, 3, 0}, &fine, &r, NULL), RT_OK);
    assert_near(r.difference.value, 2, 0);
    assert_true(isnan(r.difference.p) && r.difference.reason != NULL && r.hedges_g.reason != NULL);
    struct rt_summary flat = {5, 1, 0};
    assert_int_equal(rt_welch(&flat, &flat, &r, NULL), RT_OK);
    assert_true(isnan(r.difference.p) && r.difference.reason != NULL);
    assert_int_equal(rt_welch(&(struct rt_summary){5, 1, -1}, &fine, &r, NULL), RT_USE);
    assert_int_equal(rt_welch(&(struct rt_summary){2.5, 1, 1}, &fine, &r, NULL), RT_USE);
    assert_int_equal(rt_welch(&(struct rt_summary){5, NAN, 1}, &fine, &r, NULL), RT_USE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_median_and_its_limits_by_hand),
        cmocka_unit_test(doubled_rows_change_nothing),
        cmocka_unit_test(quantiles_of_few_are_undefined_in_words),
        cmocka_unit_test(capped_values_push_quantiles_up_or_out),
        cmocka_unit_test(the_bootstrap_repeats_itself),
        cmocka_unit_test(two_clusters_have_three_replicates),
        cmocka_unit_test(the_bootstrap_says_why_it_is_undefined),
        cmocka_unit_test(benjamini_and_hochberg_as_printed),
        cmocka_unit_test(gaps_are_kept_and_not_counted),
        cmocka_unit_test(summaries_as_printed),
        cmocka_unit_test(the_small_sample_factor_is_exact),
        cmocka_unit_test(summaries_that_cannot_be),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
