/*
 * Rank correlation, ordered groups and shift. Check values: Hollander & Wolfe (1973, 1999), whose examples are in the
 * reference data; small samples counted by hand; clustered forms against leaving each cluster out and calling again.
 */
#include "../support/data_table.h"
#include "../support/near.h"
#include "ridgetally/stats/ordered.h"
#include "ridgetally/stats/rank.h"
#include "ridgetally/stats/rank_null.h"
#include "ridgetally/stats/shift.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

/* --- exact distributions ------------------------------------------------------------------------------- */

static void u_of_two_small_samples_by_hand(void **state)
{
    (void)state;
    /* two and two: of the six arrangements one gives each of U = 0, 1, 3, 4 and two give 2 */
    const size_t sizes[] = {2, 2};
    const double counts[] = {1, 1, 2, 1, 1};
    struct rt_mass mass;
    assert_int_equal(rt_jonckheere_null(sizes, 2, &mass, NULL), RT_OK);
    assert_int_equal(mass.count, 5);
    for (size_t u = 0; u < 5; u++)
        assert_near(mass.p[u], counts[u] / 6, 1e-15);
    assert_near(rt_mass_two_sided(&mass, 0), 2 / 6.0, 1e-15);
    assert_near(rt_mass_two_sided(&mass, 2), 1, 0);
    assert_int_equal(rt_mass_quantile(&mass, 1 / 6.0), 0);
    assert_int_equal(rt_mass_quantile(&mass, 0.17), 1);
    rt_mass_release(&mass);
}

static void kendall_by_hand_and_in_the_tail(void **state)
{
    (void)state;
    /* orders of three: 0, 1, 1, 2, 2, 3 concordant pairs */
    size_t ones[49];
    for (size_t i = 0; i < 49; i++)
        ones[i] = 1;
    struct rt_mass mass;
    assert_int_equal(rt_jonckheere_null(ones, 3, &mass, NULL), RT_OK);
    const double counts[] = {1, 2, 2, 1};
    for (size_t k = 0; k < 4; k++)
        assert_near(mass.p[k], counts[k] / 6, 1e-15);
    rt_mass_release(&mass);
    /* one order of 49! has no concordant pair */
    assert_int_equal(rt_jonckheere_null(ones, 49, &mass, NULL), RT_OK);
    assert_near(log(mass.p[0]), -lgamma(50), 1e-10);
    double sum = 0;
    for (size_t k = 0; k < mass.count; k++)
        sum += mass.p[k];
    assert_near(sum, 1, 1e-12);
    rt_mass_release(&mass);
}

static void signed_ranks_by_hand(void **state)
{
    (void)state;
    const double counts[] = {1, 1, 1, 2, 1, 1, 1}; /* subsets of {1, 2, 3} by sum */
    struct rt_mass mass;
    assert_int_equal(rt_signed_rank_null(3, &mass, NULL), RT_OK);
    assert_int_equal(mass.count, 7);
    for (size_t v = 0; v < 7; v++)
        assert_near(mass.p[v], counts[v] / 8, 1e-15);
    rt_mass_release(&mass);
}

static void spearman_by_hand_and_from_r(void **state)
{
    (void)state;
    /* orders of three: D = 0, 2, 2, 6, 6, 8 */
    assert_near(rt_spearman_null_p(0, 3), 2 / 6.0, 1e-15);
    assert_near(rt_spearman_null_p(2, 3), 1, 1e-15);
    assert_near(rt_spearman_null_p(8, 3), 2 / 6.0, 1e-15);
    /* n = 9, rho = 0.6: D = 48, two-sided 0.0968 (R 4.2.2, cor.test) */
    assert_near(rt_spearman_null_p(48, 9), 0.0968, 5e-5);
    assert_true(isnan(rt_spearman_null_p(0, 1)));
}

/* --- correlation --------------------------------------------------------------------------------------- */

static void tuna_as_printed(void **state)
{
    (void)state;
    size_t n = 0;
    double *x = data_numbers("tuna.csv", "x", &n);
    double *y = data_numbers("tuna.csv", "y", &n);
    struct rt_rank_correlation r;
    assert_int_equal(rt_rank_correlation(x, y, NULL, n, NULL, &r, NULL), RT_OK);
    assert_near(r.spearman.value, 0.600, 5e-4);
    assert_near(r.tau_b.value, 0.4444444, 5e-8);
    assert_near(r.pair_score, 16, 0);
    assert_near(r.tau_b.p, 0.1194, 5e-5);
    free(x);
    free(y);
}

static void few_rows_are_undefined_in_words(void **state)
{
    (void)state;
    const double x[] = {1, 2, 3};
    const double flat[] = {4, 4, 4};
    const bool capped[] = {true, true, true};
    struct rt_rank_correlation r;
    for (size_t n = 0; n < 2; n++) {
        assert_int_equal(rt_rank_correlation(x, x, NULL, n, NULL, &r, NULL), RT_OK);
        assert_true(isnan(r.spearman.value) && r.spearman.reason != NULL && r.tau_b.reason != NULL);
    }
    assert_int_equal(rt_rank_correlation(x, flat, NULL, 3, NULL, &r, NULL), RT_OK);
    assert_true(isnan(r.tau_b.value) && r.tau_b.reason != NULL);
    assert_int_equal(rt_rank_correlation(x, x, capped, 3, NULL, &r, NULL), RT_OK);
    assert_true(isnan(r.tau_b.value) && r.tau_b.reason != NULL);
    assert_int_equal(rt_rank_correlation(x, x, NULL, 3, NULL, &r, NULL), RT_OK);
    assert_near(r.spearman.value, 1, 0);
    assert_near(r.spearman.p, 2 / 6.0, 1e-15);
    assert_near(r.tau_b.p, 2 / 6.0, 1e-15);
    assert_true(isnan(r.spearman.lower) && r.spearman.reason != NULL);
    const size_t one[] = {0, 0, 0};
    assert_int_equal(rt_rank_correlation(x, x, NULL, 3, &(struct rt_clusters){one, 1}, &r, NULL), RT_OK);
    assert_true(isnan(r.spearman.p) && r.spearman.reason != NULL);
}

/* --- groups -------------------------------------------------------------------------------------------- */

static void motivation_as_printed(void **state)
{
    (void)state;
    size_t n = 0;
    size_t levels = 0;
    double *y = data_numbers("motivation.csv", "pieces", &n);
    size_t *g = data_codes("motivation.csv", "group", &n, &levels);
    struct rt_ordered r;
    assert_int_equal(rt_ordered(y, NULL, g, levels, n, NULL, &r, NULL), RT_OK);
    assert_near(r.jonckheere.value, 79, 0);
    assert_near(r.jonckheere.standard_error * r.jonckheere.standard_error, 150.29, 5e-3);
    assert_near(r.jonckheere.statistic, 2.04, 5e-3);
    assert_near(r.jonckheere.p / 2, 0.0207, 5e-5);
    free(y);
    free(g);
}

static void mucociliary_as_printed(void **state)
{
    (void)state;
    size_t n = 0;
    size_t levels = 0;
    double *y = data_numbers("mucociliary.csv", "value", &n);
    size_t *g = data_codes("mucociliary.csv", "group", &n, &levels);
    struct rt_ordered r;
    assert_int_equal(rt_ordered(y, NULL, g, levels, n, NULL, &r, NULL), RT_OK);
    assert_near(r.kruskal_wallis.value, 0.77143, 5e-6);
    assert_near(r.kruskal_wallis.df, 2, 0);
    assert_near(r.kruskal_wallis.p, 0.68, 5e-3);
    free(y);
    free(g);
}

static void trends_of_tiny_samples_are_exact(void **state)
{
    (void)state;
    /* one row in each of three groups, rising: J = 3, one of six orders, and one falls as far */
    const double y[] = {1, 2, 3};
    const size_t g[] = {0, 1, 2};
    struct rt_ordered r;
    assert_int_equal(rt_ordered(y, NULL, g, 5, 3, NULL, &r, NULL), RT_OK);
    assert_near(r.jonckheere.value, 3, 0);
    assert_near(r.jonckheere.p, 2 / 6.0, 1e-15);
    assert_near(r.concordance.value, 1, 0);
    assert_near(r.kruskal_wallis.df, 2, 0); /* levels without rows count for nothing */
    assert_int_equal(rt_ordered(y, NULL, g, 2, 3, NULL, &r, NULL), RT_USE);
    const size_t same[] = {1, 1, 1};
    assert_int_equal(rt_ordered(y, NULL, same, 2, 3, NULL, &r, NULL), RT_OK);
    assert_true(isnan(r.kruskal_wallis.value) && r.jonckheere.reason != NULL);
    assert_int_equal(rt_ordered(y, NULL, g, 3, 0, NULL, &r, NULL), RT_OK);
    assert_true(isnan(r.kruskal_wallis.p) && r.jonckheere.reason != NULL);
    assert_int_equal(rt_ordered(y, NULL, g, 3, 3, &(struct rt_clusters){g, 3}, &r, NULL), RT_OK);
    assert_true(isnan(r.kruskal_wallis.p) && r.kruskal_wallis.reason != NULL);
}

static void mean_ranks_average_to_the_middle(void **state)
{
    (void)state;
    const double y[] = {5, 5, 1, 9};
    const size_t g[] = {0, 2, 0, 2};
    double mean[3];
    assert_int_equal(rt_mean_ranks(y, NULL, g, 3, 4, mean, NULL), RT_OK);
    assert_near(mean[0], (2.5 + 1) / 2, 1e-15);
    assert_near(mean[2], (2.5 + 4) / 2, 1e-15);
    assert_true(isnan(mean[1]));
}

/* --- shift --------------------------------------------------------------------------------------------- */

static void permeability_as_printed(void **state)
{
    (void)state;
    size_t n = 0;
    size_t levels = 0;
    double *y = data_numbers("permeability.csv", "value", &n);
    size_t *g = data_codes("permeability.csv", "group", &n, &levels);
    bool second[15];
    assert_int_equal(n, 15);
    for (size_t i = 0; i < n; i++)
        second[i] = g[i] == 0; /* x minus y, as in the book */
    struct rt_shift r;
    assert_int_equal(rt_shift(y, NULL, second, n, NULL, &r, NULL), RT_OK);
    assert_near(r.mann_whitney, 35, 0);
    assert_near(r.shift.p, 0.2544, 5e-5);
    assert_near(r.shift.value, 0.305, 5e-4);
    free(y);
    free(g);
}

static void small_and_equal_samples(void **state)
{
    (void)state;
    const double y[] = {1, 2, 3, 3, 3};
    const bool second[] = {false, true, true, true, true};
    struct rt_shift r;
    assert_int_equal(rt_shift(y, NULL, second, 0, NULL, &r, NULL), RT_OK);
    assert_true(isnan(r.mann_whitney) && r.shift.reason != NULL);
    assert_int_equal(rt_shift(y, NULL, second, 1, NULL, &r, NULL), RT_OK);
    assert_true(isnan(r.shift.value) && r.shift.reason != NULL);
    assert_int_equal(rt_shift(y, NULL, second, 2, NULL, &r, NULL), RT_OK);
    assert_near(r.shift.value, 1, 0);
    assert_near(r.shift.p, 1, 0);
    assert_true(isnan(r.shift.lower) && r.shift.reason != NULL);
    const double equal[] = {3, 3, 3};
    assert_int_equal(rt_shift(equal, NULL, second, 3, NULL, &r, NULL), RT_OK);
    assert_near(r.shift.value, 0, 0);
    assert_true(isnan(r.shift.p) && r.shift.reason != NULL);
}

/* Every difference of the second group is larger than any other: still a p, since the error is taken aligned. */
static void separated_groups_of_clusters_have_a_p(void **state)
{
    (void)state;
    double y[24];
    size_t of[24];
    bool second[24];
    for (size_t i = 0; i < 24; i++) {
        second[i] = i >= 12;
        of[i] = i / 4 * 3 + (i % 4 == 3 ? 2 : i % 4 / 2); /* three patients to four rows */
        y[i] = (double)((i * 7) % 5) + (second[i] ? 20 : 0);
    }
    struct rt_shift r;
    assert_int_equal(rt_shift(y, NULL, second, 24, &(struct rt_clusters){of, 18}, &r, NULL), RT_OK);
    assert_near(r.superiority.value, 1, 0);
    assert_near(r.shift.df, 17, 0);
    assert_true(r.shift.p < 0.05 && r.shift.lower > 0);
    assert_true(isnan(r.superiority.lower) && r.superiority.reason != NULL);
}

/* A capped row counts as larger than an exact one up to its limit, and as unknown beyond it. */
static void caps_leave_pairs_open(void **state)
{
    (void)state;
    const double y[] = {30, 50, 40, 60};
    const bool capped[] = {false, false, true, false};
    const bool second[] = {false, false, true, true};
    struct rt_shift r;
    assert_int_equal(rt_shift(y, capped, second, 4, NULL, &r, NULL), RT_OK);
    assert_near(r.mann_whitney, 1 + 0.5 + 2, 0);
    assert_near(r.superiority.value, 3.5 / 4, 0);
}

static void many_rows_need_no_list_of_differences(void **state)
{
    (void)state;
    enum { MANY = 60000 };
    double *y = calloc(MANY, sizeof *y);
    bool *second = calloc(MANY, sizeof *second);
    assert_true(y != NULL && second != NULL);
    for (size_t i = 0; i < MANY; i++) {
        second[i] = i % 2 == 1;
        y[i] = (double)(i / 2) + (second[i] ? 10.25 : 0);
    }
    struct rt_shift r;
    assert_int_equal(rt_shift(y, NULL, second, MANY, NULL, &r, NULL), RT_OK);
    assert_near(r.shift.value, 10.25, 0);
    free(y);
    free(second);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(u_of_two_small_samples_by_hand),
        cmocka_unit_test(kendall_by_hand_and_in_the_tail),
        cmocka_unit_test(signed_ranks_by_hand),
        cmocka_unit_test(spearman_by_hand_and_from_r),
        cmocka_unit_test(tuna_as_printed),
        cmocka_unit_test(few_rows_are_undefined_in_words),
        cmocka_unit_test(motivation_as_printed),
        cmocka_unit_test(mucociliary_as_printed),
        cmocka_unit_test(trends_of_tiny_samples_are_exact),
        cmocka_unit_test(mean_ranks_average_to_the_middle),
        cmocka_unit_test(permeability_as_printed),
        cmocka_unit_test(small_and_equal_samples),
        cmocka_unit_test(separated_groups_of_clusters_have_a_p),
        cmocka_unit_test(caps_leave_pairs_open),
        cmocka_unit_test(many_rows_need_no_list_of_differences),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
