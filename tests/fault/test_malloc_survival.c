/* Memory that runs out at every moment of the survival methods: each failed allocation must end in RT_MEMORY with words,
 * and nothing may leak or crash. Our own allocations are wrapped by the linker. */
#include "ridgetally/stats/curve_difference.h"
#include "ridgetally/stats/hazard.h"
#include "ridgetally/stats/incidence.h"
#include "ridgetally/stats/life_table.h"
#include "ridgetally/stats/log_rank.h"

#include "../unit/support/survival_data.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

void *__real_malloc(size_t size);
void *__real_calloc(size_t count, size_t size);
void *__real_realloc(void *block, size_t size);
void *__wrap_malloc(size_t size);
void *__wrap_calloc(size_t count, size_t size);
void *__wrap_realloc(void *block, size_t size);

static long until_failure = -1; /* allocations still granted; negative = all */
static long asked;

static bool grants(void)
{
    asked++;
    if (until_failure < 0)
        return true;
    return until_failure-- > 0;
}

void *__wrap_malloc(size_t size)
{
    return grants() ? __real_malloc(size) : NULL;
}

void *__wrap_calloc(size_t count, size_t size)
{
    return grants() ? __real_calloc(count, size) : NULL;
}

void *__wrap_realloc(void *block, size_t size)
{
    return grants() ? __real_realloc(block, size) : NULL;
}

static double x[GEHAN_ROWS * 2];
static double entry[GEHAN_ROWS];

/* The remission trial clustered by pair; two terms, the second without meaning. */
static struct rt_follow_up trial(void)
{
    for (size_t i = 0; i < GEHAN_ROWS; i++) {
        x[2 * i] = (double)gehan_group[i];
        x[2 * i + 1] = (double)(i * 7 % 5);
        entry[i] = i % 3 == 0 ? gehan_time[i] / 2 : 0;
    }
    return (struct rt_follow_up){.n = GEHAN_ROWS,
                                 .time = gehan_time,
                                 .entry = entry,
                                 .event = gehan_event,
                                 .clusters = {gehan_pair, 21}};
}

static enum rt_status run_curves(struct rt_error *error)
{
    struct rt_follow_up data = trial();
    struct rt_survival_curve curve = {0};
    struct rt_curve_difference difference;
    struct rt_estimate mean;
    size_t clusters = 0;
    enum rt_status status = rt_survival_curve(&curve, &data, RT_INTERVAL_DOUBLE_LOG, error);
    if (status == RT_OK)
        status = rt_restricted_mean(&curve, 20, &mean, NULL, error);
    if (status == RT_OK)
        status = rt_curve_difference(&curve, &curve, 1, &difference, error);
    if (status == RT_OK)
        status = rt_restricted_mean_difference(&curve, &curve, 20, &mean, error);
    if (status == RT_OK)
        status = rt_clusters_at_risk(&curve.timeline, &curve.data, 10, &clusters, error);
    rt_survival_curve_release(&curve);
    return status;
}

static enum rt_status run_incidence(struct rt_error *error)
{
    struct rt_follow_up data = trial();
    struct rt_incidence incidence = {0};
    double influence[21];
    enum rt_status status = rt_incidence(&incidence, &data, 2, RT_INTERVAL_DOUBLE_LOG, error);
    if (status == RT_OK)
        status = rt_incidence_influence(&incidence, 1, 10, influence, error);
    rt_incidence_release(&incidence);
    return status;
}

static enum rt_status run_log_rank(struct rt_error *error)
{
    struct rt_log_rank_input input = {
        .data = trial(), .group = gehan_group, .groups = 2, .stratum = gehan_pair, .strata = 21};
    struct rt_log_rank result = {0};
    enum rt_status status = rt_log_rank(&result, &input, error);
    rt_log_rank_release(&result);
    return status;
}

static enum rt_status run_life_table(struct rt_error *error)
{
    struct rt_life_interval *table = NULL;
    size_t count = 0;
    enum rt_status status = rt_life_table(GEHAN_ROWS, gehan_time, gehan_event, 5, &table, &count, error);
    free(table);
    return status;
}

static enum rt_status run_hazard(struct rt_error *error)
{
    struct rt_hazard_model model = {.data = trial(), .terms = 2, .x = x};
    struct rt_hazard fit = {0};
    struct rt_estimate terms[2];
    struct rt_estimate all;
    enum rt_status status = rt_hazard(&fit, &model, error);
    if (status == RT_OK)
        status = rt_hazard_proportional(&model, &fit, NULL, 2, terms, &all, error);
    if (status == RT_OK)
        status = rt_hazard_penalised(&model, terms, NULL, error);
    rt_hazard_release(&fit);
    return status;
}

/* A monotone likelihood takes the road on which directions are proved. */
static enum rt_status run_monotone(struct rt_error *error)
{
    static const double time[] = {1, 2, 3, 4, 5, 6, 7, 8};
    static const int event[] = {1, 1, 1, 0, 0, 0, 0, 0};
    static const double column[] = {1, 1, 1, 1, 0, 0, 0, 0};
    struct rt_hazard_model model = {.data = {.n = 8, .time = time, .event = event}, .terms = 1, .x = column};
    struct rt_hazard fit = {0};
    enum rt_status status = rt_hazard(&fit, &model, error);
    if (status == RT_OK)
        assert_true(fit.monotone);
    rt_hazard_release(&fit);
    return status;
}

static void fail_each(enum rt_status (*run)(struct rt_error *error), long at_least)
{
    struct rt_error error = {0};
    until_failure = -1;
    asked = 0;
    assert_int_equal(run(&error), RT_OK);
    long total = asked;
    assert_true(total >= at_least);
    for (long at = 0; at < total; at++) {
        error = (struct rt_error){0};
        until_failure = at;
        enum rt_status status = run(&error);
        bool refused = until_failure < 0;
        until_failure = -1;
        assert_true(refused);
        if (status != RT_MEMORY || error.message[0] == '\0')
            fail_msg("allocation %ld of %ld: status %d: %s", at, total, (int)status, error.message);
    }
}

static void every_allocation_may_fail(void **state)
{
    (void)state;
    fail_each(run_curves, 20);
    fail_each(run_incidence, 20);
    fail_each(run_log_rank, 20);
    fail_each(run_life_table, 4);
    fail_each(run_hazard, 60);
    fail_each(run_monotone, 30);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_allocation_may_fail)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
