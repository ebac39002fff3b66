/* Orders, ranks, quantiles and rows by cluster. */
#include "../support/near.h"
#include "ridgetally/stats/jackknife.h"
#include "ridgetally/stats/order.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

static void equal_values_keep_their_row_order(void **state)
{
    (void)state;
    const double values[] = {2, 1, 2, -3, 1};
    const size_t expected[] = {3, 1, 4, 0, 2};
    size_t order[5];
    assert_int_equal(rt_sort_order(values, 5, order, NULL), RT_OK);
    for (size_t i = 0; i < 5; i++)
        assert_int_equal(order[i], expected[i]);
    assert_int_equal(rt_sort_order(NULL, 0, order, NULL), RT_OK);
}

static void ties_share_the_mean_rank(void **state)
{
    (void)state;
    const double values[] = {10, 20, 10, 30, 10};
    const double expected[] = {2, 4, 2, 5, 2};
    double ranks[5];
    size_t code[5];
    size_t distinct = 0;
    assert_int_equal(rt_mid_ranks(values, 5, ranks, NULL), RT_OK);
    assert_int_equal(rt_dense_ranks(values, 5, code, &distinct, NULL), RT_OK);
    for (size_t i = 0; i < 5; i++) {
        assert_near(ranks[i], expected[i], 0);
        assert_int_equal(code[i], values[i] / 10 - 1);
    }
    assert_int_equal(distinct, 3);
}

/* Hyndman & Fan (1996): type 7 puts the quantile at 1 + (n - 1) p, type 6 at (n + 1) p. */
static void quantiles_stand_where_the_rule_says(void **state)
{
    (void)state;
    const double sorted[] = {1, 2, 4, 8};
    assert_near(rt_quantile_sorted(sorted, 4, 0.5, RT_QUANTILE_TYPE_7), 3, 1e-15);
    assert_near(rt_quantile_sorted(sorted, 4, 0.25, RT_QUANTILE_TYPE_7), 1.75, 1e-15);
    assert_near(rt_quantile_sorted(sorted, 4, 0.25, RT_QUANTILE_TYPE_6), 1.25, 1e-15);
    assert_near(rt_quantile_sorted(sorted, 4, 0.05, RT_QUANTILE_TYPE_6), 1, 0);
    assert_near(rt_quantile_sorted(sorted, 4, 1, RT_QUANTILE_TYPE_7), 8, 0);
    assert_near(rt_quantile_sorted(sorted, 1, 0.3, RT_QUANTILE_TYPE_7), 1, 0);
    assert_true(isnan(rt_quantile_sorted(sorted, 0, 0.5, RT_QUANTILE_TYPE_7)));
    assert_true(isnan(rt_quantile_sorted(sorted, 4, 1.1, RT_QUANTILE_TYPE_7)));
    assert_true(isnan(rt_quantile_sorted(sorted, 4, NAN, RT_QUANTILE_TYPE_7)));
}

static void clusters_without_rows_are_left_out(void **state)
{
    (void)state;
    const size_t of[] = {5, 2, 5, 9, 2};
    struct rt_clusters clusters = {of, 12};
    struct rt_cluster_rows rows;
    assert_int_equal(rt_gather_clusters(&clusters, 5, &rows, NULL), RT_OK);
    assert_int_equal(rows.count, 3);
    const size_t row[] = {1, 4, 0, 2, 3};
    const size_t start[] = {0, 2, 4, 5};
    const size_t code[] = {1, 0, 1, 2, 0};
    for (size_t i = 0; i < 5; i++) {
        assert_int_equal(rows.row[i], row[i]);
        assert_int_equal(rows.of[i], code[i]);
    }
    for (size_t c = 0; c <= 3; c++)
        assert_int_equal(rows.start[c], start[c]);
    rt_cluster_rows_release(&rows);
    clusters.count = 9;
    assert_int_equal(rt_gather_clusters(&clusters, 5, &rows, NULL), RT_USE);
    assert_int_equal(rt_gather_clusters(NULL, 3, &rows, NULL), RT_OK);
    assert_int_equal(rows.count, 3);
    rt_cluster_rows_release(&rows);
    assert_int_equal(rt_gather_clusters(NULL, 0, &rows, NULL), RT_OK);
    assert_int_equal(rows.count, 0);
    rt_cluster_rows_release(&rows);
}

/* The jackknife of a mean is exactly s/sqrt(n): Efron & Tibshirani (1993), ch. 11. */
static void the_jackknife_of_a_mean_is_its_standard_error(void **state)
{
    (void)state;
    const double values[] = {3, 1, 4, 1, 5, 9, 2, 6};
    double replicates[8];
    for (size_t i = 0; i < 8; i++)
        replicates[i] = (31 - values[i]) / 7;
    double squares = 0;
    for (size_t i = 0; i < 8; i++)
        squares += (values[i] - 31.0 / 8) * (values[i] - 31.0 / 8);
    assert_near(rt_jackknife_error(replicates, 8), sqrt(squares / 7 / 8), 1e-14);
    struct rt_estimate mean = rt_jackknife_estimate(31.0 / 8, 0, replicates, 8);
    assert_near(mean.df, 7, 0);
    assert_near((mean.upper - mean.lower) / 2 / mean.standard_error, 2.364624251592785,
                1e-9); /* t table, 7 df */
}

static void the_jackknife_says_why_it_is_undefined(void **state)
{
    (void)state;
    const double equal[] = {0.5, 0.5, 0.5};
    const double missing[] = {0.5, NAN, 0.4};
    struct rt_estimate none = rt_jackknife_bounded(0.5, equal, 3);
    assert_true(isnan(none.p) && isnan(none.lower) && none.reason != NULL);
    none = rt_jackknife_bounded(0.5, missing, 3);
    assert_true(isnan(none.standard_error) && none.reason != NULL);
    none = rt_jackknife_bounded(0.5, equal, 1);
    assert_true(isnan(none.standard_error) && none.reason != NULL);
    const double varied[] = {0.9, 1, 0.8};
    none = rt_jackknife_bounded(1, varied, 3);
    assert_true(isnan(none.lower) && isnan(none.p) && none.reason != NULL);
    none = rt_jackknife_positive(0, varied, 3);
    assert_true(isnan(none.lower) && none.reason != NULL);
}

static void tails_keep_their_digits(void **state)
{
    (void)state;
    assert_near(rt_t_p(1.959963984540054, INFINITY), 0.05, 1e-15);
    assert_near(rt_t_p(30, INFINITY) / 9.813427854296e-198, 1, 1e-9); /* R 4.2.2: 2 * pnorm(-30) */
    assert_near(rt_t_p(-2.364624251592785, 7), 0.05, 1e-12);
    assert_true(isnan(rt_t_p(NAN, 7)));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(equal_values_keep_their_row_order),
        cmocka_unit_test(ties_share_the_mean_rank),
        cmocka_unit_test(quantiles_stand_where_the_rule_says),
        cmocka_unit_test(clusters_without_rows_are_left_out),
        cmocka_unit_test(the_jackknife_of_a_mean_is_its_standard_error),
        cmocka_unit_test(the_jackknife_says_why_it_is_undefined),
        cmocka_unit_test(tails_keep_their_digits),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
