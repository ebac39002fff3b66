/*
 * Random intercepts. Potthoff & Roy (1964) Biometrika 51:313-326 (as in Pinheiro & Bates 2000, Mixed-Effects Models
 * in S and S-PLUS), Dyestuff (Davies 1947), Dyestuff2 (Box & Tiao 1973) and Pastes (Davies & Goldsmith 1972) as
 * analysed in Bates' lme4 documentation; full digits from R 4.2.2, lme4 1.1.31 with a refined optimum, lmerTest 3.1.3.
 */
#include "../support/data_table.h"
#include "../support/survival_data.h"

#include "ridgetally/stats/mixed.h"

#include <gsl/gsl_errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

static void growth_by_age_and_sex(void **state)
{
    (void)state;
    size_t n;
    size_t subjects;
    size_t sexes;
    double *y = data_numbers("orthodont.csv", "distance", &n);
    double *age = data_numbers("orthodont.csv", "age", &n);
    size_t *subject = data_codes("orthodont.csv", "subject", &n, &subjects);
    size_t *sex = data_codes("orthodont.csv", "sex", &n, &sexes);
    double *x = calloc(3 * n, sizeof *x);
    for (size_t i = 0; i < n; i++) {
        x[3 * i] = 1;
        x[3 * i + 1] = age[i];
        x[3 * i + 2] = sex[i] == 1; /* the first subject is male */
    }
    struct rt_clusters clusters = {subject, subjects};
    struct rt_mixed fit;
    assert_int_equal(rt_mixed_fit(&fit, y, x, n, 3, &clusters, NULL, NULL), RT_OK);
    assert_null(fit.reason);
    assert_false(fit.boundary);
    /* as printed by Pinheiro & Bates */
    assert_printed(fit.sd_between, 1.807425, 6);
    assert_printed(fit.sd_within, 1.431592, 6);
    assert_printed(fit.coefficient[0].value, 17.70671, 5);
    assert_printed(fit.coefficient[2].value, -2.321023, 6);
    assert_printed(fit.coefficient[0].standard_error, 0.8339225, 7);
    assert_printed(fit.coefficient[2].standard_error, 0.761417, 6);
    assert_printed(fit.reml, 437.5125, 4);
    /* full digits */
    assert_near(fit.coefficient[2].standard_error, 0.76141685012957, 1e-8);
    assert_near(fit.coefficient[0].df, 99.3523640516018, 1e-6);
    assert_near(fit.coefficient[1].df, 80, 1e-9);
    assert_near(fit.coefficient[2].df, 25, 1e-9);
    assert_near(fit.coefficient[2].p, 0.00537505610190329, 1e-6);
    assert_near(fit.coefficient[2].lower, -3.88919008692331, 1e-7);
    assert_near(fit.reml, 437.512507828023, 1e-12);
    assert_near(fit.icc, 0.614491424322972, 1e-7);
    assert_near(fit.design_effect, 1 + 3 * fit.icc, 1e-14);
    double weights[] = {0, 0, -1};
    struct rt_estimate turned = rt_mixed_combination(&fit, weights, 0);
    assert_near(turned.standard_error, fit.coefficient[2].standard_error, 1e-13);
    assert_near(turned.value, -fit.coefficient[2].value, 1e-14);
    assert_near(turned.df, fit.coefficient[2].df, 1e-12);
    rt_mixed_release(&fit);
    free(y);
    free(age);
    free(subject);
    free(sex);
    free(x);
}

/* loss ~ years + smoker over clusters of 1 to 8 rows. */
static void unequal_clusters(void **state)
{
    (void)state;
    static const double df[] = {85.3082859633818, 157.936630727986, 34.6593561579523};
    static const double se[] = {0.108688444040766, 0.0125832276912712, 0.150902313331576};
    size_t n;
    size_t patients;
    double *y = data_numbers("sim_lmm.csv", "loss", &n);
    const char *names[] = {"years", "smoker"};
    double *x = data_model("sim_lmm.csv", names, 2, &n);
    size_t *patient = data_codes("sim_lmm.csv", "patient", &n, &patients);
    struct rt_clusters clusters = {patient, patients};
    struct rt_mixed fit;
    assert_int_equal(rt_mixed_fit(&fit, y, x, n, 3, &clusters, NULL, NULL), RT_OK);
    for (size_t j = 0; j < 3; j++) {
        assert_near(fit.coefficient[j].standard_error, se[j], 1e-7);
        assert_near(fit.coefficient[j].df, df[j], 2e-5);
    }
    assert_near(fit.sd_between, 0.384893379531247, 1e-7);
    assert_near(fit.sd_within, 0.395049459702828, 1e-7);
    assert_near(fit.reml, 248.227869004384, 1e-10);
    rt_mixed_release(&fit);
    free(x);
    free(y);
    free(patient);
}

static void fit_batches(const char *file, struct rt_mixed *fit)
{
    size_t n;
    size_t batches;
    double *y = data_numbers(file, "yield", &n);
    size_t *batch = data_codes(file, "batch", &n, &batches);
    double x[30];
    assert_int_equal(n, 30);
    for (size_t i = 0; i < n; i++)
        x[i] = 1;
    struct rt_clusters clusters = {batch, batches};
    assert_int_equal(rt_mixed_fit(fit, y, x, n, 1, &clusters, NULL, NULL), RT_OK);
    free(y);
    free(batch);
}

static void batches_of_dyestuff(void **state)
{
    (void)state;
    struct rt_mixed fit;
    fit_batches("dyestuff.csv", &fit);
    /* balanced: the analysis of variance in closed form gives 1764.05 and 2451.25, and 5 df */
    assert_near(fit.sd_between * fit.sd_between, 1764.05, 1e-9);
    assert_near(fit.sd_within * fit.sd_within, 2451.25, 1e-9);
    assert_near(fit.coefficient[0].df, 5, 1e-8);
    assert_printed(fit.coefficient[0].standard_error, 19.38, 2);
    assert_printed(fit.reml, 319.6543, 4);
    rt_mixed_release(&fit);
}

static void a_between_variance_of_zero(void **state)
{
    (void)state;
    struct rt_mixed fit;
    fit_batches("dyestuff2.csv", &fit);
    assert_true(fit.boundary);
    assert_true(fit.sd_between == 0 && fit.icc == 0);
    assert_printed(fit.sd_within * fit.sd_within, 13.81, 2);
    assert_printed(fit.coefficient[0].value, 5.6656, 4);
    assert_printed(fit.coefficient[0].standard_error, 0.6784, 4);
    assert_printed(fit.reml, 161.8283, 4);
    assert_near(fit.coefficient[0].df, 29, 1e-12);
    rt_mixed_release(&fit);
}

/* Strength of paste: two tests of each of three casks of ten batches. */
static const double pastes[60] = {62.8, 62.6, 60.1, 62.3, 62.7, 63.1, 60,   61.4, 57.5, 56.9, 61.1, 58.9,
                                  58.7, 57.5, 63.9, 63.1, 65.4, 63.7, 57.1, 56.4, 56.9, 58.6, 64.7, 64.5,
                                  55.1, 55.1, 54.7, 54.2, 58.8, 57.5, 63.4, 64.9, 59.3, 58.1, 60.5, 60,
                                  62.5, 62.6, 61,   58.7, 56.9, 57.7, 59.2, 59.4, 65.2, 66,   64.8, 64.1,
                                  54.8, 54.8, 64,   64,   57.7, 56.8, 58.3, 59.3, 59.2, 59.2, 58.9, 56.6};

static void casks_inside_batches(void **state)
{
    (void)state;
    double x[60];
    size_t batch[60];
    size_t cask[60];
    double grand = 0;
    for (size_t i = 0; i < 60; i++) {
        x[i] = 1;
        batch[i] = i / 6;
        cask[i] = i / 2 % 3; /* codes are used again in the next batch */
        grand += pastes[i] / 60;
    }
    struct rt_clusters clusters = {batch, 10};
    struct rt_clusters units = {cask, 3};
    struct rt_mixed fit;
    assert_int_equal(rt_mixed_fit(&fit, pastes, x, 60, 1, &clusters, &units, NULL), RT_OK);
    assert_int_equal(fit.units, 30);
    /* balanced: the nested analysis of variance in closed form */
    double tests = 0;
    double casks = 0;
    double batches = 0;
    for (size_t b = 0; b < 10; b++) {
        const double *y = pastes + 6 * b;
        double mean = (y[0] + y[1] + y[2] + y[3] + y[4] + y[5]) / 6;
        batches += 6 * (mean - grand) * (mean - grand);
        for (size_t c = 0; c < 3; c++) {
            double m = (y[2 * c] + y[2 * c + 1]) / 2;
            casks += 2 * (m - mean) * (m - mean);
            tests += (y[2 * c] - y[2 * c + 1]) * (y[2 * c] - y[2 * c + 1]) / 2;
        }
    }
    double within = tests / 30;
    double of_cask = (casks / 20 - within) / 2;
    double of_batch = (batches / 9 - casks / 20) / 6;
    assert_near(fit.sd_within * fit.sd_within, within, 1e-8);
    assert_near(fit.sd_unit * fit.sd_unit, of_cask, 1e-8);
    assert_near(fit.sd_between * fit.sd_between, of_batch, 1e-8);
    assert_near(fit.coefficient[0].standard_error, sqrt(batches / 9 / 60), 1e-9);
    assert_near(fit.coefficient[0].df, 9, 1e-7);
    assert_printed(fit.sd_unit, 2.9041, 4);
    assert_printed(fit.sd_within, 0.8234, 4);
    assert_near(fit.reml, 246.990745853487, 1e-9);
    assert_near(fit.icc_unit, (of_batch + of_cask) / (of_batch + of_cask + within), 1e-8);
    rt_mixed_release(&fit);
}

/* The units may come in any order, and a unit level without variance leaves the one-level model. */
static void order_does_not_matter(void **state)
{
    (void)state;
    double x[60];
    double y[60];
    size_t batch[60];
    size_t cask[60];
    for (size_t i = 0; i < 60; i++) {
        size_t from = i * 7 % 60;
        x[i] = 1;
        y[i] = pastes[from];
        batch[i] = from / 6;
        cask[i] = from / 2 % 3;
    }
    struct rt_clusters clusters = {batch, 10};
    struct rt_clusters units = {cask, 3};
    struct rt_mixed fit;
    assert_int_equal(rt_mixed_fit(&fit, y, x, 60, 1, &clusters, &units, NULL), RT_OK);
    assert_near(fit.reml, 246.990745853487, 1e-9);
    assert_near(fit.coefficient[0].df, 9, 1e-7);
    rt_mixed_release(&fit);
    for (size_t i = 0; i < 60; i++) /* tests further apart than casks: no cask variance */
        y[i] = (double)(batch[i] * batch[i] % 7) + (i % 2 == 0 ? 3.0 : -3.0) + (double)i / 100;
    for (size_t i = 0; i < 60; i++) {
        batch[i] = i / 6;
        cask[i] = i / 2 % 3;
    }
    assert_int_equal(rt_mixed_fit(&fit, y, x, 60, 1, &clusters, &units, NULL), RT_OK);
    struct rt_mixed plain;
    assert_int_equal(rt_mixed_fit(&plain, y, x, 60, 1, &clusters, NULL, NULL), RT_OK);
    assert_true(fit.boundary && fit.sd_unit == 0);
    assert_near(fit.sd_between, plain.sd_between, 1e-8);
    assert_near(fit.reml, plain.reml, 1e-12);
    assert_near(fit.coefficient[0].df, plain.coefficient[0].df, 1e-7);
    rt_mixed_release(&fit);
    rt_mixed_release(&plain);
}

static void what_cannot_be_estimated_says_why(void **state)
{
    (void)state;
    double x[] = {1, 1, 1, 1, 1, 1};
    double y[] = {1, 2, 4, 7, 11, 3};
    double steps[] = {1, 1, 4, 4, 9, 9};
    double same[] = {2, 2, 2, 2, 2, 2};
    struct rt_clusters pairs = {(size_t[]){0, 0, 1, 1, 2, 2}, 3};
    struct rt_clusters single = {(size_t[]){0, 1, 2, 3, 4, 5}, 6};
    struct rt_clusters one = {(size_t[]){0, 0, 0, 0, 0, 0}, 1};
    struct rt_mixed fit;
    const struct {
        const double *y;
        size_t n;
        const struct rt_clusters *clusters, *units;
    } cases[] = {{y, 6, &single, NULL},   {y, 6, &one, NULL},      {steps, 6, &pairs, NULL},
                 {same, 6, &pairs, NULL}, {y, 0, &pairs, NULL},    {y, 1, &pairs, NULL},
                 {y, 2, &pairs, NULL},    {y, 6, &pairs, &single}, {y, 6, &pairs, &pairs}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        assert_int_equal(
            rt_mixed_fit(&fit, cases[i].y, x, cases[i].n, 1, cases[i].clusters, cases[i].units, NULL), RT_OK);
        assert_non_null(fit.reason);
        assert_true(isnan(fit.sd_between) && isnan(fit.reml) && isnan(fit.coefficient[0].p));
        double weight = 1;
        assert_non_null(rt_mixed_combination(&fit, &weight, 0).reason);
        rt_mixed_release(&fit);
    }
    /* columns that take up all differences between the clusters */
    double saturated[] = {1, 0, 0, 1, 0, 0, 1, 1, 0, 1, 1, 0, 1, 0, 1, 1, 0, 1};
    assert_int_equal(rt_mixed_fit(&fit, y, saturated, 6, 3, &pairs, NULL, NULL), RT_OK);
    assert_non_null(fit.reason);
    rt_mixed_release(&fit);
    /* three rows in two clusters are enough for numbers, and must not fail */
    assert_int_equal(rt_mixed_fit(&fit, y, x, 3, 1, &pairs, NULL, NULL), RT_OK);
    assert_true(fit.reason != NULL || isfinite(fit.sd_within));
    rt_mixed_release(&fit);
}

static void aliased_columns_are_set_aside(void **state)
{
    (void)state;
    const double y[] = {3.2, 2.9, 5.1, 4.0, 6.3, 6.9, 7.7, 6.1};
    const double a[] = {1, 2, 1, 4, 3, 5, 2, 6};
    double x[24];
    double plain[16];
    for (size_t i = 0; i < 8; i++) {
        x[3 * i] = plain[2 * i] = 1;
        x[3 * i + 1] = plain[2 * i + 1] = a[i];
        x[3 * i + 2] = 7 - a[i] / 3;
    }
    struct rt_clusters clusters = {(size_t[]){0, 0, 1, 1, 2, 2, 3, 3}, 4};
    struct rt_mixed all;
    struct rt_mixed kept;
    assert_int_equal(rt_mixed_fit(&all, y, x, 8, 3, &clusters, NULL, NULL), RT_OK);
    assert_int_equal(rt_mixed_fit(&kept, y, plain, 8, 2, &clusters, NULL, NULL), RT_OK);
    assert_non_null(all.coefficient[2].reason);
    assert_near(all.coefficient[1].standard_error, kept.coefficient[1].standard_error, 1e-10);
    assert_near(all.coefficient[1].df, kept.coefficient[1].df, 1e-8);
    double alone[] = {0, 1, 0};
    assert_non_null(rt_mixed_combination(&all, alone, 0).reason);
    rt_mixed_release(&all);
    rt_mixed_release(&kept);
}

/* Units of measurement only scale the answer. */
static void huge_and_tiny_values(void **state)
{
    (void)state;
    double x[60];
    double y[60];
    size_t batch[60];
    for (size_t i = 0; i < 60; i++) {
        x[i] = 1;
        batch[i] = i / 6;
    }
    struct rt_clusters clusters = {batch, 10};
    struct rt_mixed plain;
    assert_int_equal(rt_mixed_fit(&plain, pastes, x, 60, 1, &clusters, NULL, NULL), RT_OK);
    for (int e = -300; e <= 300; e += 100) {
        struct rt_mixed fit;
        for (size_t i = 0; i < 60; i++)
            y[i] = ldexp(pastes[i], e);
        assert_int_equal(rt_mixed_fit(&fit, y, x, 60, 1, &clusters, NULL, NULL), RT_OK);
        assert_near(ldexp(fit.sd_between, -e), plain.sd_between, 1e-12);
        assert_near(fit.coefficient[0].df, plain.coefficient[0].df, 1e-12);
        assert_near(fit.reml, plain.reml + 2 * 59 * e * log(2), 1e-12);
        rt_mixed_release(&fit);
    }
    rt_mixed_release(&plain);
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(growth_by_age_and_sex),
        cmocka_unit_test(unequal_clusters),
        cmocka_unit_test(batches_of_dyestuff),
        cmocka_unit_test(a_between_variance_of_zero),
        cmocka_unit_test(casks_inside_batches),
        cmocka_unit_test(order_does_not_matter),
        cmocka_unit_test(what_cannot_be_estimated_says_why),
        cmocka_unit_test(aliased_columns_are_set_aside),
        cmocka_unit_test(huge_and_tiny_values),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
