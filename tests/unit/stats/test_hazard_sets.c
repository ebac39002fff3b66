/* The partial likelihood by risk sets against the same by rows: both are computed here from one model, whose rows have few patterns. */
#include "ridgetally/stats/hazard_likelihood.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

enum { ROWS = 240, TERMS = 3, STRATA = 3 };

/* Times on a coarse grid (ties), some late entries, three strata, four patterns; one stratum has a pattern of its own. */
struct practice {
    double time[ROWS], entry[ROWS], x[ROWS * TERMS];
    int event[ROWS];
    size_t stratum[ROWS];
};

static unsigned next_number(unsigned *state)
{
    *state = *state * 1664525u + 1013904223u;
    return *state >> 16;
}

static struct rt_hazard_model make_model(struct practice *practice, unsigned seed, enum rt_ties ties)
{
    memset(practice, 0, sizeof *practice);
    for (size_t i = 0; i < ROWS; i++) {
        const unsigned level = next_number(&seed) % 4;
        practice->stratum[i] = level == 3 ? 2 : next_number(&seed) % 2;
        practice->time[i] = 1 + next_number(&seed) % 15;
        practice->entry[i] = next_number(&seed) % 3 == 0 ? 0.5 * practice->time[i] : 0;
        practice->event[i] = next_number(&seed) % 4 == 0;
        if (level > 0)
            practice->x[i * TERMS + level - 1] = level == 2 ? 1e6 : 1;
    }
    return (struct rt_hazard_model){
        .data = {.n = ROWS, .time = practice->time, .entry = practice->entry, .event = practice->event},
        .terms = TERMS,
        .x = practice->x,
        .stratum = practice->stratum,
        .strata = STRATA,
        .ties = ties};
}

static void assert_close(double a, double b, double scale)
{
    if (!(fabs(a - b) <= 1e-11 * (fabs(b) + scale)))
        fail_msg("%.17g is not %.17g", a, b);
}

/* Log-likelihood, score, information and penalty at b, both ways. */
static void compare(const struct rt_hazard_model *model, const double *b,
                    const struct rt_partial_weights *weights)
{
    static const double inverse[TERMS * TERMS] = {0.5, 0.1, 0, 0.1, 0.25, -0.05, 0, -0.05, 0.75};
    struct rt_partial partial;
    double value[2], score[2][TERMS], information[2][TERMS * TERMS], gradient[2][TERMS];
    assert_int_equal(rt_partial_prepare(&partial, model, NULL), RT_OK);
    assert_true(partial.sets.count > 0);
    const size_t count = partial.sets.count;
    for (int way = 0; way < 2; way++) {
        partial.sets.count = way == 0 ? count : 0;
        value[way] = rt_partial_evaluate(&partial, b, weights, score[way], information[way]);
        rt_partial_penalty(&partial, inverse, gradient[way]);
    }
    assert_close(value[0], value[1], 0);
    for (size_t j = 0; j < TERMS; j++) {
        assert_close(score[0][j], score[1][j], (double)partial.events);
        assert_close(gradient[0][j], gradient[1][j], (double)partial.events);
    }
    for (size_t cell = 0; cell < TERMS * TERMS; cell++)
        assert_close(information[0][cell], information[1][cell], (double)partial.events);
    rt_partial_release(&partial);
}

static void as_by_rows(void **state)
{
    (void)state;
    static const double bs[][TERMS] = {
        {0, 0, 0}, {0.5, -1, 2}, {-8, 3, 11}, {900, -900, 30}, {2000, 2000, -2000}};
    struct practice practice;
    double half[ROWS], double_weight[ROWS];
    for (size_t k = 0; k < ROWS; k++) {
        half[k] = k % 2 == 0 ? 0.5 : -1;
        double_weight[k] = (double)k;
    }
    const struct rt_partial_weights weights = {.score = half, .information = double_weight};
    for (unsigned seed = 1; seed <= 20; seed++)
        for (enum rt_ties ties = RT_TIES_EFRON; ties <= RT_TIES_BRESLOW; ties++) {
            const struct rt_hazard_model model = make_model(&practice, seed, ties);
            for (size_t i = 0; i < sizeof bs / sizeof bs[0]; i++) {
                compare(&model, bs[i], NULL);
                compare(&model, bs[i], &weights);
            }
        }
}

/* Score residuals need the rows' risks. */
static void residuals_as_by_rows(void **state)
{
    (void)state;
    static const double b[TERMS] = {0.5, -1, 2};
    struct practice practice;
    const struct rt_hazard_model model = make_model(&practice, 7, RT_TIES_EFRON);
    struct rt_partial partial;
    double sums[2][ROWS * TERMS], score[TERMS], information[TERMS * TERMS];
    assert_int_equal(rt_partial_prepare(&partial, &model, NULL), RT_OK);
    const size_t count = partial.sets.count;
    assert_true(count > 0);
    for (int way = 0; way < 2; way++) {
        partial.sets.count = way == 0 ? count : 0;
        rt_partial_evaluate(&partial, b, NULL, score, information);
        assert_int_equal(rt_partial_cluster_scores(&partial, NULL, sums[way], NULL), RT_OK);
    }
    for (size_t i = 0; i < ROWS * TERMS; i++)
        assert_close(sums[0][i], sums[1][i], 1);
    rt_partial_release(&partial);
}

/* As many patterns as rows: nothing to gain. */
static void many_patterns_go_by_rows(void **state)
{
    (void)state;
    struct practice practice;
    struct rt_hazard_model model = make_model(&practice, 3, RT_TIES_EFRON);
    struct rt_partial partial;
    for (size_t i = 0; i < ROWS; i++)
        practice.x[i * TERMS] = (double)i;
    assert_int_equal(rt_partial_prepare(&partial, &model, NULL), RT_OK);
    assert_int_equal(partial.sets.count, 0);
    rt_partial_release(&partial);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(as_by_rows),
        cmocka_unit_test(residuals_as_by_rows),
        cmocka_unit_test(many_patterns_go_by_rows),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
