/*
 * Intraclass correlations clustered by patient. Check values: Shrout & Fleiss (1979, table 2 and 4) as printed; the forms
 * without clusters (rt_repeat); a jackknife by hand; undefined cases in words.
 */
#include "../support/near.h"
#include "ridgetally/stats/clustered_icc.h"
#include "ridgetally/stats/jackknife.h"
#include "ridgetally/stats/repeat.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

/* Six subjects, four judges. */
static const double ratings[24] = {9, 2, 5, 8, 6, 1, 3, 2, 8, 4, 6, 8, 7, 1, 2, 6, 10, 5, 6, 9, 6, 2, 4, 7};

static void one_way_as_printed(void **state)
{
    (void)state;
    size_t subject[24], judge[24];
    struct rt_estimate icc;
    struct rt_repeat repeat;
    for (size_t i = 0; i < 24; i++) {
        subject[i] = i / 4;
        judge[i] = i % 4;
    }
    assert_int_equal(rt_clustered_icc(subject, 6, ratings, 24, NULL, &icc, NULL), RT_OK);
    assert_near(icc.value, 0.17, 0.005);
    assert_int_equal(rt_repeat(subject, 6, judge, 4, ratings, 24, NULL, &repeat, NULL), RT_OK);
    assert_near(icc.value, repeat.icc[RT_ICC_1_1].value, 1e-12);
    assert_near(icc.df, 5, 0); /* six subjects left out in turn */
    assert_true(icc.lower < icc.value && icc.value < icc.upper);
}

static void two_judges_as_the_two_way_form(void **state)
{
    (void)state;
    double a[6], b[6], rows[12];
    size_t subject[12], judge[12];
    struct rt_estimate icc;
    struct rt_repeat repeat;
    for (size_t i = 0; i < 6; i++) {
        a[i] = rows[2 * i] = ratings[4 * i] * 1e-9;
        b[i] = rows[2 * i + 1] = ratings[4 * i + 3] * 1e-9;
        subject[2 * i] = subject[2 * i + 1] = i;
        judge[2 * i] = 0;
        judge[2 * i + 1] = 1;
    }
    assert_int_equal(rt_two_reader_icc(a, b, 6, NULL, &icc, NULL), RT_OK);
    assert_int_equal(rt_repeat(subject, 6, judge, 2, rows, 12, NULL, &repeat, NULL), RT_OK);
    assert_near(icc.value, repeat.icc[RT_ICC_2_1].value, 1e-9);
}

/* Films of patients 0 (two), 1 and 2, read twice: 1 2, 4 4, 7 9, 3 3. Analysis of variance by hand, whole and with each
 * patient left out. Subjects' means 1.5 4 8 3, grand mean 4.125: between 2 (6.890625 + 0.015625 + 15.015625 + 1.265625) =
 * 46.375 on 3 df; within 0.5 + 0 + 2 + 0 = 2.5 on 4 df. */
static void jackknife_by_hand(void **state)
{
    (void)state;
    const double value[] = {1, 2, 4, 4, 7, 9, 3, 3};
    const size_t subject[] = {0, 0, 1, 1, 2, 2, 3, 3}, patient[] = {0, 0, 0, 0, 1, 1, 2, 2};
    const struct rt_clusters clusters = {patient, 3};
    const double bms = 46.375 / 3, wms = 2.5 / 4;
    /* without patient 0: means 8 3, between 2 x 2 x 6.25 = 25 on 1, within 2 on 2
     * without patient 1: means 1.5 4 3, grand 17/6, between 2 (9.5/3) = 19/3 on 2, within 0.5 on 3
     * without patient 2: means 1.5 4 8, grand 4.5, between 2 (9 + 0.25 + 12.25) = 43 on 2, within 2.5 on 3 */
    const double left_out[] = {(25.0 - 1.0) / (25.0 + 1.0), (19.0 / 6 - 0.5 / 3) / (19.0 / 6 + 0.5 / 3),
                               (21.5 - 2.5 / 3) / (21.5 + 2.5 / 3)};
    struct rt_estimate icc, expected = rt_jackknife_bounded((bms - wms) / (bms + wms), left_out, 3);
    assert_int_equal(rt_clustered_icc(subject, 4, value, 8, &clusters, &icc, NULL), RT_OK);
    assert_near(icc.value, (bms - wms) / (bms + wms), 1e-13);
    assert_near(icc.standard_error, expected.standard_error, 1e-12);
    assert_near(icc.lower, expected.lower, 1e-12);
    assert_near(icc.upper, expected.upper, 1e-12);
}

static void undefined_in_words(void **state)
{
    (void)state;
    const size_t one[] = {0, 0, 1, 1}, apart[] = {0, 1, 2, 3}, split[] = {0, 1, 0, 1},
                 together[] = {0, 0, 0, 0};
    const double equal[] = {2, 2, 2, 2}, value[] = {1, 2, 3, 5};
    const struct rt_clusters two_patients = {split, 2}, one_patient = {together, 1};
    struct rt_estimate icc;
    assert_int_equal(rt_clustered_icc(NULL, 0, NULL, 0, NULL, &icc, NULL), RT_OK);
    assert_true(isnan(icc.value) && icc.reason != NULL);
    assert_int_equal(rt_clustered_icc(one, 1, value, 2, NULL, &icc, NULL), RT_OK);
    assert_true(isnan(icc.value) && strstr(icc.reason, "two subjects") != NULL);
    assert_int_equal(rt_clustered_icc(apart, 4, value, 4, NULL, &icc, NULL), RT_OK);
    assert_true(isnan(icc.value) && strstr(icc.reason, "twice") != NULL);
    assert_int_equal(rt_clustered_icc(one, 2, equal, 4, NULL, &icc, NULL), RT_OK);
    assert_true(isnan(icc.value) && strstr(icc.reason, "equal") != NULL);
    assert_int_equal(rt_clustered_icc(one, 2, value, 4, &two_patients, &icc, NULL), RT_USE);
    assert_int_equal(rt_clustered_icc(one, 2, value, 4, &one_patient, &icc, NULL), RT_OK);
    assert_true(!isnan(icc.value) && isnan(icc.lower) && icc.reason != NULL);
    assert_int_equal(rt_two_reader_icc(value, equal, 0, NULL, &icc, NULL), RT_OK);
    assert_true(isnan(icc.value) && icc.reason != NULL);
    assert_int_equal(rt_two_reader_icc(value, equal, 1, NULL, &icc, NULL), RT_OK);
    assert_true(isnan(icc.value) && icc.reason != NULL);
    assert_int_equal(rt_two_reader_icc(equal, equal, 4, NULL, &icc, NULL), RT_OK);
    assert_true(isnan(icc.value) && strstr(icc.reason, "equal") != NULL);
    assert_int_equal(rt_two_reader_icc(value, value, 4, NULL, &icc, NULL), RT_OK);
    assert_near(icc.value, 1, 1e-15);
    assert_true(isnan(icc.lower));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_way_as_printed),
        cmocka_unit_test(two_judges_as_the_two_way_form),
        cmocka_unit_test(jackknife_by_hand),
        cmocka_unit_test(undefined_in_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
