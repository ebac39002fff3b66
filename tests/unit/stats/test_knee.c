/* The knee of a line: made-up data whose knee is known, the null's behaviour, invariance, and refusals. */
#include "ridgetally/stats/knee.h"

#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "../support/near.h"

enum { N = 150, PATIENTS = 60 };

struct data {
    double x[N], y[N];
    size_t of[N];
};

/* slope below 4, flat above; patients and errors with the given standard deviations */
static void make_data(struct data *data, unsigned long seed, double slope, double between, double within)
{
    gsl_rng *generator = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(generator, seed);
    double patient[PATIENTS];
    for (size_t c = 0; c < PATIENTS; c++)
        patient[c] = gsl_ran_gaussian(generator, between);
    for (size_t i = 0; i < N; i++) {
        data->of[i] = i < PATIENTS ? i : gsl_rng_uniform_int(generator, PATIENTS);
        data->x[i] = floor(10 * (1 + 5 * gsl_rng_uniform(generator))) / 10;
        data->y[i] = slope * fmin(data->x[i], 4) + patient[data->of[i]] + gsl_ran_gaussian(generator, within);
    }
    gsl_rng_free(generator);
}

static void find(struct rt_knee *result, const struct data *data, size_t times)
{
    struct rt_knee_design design = rt_knee_default;
    struct rt_clusters clusters = {data->of, PATIENTS};
    design.times = times;
    assert_int_equal(rt_knee(result, data->x, data->y, N, &clusters, &design, NULL), RT_OK);
}

static void a_clear_knee_is_found(void **state)
{
    (void)state;
    struct data data;
    struct rt_knee result;
    make_data(&data, 3, 0.8, 0.1, 0.1);
    find(&result, &data, 39);
    assert_null(result.reason);
    assert_near(result.knee, 4, 0.1001);
    assert_true(result.lower <= 4 + 1e-9 && result.upper >= 4 - 1e-9);
    assert_true(result.upper - result.lower < 0.5);
    assert_near(result.slope_below, 0.8, 0.05);
    assert_near(result.slope_above, 0, 0.08);
    assert_near(result.sd_between, 0.1, 0.04);
    assert_near(result.sd_within, 0.1, 0.02);
    assert_near(result.p, 1.0 / 40, 1e-15);
    assert_int_equal(result.pieces, 1);
    assert_false(result.at_edge);
    rt_knee_release(&result);
}

static void straight_lines_are_rarely_rejected(void **state)
{
    (void)state;
    struct data data;
    size_t rejected = 0;
    size_t at_edge = 0;
    for (unsigned long seed = 1; seed <= 24; seed++) {
        struct rt_knee result;
        make_data(&data, seed, 0, 0.3, 0.3);
        find(&result, &data, 39);
        rejected += result.p <= 0.05;
        at_edge += result.at_edge;
        rt_knee_release(&result);
    }
    assert_true(rejected <= 5); /* binomial(24, 0.05): P(above 5) = 0.001 */
    assert_true(at_edge > 12);  /* nowhere to locate a knee */
}

/* Chi-square's set is always held, replicates can only add to it: on these data they do, near it; far off they reject. */
static void replicates_widen_the_set(void **state)
{
    (void)state;
    const double quantile = 3.841458820694124;
    struct data data;
    size_t added = 0;
    size_t rejected = 0;
    for (unsigned long seed = 1; seed <= 6; seed++) {
        struct rt_knee result;
        make_data(&data, seed, 0.3, 0.3, 0.3);
        find(&result, &data, 299);
        for (size_t k = 0; k < result.candidate_count; k++) {
            const double below_best = result.statistic - result.statistics[k];
            assert_true(result.kept[k] || below_best > quantile);
            assert_false(result.kept[k] && below_best > 12); /* chi-square on 1 df: p = 0.0005 */
            added += result.kept[k] && below_best > quantile;
            rejected += !result.kept[k];
        }
        rt_knee_release(&result);
    }
    assert_true(added > 0);
    assert_true(rejected > 6);
}

/* p is at least 1 / (times + 1). */
static void too_few_replicates_reject_no_knee(void **state)
{
    (void)state;
    struct data data;
    struct rt_knee result;
    make_data(&data, 3, 0.8, 0.1, 0.1);
    find(&result, &data, 18);
    for (size_t k = 0; k < result.candidate_count; k++)
        assert_true(result.kept[k]);
    assert_true(result.at_edge);
    rt_knee_release(&result);
    find(&result, &data, 19);
    assert_false(result.kept[0]);
    assert_false(result.at_edge);
    rt_knee_release(&result);
}

static void without_replicates_the_place_is_the_same(void **state)
{
    (void)state;
    struct data data;
    struct rt_knee whole, bare;
    make_data(&data, 3, 0.8, 0.1, 0.1);
    find(&whole, &data, 39);
    find(&bare, &data, 0);
    assert_null(bare.reason);
    assert_true(bare.knee == whole.knee && bare.statistic == whole.statistic);
    assert_true(bare.slope_below == whole.slope_below && bare.slope_above == whole.slope_above);
    assert_true(isnan(bare.lower) && isnan(bare.upper) && isnan(bare.p));
    assert_true(!isnan(whole.lower) && !isnan(whole.p));
    for (size_t k = 0; k < bare.candidate_count; k++)
        assert_false(bare.kept[k]);
    rt_knee_release(&whole);
    rt_knee_release(&bare);
}

static void order_of_rows_does_not_matter(void **state)
{
    (void)state;
    struct data data;
    struct data turned;
    struct rt_knee forth;
    struct rt_knee back;
    make_data(&data, 5, 0.3, 0.3, 0.3);
    for (size_t i = 0; i < N; i++) {
        turned.x[i] = data.x[N - 1 - i];
        turned.y[i] = data.y[N - 1 - i];
        turned.of[i] = data.of[N - 1 - i];
    }
    find(&forth, &data, 99);
    find(&back, &turned, 99);
    assert_int_equal(forth.candidate_count, back.candidate_count);
    for (size_t k = 0; k < forth.candidate_count; k++)
        assert_int_equal(forth.kept[k], back.kept[k]);
    assert_near(back.p, forth.p, 0);
    rt_knee_release(&forth);
    rt_knee_release(&back);
}

static void units_do_not_matter(void **state)
{
    (void)state;
    struct data data;
    struct rt_knee plain;
    struct rt_knee scaled;
    make_data(&data, 5, 0.3, 0.3, 0.3);
    find(&plain, &data, 19);
    for (size_t i = 0; i < N; i++)
        data.y[i] = 1e9 + 1e6 * data.y[i];
    find(&scaled, &data, 19);
    assert_near(scaled.knee, plain.knee, 0);
    assert_near(scaled.statistic, plain.statistic, 1e-6 * plain.statistic);
    assert_near(scaled.slope_below, 1e6 * plain.slope_below, 1e-5 * 1e6 * fabs(plain.slope_below));
    assert_near(scaled.p, plain.p, 0);
    for (size_t k = 0; k < plain.candidate_count; k++)
        assert_int_equal(scaled.kept[k], plain.kept[k]);
    rt_knee_release(&plain);
    rt_knee_release(&scaled);
}

static void small_or_empty_data_are_refused(void **state)
{
    (void)state;
    struct data data;
    struct rt_knee result;
    make_data(&data, 3, 0.8, 0.1, 0.1);
    struct rt_clusters clusters = {data.of, PATIENTS};
    const size_t sizes[] = {0, 1, 2, 59};
    for (size_t i = 0; i < 4; i++) {
        assert_int_equal(rt_knee(&result, data.x, data.y, sizes[i], &clusters, &rt_knee_default, NULL),
                         RT_OK);
        assert_true(result.reason != NULL && isnan(result.knee) && isnan(result.p));
        rt_knee_release(&result);
    }
    for (size_t i = 0; i < N; i++)
        data.of[i] = i % 39;
    clusters.count = 39;
    assert_int_equal(rt_knee(&result, data.x, data.y, N, &clusters, &rt_knee_default, NULL), RT_OK);
    assert_non_null(result.reason);
    rt_knee_release(&result);
}

static void degenerate_columns_are_said(void **state)
{
    (void)state;
    struct data data;
    struct rt_knee result;
    make_data(&data, 3, 0.8, 0.1, 0.1);
    struct data bad = data;
    for (size_t i = 0; i < N; i++)
        bad.x[i] = 2;
    find(&result, &bad, 9);
    assert_non_null(result.reason);
    rt_knee_release(&result);
    bad = data;
    for (size_t i = 0; i < N; i++)
        bad.y[i] = 3 * bad.x[i] - 7;
    find(&result, &bad, 9);
    assert_non_null(result.reason);
    rt_knee_release(&result);
    bad = data;
    for (size_t i = 0; i < N; i++)
        bad.x[i] *= 1e9;
    find(&result, &bad, 9);
    assert_non_null(result.reason);
    rt_knee_release(&result);
    bad = data;
    for (size_t i = 0; i < N; i++)
        bad.y[i] = fmin(bad.x[i], 4); /* two lines, no error at all */
    find(&result, &bad, 9);
    assert_null(result.reason);
    assert_near(result.knee, 4, 1e-12);
    assert_true(isfinite(result.statistic));
    rt_knee_release(&result);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_clear_knee_is_found),
        cmocka_unit_test(straight_lines_are_rarely_rejected),
        cmocka_unit_test(replicates_widen_the_set),
        cmocka_unit_test(too_few_replicates_reject_no_knee),
        cmocka_unit_test(without_replicates_the_place_is_the_same),
        cmocka_unit_test(order_of_rows_does_not_matter),
        cmocka_unit_test(units_do_not_matter),
        cmocka_unit_test(small_or_empty_data_are_refused),
        cmocka_unit_test(degenerate_columns_are_said),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
