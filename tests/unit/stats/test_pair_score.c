/* Pair scores against the definition, pair by pair, and every cluster left out against scoring afresh. */
#include "../support/near.h"
#include "ridgetally/stats/pair_score.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

enum { ROWS_MAX = 2400 };

static uint64_t random_state;

/* Numbers 0..below-1: a linear congruence (Knuth's MMIX constants) is random enough to make cases. */
static unsigned draw(unsigned below)
{
    random_state = random_state * 6364136223846793005u + 1442695040888963407u;
    return (unsigned)(random_state >> 33) % below;
}

struct sample {
    size_t n;
    double x[ROWS_MAX];
    double y[ROWS_MAX];
    bool capped[ROWS_MAX];
    size_t of[ROWS_MAX];
};

static int sign(double a, double b)
{
    return (a > b) - (a < b);
}

static int y_score(const struct sample *sample, size_t i, size_t j)
{
    if (sample->capped[i] && sample->capped[j])
        return 0;
    if (sample->capped[i])
        return sample->y[j] <= sample->y[i] ? 1 : 0;
    if (sample->capped[j])
        return sample->y[i] <= sample->y[j] ? -1 : 0;
    return sign(sample->y[i], sample->y[j]);
}

/* The sums of the rows outside cluster left_out, by the definition. */
static struct rt_pair_sums by_definition(const struct sample *sample, size_t left_out)
{
    struct rt_pair_sums sums = {0};
    for (size_t i = 0; i < sample->n; i++) {
        int64_t a = 0;
        int64_t b = 0;
        if (sample->of[i] == left_out)
            continue;
        sums.n++;
        for (size_t j = 0; j < sample->n; j++) {
            if (sample->of[j] == left_out)
                continue;
            int of_x = sign(sample->x[i], sample->x[j]);
            int of_y = y_score(sample, i, j);
            sums.cross += of_x * of_y;
            sums.x_decided += of_x != 0;
            sums.y_decided += of_y != 0;
            a += of_x;
            b += of_y;
        }
        sums.a_squared += a * a;
        sums.b_squared += b * b;
        sums.a_times_b += a * b;
    }
    return sums;
}

static void assert_same_sums(const struct rt_pair_sums *ours, const struct rt_pair_sums *expected)
{
    assert_int_equal(ours->n, expected->n);
    assert_int_equal(ours->cross, expected->cross);
    assert_int_equal(ours->x_decided, expected->x_decided);
    assert_int_equal(ours->y_decided, expected->y_decided);
    assert_int_equal(ours->a_squared, expected->a_squared);
    assert_int_equal(ours->b_squared, expected->b_squared);
    assert_int_equal(ours->a_times_b, expected->a_times_b);
}

static void check(const struct sample *sample, size_t clusters)
{
    struct rt_pair_scores scores;
    struct rt_cluster_rows rows;
    struct rt_clusters given = {sample->of, clusters};
    assert_int_equal(rt_pair_scores(sample->x, sample->y, sample->capped, sample->n, &scores, NULL), RT_OK);
    struct rt_pair_sums whole = by_definition(sample, SIZE_MAX);
    assert_same_sums(&scores.sums, &whole);
    assert_int_equal(rt_gather_clusters(&given, sample->n, &rows, NULL), RT_OK);
    struct rt_pair_sums *without = calloc(rows.count + 1, sizeof *without);
    assert_non_null(without);
    assert_int_equal(rt_pair_sums_leave_out(&scores, &rows, without, NULL), RT_OK);
    for (size_t c = 0; c < rows.count; c++) {
        struct rt_pair_sums expected = by_definition(sample, sample->of[rows.row[rows.start[c]]]);
        assert_same_sums(&without[c], &expected);
    }
    free(without);
    rt_cluster_rows_release(&rows);
    rt_pair_scores_release(&scores);
}

static void sums_follow_the_definition(void **state)
{
    (void)state;
    static struct sample sample;
    random_state = 1;
    for (int round = 0; round < 300; round++) {
        sample.n = draw(40);
        unsigned x_values = 1 + draw(round % 3 == 0 ? 1000 : 5);
        unsigned y_values = 1 + draw(round % 2 == 0 ? 1000 : 6);
        unsigned caps = draw(3);
        size_t clusters = 1 + draw(12);
        for (size_t i = 0; i < sample.n; i++) {
            sample.x[i] = draw(x_values) - 2.0;
            sample.y[i] = 0.1 * draw(y_values);
            sample.capped[i] = caps > 0 && draw(4) < caps;
            sample.of[i] = draw((unsigned)clusters);
        }
        check(&sample, clusters);
    }
}

/* Clusters of more than 1,024 rows take another way. */
static void large_clusters_follow_it_too(void **state)
{
    (void)state;
    static struct sample sample;
    random_state = 2;
    sample.n = ROWS_MAX;
    for (size_t i = 0; i < sample.n; i++) {
        sample.x[i] = draw(50);
        sample.y[i] = draw(70);
        sample.capped[i] = draw(5) == 0;
        sample.of[i] = i < 1200 ? 0 : i < 2300 ? 1 : 2 + draw(3);
    }
    check(&sample, 5);
}

static void statistics_of_the_sums(void **state)
{
    (void)state;
    /* ranks 1 2 3 4 against 1 3 2 4: five concordant pairs, one discordant */
    const double x[] = {1, 2, 3, 4};
    const double y[] = {10, 30, 20, 40};
    struct rt_pair_scores scores;
    assert_int_equal(rt_pair_scores(x, y, NULL, 4, &scores, NULL), RT_OK);
    assert_near(rt_pair_tau_b(&scores.sums), 4.0 / 6, 1e-15);
    assert_near(rt_pair_spearman(&scores.sums), 0.8, 1e-15);
    /* without ties var(S) = n(n-1)(2n+5)/18, S = cross/2 (Kendall 1970, Rank Correlation Methods) */
    assert_near(rt_pair_variance(&scores.sums) / 4, 4 * 3 * 13 / 18.0, 1e-12);
    rt_pair_scores_release(&scores);
    const double flat[] = {5, 5, 5, 5};
    assert_int_equal(rt_pair_scores(x, flat, NULL, 4, &scores, NULL), RT_OK);
    assert_true(isnan(rt_pair_tau_b(&scores.sums)));
    assert_true(isnan(rt_pair_spearman(&scores.sums)));
    assert_true(isnan(rt_pair_statistic(&scores.sums)));
    rt_pair_scores_release(&scores);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sums_follow_the_definition),
        cmocka_unit_test(large_clusters_follow_it_too),
        cmocka_unit_test(statistics_of_the_sums),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
