/* How cases spread and how alike those of a patient are, reckoned by hand. */
#include "../../../src/audit/spread.h"
#include "../support/near.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

/* Two patients of two: mean 3.5, between 2 * (-2)^2 + 2 * 2^2 = 16 on 1 df, within 4 * 0.5^2 = 1 on 2 df; m0 = 2; likeness
 * (16 - 0.5)/(16 + 0.5); variance 17/3. */
static void two_patients_by_hand(void **state)
{
    (void)state;
    const double values[] = {1.0, 2.0, 5.0, 6.0};
    const size_t patient[] = {0, 0, 1, 1};
    struct spread spread;
    assert_int_equal(spread_of(values, NULL, 1, patient, 4, &spread, NULL), RT_OK);
    assert_near(spread.mean, 3.5, 1e-12);
    assert_near(spread.sd, sqrt(17.0 / 3.0), 1e-12);
    assert_near(spread.icc, 15.5 / 16.5, 1e-12);
    assert_near(spread.per_patient, 2.0, 1e-12);
    assert_int_equal(spread.patients, 2);
}

/* The groups' means are taken out first: what is left is -0.5, 0.5, -0.5, 0.5; patients then do not differ at all. */
static void groups_are_taken_out(void **state)
{
    (void)state;
    const double values[] = {1.0, 2.0, 5.0, 6.0};
    const size_t group[] = {0, 0, 1, 1}, patient[] = {0, 0, 1, 1};
    struct spread spread;
    assert_int_equal(spread_of(values, group, 2, patient, 4, &spread, NULL), RT_OK);
    assert_near(spread.sd, sqrt(0.5), 1e-12);
    assert_near(spread.icc, 0.0, 0.0);
}

static void few_cases(void **state)
{
    (void)state;
    const double values[] = {1e9, 1e9 + 1.0, 3.0};
    const size_t patient[] = {0, 1, 2};
    struct spread spread;
    assert_int_equal(spread_of(values, NULL, 1, patient, 0, &spread, NULL), RT_OK);
    assert_true(isnan(spread.mean) && isnan(spread.sd));
    assert_int_equal(spread_of(values, NULL, 1, patient, 1, &spread, NULL), RT_OK);
    assert_true(isnan(spread.sd));
    assert_near(spread.per_patient, 1.0, 0.0);
    assert_int_equal(spread_of(values, NULL, 1, patient, 3, &spread, NULL), RT_OK);
    assert_near(spread.icc, 0.0, 0.0); /* nobody has two */
    const double same[] = {2.0, 2.0, 2.0, 2.0};
    const size_t pairs[] = {0, 0, 1, 1};
    assert_int_equal(spread_of(same, NULL, 1, pairs, 4, &spread, NULL), RT_OK);
    assert_near(spread.sd, 0.0, 0.0);
    assert_near(spread.icc, 0.0, 0.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(two_patients_by_hand),
        cmocka_unit_test(groups_are_taken_out),
        cmocka_unit_test(few_cases),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
