/*
 * Least squares and CR2 errors. NIST Statistical Reference Datasets (Norris, Longley, Filip: certified values);
 * Potthoff & Roy (1964) Biometrika 51:313-326 and simulated clusters against R 4.2.2, clubSandwich 0.5.8.
 */
#include "ridgetally/stats/linear.h"

#include "../support/data_table.h"
#include "../support/survival_data.h"

#include "ridgetally/stats/design_matrix.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static void norris_is_met(void **state)
{
    (void)state;
    size_t n;
    double *y = data_numbers("norris.csv", "y", &n);
    const char *names[] = {"x"};
    double *design = data_model("norris.csv", names, 1, &n);
    struct rt_linear fit;
    assert_int_equal(rt_linear_fit(&fit, y, design, n, 2, NULL, NULL), RT_OK);
    assert_near(fit.ordinary[0].value, -0.262323073774029, 1e-9);
    assert_near(fit.ordinary[1].value, 1.00211681802045, 1e-13);
    assert_near(fit.ordinary[0].standard_error, 0.232818234301152, 1e-9);
    assert_near(fit.ordinary[1].standard_error, 0.429796848199937E-03, 1e-9);
    assert_near(fit.sigma, 0.884796396144373, 1e-9);
    assert_near(fit.r_squared, 0.999993745883712, 1e-12);
    assert_near(fit.residual_sum_of_squares, 26.6173985294224, 1e-9);
    assert_near(fit.f_statistic, 5436385.54079785, 1e-9);
    rt_linear_release(&fit);
    free(y);
    free(design);
}

static void longley_is_met(void **state)
{
    (void)state;
    static const double coefficient[] = {-3482258.63459582, 15.0618722713733,  -0.358191792925910E-01,
                                         -2.02022980381683, -1.03322686717359, -0.511041056535807E-01,
                                         1829.15146461355};
    static const double standard_error[] = {890420.383607373,  84.9149257747669,  0.334910077722432E-01,
                                            0.488399681651699, 0.214274163161675, 0.226073200069370,
                                            455.478499142212};
    const char *names[] = {"x1", "x2", "x3", "x4", "x5", "x6"};
    size_t n;
    double *y = data_numbers("longley.csv", "y", &n);
    double *design = data_model("longley.csv", names, 6, &n);
    assert_int_equal(n, 16);
    struct rt_linear fit;
    assert_int_equal(rt_linear_fit(&fit, y, design, n, 7, NULL, NULL), RT_OK);
    for (size_t j = 0; j < 7; j++) {
        assert_near(fit.ordinary[j].value, coefficient[j], 1e-10);
        assert_near(fit.ordinary[j].standard_error, standard_error[j], 1e-10);
    }
    assert_near(fit.sigma, 304.854073561965, 1e-10);
    assert_near(fit.r_squared, 0.995479004577296, 1e-12);
    rt_linear_release(&fit);
    free(design);
    free(y);
}

static void filip_is_met(void **state)
{
    (void)state;
    static const double coefficient[] = {
        -1467.48961422980,      -2772.17959193342,      -2316.37108160893,     -1127.97394098372,
        -354.478233703349,      -75.1242017393757,      -10.8753180355343,     -1.06221498588947,
        -0.670191154593408E-01, -0.246781078275479E-02, -0.402962525080404E-04};
    static const double standard_error[] = {
        298.084530995537,      559.779865474950,      466.477572127796,     227.204274477751,
        71.6478660875927,      15.2897178747400,      2.23691159816033,     0.221624321934227,
        0.142363763154724E-01, 0.535617408889821E-03, 0.896632837373868E-05};
    size_t n;
    double *y = data_numbers("filip.csv", "y", &n);
    double *x = data_numbers("filip.csv", "x", &n);
    double *design = calloc(n * 11, sizeof *design);
    for (size_t i = 0; i < n; i++) {
        design[i * 11] = 1;
        for (size_t j = 1; j < 11; j++)
            design[i * 11 + j] = pow(x[i], (double)j);
    }
    struct rt_linear fit;
    assert_int_equal(rt_linear_fit(&fit, y, design, n, 11, NULL, NULL), RT_OK);
    assert_int_equal(fit.rank, 11);
    for (size_t j = 0; j < 11; j++) {
        assert_near(fit.ordinary[j].value, coefficient[j], 1e-6);
        assert_near(fit.ordinary[j].standard_error, standard_error[j], 1e-6);
    }
    assert_near(fit.sigma, 0.334801051324544E-02, 1e-6);
    rt_linear_release(&fit);
    free(design);
    free(y);
    free(x);
}

/* distance ~ age + female, clustered by subject. */
static void clubs_errors_of_the_growth_data(void **state)
{
    (void)state;
    static const double cr2[] = {0.909471576193836, 0.0712532707708669, 0.782201211559412};
    static const double df[] = {25.9192335637316, 26, 21.6534653465346};
    static const double p[] = {5.40808444678158e-17, 1.01323818324634e-09, 0.0071924259854105};
    size_t n;
    size_t subjects;
    size_t sexes;
    double *y = data_numbers("orthodont.csv", "distance", &n);
    double *age = data_numbers("orthodont.csv", "age", &n);
    size_t *subject = data_codes("orthodont.csv", "subject", &n, &subjects);
    size_t *sex = data_codes("orthodont.csv", "sex", &n, &sexes);
    const char *levels[] = {"Male", "Female"};
    struct rt_number_column numbers[] = {{"age", age}};
    struct rt_category_column categories[] = {{"sex", sex, levels, 2}};
    struct rt_design_columns columns = {
        .n = n, .numbers = numbers, .number_count = 1, .categories = categories, .category_count = 1};
    struct rt_design design;
    struct rt_linear fit;
    assert_int_equal(rt_design_build(&design, &columns, NULL), RT_OK);
    assert_string_equal(design.terms[2], "sex=Female");
    struct rt_clusters clusters = {subject, subjects};
    assert_int_equal(rt_linear_fit(&fit, y, design.x, n, design.p, &clusters, NULL), RT_OK);
    assert_int_equal(fit.clusters, 27);
    for (size_t j = 0; j < 3; j++) {
        assert_near(fit.robust[j].standard_error, cr2[j], 1e-10);
        assert_near(fit.robust[j].df, df[j], 1e-10);
        assert_near(fit.robust[j].p, p[j], 1e-8);
    }
    rt_linear_release(&fit);
    rt_design_release(&design);
    free(y);
    free(age);
    free(subject);
    free(sex);
}

/* loss ~ years + smoker over clusters of 1 to 8 rows. */
static void clubs_errors_of_unequal_clusters(void **state)
{
    (void)state;
    static const double cr2[] = {0.131880432187635, 0.013933548068213, 0.136548934954053};
    static const double df[] = {23.9873491201085, 27.4663042413186, 17.7854101008677};
    size_t n;
    size_t patients;
    double *y = data_numbers("sim_lmm.csv", "loss", &n);
    const char *names[] = {"years", "smoker"};
    double *x = data_model("sim_lmm.csv", names, 2, &n);
    size_t *patient = data_codes("sim_lmm.csv", "patient", &n, &patients);
    struct rt_clusters clusters = {patient, patients};
    struct rt_linear fit;
    assert_int_equal(rt_linear_fit(&fit, y, x, n, 3, &clusters, NULL), RT_OK);
    for (size_t j = 0; j < 3; j++) {
        assert_near(fit.robust[j].standard_error, cr2[j], 1e-10);
        assert_near(fit.robust[j].df, df[j], 1e-10);
    }
    /* a combination of one coefficient is that coefficient; of two, it obeys the algebra of variances */
    double weights[] = {0, 0, 1};
    struct rt_estimate one = rt_linear_combination(&fit, weights, 0);
    assert_near(one.standard_error, cr2[2], 1e-10);
    double sum[] = {0, 1, 1};
    double difference[] = {0, 1, -1};
    struct rt_estimate plus = rt_linear_combination(&fit, sum, 0);
    struct rt_estimate minus = rt_linear_combination(&fit, difference, 0);
    assert_near(plus.standard_error * plus.standard_error + minus.standard_error * minus.standard_error,
                2 * (cr2[1] * cr2[1] + cr2[2] * cr2[2]), 1e-10);
    rt_linear_release(&fit);
    free(x);
    free(y);
    free(patient);
}

static void aliased_columns_are_set_aside(void **state)
{
    (void)state;
    /* columns: 1, a, 3 - 2a, a constant, b */
    const double a[] = {1, 2, 4, 7, 1, 3, 8, 5};
    const double b[] = {0, 1, 1, 0, 1, 0, 1, 1};
    const double y[] = {1.5, 2.25, 3, 9, 2, 4.5, 7, 6};
    double x[8 * 5];
    double plain[8 * 3];
    for (size_t i = 0; i < 8; i++) {
        double row[] = {1, a[i], 3 - 2 * a[i], 0.1, b[i]};
        memcpy(x + 5 * i, row, sizeof row);
        double few[] = {1, a[i], b[i]};
        memcpy(plain + 3 * i, few, sizeof few);
    }
    struct rt_linear all;
    struct rt_linear kept;
    assert_int_equal(rt_linear_fit(&all, y, x, 8, 5, NULL, NULL), RT_OK);
    assert_int_equal(rt_linear_fit(&kept, y, plain, 8, 3, NULL, NULL), RT_OK);
    assert_int_equal(all.rank, 3);
    assert_true(isnan(all.ordinary[2].value) && all.ordinary[2].reason != NULL);
    assert_true(isnan(all.ordinary[3].value) && all.ordinary[3].reason != NULL);
    assert_near(all.ordinary[1].value, kept.ordinary[1].value, 1e-12);
    assert_near(all.ordinary[4].standard_error, kept.ordinary[2].standard_error, 1e-12);
    /* a point of the fitted line is determined although single coefficients are not */
    double row[] = {1, 6, -9, 0.1, 1};
    double few[] = {1, 6, 1};
    assert_near(rt_linear_combination(&all, row, 0).value, rt_linear_combination(&kept, few, 0).value, 1e-12);
    double other[] = {1, 6, 0, 0.1, 1};
    assert_non_null(rt_linear_combination(&all, other, 0).reason);
    rt_linear_release(&all);
    rt_linear_release(&kept);
}

static void degenerate_fits_say_why(void **state)
{
    (void)state;
    struct rt_linear fit;
    double x[] = {1, 2, 1, 3, 1, 5, 1, 9};
    double line[] = {5, 7, 11, 19};
    assert_int_equal(rt_linear_fit(&fit, line, x, 4, 2, NULL, NULL), RT_OK); /* y = 1 + 2x exactly */
    assert_near(fit.ordinary[1].value, 2, 1e-14);
    assert_true(isnan(fit.ordinary[1].standard_error) && fit.ordinary[1].reason != NULL);
    assert_true(fit.sigma == 0);
    rt_linear_release(&fit);
    for (size_t n = 0; n <= 2; n++) {
        size_t of[] = {0, 0};
        struct rt_clusters one = {of, 1};
        assert_int_equal(rt_linear_fit(&fit, line, x, n, 2, &one, NULL), RT_OK);
        assert_true(isnan(fit.sigma) && fit.reason != NULL);
        assert_true(isnan(fit.robust[0].standard_error) && fit.robust[0].reason != NULL);
        rt_linear_release(&fit);
    }
    double same[] = {3, 3, 3, 3};
    assert_int_equal(rt_linear_fit(&fit, same, x, 4, 2, NULL, NULL), RT_OK);
    assert_true(isnan(fit.r_squared) && fit.reason != NULL);
    rt_linear_release(&fit);
}

static void one_cluster_or_a_cluster_alone_in_its_level_has_no_error(void **state)
{
    (void)state;
    double x[] = {1, 0, 1, 0, 1, 0, 1, 0, 1, 1, 1, 1};
    double y[] = {1, 2, 4, 3, 8, 9.5};
    size_t single[] = {0, 0, 0, 0, 0, 0};
    size_t alone[] = {0, 0, 1, 1, 2, 2};
    struct rt_clusters one = {single, 1};
    struct rt_clusters three = {alone, 3};
    struct rt_linear fit;
    assert_int_equal(rt_linear_fit(&fit, y, x, 6, 2, &one, NULL), RT_OK);
    assert_true(isnan(fit.robust[0].p) && fit.robust[0].reason != NULL);
    rt_linear_release(&fit);
    assert_int_equal(rt_linear_fit(&fit, y, x, 6, 2, &three, NULL), RT_OK);
    assert_true(isfinite(fit.robust[0].p));
    assert_true(isnan(fit.robust[1].standard_error) && fit.robust[1].reason != NULL);
    rt_linear_release(&fit);
}

static void units_only_scale_the_answer(void **state)
{
    (void)state;
    const double x0[] = {0.3, 1.1, 2.9, 4.2, 4.4, 6.1, 7.7};
    const double y0[] = {1.2, 0.7, 3.3, 2.9, 5.1, 4.4, 7.5};
    size_t of[] = {0, 0, 1, 2, 2, 3, 3};
    struct rt_clusters clusters = {of, 4};
    struct rt_linear plain;
    double x[14];
    double y[7];
    for (size_t i = 0; i < 7; i++) {
        x[2 * i] = 1;
        x[2 * i + 1] = x0[i];
    }
    assert_int_equal(rt_linear_fit(&plain, y0, x, 7, 2, &clusters, NULL), RT_OK);
    for (int e = -280; e <= 140; e += 70) {
        struct rt_linear fit;
        for (size_t i = 0; i < 7; i++) {
            x[2 * i + 1] = ldexp(x0[i], e);
            y[i] = ldexp(y0[i], e / 2);
        }
        assert_int_equal(rt_linear_fit(&fit, y, x, 7, 2, &clusters, NULL), RT_OK);
        assert_near(ldexp(fit.robust[1].standard_error, e - e / 2), plain.robust[1].standard_error, 1e-13);
        assert_near(fit.robust[1].p, plain.robust[1].p, 1e-12);
        assert_near(fit.robust[1].df, plain.robust[1].df, 1e-12);
        rt_linear_release(&fit);
    }
    rt_linear_release(&plain);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(norris_is_met),
        cmocka_unit_test(longley_is_met),
        cmocka_unit_test(filip_is_met),
        cmocka_unit_test(clubs_errors_of_the_growth_data),
        cmocka_unit_test(clubs_errors_of_unequal_clusters),
        cmocka_unit_test(aliased_columns_are_set_aside),
        cmocka_unit_test(degenerate_fits_say_why),
        cmocka_unit_test(one_cluster_or_a_cluster_alone_in_its_level_has_no_error),
        cmocka_unit_test(units_only_scale_the_answer),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
