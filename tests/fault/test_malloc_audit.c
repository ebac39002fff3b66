/* Memory that runs out at every moment of an audit: RT_MEMORY with words, no crash, no leak (run under ASan), and the next
 * audit is the same as the one before. Our own allocations are wrapped by the linker. */
#include "../unit/support/audited.h"

#include "ridgetally/base/text.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

void *__real_malloc(size_t size);
void *__real_calloc(size_t count, size_t size);
void *__real_realloc(void *block, size_t size);
void *__wrap_malloc(size_t size);
void *__wrap_calloc(size_t count, size_t size);
void *__wrap_realloc(void *block, size_t size);

static long until_failure = -1; /* allocations still granted; negative = all, 0 = none */
static long asked;

static int grants(void)
{
    asked++;
    if (until_failure > 0)
        until_failure--;
    return until_failure != 0;
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

/* Thirty implants of 24 patients with every field filled, films at baseline and a year, and a few failures. */
static void load_practice(struct bench *bench)
{
    struct rt_text implants = {0}, followups = {0}, events = {0};
    rt_text_add(&implants,
                "patient,implant,tooth,placed_on,operator,diameter_mm,length_mm,planned_depth_mm,"
                "achieved_depth_mm,depth_source,density_planned,density_found,stalled,stall_height_mm,"
                "stall_torque_ncm,final_torque_ncm,tissue_mm,smoking,loaded_on,loaded\n");
    rt_text_add(&followups,
                "patient,implant,seen_on,visit,film,reader,reading,level_mesial_mm,level_distal_mm\n");
    rt_text_add(&events, "patient,implant,happened_on,event\n");
    for (int i = 0; i < 30; i++) {
        int patient = i % 24;
        const char *smoking[] = {"never", "former", "current"};
        rt_text_format(&implants,
                       "P%02d,i%02d,%d,2023-01-%02d,%c,4,10,1.%d,1.%d,surgery,D%d,D%d,yes,2,30,%s%d,2.%d,%s,"
                       "2023-05-01,yes\n",
                       patient, i, 14 + i / 24, 1 + i % 20, 'A' + i % 2, i % 5, (i * 7) % 10, 2 + i % 2,
                       2 + (i / 2) % 2, i % 9 == 0 ? ">" : "", 40 + i % 20, (i * 3) % 10, smoking[i % 3]);
        rt_text_format(&followups, "P%02d,i%02d,2023-01-%02d,placement,F%02d,R1,1,1.%d,1.%d\n", patient, i,
                       1 + i % 20, i, i % 10, (i * 3) % 10);
        if (i % 4 != 3)
            rt_text_format(&followups, "P%02d,i%02d,2024-01-20,review,G%02d,R1,1,0.%d,0.%d\n", patient, i, i,
                           (i * 7) % 10, (i * 9) % 10);
        else
            rt_text_format(&events, "P%02d,i%02d,2023-08-01,removed\n", patient, i);
    }
    assert_true(load_text(bench, "implants.csv", implants.bytes) == RT_OK && bench->report.rows_refused == 0);
    assert_true(load_text(bench, "followups.csv", followups.bytes) == RT_OK &&
                bench->report.rows_refused == 0);
    assert_true(load_text(bench, "events.csv", events.bytes) == RT_OK && bench->report.rows_refused == 0);
    rt_text_release(&implants);
    rt_text_release(&followups);
    rt_text_release(&events);
}

static enum rt_status audit(struct bench *bench, struct audited *audited, struct rt_error *error)
{
    const struct rt_period period = {day_of("2023-01-01"), day_of("2024-12-31")};
    struct rt_audit_filters filters = rt_no_filters();
    filters.values[RT_FILTER_OPERATOR] = "A,B";
    *audited = (struct audited){.figures = {.rows = NULL}};
    return rt_audit_run(bench->store, &period, &filters, &audited->figures, &audited->cases, &audited->info,
                        error);
}

static void every_allocation_may_fail(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    load_practice(bench);
    assert_int_equal(audit(bench, &audited, &bench->error), RT_OK);
    release_audited(&audited);
    asked = 0;
    assert_int_equal(audit(bench, &audited, &bench->error), RT_OK);
    const long total = asked;
    const size_t rows = audited.figures.count;
    release_audited(&audited);
    assert_true(total > 500 && rows > 500);
    const long step = total / 600 + 1;
    for (long at = 1; at < total; at += at < 100 ? 1 : step) {
        struct rt_error error = {0};
        until_failure = at;
        enum rt_status status = audit(bench, &audited, &error);
        until_failure = -1;
        if (status != RT_MEMORY || error.message[0] == '\0')
            fail_msg("allocation %ld of %ld: status %d: %s", at, total, (int)status, error.message);
        release_audited(&audited);
    }
    assert_int_equal(audit(bench, &audited, &bench->error), RT_OK);
    assert_int_equal(audited.figures.count, rows);
    release_audited(&audited);
    print_message("%ld allocations in an audit of %zu rows\n", total, rows);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(every_allocation_may_fail, open_bench, close_bench),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
