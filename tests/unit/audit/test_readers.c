/* Section readers: what counts as a re-reading and as two readers, and errors worked out by hand. */
#include "../support/audited.h"
#include "../support/near.h"

#include "ridgetally/audit/reliability.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static void load(struct bench *bench, const char *name, const char *text)
{
    if (load_text(bench, name, text) != RT_OK)
        fail_msg("%s: %s", name, bench->error.message);
}

/* Twelve patients with an implant each, two for the first. Reader A reads every baseline film at 1.0 and again at 1.1 (even
 * patients) or 0.9; reader B once, 0.2 higher than A's first. */
static void load_readings(struct bench *bench, int patients)
{
    struct rt_text implants = {0}, films = {0};
    rt_text_add(&implants, "patient,implant,tooth,placed_on\nP00,b,26,2024-01-10\n");
    rt_text_add(
        &films,
        "patient,implant,seen_on,film,reader,reading,level_mesial_mm,level_distal_mm,level_kind,readable\n"
        "P00,b,2024-01-10,g,A,1,0.5,1.5,crest,yes\n" /* read once */
        "P00,b,2024-03-10,h,A,1,0.5,,crest,yes\n"    /* one side: no level */
        "P00,b,2024-03-10,h,A,2,0.5,,crest,yes\n"
        "P00,b,2024-04-10,i,A,1,0.5,1.0,crest,yes\n" /* other kind: no pair of readers */
        "P00,b,2024-04-10,i,B,1,0.0,0.0,contact,yes\n"
        "P00,b,2024-05-10,k,,1,0.5,1.0,crest,yes\n" /* nobody named: no pair with A */
        "P00,b,2024-05-10,k,A,1,0.3,0.4,crest,yes\n"
        "P00,b,2025-01-10,z,A,1,0.9,0.4,crest,yes\n" /* after the period */
        "P00,b,2025-01-10,z,A,2,0.1,0.4,crest,yes\n");
    for (int i = 0; i < patients; i++) {
        double again = i % 2 == 0 ? 1.1 : 0.9;
        rt_text_format(&implants, "P%02d,a,16,2024-01-10\n", i);
        rt_text_format(&films, "P%02d,a,2024-01-10,f,A,1,0.8,1.2,crest,yes\n", i);
        rt_text_format(&films, "P%02d,a,2024-01-10,f,A,2,%.1f,%.1f,crest,yes\n", i, again, again);
        rt_text_format(&films, "P%02d,a,2024-01-10,f,B,1,1.4,1.0,crest,yes\n", i);
    }
    load(bench, "implants.csv", implants.bytes);
    load(bench, "followups.csv", films.bytes);
    rt_text_release(&implants);
    rt_text_release(&films);
}

static const struct rt_figure *row(const struct audited *audited, const char *measure, const char *grouping,
                                   const char *level)
{
    return figure_at(audited, measure, grouping, level, NAN, "", "");
}

static void errors_by_hand(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    struct rt_reading_error published;
    load_readings(bench, 12);
    audit_between(bench, "2024-01-01", "2024-12-31", &audited);
    assert_near(row(&audited, "films_read", "", "")->value, 12 + 3, 0);
    assert_near(row(&audited, "films_read", "reader", "not recorded")->value, 1, 0);
    const struct rt_figure *again = row(&audited, "films_reread", "", "");
    assert_near(again->value, 12, 0);
    assert_int_equal(again->n_patients, 12);
    /* every pair differs by 0.1: sqrt(12 x 0.01 / 24) */
    assert_near(row(&audited, "reread_error", "", "")->value, sqrt(0.005), 1e-12);
    assert_near(row(&audited, "reread_dahlberg", "", "")->value, sqrt(0.005), 1e-12);
    assert_near(row(&audited, "reread_detectable", "", "")->value, 1.96 * 0.1, 1e-12);
    assert_near(row(&audited, "reread_bias", "", "")->value, 0, 1e-12);
    /* standard deviation of six 0.1 and six -0.1: 0.1 sqrt(12/11) */
    assert_near(row(&audited, "reread_limit_upper", "reader", "A")->value, 1.96 * 0.1 * sqrt(12.0 / 11),
                1e-12);
    assert_false(has_figure(&audited, "reread_error", "B"));
    /* the same number as the crest chapter marks changes by */
    assert_int_equal(
        rt_reading_error(bench->store, day_of("2024-12-31"), RT_ALL_FILMS, &published, &bench->error), RT_OK);
    assert_near(row(&audited, "reread_error", "", "")->value, sqrt(published.variance), 1e-12);
    assert_near(row(&audited, "reread_detectable", "", "")->value, rt_detectable_change_mm(&published),
                1e-12);
    /* B is always 0.2 above A's first reading; the film of two kinds and the one without a name are no pairs */
    const struct rt_figure *both = row(&audited, "films_two_readers", "reader|other_reader", "A|B");
    assert_near(both->value, 12, 0);
    assert_near(row(&audited, "between_bias", "reader|other_reader", "A|B")->value, 0.2, 1e-12);
    assert_near(row(&audited, "between_error", "", "")->value, 0.2 / sqrt(2), 1e-12);
    assert_near(row(&audited, "films_two_readers", "", "")->value, 12, 0);
    release_audited(&audited);
}

static void few_patients_are_too_few(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    load_readings(bench, 9);
    audit_between(bench, "2024-01-01", "2024-12-31", &audited);
    assert_near(row(&audited, "films_reread", "", "")->value, 9, 0);
    assert_int_equal(row(&audited, "reread_error", "", "")->state, RT_FIGURE_TOO_FEW);
    assert_true(isnan(row(&audited, "between_bias", "reader|other_reader", "A|B")->value));
    release_audited(&audited);
}

static void no_reading_is_no_error(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    load(bench, "implants.csv", "patient,implant,placed_on\nP1,a,2024-01-10\n");
    audit_between(bench, "2024-01-01", "2024-12-31", &audited);
    assert_near(row(&audited, "films_read", "", "")->value, 0, 0);
    assert_near(row(&audited, "films_reread", "", "")->value, 0, 0);
    assert_int_equal(row(&audited, "reread_error", "", "")->state, RT_FIGURE_TOO_FEW);
    release_audited(&audited);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(errors_by_hand, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(few_patients_are_too_few, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(no_reading_is_no_error, open_bench, close_bench),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
