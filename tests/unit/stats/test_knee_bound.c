/* What a knee's likelihood cannot exceed between the listed shares, against the likelihood at many shares of made-up data. */
#include "../../../src/stats/knee_private.h"

#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

enum { N = 120, SHARES = 2000 };

struct data {
    struct rt_knee_search search;
    struct rt_knee_bound bound;
    size_t of[N];
    double listed[RT_KNEE_SHARES]; /* rss */
};

static double take_rss(const struct rt_knee_search *search, const double *weights)
{
    double a[RT_KNEE_VARIABLES][RT_KNEE_VARIABLES];
    double l[RT_KNEE_Y][RT_KNEE_Y];
    double z[RT_KNEE_Y];
    rt_knee_weigh_products(search, &search->products, weights, a);
    rt_knee_factor(a, RT_KNEE_Y, l);
    double rss = a[RT_KNEE_Y][RT_KNEE_Y];
    for (int i = 0; i < RT_KNEE_Y; i++) {
        z[i] = a[RT_KNEE_Y][i];
        for (int k = 0; k < i; k++)
            z[i] -= l[i][k] * z[k];
        z[i] /= l[i][i];
        rss -= z[i] * z[i];
    }
    return rss;
}

/* Patients of one row up to a third of all rows; between: standard deviation of patients. */
static void make_data(struct data *data, unsigned long seed, size_t patients, double skew, double between)
{
    gsl_rng *generator = gsl_rng_alloc(gsl_rng_mt19937);
    double patient[N];
    double length = 0;
    gsl_rng_set(generator, seed);
    for (size_t i = 0; i < N; i++) {
        data->of[i] = i < patients ? i : (size_t)((double)patients * pow(gsl_rng_uniform(generator), skew));
        patient[i] = gsl_ran_gaussian(generator, between);
    }
    const struct rt_clusters clusters = {data->of, patients};
    assert_int_equal(rt_knee_prepare(&data->search, N, &clusters, NULL), RT_OK);
    for (size_t i = 0; i < N; i++) {
        data->search.x[i] = gsl_ran_gaussian(generator, 1);
        data->search.y[i] = patient[data->of[i]] + gsl_ran_gaussian(generator, 1);
        length += data->search.y[i] * data->search.y[i];
    }
    for (size_t i = 0; i < N; i++)
        data->search.y[i] /= sqrt(length);
    gsl_rng_free(generator);
    assert_true(rt_knee_set_bend(&data->search, 0.2));
    rt_knee_add_products(&data->search);
    assert_int_equal(rt_knee_fill_bound(&data->bound, &data->search, NULL), RT_OK);
    for (size_t i = 0; i < data->bound.shares; i++)
        data->listed[i] = take_rss(&data->search, data->search.weights + i * data->search.size_count);
}

/* The least of rss exp(log determinant / n) over shares far closer than the listed ones. */
static double true_least(const struct data *data)
{
    double *weights = data->search.weights + RT_KNEE_SHARES * data->search.size_count;
    double least = INFINITY;
    for (int i = 0; i <= SHARES; i++) {
        const double share = rt_knee_shares[RT_KNEE_SHARES - 1] * i / SHARES;
        const double log_determinant = rt_knee_weigh_sizes(&data->search, share, weights);
        least = fmin(least, take_rss(&data->search, weights) * exp(log_determinant / N));
    }
    return least;
}

static void the_bound_holds_and_is_close(void **state)
{
    (void)state;
    static const double skews[] = {1, 3}, betweens[] = {0, 0.7, 3};
    static const size_t patients[] = {40, 60, 100};
    unsigned long seed = 0;
    for (size_t s = 0; s < 2; s++)
        for (size_t b = 0; b < 3; b++)
            for (size_t p = 0; p < 3; p++)
                for (int time = 0; time < 5; time++) {
                    struct data data;
                    make_data(&data, ++seed, patients[p], skews[s], betweens[b]);
                    const double least = true_least(&data);
                    assert_false(rt_knee_stays_above(&data.bound, data.listed, least * (1 + 1e-9)));
                    /* a likelihood ratio of 6 less is seen from the listed shares */
                    assert_true(rt_knee_stays_above(&data.bound, data.listed, least * exp(-6.0 / N)));
                    rt_knee_release_search(&data.search);
                }
}

/* Every row its own patient: there is only the share 0. */
static void single_rows_have_one_share(void **state)
{
    (void)state;
    struct data data;
    make_data(&data, 1, N, 1, 1);
    assert_int_equal(data.bound.shares, 1);
    assert_true(rt_knee_stays_above(&data.bound, data.listed, data.listed[0] * (1 - 1e-9)));
    assert_false(rt_knee_stays_above(&data.bound, data.listed, data.listed[0] * (1 + 1e-9)));
    rt_knee_release_search(&data.search);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_bound_holds_and_is_close),
        cmocka_unit_test(single_rows_have_one_share),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
