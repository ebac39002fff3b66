/* The same figures on one core and on two, of the sample practice: bit for bit, again and again. */
#include "../../../src/audit/run_sections.h"
#include "../support/audited.h"

#include "ridgetally/base/file.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include <gsl/gsl_errno.h>

struct run {
    struct rt_figure_list figures;
    struct rt_earlier_changes changes;
};

static int load_sample(void **state)
{
    static const char *const files[] = {"implants.csv", "followups.csv", "events.csv"};
    if (open_bench(state) != 0)
        return -1;
    struct bench *bench = *state;
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
        char name[64], *bytes = NULL;
        size_t length = 0;
        snprintf(name, sizeof name, "sample-data/%s", files[i]);
        assert_int_equal(rt_read_file(name, 1 << 24, &bytes, &length, NULL), RT_OK);
        enum rt_status status = load_text(bench, files[i], bytes);
        free(bytes);
        assert_true(status == RT_OK || status == RT_PARTIAL);
    }
    return 0;
}

static void run_on(struct bench *bench, const struct rt_cohort *cohort, enum rt_cores cores, struct run *run)
{
    *run = (struct run){.figures = {0}};
    struct rt_rows rows = {.list = &run->figures, .error = &bench->error, .status = RT_OK};
    rt_run_sections(bench->store, cohort, cores, &run->changes, &rows);
    assert_int_equal(rows.status, RT_OK);
}

static void assert_same_text(const char *a, const char *b)
{
    assert_string_equal(a == NULL ? "" : a, b == NULL ? "" : b);
}

static void assert_same_rows(const struct rt_figure_list *one, const struct rt_figure_list *two)
{
    assert_int_equal(one->count, two->count);
    for (size_t i = 0; i < one->count; i++) {
        const struct rt_figure *a = &one->rows[i], *b = &two->rows[i];
        const double numbers[2][6] = {{a->at, a->value, a->lower, a->upper, a->p, a->p_adjusted},
                                      {b->at, b->value, b->lower, b->upper, b->p, b->p_adjusted}};
        assert_int_equal(rt_compare_figure_keys(a, b), 0);
        assert_memory_equal(numbers[0], numbers[1], sizeof numbers[0]);
        assert_true(a->n_implants == b->n_implants && a->n_patients == b->n_patients &&
                    a->n_events == b->n_events && a->n_due == b->n_due && a->state == b->state &&
                    a->event_patients == b->event_patients && a->other_patients == b->other_patients);
        assert_same_text(a->remark, b->remark);
        assert_same_text(a->method, b->method);
        assert_same_text(a->unit, b->unit);
    }
}

static void release_run(struct run *run)
{
    rt_release_figures(&run->figures);
    for (int i = 0; i < RT_EARLIER_PERIODS; i++)
        rt_release_figures(&run->changes.since[i]);
}

static void two_cores_give_the_figures_of_one(void **state)
{
    struct bench *bench = *state;
    struct rt_period period;
    struct rt_cohort cohort;
    struct run one, two;
    assert_int_equal(rt_default_period(bench->store, &period, NULL), RT_OK);
    assert_int_equal(rt_load_cohort(bench->store, &period, &cohort, NULL), RT_OK);
    run_on(bench, &cohort, RT_ONE_CORE, &one);
    assert_true(one.figures.count > 2000 && one.changes.since[RT_YEAR_AGO].count > 20);
    for (int again = 0; again < 3; again++) {
        run_on(bench, &cohort, RT_TWO_CORES, &two);
        assert_same_rows(&one.figures, &two.figures);
        for (int i = 0; i < RT_EARLIER_PERIODS; i++)
            assert_same_rows(&one.changes.since[i], &two.changes.since[i]);
        release_run(&two);
    }
    release_run(&one);
    rt_release_cohort(&cohort);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(two_cores_give_the_figures_of_one, load_sample, close_bench)};
    gsl_set_error_handler_off(); /* as the program does */
    return cmocka_run_group_tests(tests, NULL, NULL);
}
