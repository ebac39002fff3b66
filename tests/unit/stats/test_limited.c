/*
 * Normal regression with readings at a limit. Check values: R 4.2.2, survival 3.5.3 survreg(dist = "gaussian"),
 * converged to 1e-14, without and with cluster(); without limits, least squares.
 */
#include "../support/survival_data.h"

#include "ridgetally/stats/limited.h"

#include <gsl/gsl_errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

enum { N = 12 };
static const double torque[N] = {30, 35, 42, 50, 70, 61, 28, 70, 55, 70, 33, 44};
static const bool at_limit[N] = {0, 0, 0, 0, 1, 0, 0, 1, 0, 1, 0, 0};
static const double travel[N] = {1, 2, 2, 3, 5, 4, 1, 6, 3, 4, 2, 3};
static size_t patient[N] = {0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5};

static void design(double x[2 * N])
{
    for (size_t i = 0; i < N; i++) {
        x[2 * i] = 1;
        x[2 * i + 1] = travel[i];
    }
}

static void torque_with_capped_readings(void **state)
{
    (void)state;
    double x[2 * N];
    design(x);
    struct rt_limited fit;
    assert_int_equal(rt_limited_fit(&fit, torque, at_limit, x, N, 2, NULL, NULL), RT_OK);
    assert_int_equal(fit.capped, 3);
    assert_near(fit.coefficient[0].value, 13.1666290879188, 1e-11);
    assert_near(fit.coefficient[1].value, 12.7715547766919, 1e-11);
    assert_near(fit.coefficient[0].standard_error, 3.842432306327702, 1e-9);
    assert_near(fit.coefficient[1].standard_error, 1.406691391376100, 1e-9);
    assert_near(fit.sigma, 4.72039867993946, 1e-10);
    assert_near(fit.log_likelihood, -28.0695423709334, 1e-12);
    rt_limited_release(&fit);
}

static void clustered_errors(void **state)
{
    (void)state;
    double x[2 * N];
    design(x);
    struct rt_clusters clusters = {patient, 6};
    struct rt_limited fit;
    assert_int_equal(rt_limited_fit(&fit, torque, at_limit, x, N, 2, &clusters, NULL), RT_OK);
    assert_near(fit.coefficient[0].standard_error, 3.030005074168068, 1e-9);
    assert_near(fit.coefficient[1].standard_error, 1.461652350033657, 1e-9);
    assert_near(fit.coefficient[0].p, 1.39012680890493e-05, 1e-8);
    assert_near(fit.coefficient[1].p, 2.37796208805603e-18, 1e-7);
    double weights[] = {0, 2};
    struct rt_estimate twice = rt_limited_combination(&fit, weights, 0);
    assert_near(twice.value, 2 * fit.coefficient[1].value, 1e-14);
    assert_near(twice.standard_error, 2 * fit.coefficient[1].standard_error, 1e-13);
    assert_near(twice.p, fit.coefficient[1].p, 1e-9);
    rt_limited_release(&fit);
}

static void without_limits_it_is_least_squares(void **state)
{
    (void)state;
    const bool none[N] = {0};
    double x[2 * N];
    design(x);
    struct rt_limited fit;
    assert_int_equal(rt_limited_fit(&fit, torque, none, x, N, 2, NULL, NULL), RT_OK);
    struct rt_linear line;
    assert_int_equal(rt_linear_fit(&line, torque, x, N, 2, NULL, NULL), RT_OK);
    double shrink = sqrt(10.0 / N);
    for (size_t j = 0; j < 2; j++) {
        assert_near(fit.coefficient[j].value, line.ordinary[j].value, 1e-12);
        assert_near(fit.coefficient[j].standard_error, line.ordinary[j].standard_error * shrink, 1e-10);
    }
    assert_near(fit.sigma, line.sigma * shrink, 1e-12);
    rt_linear_release(&line);
    rt_limited_release(&fit);
}

static void units_only_scale_the_answer(void **state)
{
    (void)state;
    double x[2 * N];
    double y[N];
    struct rt_limited fit;
    struct rt_clusters clusters = {patient, 6};
    for (int e = -300; e <= 300; e += 100) {
        design(x);
        for (size_t i = 0; i < N; i++) {
            y[i] = ldexp(torque[i], e);
            x[2 * i + 1] = ldexp(x[2 * i + 1], -e / 2);
        }
        assert_int_equal(rt_limited_fit(&fit, y, at_limit, x, N, 2, &clusters, NULL), RT_OK);
        assert_near(ldexp(fit.sigma, -e), 4.72039867993946, 1e-10);
        assert_near(ldexp(fit.coefficient[1].standard_error, -e - e / 2), 1.461652350033657, 1e-9);
        assert_near(fit.coefficient[1].p, 2.37796208805603e-18, 1e-7);
        rt_limited_release(&fit);
    }
}

static void what_has_no_maximum_says_why(void **state)
{
    (void)state;
    double x[2 * N];
    double y[N];
    bool capped[N];
    design(x);
    struct rt_limited fit;
    memset(capped, 1, sizeof capped);
    assert_int_equal(rt_limited_fit(&fit, torque, capped, x, N, 2, NULL, NULL), RT_OK); /* all capped */
    assert_true(fit.reason != NULL && isnan(fit.sigma) && isnan(fit.coefficient[0].value));
    rt_limited_release(&fit);
    for (size_t i = 0; i < N; i++) { /* one group wholly capped */
        x[2 * i + 1] = i >= 8;
        capped[i] = i >= 8;
    }
    assert_int_equal(rt_limited_fit(&fit, torque, capped, x, N, 2, NULL, NULL), RT_OK);
    assert_true(fit.reason != NULL && isnan(fit.coefficient[1].value));
    rt_limited_release(&fit);
    design(x);
    for (size_t i = 0; i < N; i++) /* full readings exactly on a line, the capped ones below it */
        y[i] = at_limit[i] ? 1 + 9 * travel[i] : 1 + 10 * travel[i];
    assert_int_equal(rt_limited_fit(&fit, y, at_limit, x, N, 2, NULL, NULL), RT_OK);
    assert_true(fit.reason != NULL && isnan(fit.sigma));
    rt_limited_release(&fit);
    for (size_t n = 0; n <= 2; n++) {
        assert_int_equal(rt_limited_fit(&fit, torque, at_limit, x, n, 2, NULL, NULL), RT_OK);
        assert_true(fit.reason != NULL);
        double weights[] = {1, 1};
        assert_non_null(rt_limited_combination(&fit, weights, 0).reason);
        rt_limited_release(&fit);
    }
    struct rt_clusters one = {(size_t[N]){0}, 1};
    design(x);
    assert_int_equal(rt_limited_fit(&fit, torque, at_limit, x, N, 2, &one, NULL), RT_OK);
    assert_near(fit.coefficient[1].value, 12.7715547766919, 1e-11);
    assert_true(isnan(fit.coefficient[1].p) && fit.coefficient[1].reason != NULL);
    rt_limited_release(&fit);
}

/* 24 readings of 9 patients. R: scores and information of each patient by numDeriv's grad and hessian of the likelihood in
 * (intercept, slope and 1) over sigma, one Newton step without each, t on 8 df. */
static void leaving_out_one_patient_at_a_time(void **state)
{
    (void)state;
    static const double gain[24] = {15, 28, 24, 21, 23, 24, 18, 17, 21, 21, 24, 20,
                                    24, 24, 28, 28, 17, 28, 28, 18, 19, 14, 14, 16};
    static const double way[24] = {1.5, 3.4, 2.2, 2,   2.8, 2.8, 1.4, 1.9, 2.7, 2.9, 2.5, 2.5,
                                   2.6, 2.7, 3.6, 3.5, 1.3, 3.1, 3.7, 1.8, 1.7, 1,   1.4, 1.3};
    static const bool capped[24] = {[1] = true, [14] = true, [15] = true, [18] = true};
    static const size_t of[24] = {0, 0, 0, 0, 1, 1, 1, 2, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6, 6, 7, 8, 8, 8, 8};
    const struct rt_clusters patients = {of, 9};
    double x[48];
    for (size_t i = 0; i < 24; i++) {
        x[2 * i] = 1;
        x[2 * i + 1] = way[i];
    }
    struct rt_limited fit;
    assert_int_equal(rt_limited_fit(&fit, gain, capped, x, 24, 2, &patients, NULL), RT_OK);
    struct rt_estimate slope = rt_limited_left_out(&fit, 1);
    assert_near(slope.value, 6.00251751113, 1e-9);
    assert_near(slope.standard_error, 0.558547938429, 1e-6);
    assert_near(slope.df, 8, 0);
    assert_near(slope.lower, 4.7145036554, 1e-6);
    assert_near(slope.upper, 7.29053136685, 1e-6);
    assert_true(slope.standard_error > fit.coefficient[1].standard_error);
    rt_limited_release(&fit);
}

/* Only one patient has a way that differs: without it there is no slope. */
static void one_patient_decides_the_slope(void **state)
{
    (void)state;
    static const double gain[6] = {10, 12, 11, 20, 13, 12};
    static const double x[12] = {1, 1, 1, 1, 1, 1, 1, 3, 1, 1, 1, 1};
    static const size_t of[6] = {0, 0, 1, 2, 3, 3};
    static const bool capped[6] = {false};
    const struct rt_clusters patients = {of, 4};
    struct rt_limited fit;
    assert_int_equal(rt_limited_fit(&fit, gain, capped, x, 6, 2, &patients, NULL), RT_OK);
    struct rt_estimate slope = rt_limited_left_out(&fit, 1);
    assert_true(!isnan(slope.value));
    assert_true(isnan(slope.lower) && slope.reason != NULL);
    rt_limited_release(&fit);
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(torque_with_capped_readings),
        cmocka_unit_test(clustered_errors),
        cmocka_unit_test(without_limits_it_is_least_squares),
        cmocka_unit_test(units_only_scale_the_answer),
        cmocka_unit_test(what_has_no_maximum_says_why),
        cmocka_unit_test(leaving_out_one_patient_at_a_time),
        cmocka_unit_test(one_patient_decides_the_slope),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
