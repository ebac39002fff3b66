/*
 * Agreement, repeatability and kappa. Check values: Bland & Altman (1986, 1999), Shrout & Fleiss (1979), Agresti (2002,
 * sec. 10.5.4) as printed; what clusters of one row must give; undefined cases in words.
 */
#include "../support/data_table.h"
#include "../support/near.h"
#include "ridgetally/stats/agreement.h"
#include "ridgetally/stats/kappa.h"
#include "ridgetally/stats/repeat.h"
#include "ridgetally/stats/signed_rank.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

/* b - a of two columns of a reference table; the caller frees it. */
static double *differences(const char *file, const char *a, const char *b, size_t *n)
{
    double *first = data_numbers(file, a, n);
    double *second = data_numbers(file, b, n);
    for (size_t i = 0; i < *n; i++)
        second[i] -= first[i];
    free(first);
    return second;
}

static void peak_flow_as_printed(void **state)
{
    (void)state;
    size_t n = 0;
    double *d = differences("pefr.csv", "mini1", "wright1", &n);
    struct rt_agreement r;
    assert_int_equal(rt_agreement(d, n, 2, NULL, &r, NULL), RT_OK);
    assert_near(r.bias.value, -2.1, 0.05);
    assert_near(r.sd.value, 38.8, 0.05);
    assert_near(r.bias.standard_error, 9.4, 0.05);
    assert_near(r.bias.lower, -22.0, 0.05);
    assert_near(r.bias.upper, 17.8, 0.05);
    free(d);
}

static void blood_pressure_as_printed(void **state)
{
    (void)state;
    size_t n = 0;
    double *d = differences("sbp.csv", "S1", "J1", &n);
    struct rt_agreement r;
    assert_int_equal(rt_agreement(d, n, RT_AGREEMENT_MULTIPLE, NULL, &r, NULL), RT_OK);
    assert_near(r.bias.value, -16.29, 0.005);
    assert_near(r.sd.value, 19.61, 0.005);
    assert_near(r.lower_limit.value, -54.7, 0.05);
    assert_near(r.upper_limit.value, 22.1, 0.05);
    assert_near(r.lower_limit.upper, -47.5, 0.05);
    assert_near(r.upper_limit.lower, 14.9, 0.05);
    free(d);
}

/* One case per patient: the plain standard deviation, and the CR2 error of a mean is s/sqrt(n). */
static void clusters_of_one_give_the_plain_values(void **state)
{
    (void)state;
    size_t n = 0;
    double *d = differences("pefr.csv", "mini1", "wright1", &n);
    size_t of[17];
    assert_int_equal(n, 17);
    for (size_t i = 0; i < n; i++)
        of[i] = n - 1 - i;
    struct rt_agreement plain;
    struct rt_agreement clustered;
    assert_int_equal(rt_agreement(d, n, 1.96, NULL, &plain, NULL), RT_OK);
    assert_int_equal(rt_agreement(d, n, 1.96, &(struct rt_clusters){of, n}, &clustered, NULL), RT_OK);
    assert_near(clustered.sd.value, plain.sd.value, 1e-12);
    assert_near(clustered.bias.standard_error, plain.bias.standard_error, 1e-12);
    assert_near(clustered.upper_limit.value, plain.upper_limit.value, 1e-11);
    assert_true(isnan(clustered.sd_within));
    free(d);
}

/* Patients differ by a constant, cases within one do not: all variance lies between. And the reverse. */
static void components_of_variance_are_told_apart(void **state)
{
    (void)state;
    const double apart[] = {1, 1, 3, 3, 5, 5};
    const double within[] = {-1, 1, -1, 1, -1, 1};
    const size_t of[] = {0, 0, 1, 1, 2, 2};
    struct rt_clusters clusters = {of, 3};
    struct rt_agreement r;
    assert_int_equal(rt_agreement(apart, 6, 1.96, &clusters, &r, NULL), RT_OK);
    assert_near(r.sd_between, 2, 1e-12); /* means 1, 3, 5 */
    assert_near(r.sd_within, 0, 0);
    assert_int_equal(rt_agreement(within, 6, 1.96, &clusters, &r, NULL), RT_OK);
    assert_near(r.sd_between, 0, 0); /* the estimate is negative: taken as 0 */
    assert_near(r.sd_within, sqrt(2), 1e-12);
    assert_near(r.sd.value, sqrt(2), 1e-12);
}

static void agreement_of_few_is_undefined_in_words(void **state)
{
    (void)state;
    const double d[] = {0.5, 0.5, 0.5};
    const size_t one[] = {0, 0, 0};
    struct rt_agreement r;
    assert_int_equal(rt_agreement(d, 0, 1.96, NULL, &r, NULL), RT_OK);
    assert_true(isnan(r.bias.value) && r.bias.reason != NULL && r.sd.reason != NULL);
    assert_int_equal(rt_agreement(d, 1, 1.96, NULL, &r, NULL), RT_OK);
    assert_near(r.bias.value, 0.5, 0);
    assert_true(isnan(r.bias.lower) && r.bias.reason != NULL && isnan(r.upper_limit.value));
    assert_int_equal(rt_agreement(d, 3, 1.96, NULL, &r, NULL), RT_OK);
    assert_near(r.sd.value, 0, 0);
    assert_true(isnan(r.lower_limit.lower) && r.lower_limit.reason != NULL);
    assert_int_equal(rt_agreement(d, 3, 1.96, &(struct rt_clusters){one, 1}, &r, NULL), RT_OK);
    assert_true(isnan(r.sd.value) && r.sd.reason != NULL && isnan(r.bias.lower));
    assert_int_equal(rt_agreement(d, 3, 0, NULL, &r, NULL), RT_USE);
}

/* Bland & Altman (1999, p. 151-153): three readings by each of two observers. */
static void replicates_as_printed(void **state)
{
    (void)state;
    const char *const a_names[] = {"S1", "S2", "S3"};
    const char *const b_names[] = {"J1", "J2", "J3"};
    double a[255];
    double b[255];
    size_t of[255];
    for (size_t k = 0; k < 3; k++) {
        size_t n = 0;
        double *first = data_numbers("sbp.csv", a_names[k], &n);
        double *second = data_numbers("sbp.csv", b_names[k], &n);
        assert_int_equal(n, 85);
        for (size_t i = 0; i < n; i++) {
            a[85 * k + i] = first[i];
            b[85 * k + i] = second[i];
            of[85 * k + i] = i;
        }
        free(first);
        free(second);
    }
    struct rt_replicate_agreement r;
    assert_int_equal(rt_agreement_constant(a, b, 255, 1.96, &(struct rt_clusters){of, 85}, &r, NULL), RT_OK);
    assert_near(r.variance_b, 37.408, 5e-4);
    assert_near(r.variance_a, 83.141, 5e-4);
    assert_near(r.bias.value, -15.62, 5e-3);
    assert_near(r.sd.value, 20.95, 5e-3);
    assert_near(r.lower_limit.value, -56.68, 5e-3);
    assert_near(r.upper_limit.value, 25.44, 5e-3);
    assert_int_equal(rt_agreement_constant(a, b, 255, 1.96, NULL, &r, NULL), RT_USE);
}

static void depression_as_printed(void **state)
{
    (void)state;
    size_t n = 0;
    double *d = differences("depression.csv", "y", "x", &n);
    struct rt_signed_rank r;
    assert_int_equal(rt_signed_rank(d, n, &r, NULL), RT_OK);
    assert_near(r.positive_ranks, 40, 0);
    assert_near(r.pseudomedian.p, 0.03906, 5e-6);
    assert_near(r.pseudomedian.value, 0.46, 5e-3);
    free(d);
    const double none[] = {0, 0};
    assert_int_equal(rt_signed_rank(none, 2, &r, NULL), RT_OK);
    assert_true(isnan(r.pseudomedian.p) && r.pseudomedian.reason != NULL);
    assert_int_equal(rt_signed_rank(none, 0, &r, NULL), RT_OK);
    assert_true(isnan(r.positive_ranks) && r.pseudomedian.reason != NULL);
}

/* --- repeat -------------------------------------------------------------------------------------------- */

static void shrout_and_fleiss_as_printed(void **state)
{
    (void)state;
    const double ratings[6][4] = {{9, 2, 5, 8}, {6, 1, 3, 2},  {8, 4, 6, 8},
                                  {7, 1, 2, 6}, {10, 5, 6, 9}, {6, 2, 4, 7}};
    double value[24];
    size_t subject[24];
    size_t reader[24];
    for (size_t i = 0; i < 24; i++) {
        subject[i] = i / 4;
        reader[i] = i % 4;
        value[i] = ratings[i / 4][i % 4];
    }
    struct rt_repeat r;
    assert_int_equal(rt_repeat(subject, 6, reader, 4, value, 24, NULL, &r, NULL), RT_OK);
    const double icc[RT_ICC_FORMS] = {0.17, 0.29, 0.71, 0.44, 0.62, 0.91};
    for (int form = 0; form < RT_ICC_FORMS; form++)
        assert_near(r.icc[form].value, icc[form], 5e-3);
    assert_near(r.mean_square[RT_BETWEEN_SUBJECTS], 11.24, 5e-3);
    assert_near(r.mean_square[RT_WITHIN_SUBJECTS], 6.26, 5e-3);
    assert_near(r.mean_square[RT_BETWEEN_READERS], 32.49, 5e-3);
    assert_near(r.mean_square[RT_RESIDUAL], 1.02, 5e-3);
    assert_true(isnan(r.dahlberg) && r.no_dahlberg != NULL);
    /* one reading less: models 2 and 3 are undefined, model 1 is not */
    assert_int_equal(rt_repeat(subject, 6, reader, 4, value, 23, NULL, &r, NULL), RT_OK);
    assert_true(isnan(r.icc[RT_ICC_2_1].value) && r.icc[RT_ICC_2_1].reason != NULL);
    assert_true(isfinite(r.icc[RT_ICC_1_1].value));
    assert_near(r.readings_per_subject, (23 - (5 * 16 + 9) / 23.0) / 5, 1e-14);
}

static void dahlberg_by_hand(void **state)
{
    (void)state;
    /* differences 0.2, -0.4, 0: sqrt(0.2/6); the fourth subject was read once */
    const size_t subject[] = {0, 0, 1, 1, 2, 2, 3};
    const size_t reader[] = {0, 1, 0, 1, 0, 1, 0};
    const double value[] = {1, 1.2, 2, 1.6, 3, 3, 7};
    const size_t patient[] = {0, 0, 0, 0, 1, 1, 2};
    struct rt_repeat r;
    assert_int_equal(rt_repeat(subject, 4, reader, 2, value, 7, NULL, &r, NULL), RT_OK);
    assert_near(r.dahlberg, sqrt(0.2 / 6), 1e-15);
    assert_near(r.within_sd.value, r.dahlberg, 1e-15);
    assert_near(r.detectable_change, 1.96 * sqrt(2) * r.dahlberg, 1e-15);
    assert_int_equal(rt_repeat(subject, 4, reader, 2, value, 7, &(struct rt_clusters){patient, 3}, &r, NULL),
                     RT_OK);
    assert_near(r.within_sd.value, sqrt(0.2 / 6), 1e-15);
    assert_near(r.within_sd.df, 2, 0);
    const size_t torn[] = {0, 1, 0, 0, 1, 1, 2};
    assert_int_equal(rt_repeat(subject, 4, reader, 2, value, 7, &(struct rt_clusters){torn, 3}, &r, NULL),
                     RT_USE);
}

static void readings_that_say_nothing(void **state)
{
    (void)state;
    const size_t subject[] = {0, 0, 1, 1};
    const size_t reader[] = {0, 1, 0, 1};
    const double equal[] = {2, 2, 2, 2};
    const double perfect[] = {1, 1, 2, 2};
    struct rt_repeat r;
    assert_int_equal(rt_repeat(subject, 2, reader, 2, equal, 0, NULL, &r, NULL), RT_OK);
    assert_true(isnan(r.within_sd.value) && r.within_sd.reason != NULL && r.icc[0].reason != NULL);
    assert_int_equal(rt_repeat(subject, 2, reader, 2, equal, 4, NULL, &r, NULL), RT_OK);
    for (int form = 0; form < RT_ICC_FORMS; form++)
        assert_true(isnan(r.icc[form].value) && r.icc[form].reason != NULL);
    assert_int_equal(rt_repeat(subject, 2, reader, 2, perfect, 4, NULL, &r, NULL), RT_OK);
    assert_near(r.icc[RT_ICC_1_1].value, 1, 1e-15);
    assert_near(r.icc[RT_ICC_3_K].value, 1, 1e-15);
    assert_true(isnan(r.icc[RT_ICC_1_1].lower) && r.icc[RT_ICC_1_1].reason != NULL);
    assert_near(r.dahlberg, 0, 0);
}

/* --- kappa --------------------------------------------------------------------------------------------- */

static void carcinoma_as_printed(void **state)
{
    (void)state;
    const unsigned table[4][4] = {{22, 2, 2, 0}, {5, 7, 14, 0}, {0, 2, 36, 0}, {0, 1, 17, 10}};
    size_t a[118];
    size_t b[118];
    size_t n = 0;
    for (size_t i = 0; i < 4; i++)
        for (size_t j = 0; j < 4; j++)
            for (unsigned k = 0; k < table[i][j]; k++) {
                a[n] = i;
                b[n++] = j;
            }
    assert_int_equal(n, 118);
    struct rt_kappa r;
    assert_int_equal(rt_kappa(a, b, n, 4, RT_KAPPA_UNWEIGHTED, NULL, &r, NULL), RT_OK);
    assert_near(r.kappa.value, 0.493, 5e-4);
    assert_near(r.kappa.standard_error, 0.057, 5e-4);
    /* an unused level changes nothing without weights, and the scale of the weights with them */
    struct rt_kappa wider;
    assert_int_equal(rt_kappa(a, b, n, 5, RT_KAPPA_UNWEIGHTED, NULL, &wider, NULL), RT_OK);
    assert_near(wider.kappa.value, r.kappa.value, 1e-15);
    assert_int_equal(rt_kappa(a, b, n, 4, RT_KAPPA_QUADRATIC, NULL, &r, NULL), RT_OK);
    assert_int_equal(rt_kappa(a, b, n, 9, RT_KAPPA_QUADRATIC, NULL, &wider, NULL), RT_OK);
    assert_near(wider.kappa.value, r.kappa.value, 1e-13); /* the scale cancels */
    assert_int_equal(rt_kappa(a, b, n, 3, RT_KAPPA_LINEAR, NULL, &r, NULL), RT_USE);
}

static void kappa_at_its_bounds(void **state)
{
    (void)state;
    const size_t a[] = {0, 1, 1, 2};
    const size_t other[] = {1, 0, 0, 0};
    const size_t same[] = {1, 1, 1, 1};
    struct rt_kappa r;
    assert_int_equal(rt_kappa(a, a, 4, 3, RT_KAPPA_LINEAR, NULL, &r, NULL), RT_OK);
    assert_near(r.kappa.value, 1, 0);
    assert_true(isnan(r.kappa.lower) && r.kappa.reason != NULL && r.kappa.p < 0.05);
    assert_int_equal(rt_kappa(a, other, 4, 3, RT_KAPPA_UNWEIGHTED, NULL, &r, NULL), RT_OK);
    assert_true(r.kappa.value < 0 && r.kappa.lower >= -1);
    assert_int_equal(rt_kappa(same, same, 4, 3, RT_KAPPA_UNWEIGHTED, NULL, &r, NULL), RT_OK);
    assert_true(isnan(r.kappa.value) && r.kappa.reason != NULL);
    assert_int_equal(rt_kappa(a, same, 4, 3, RT_KAPPA_UNWEIGHTED, NULL, &r, NULL), RT_OK);
    assert_near(r.kappa.value, 0, 1e-15);
    assert_true(isnan(r.kappa.p) && r.kappa.reason != NULL);
    assert_int_equal(rt_kappa(a, a, 0, 3, RT_KAPPA_LINEAR, NULL, &r, NULL), RT_OK);
    assert_true(isnan(r.kappa.value) && r.kappa.reason != NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(peak_flow_as_printed),
        cmocka_unit_test(blood_pressure_as_printed),
        cmocka_unit_test(clusters_of_one_give_the_plain_values),
        cmocka_unit_test(components_of_variance_are_told_apart),
        cmocka_unit_test(agreement_of_few_is_undefined_in_words),
        cmocka_unit_test(replicates_as_printed),
        cmocka_unit_test(depression_as_printed),
        cmocka_unit_test(shrout_and_fleiss_as_printed),
        cmocka_unit_test(dahlberg_by_hand),
        cmocka_unit_test(readings_that_say_nothing),
        cmocka_unit_test(carcinoma_as_printed),
        cmocka_unit_test(kappa_at_its_bounds),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
