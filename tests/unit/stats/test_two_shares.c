/*
 * Two shares. Check values: Fisher's tea tasting (3 of 4 v 1 of 4: two-sided p 0.4857); Newcombe (1998), Statistics in
 * Medicine 17:873, table II, method 10: 56/70 v 48/80 gives 0.0524 to 0.3339.
 */
#include "ridgetally/stats/printed.h"
#include "ridgetally/stats/two_shares.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "../support/near.h"

static void published_tables(void **state)
{
    (void)state;
    struct rt_two_shares tea = rt_two_shares(3, 4, 1, 4);
    assert_near(tea.exact.p, 34.0 / 70, 1e-14);
    assert_near(tea.odds_ratio.value, 9, 1e-14);
    struct rt_two_shares newcombe = rt_two_shares(56, 70, 48, 80);
    assert_near(newcombe.difference.value, 0.2, 1e-15);
    assert_near(newcombe.difference.lower, 0.0524, 5e-5);
    assert_near(newcombe.difference.upper, 0.3339, 5e-5);
}

static void far_tails_keep_their_digits(void **state)
{
    (void)state;
    /* all of 40 against none of 40: the two extreme tables of C(80, 40) */
    struct rt_two_shares apart = rt_two_shares(40, 40, 0, 40);
    double tables = exp(lgamma(81) - 2 * lgamma(41));
    assert_near(apart.exact.p, 2 / tables, 1e-11 * 2 / tables);
    assert_near(apart.chi_square.statistic, 80, 1e-10);
    assert_true(isnan(apart.odds_ratio.value) && apart.odds_ratio.reason != NULL);
    assert_true(isnan(apart.risk_ratio.lower) && apart.risk_ratio.reason != NULL);
    struct rt_two_shares huge = rt_two_shares(5e8, 1e9, 5e8, 1e9);
    assert_near(huge.exact.p, 1, 1e-12);
    assert_near(huge.chi_square.statistic, 0, 1e-9);
}

static void empty_tables_are_said(void **state)
{
    (void)state;
    assert_non_null(rt_two_shares(0, 0, 1, 2).exact.reason);
    struct rt_two_shares none = rt_two_shares(0, 5, 0, 7);
    assert_non_null(none.chi_square.reason);
    assert_near(none.exact.p, 1, 0);
    assert_near(none.difference.value, 0, 0);
    struct rt_two_shares all = rt_two_shares(5, 5, 7, 7);
    assert_near(all.risk_ratio.value, 1, 0);
    assert_true(isnan(all.risk_ratio.upper) && all.risk_ratio.reason != NULL);
}

static void printed_limits(void **state)
{
    (void)state;
    struct rt_estimate ratio = rt_from_limits(2, 1, 4, true, INFINITY);
    assert_near(ratio.standard_error, log(4) / 2 / RT_Z_95, 1e-15);
    assert_near(ratio.statistic, RT_Z_95, 1e-14);
    assert_near(ratio.p, 0.05, 1e-14);
    assert_non_null(rt_from_limits(2, 4, 1, true, INFINITY).reason);
    assert_non_null(rt_from_limits(2, -1, 4, true, INFINITY).reason);
    assert_null(rt_from_limits(-2, -3, -1, false, 9).reason);
    assert_near(rt_from_limits(2.262157162740992, 0, 4.524314325481984, false, 9).p, 0.05, 1e-12);
    assert_non_null(rt_from_limits(2, 1, 3, false, 0).reason);
}

static void printed_statistics(void **state)
{
    (void)state;
    assert_near(rt_from_statistic(RT_PRINTED_Z, -RT_Z_95, NAN, NAN).p, 0.05, 1e-14);
    assert_near(rt_from_statistic(RT_PRINTED_T, tan(0.475 * 3.14159265358979324), 1, NAN).p, 0.05, 1e-13);
    assert_near(rt_from_statistic(RT_PRINTED_F, 4, 1, 7).p, rt_from_statistic(RT_PRINTED_T, 2, 7, NAN).p,
                1e-14);
    assert_near(rt_from_statistic(RT_PRINTED_CHI_SQUARE, 4, 2, NAN).p, exp(-2), 1e-14);
    assert_near(rt_from_statistic(RT_PRINTED_CORRELATION, 0.6, 4, NAN).statistic, 1.5, 1e-14);
    assert_non_null(rt_from_statistic(RT_PRINTED_CORRELATION, 1, 4, NAN).reason);
    assert_non_null(rt_from_statistic(RT_PRINTED_F, -1, 1, 2).reason);
    assert_non_null(rt_from_statistic(RT_PRINTED_F, 1, 1, NAN).reason);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_tables),      cmocka_unit_test(far_tails_keep_their_digits),
        cmocka_unit_test(empty_tables_are_said), cmocka_unit_test(printed_limits),
        cmocka_unit_test(printed_statistics),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
