/* The Cox model against print and the survival package for R (version 3.5.3, eps 1e-14, named "R" below), and where it
 * has no estimate. */
#include "ridgetally/stats/hazard.h"

#include "../support/survival_data.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

/* The remission trial with placebo = 1. */
static struct rt_hazard_model remission_trial(double *placebo)
{
    for (size_t i = 0; i < GEHAN_ROWS; i++)
        placebo[i] = (double)gehan_group[i];
    return (struct rt_hazard_model){
        .data = {.n = GEHAN_ROWS, .time = gehan_time, .event = gehan_event}, .terms = 1, .x = placebo};
}

/* Kleinbaum & Klein 2012, Survival Analysis, 3rd ed., ch. 3, model 1 (Breslow ties): 1.509, 0.410, 4.523 (2.027 to
 * 10.094). Therneau & Grambsch 2000 (Efron ties): 1.572, 0.412. */
static void remission_trial_as_printed(void **state)
{
    (void)state;
    double placebo[GEHAN_ROWS];
    struct rt_hazard_model model = remission_trial(placebo);
    struct rt_hazard fit;
    model.ties = RT_TIES_BRESLOW;
    assert_int_equal(rt_hazard(&fit, &model, NULL), RT_OK);
    assert_printed(fit.coefficient[0].value, 1.509, 3);
    assert_printed(fit.coefficient[0].standard_error, 0.410, 3);
    assert_printed(exp(fit.coefficient[0].value), 4.523, 3);
    assert_printed(exp(fit.coefficient[0].lower), 2.027, 3);
    assert_printed(exp(fit.coefficient[0].upper), 10.094, 3);
    rt_hazard_release(&fit);
    model.ties = RT_TIES_EFRON;
    assert_int_equal(rt_hazard(&fit, &model, NULL), RT_OK);
    assert_printed(fit.coefficient[0].value, 1.572, 3);
    assert_printed(fit.coefficient[0].standard_error, 0.412, 3);
    rt_hazard_release(&fit);
}

static void clustered_by_pair(void **state)
{
    (void)state;
    double placebo[GEHAN_ROWS];
    struct rt_hazard_model model = remission_trial(placebo);
    model.data.clusters = (struct rt_clusters){gehan_pair, 21};
    struct rt_hazard fit;
    assert_int_equal(rt_hazard(&fit, &model, NULL), RT_OK);
    assert_near(fit.coefficient[0].value, 1.57212514883, 1e-10); /* R, cluster = pair */
    assert_near(fit.model_error[0], 0.412396717709, 1e-10);
    assert_near(fit.robust_error[0], 0.391136167317, 1e-10);
    assert_near(fit.coefficient[0].standard_error, fit.robust_error[0], 0);
    assert_near(fit.log_likelihood_null, -93.1842699968, 1e-11);
    assert_near(fit.log_likelihood, -85.0084245774, 1e-11);
    assert_near(fit.model_score.statistic, 17.2465367957, 1e-10);
    assert_near(fit.score.statistic, 14.5717210368, 1e-10);
    assert_near(fit.wald.statistic, 16.1554209412, 1e-10);
    assert_int_equal(fit.clusters_present, 21);
    assert_int_equal(fit.clusters_with_events, 21);
    assert_non_null(fit.likelihood_ratio.reason);
    rt_hazard_release(&fit);
}

/* Stratified by pair the estimate is log(18/3): in 21 pairs the placebo patient relapsed first in 18, the other in 3. */
static void stratified_by_pair_it_is_the_sign_test(void **state)
{
    (void)state;
    double placebo[GEHAN_ROWS];
    struct rt_hazard_model model = remission_trial(placebo);
    model.stratum = gehan_pair;
    model.strata = 21;
    struct rt_hazard fit;
    assert_int_equal(rt_hazard(&fit, &model, NULL), RT_OK);
    assert_near(fit.coefficient[0].value, log(18.0 / 3), 1e-10);
    assert_near(fit.coefficient[0].standard_error, sqrt(1.0 / 18 + 1.0 / 3), 1e-10);
    rt_hazard_release(&fit);
}

static void proportional_hazards_test(void **state)
{
    (void)state;
    double placebo[GEHAN_ROWS];
    struct rt_hazard_model model = remission_trial(placebo);
    struct rt_hazard fit;
    struct rt_estimate term;
    struct rt_estimate global;
    assert_int_equal(rt_hazard(&fit, &model, NULL), RT_OK);
    assert_int_equal(rt_hazard_proportional(&model, &fit, NULL, 1, &term, &global, NULL), RT_OK);
    assert_near(term.statistic, 0.0228633780528, 1e-9); /* R, cox.zph */
    assert_near(global.p, 0.879812894957, 1e-9);
    model.data.clusters = (struct rt_clusters){gehan_pair, 21};
    assert_int_equal(rt_hazard_proportional(&model, &fit, NULL, 1, &term, &global, NULL), RT_OK);
    assert_true(global.p > 0 && global.p < 1 && global.statistic != 0.0228633780528);
    rt_hazard_release(&fit);
}

/* Units must not matter: x in units of 1e-9 about a million gives the same fit. */
static void units_of_a_column_do_not_matter(void **state)
{
    (void)state;
    double x[GEHAN_ROWS];
    double odd[GEHAN_ROWS];
    for (size_t i = 0; i < GEHAN_ROWS; i++) {
        x[i] = (double)(i * 37 % 11);
        odd[i] = 1e6 + 1e9 * x[i];
    }
    struct rt_hazard_model model = {
        .data = {.n = GEHAN_ROWS, .time = gehan_time, .event = gehan_event}, .terms = 1, .x = x};
    struct rt_hazard plain;
    struct rt_hazard scaled;
    assert_int_equal(rt_hazard(&plain, &model, NULL), RT_OK);
    model.x = odd;
    assert_int_equal(rt_hazard(&scaled, &model, NULL), RT_OK);
    assert_near(scaled.coefficient[0].value * 1e9, plain.coefficient[0].value, 1e-8);
    assert_near(scaled.coefficient[0].p, plain.coefficient[0].p, 1e-8);
    assert_near(scaled.log_likelihood, plain.log_likelihood, 1e-12);
    rt_hazard_release(&plain);
    rt_hazard_release(&scaled);
}

/* All three failures have x = 1 and outlive nobody with x = 0: the estimate is infinite, the penalised one is not.
 * Penalised values: R, the partial likelihood of coxph with log(information) / 2 added, maximised by optimize(). */
static void monotone_likelihood_is_said_and_the_penalised_estimate_stands(void **state)
{
    (void)state;
    const double time[] = {1, 2, 3, 4, 5, 6, 7, 8};
    const int event[] = {1, 1, 1, 0, 0, 0, 0, 0};
    const double x[] = {1, 1, 1, 1, 0, 0, 0, 0};
    struct rt_hazard_model model = {.data = {.n = 8, .time = time, .event = event}, .terms = 1, .x = x};
    struct rt_hazard fit;
    assert_int_equal(rt_hazard(&fit, &model, NULL), RT_OK);
    assert_true(fit.monotone);
    assert_true(isnan(fit.coefficient[0].value));
    assert_true(strstr(fit.coefficient[0].reason, "monotone") != NULL);
    assert_near(fit.log_likelihood, -log(4.0 * 3 * 2), 1e-9); /* only rows with x = 1 count in the limit */
    struct rt_estimate penalised;
    double maximum = 0;
    assert_int_equal(rt_hazard_penalised(&model, &penalised, &maximum, NULL), RT_OK);
    assert_near(penalised.value, 2.31871764296, 1e-7);
    assert_near(penalised.lower, -0.0433856158651, 1e-7);
    assert_near(penalised.upper, 7.227597095, 1e-7);
    assert_near(penalised.statistic, 3.68226424118, 1e-9);
    assert_near(penalised.p, 0.0549941202201, 1e-8);
    assert_near(maximum, -4.14223495708, 1e-10);
    struct rt_estimate global;
    struct rt_estimate term;
    assert_int_equal(rt_hazard_proportional(&model, &fit, NULL, 1, &term, &global, NULL), RT_OK);
    assert_true(isnan(global.p) && global.reason != NULL);
    rt_hazard_release(&fit);
}

/* A monotone column beside an ordinary one: the ordinary one keeps the estimate it has among the rows that still count
 * (x = 1), where the limit of the likelihood lives. */
static void other_terms_survive_a_monotone_one(void **state)
{
    (void)state;
    const double time[] = {1, 2, 3, 4, 5, 6, 7, 8};
    const int event[] = {1, 1, 1, 0, 0, 0, 0, 0};
    const double x[] = {1, 3, 1, 1, 1, 2, 1, 2, 0, 5, 0, 1, 0, 2, 0, 4};
    const double inner[] = {3, 1, 2, 2};
    struct rt_hazard_model both = {.data = {.n = 8, .time = time, .event = event}, .terms = 2, .x = x};
    struct rt_hazard_model alone = {.data = {.n = 4, .time = time, .event = event}, .terms = 1, .x = inner};
    struct rt_hazard fit;
    struct rt_hazard limit;
    assert_int_equal(rt_hazard(&fit, &both, NULL), RT_OK);
    assert_int_equal(rt_hazard(&limit, &alone, NULL), RT_OK);
    assert_true(fit.monotone && isnan(fit.coefficient[0].value));
    assert_near(fit.coefficient[1].value, limit.coefficient[0].value, 1e-7);
    assert_near(fit.coefficient[1].standard_error, limit.coefficient[0].standard_error, 1e-6);
    rt_hazard_release(&fit);
    rt_hazard_release(&limit);
}

static void redundant_columns_are_named(void **state)
{
    (void)state;
    double x[GEHAN_ROWS * 3];
    for (size_t i = 0; i < GEHAN_ROWS; i++) {
        x[i * 3] = (double)gehan_group[i];
        x[i * 3 + 1] = 7;
        x[i * 3 + 2] = 1 - (double)gehan_group[i];
    }
    struct rt_hazard_model model = {
        .data = {.n = GEHAN_ROWS, .time = gehan_time, .event = gehan_event}, .terms = 3, .x = x};
    struct rt_hazard fit;
    assert_int_equal(rt_hazard(&fit, &model, NULL), RT_OK);
    assert_near(fit.coefficient[0].value, 1.57212514883, 1e-10);
    for (size_t j = 1; j < 3; j++)
        assert_true(isnan(fit.coefficient[j].value) && fit.coefficient[j].reason != NULL);
    assert_near(fit.likelihood_ratio.df, 1, 0);
    rt_hazard_release(&fit);
}

static void few_rows_and_no_event(void **state)
{
    (void)state;
    const double time[] = {1, 2, 3};
    const int none[] = {0, 0, 0};
    const int some[] = {1, 1, 0};
    const double x[] = {2, 1, 3};
    const size_t one[] = {0, 0, 0};
    for (size_t n = 0; n <= 3; n++) {
        struct rt_hazard fit;
        struct rt_estimate penalised;
        struct rt_hazard_model model = {.data = {.n = n, .time = time, .event = none}, .terms = 1, .x = x};
        assert_int_equal(rt_hazard(&fit, &model, NULL), RT_OK);
        assert_non_null(fit.reason);
        assert_non_null(fit.coefficient[0].reason);
        assert_int_equal(rt_hazard_penalised(&model, &penalised, NULL, NULL), RT_OK);
        assert_non_null(penalised.reason);
        rt_hazard_release(&fit);
        model.data.event = some;
        model.data.clusters = (struct rt_clusters){one, 1};
        assert_int_equal(rt_hazard(&fit, &model, NULL), RT_OK);
        assert_true(isnan(fit.coefficient[0].p) && fit.coefficient[0].reason != NULL);
        rt_hazard_release(&fit);
    }
}

static void bad_columns_are_refused(void **state)
{
    (void)state;
    const double time[] = {1};
    const int event[] = {1};
    const double x[] = {NAN};
    struct rt_hazard fit;
    struct rt_hazard_model model = {.data = {.n = 1, .time = time, .event = event}, .terms = 1, .x = x};
    assert_int_equal(rt_hazard(&fit, &model, NULL), RT_USE);
    rt_hazard_release(&fit);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(remission_trial_as_printed),
        cmocka_unit_test(clustered_by_pair),
        cmocka_unit_test(stratified_by_pair_it_is_the_sign_test),
        cmocka_unit_test(proportional_hazards_test),
        cmocka_unit_test(units_of_a_column_do_not_matter),
        cmocka_unit_test(monotone_likelihood_is_said_and_the_penalised_estimate_stands),
        cmocka_unit_test(other_terms_survive_a_monotone_one),
        cmocka_unit_test(redundant_columns_are_named),
        cmocka_unit_test(few_rows_and_no_event),
        cmocka_unit_test(bad_columns_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
