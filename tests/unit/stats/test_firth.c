/*
 * Penalised logistic regression. Endometrial cancer: Heinze & Schemper (2002) Stat. Med. 21:2409-2419 as printed, and
 * full digits from a Newton solution of the Firth score in R 4.2.2 (coefficients and errors as brglm2 0.9).
 */
#include "../support/data_table.h"
#include "../support/survival_data.h"

#include "ridgetally/stats/firth.h"

#include <gsl/gsl_errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

/* Rows of an intercept and the named columns, and the event column. */
static double *read_model(const char *file, const char *response, const char *const *names, size_t count,
                          int **event, size_t *n)
{
    double *y = data_numbers(file, response, n);
    *event = calloc(*n, sizeof **event);
    assert_non_null(*event);
    for (size_t i = 0; i < *n; i++)
        (*event)[i] = y[i] > 0.5;
    free(y);
    return data_model(file, names, count, n);
}

static void endometrial_cancer(void **state)
{
    (void)state;
    static const double expected[4][5] = {
        {3.77455971364637, 1.48869166343553, 1.0825371084477, 7.20928049824693, 0.00419362788558671},
        {2.9292733531969, 1.55076372945296, 0.609724436303203, 7.85463171387507, 0.00912366754708567},
        {-0.034751759870412, 0.0395781473477597, -0.124458720851728, 0.0404554731806038, 0.387482203566447},
        {-2.60416392529344, 0.776017642501522, -4.36518324726323, -1.232721057217, 2.5068672148558e-05}};
    const char *names[] = {"NV", "PI", "EH"};
    size_t n;
    int *event;
    double *x = read_model("endometrial.csv", "HG", names, 3, &event, &n);
    struct rt_firth fit;
    assert_int_equal(rt_firth_fit(&fit, event, x, n, 4, NULL, NULL), RT_OK);
    for (size_t j = 0; j < 4; j++) {
        const struct rt_estimate *c = &fit.coefficient[j];
        assert_near(c->value, expected[j][0], 1e-9);
        assert_near(c->standard_error, expected[j][1], 1e-9);
        assert_near(c->lower, expected[j][2], 1e-8);
        assert_near(c->upper, expected[j][3], 1e-8);
        assert_near(c->p, expected[j][4], 1e-8);
    }
    assert_near(fit.penalised_log_likelihood, -24.0372678006979, 1e-10);
    /* as printed */
    assert_printed(fit.coefficient[1].value, 2.9293, 4);
    assert_printed(fit.coefficient[1].lower, 0.6097, 4);
    assert_printed(fit.coefficient[1].upper, 7.8546, 4);
    assert_printed(fit.coefficient[2].lower, -0.1245, 4);
    assert_printed(fit.coefficient[3].upper, -1.2327, 4);
    rt_firth_release(&fit);
    assert_int_equal(rt_firth_estimates(&fit, event, x, n, 4, NULL), RT_OK);
    for (size_t j = 0; j < 4; j++) {
        assert_near(fit.coefficient[j].value, expected[j][0], 1e-9);
        assert_near(fit.coefficient[j].standard_error, expected[j][1], 1e-9);
        assert_true(isnan(fit.coefficient[j].p) && isnan(fit.coefficient[j].lower));
    }
    rt_firth_release(&fit);
    free(x);
    free(event);
}

static void separated_data_stay_finite(void **state)
{
    (void)state;
    const char *names[] = {"x"};
    size_t n;
    int *event;
    double *x = read_model("separated.csv", "y", names, 1, &event, &n);
    struct rt_firth fit;
    assert_int_equal(rt_firth_fit(&fit, event, x, n, 2, NULL, NULL), RT_OK);
    assert_near(fit.coefficient[0].value, -5.33857263129213, 1e-8);
    assert_near(fit.coefficient[1].value, 0.970649569325842, 1e-8);
    assert_near(fit.coefficient[1].standard_error, 0.57654083513867, 1e-8);
    assert_near(fit.coefficient[0].lower, -30.7818304396931, 1e-7);
    assert_near(fit.coefficient[0].upper, -0.831274466834622, 1e-7);
    assert_near(fit.coefficient[1].lower, 0.196157993048195, 1e-7);
    assert_near(fit.coefficient[1].upper, 5.56423902088241, 1e-7);
    assert_near(fit.coefficient[1].p, 0.00534528581267918, 1e-7);
    rt_firth_release(&fit);
    free(x);
    free(event);
}

/* Two groups: the estimate is the log odds ratio with 1/2 added to each cell, in closed form. */
static void one_half_in_each_cell(void **state)
{
    (void)state;
    const size_t total[2] = {9, 14};
    for (size_t a = 0; a <= total[0]; a += 3)
        for (size_t b = 0; b <= total[1]; b += 7) {
            int event[23];
            double x[46];
            for (size_t i = 0; i < 23; i++) {
                event[i] = i < total[0] ? i < a : i - total[0] < b;
                x[2 * i] = 1;
                x[2 * i + 1] = i >= total[0];
            }
            struct rt_firth fit;
            double first = log(((double)a + 0.5) / ((double)(total[0] - a) + 0.5));
            double second = log(((double)b + 0.5) / ((double)(total[1] - b) + 0.5));
            assert_int_equal(rt_firth_fit(&fit, event, x, 23, 2, NULL, NULL), RT_OK);
            assert_near(fit.coefficient[0].value, first, 1e-9);
            assert_true(fabs(fit.coefficient[1].value - (second - first)) < 1e-9);
            assert_true(fit.coefficient[1].lower < fit.coefficient[1].value);
            assert_true(fit.coefficient[1].upper > fit.coefficient[1].value);
            assert_true(fit.coefficient[1].p > 0 && fit.coefficient[1].p <= 1);
            rt_firth_release(&fit);
        }
}

/* Doubling every row as one more cluster member doubles the design effect's floor out: the p of the clustered fit
 * equals that of the likelihood ratio over its design effect, which is close to 2. */
static void clusters_deflate_the_likelihood_ratio(void **state)
{
    (void)state;
    int event[80];
    double x[160];
    size_t of[80];
    for (size_t i = 0; i < 80; i++) {
        size_t c = i / 2;
        of[i] = c;
        event[i] = c % 5 == 0 || (c > 25 && c % 3 == 1);
        x[2 * i] = 1;
        x[2 * i + 1] = c > 20;
    }
    struct rt_clusters clusters = {of, 40};
    struct rt_clusters one = {(size_t[80]){0}, 1};
    struct rt_firth plain;
    struct rt_firth clustered;
    assert_int_equal(rt_firth_fit(&plain, event, x, 80, 2, NULL, NULL), RT_OK);
    assert_int_equal(rt_firth_fit(&clustered, event, x, 80, 2, &clusters, NULL), RT_OK);
    assert_true(clustered.approximate && !plain.approximate);
    double effect = clustered.design_effect[1];
    assert_true(effect > 1.8 && effect < 2.2);
    assert_near(clustered.coefficient[1].statistic, plain.coefficient[1].statistic / effect, 1e-9);
    assert_near(clustered.coefficient[1].value, plain.coefficient[1].value, 1e-12);
    assert_true(clustered.coefficient[1].lower < plain.coefficient[1].lower);
    assert_true(clustered.coefficient[1].upper > plain.coefficient[1].upper);
    rt_firth_release(&clustered);
    assert_int_equal(rt_firth_fit(&clustered, event, x, 80, 2, &one, NULL), RT_OK);
    assert_true(isnan(clustered.coefficient[1].p) && clustered.coefficient[1].reason != NULL);
    rt_firth_release(&clustered);
    rt_firth_release(&plain);
}

static void degenerate_data(void **state)
{
    (void)state;
    int event[] = {0, 1, 1, 0};
    double x[] = {1, 5, 1, 5, 1, 5, 1, 5};
    struct rt_firth fit;
    for (size_t n = 0; n <= 4; n++) {
        assert_int_equal(rt_firth_fit(&fit, event, x, n, 2, NULL, NULL), RT_OK);
        assert_true(n > 0 || fit.reason != NULL);
        assert_true(n == 0 || isfinite(fit.coefficient[0].value));
        assert_true(isnan(fit.coefficient[1].value) && fit.coefficient[1].reason != NULL);
        rt_firth_release(&fit);
    }
    /* units of a column only scale its coefficient */
    double scaled[8];
    int mixed[] = {0, 1, 0, 1};
    for (int e = -30; e <= 30; e += 15) {
        for (size_t i = 0; i < 4; i++) {
            scaled[2 * i] = 1;
            scaled[2 * i + 1] = ldexp((double)(i * i), e);
        }
        assert_int_equal(rt_firth_fit(&fit, mixed, scaled, 4, 2, NULL, NULL), RT_OK);
        assert_near(ldexp(fit.coefficient[1].value, e), 0.151304629509, 1e-9);
        assert_true(isfinite(fit.coefficient[1].lower) && isfinite(fit.coefficient[1].upper));
        rt_firth_release(&fit);
    }
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(endometrial_cancer),    cmocka_unit_test(separated_data_stay_finite),
        cmocka_unit_test(one_half_in_each_cell), cmocka_unit_test(clusters_deflate_the_likelihood_ratio),
        cmocka_unit_test(degenerate_data),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
