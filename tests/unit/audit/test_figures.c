/* Figures of small stores against sums made by hand (shown where they are used). One implant per patient: CR2 is then
 * the plain t interval, and every figure can be checked with pencil and paper. */
#include "../support/audited.h"
#include "../support/near.h"

#include "ridgetally/base/text.h"
#include "ridgetally/store/query.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include <gsl/gsl_errno.h>

static void load(struct bench *bench, const char *name, struct rt_text *text)
{
    assert_int_equal(rt_text_status(text, NULL), RT_OK);
    if (load_text(bench, name, text->bytes) != RT_OK)
        fail_msg("%s: %s", name, bench->error.message);
    assert_int_equal(bench->report.rows_refused, 0);
    rt_text_release(text);
}

/* Ten implants 0.1, 0.2, ..., 1.0 mm deeper than planned: mean 0.55; sum of squared deviations 0.825, sd
 * sqrt(0.825/9) = 0.3027650354; half width t(9) 2.2621571628 * sd / sqrt(10) = 0.2165854. */
static void load_depths(struct bench *bench)
{
    struct rt_text text = {0};
    rt_text_add(&text, "patient,implant,tooth,placed_on,operator,planned_depth_mm,achieved_depth_mm\n");
    for (int i = 1; i <= 10; i++)
        rt_text_format(&text, "P%02d,a,16,2025-08-%02d,A,1.0,%.1f\n", i, i, 1.0 + i / 10.0);
    load(bench, "implants.csv", &text);
}

static void depth_by_hand(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    load_depths(bench);
    audit_between(bench, "2025-07-01", "2025-09-30", &audited);
    const struct rt_figure *bias = figure_of(&audited, "depth_bias", "window", "period");
    assert_int_equal(bias->n_implants, 10);
    assert_int_equal(bias->n_patients, 10);
    assert_int_equal(bias->n_due, 10);
    assert_near(bias->value, 0.55, 1e-12);
    assert_near(bias->lower, 0.55 - 0.2165854, 1e-6);
    assert_near(bias->upper, 0.55 + 0.2165854, 1e-6);
    assert_near(figure_of(&audited, "depth_sd", "window", "period")->value, 0.3027650354, 1e-9);
    /* 0.55 - 1.96 * 0.3027650354 */
    assert_near(figure_of(&audited, "depth_limit_lower", "window", "period")->value, -0.0434194694, 1e-9);
    /* 0.1 to 0.5 are within 0.5, the last one exactly; ten implants are too few for a percentage */
    const struct rt_figure *within = figure_of(&audited, "depth_within_half", "window", "12 months");
    assert_int_equal(within->n_events, 5);
    assert_int_equal(within->state, RT_FIGURE_TOO_FEW);
    assert_true(isnan(within->value));
    assert_near(figure_of(&audited, "depth_bias", "window|operator", "period|A")->value, 0.55, 1e-12);
    assert_false(has_figure(&audited, "depth_operator_difference", "period|A")); /* nobody to differ from */
    const struct rt_case_series *cases = rt_find_case_series(&audited.cases, "depth_agreement");
    assert_int_equal(cases->count, 10);
    assert_near(cases->points[0].x, 1.05, 1e-12);
    assert_near(cases->points[0].y, 0.1, 1e-12);
    release_audited(&audited);
}

/* The same implants seen from later: none in the quarter, ten in the 12 months; from 2027 none at all. */
static void windows_follow_the_period(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    load_depths(bench);
    audit_between(bench, "2026-04-01", "2026-06-30", &audited);
    assert_int_equal(figure_of(&audited, "depth_bias", "window", "period")->n_implants, 0);
    assert_int_equal(figure_of(&audited, "depth_bias", "window", "period")->state, RT_FIGURE_TOO_FEW);
    assert_int_equal(figure_of(&audited, "depth_bias", "window", "12 months")->n_implants, 10);
    release_audited(&audited);
    audit_between(bench, "2025-01-01", "2025-07-31", &audited); /* before any of them */
    assert_near(figure_of(&audited, "recorded", "window", "all")->value, 0.0, 0.0);
    assert_near(figure_of(&audited, "excluded", "reason", "placed after the period")->value, 10.0, 0.0);
    release_audited(&audited);
}

/* Twenty-four implants of 24 patients placed on 2020-01-01. P01 removed on day 180 (2020-06-29), P02 on day 181, P03
 * last seen on day 60 (2020-03-01), the others seen on 2022-01-05 (day 735). Cut 2022-01-10. */
static void load_survival(struct bench *bench)
{
    struct rt_text implants = {0}, followups = {0}, events = {0};
    rt_text_add(&implants, "patient,implant,tooth,placed_on,loaded_on,loaded\n");
    rt_text_add(&followups, "patient,implant,seen_on\n");
    for (int i = 1; i <= 24; i++) {
        rt_text_format(&implants, "P%02d,a,16,2020-01-01,%s,%s\n", i, i > 3 ? "2020-04-10" : "",
                       i > 3 ? "yes" : "no");
        if (i > 3)
            rt_text_format(&followups, "P%02d,a,2022-01-05\n", i);
    }
    rt_text_add(&followups, "P03,a,2020-03-01\n");
    rt_text_add(&events, "patient,implant,happened_on,event\n"
                         "P01,a,2020-06-29,removed\n"
                         "P02,a,2020-06-30,removed\n");
    load(bench, "implants.csv", &implants);
    load(bench, "followups.csv", &followups);
    load(bench, "events.csv", &events);
}

/* Last sighting: 23 at risk on day 180 (P03 left on day 60): 22/23 * 21/22 = 21/23. Recall: P03 stays to day 425:
 * 23/24 * 22/23 = 22/24. Worst case: P03 fails on day 61: 21/24. Best case: 22/24. */
static void survival_by_hand(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    load_survival(bench);
    audit_between(bench, "2021-10-01", "2022-01-10", &audited);
    static const char *const censorings[] = {"last sighting", "recall", "worst case", "best case"};
    static const double survival[] = {21.0 / 23.0, 22.0 / 24.0, 21.0 / 24.0, 22.0 / 24.0};
    static const long at_risk[] = {21, 22, 21, 22}; /* at one year */
    for (size_t i = 0; i < 4; i++) {
        const struct rt_figure *row = figure_at(&audited, "at_risk", "censoring", censorings[i], 1.0, "", "");
        assert_near(row->value, (double)at_risk[i], 0.0);
        row = figure_at(&audited, "survival", "censoring", censorings[i], 1.0, "", "");
        assert_int_equal(row->n_implants, at_risk[i]);
        assert_near(row->value, survival[i], 1e-12);
        assert_true(row->lower < row->value && row->value < row->upper);
    }
    /* 181 days are 181/365.25 years */
    const struct rt_figure *step =
        figure_at(&audited, "survival_curve", "censoring", "last sighting", 181.0 / 365.25, "", "");
    assert_near(step->value, 21.0 / 23.0, 1e-12);
    assert_int_equal(step->n_patients, 22);
    assert_int_equal(step->n_events, 2);
    assert_near(figure_of(&audited, "status", "status", "removed")->value, 2.0, 0.0);
    assert_near(figure_of(&audited, "status", "status", "lost")->value, 1.0, 0.0);
    assert_near(figure_of(&audited, "status", "status", "in place")->value, 21.0, 0.0);
    /* days from the last sighting (none since placement) to the removals: 180 and 181; too few to say */
    assert_int_equal(figure_of(&audited, "discovery_gap", "window", "all")->n_implants, 2);
    release_audited(&audited);
}

/* Twenty implants placed on 2020-01-01, twelve last seen on day 200, eight on day 390; one of the eight removed on day
 * 250; cut on day 400. At one year 7 are at risk by sightings: too few to say; the step on day 250 (8 at risk, 7/8) keeps its
 * value, to be drawn grey. With the recall interval all 19 are. */
static void few_at_risk_are_too_few_to_say(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    struct rt_text implants = {0}, followups = {0}, events = {0};
    rt_text_add(&implants, "patient,implant,tooth,placed_on\n");
    rt_text_add(&followups, "patient,implant,seen_on\n");
    for (int i = 1; i <= 20; i++) {
        rt_text_format(&implants, "P%02d,a,16,2020-01-01\n", i);
        if (i > 1)
            rt_text_format(&followups, "P%02d,a,%s\n", i, i > 8 ? "2020-07-19" : "2021-01-25");
    }
    rt_text_add(&events, "patient,implant,happened_on,event\nP01,a,2020-09-07,removed\n");
    load(bench, "implants.csv", &implants);
    load(bench, "followups.csv", &followups);
    load(bench, "events.csv", &events);
    audit_between(bench, "2021-01-01", "2021-02-04", &audited);
    const struct rt_figure *row = figure_at(&audited, "survival", "censoring", "last sighting", 1.0, "", "");
    assert_int_equal(row->n_patients, 7);
    assert_int_equal(row->state, RT_FIGURE_TOO_FEW);
    assert_true(isnan(row->value));
    row = figure_at(&audited, "survival_curve", "censoring", "last sighting", 250.0 / 365.25, "", "");
    assert_int_equal(row->n_patients, 8);
    assert_int_equal(row->state, RT_FIGURE_TOO_FEW);
    assert_near(row->value, 7.0 / 8.0, 1e-12);
    row = figure_at(&audited, "survival", "censoring", "recall", 1.0, "", "");
    assert_int_equal(row->n_patients, 19);
    assert_near(row->value, 19.0 / 20.0, 1e-12);
    release_audited(&audited);
}

/* Life table, last sighting, first year: 24 enter, 2 fail, 1 leaves: exposed 23.5, survival 1 - 2/23.5. */
static void life_table_by_hand(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    load_survival(bench);
    audit_between(bench, "2021-10-01", "2022-01-10", &audited);
    const char *seen = "last sighting";
    assert_near(figure_at(&audited, "life_table_entering", "censoring", seen, 0.0, "", "")->value, 24.0, 0.0);
    assert_near(figure_at(&audited, "life_table_withdrawn", "censoring", seen, 0.0, "", "")->value, 1.0, 0.0);
    assert_near(figure_at(&audited, "life_table_failed", "censoring", seen, 0.0, "", "")->value, 2.0, 0.0);
    assert_near(figure_at(&audited, "life_table_exposed", "censoring", seen, 0.0, "", "")->value, 23.5, 0.0);
    assert_near(figure_at(&audited, "life_table_cumulative", "censoring", seen, 0.0, "", "")->value,
                21.5 / 23.5, 1e-12);
    release_audited(&audited);
}

/* Of 24, P01 failed by day 180, P02 was in place on it, P03 is unknown: 1 of 23 known, bounds 1 and 2 of 24. */
static void early_failure_by_hand(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    load_survival(bench);
    audit_between(bench, "2021-10-01", "2022-01-10", &audited);
    const struct rt_figure *early = figure_of(&audited, "early_failure", "window", "all");
    assert_int_equal(early->n_due, 24);
    assert_int_equal(early->n_implants, 23);
    assert_int_equal(early->n_events, 1);
    assert_near(early->value, 1.0 / 23.0, 1e-12);
    assert_near(figure_of(&audited, "early_failure_bound", "window|bound", "all|best case")->value,
                1.0 / 24.0, 1e-12);
    assert_near(figure_of(&audited, "early_failure_bound", "window|bound", "all|worst case")->value,
                2.0 / 24.0, 1e-12);
    assert_int_equal(figure_of(&audited, "early_failure", "window", "12 months")->n_due,
                     0); /* closed in 2020 */
    /* before loading (day 100) nobody fails; exact upper limit 1 - 0.025^(1/24) on 24 patients */
    const struct rt_figure *before = figure_at(&audited, "failure_before_loading", "censoring|cause",
                                               "last sighting|failure", 0.25, "", "");
    assert_int_equal(before->n_events, 0);
    assert_near(before->value, 0.0, 0.0);
    assert_near(before->upper, 1.0 - pow(0.025, 1.0 / 24.0), 1e-12);
    assert_string_equal(before->method, "exact_conservative");
    release_audited(&audited);
}

/* Everything after 2020-06-15 is unknown to a period that ends there: no failure yet. */
static void later_events_do_not_exist_yet(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    load_survival(bench);
    audit_between(bench, "2020-01-01", "2020-06-15", &audited);
    assert_near(figure_of(&audited, "status", "status", "removed")->value, 0.0, 0.0);
    assert_near(figure_of(&audited, "status", "status", "in place")->value, 24.0, 0.0);
    assert_int_equal(figure_of(&audited, "early_failure", "window", "all")->n_due, 0); /* day 180 is 06-29 */
    release_audited(&audited);
}

/* Ten implants placed on 2024-01-01 lose 0.1 to 1.0 mm by 2025-01-01; an eleventh has one side unread, a twelfth
 * changes its kind of level. The 12-month window closes on day 547, 2025-07-01. */
static void load_crest(struct bench *bench)
{
    struct rt_text implants = {0}, followups = {0};
    rt_text_add(&implants, "patient,implant,tooth,placed_on,achieved_depth_mm,tissue_mm\n");
    rt_text_add(&followups,
                "patient,implant,seen_on,visit,film,level_mesial_mm,level_distal_mm,level_kind\n");
    for (int i = 1; i <= 12; i++) {
        rt_text_format(&implants, "P%02d,a,16,2024-01-01,1.5,2.0\n", i);
        rt_text_format(&followups, "P%02d,a,2024-01-01,placement,F%d,1.0,1.2,crest\n", i, i);
    }
    for (int i = 1; i <= 10; i++)
        rt_text_format(&followups, "P%02d,a,2025-01-01,review,G%d,%.1f,%.1f,crest\n", i, i, 1.0 - i / 10.0,
                       1.2 - i / 10.0);
    rt_text_add(&followups, "P11,a,2025-01-01,review,G11,0.3,,crest\n"
                            "P12,a,2025-01-01,review,G12,-0.2,-0.9,contact\n");
    load(bench, "implants.csv", &implants);
    load(bench, "followups.csv", &followups);
}

static void crest_by_hand(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    load_crest(bench);
    audit_between(bench, "2025-07-01", "2025-09-30", &audited);
    const struct rt_figure *mean =
        figure_at(&audited, "crest_change", "window", "12 months", 12.0, "placement", "mean");
    assert_int_equal(mean->n_due, 12);
    assert_int_equal(mean->n_implants, 10);
    assert_near(mean->value, -0.55, 1e-12);
    assert_near(mean->lower, -0.55 - 0.2165854, 1e-6); /* as in depth_by_hand */
    /* the mesial side of P11 counts: (-5.5 - 0.7) / 11 */
    const struct rt_figure *mesial =
        figure_at(&audited, "crest_change", "window", "12 months", 12.0, "placement", "mesial");
    assert_int_equal(mesial->n_implants, 11);
    assert_near(mesial->value, -6.2 / 11.0, 1e-12);
    assert_near(figure_at(&audited, "crest_change", "window|depth_class|tissue_class",
                          "12 months|1 to 2 mm|2 to <3 mm", 12.0, "placement", "mean")
                    ->value,
                -0.55, 1e-12);
    /* due 12 = read 10 + unread 2 */
    assert_near(
        figure_at(&audited, "crest_flow", "window|status", "12 months|read", 12.0, "placement", "")->value,
        10.0, 0.0);
    assert_near(
        figure_at(&audited, "crest_flow", "window|status", "12 months|unread", 12.0, "placement", "")->value,
        2.0, 0.0);
    /* exposure needs no baseline: P12 shows 0.9 on its worse side, beyond 0.5; the ten none (levels 0.0 and up) */
    const struct rt_figure *exposed =
        figure_at(&audited, "exposure_share", "window", "12 months", 12.0, "placement", "worse");
    assert_int_equal(exposed->n_implants, 11);
    assert_int_equal(exposed->n_events, 1);
    release_audited(&audited);
}

/* The window closes on 2025-07-01: a period that ends the day before has none due. */
static void a_window_counts_once_it_has_closed(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    load_crest(bench);
    audit_between(bench, "2025-04-01", "2025-06-30", &audited);
    assert_near(figure_at(&audited, "crest_flow", "window|status", "all|due", 12.0, "placement", "")->value,
                0.0, 0.0);
    release_audited(&audited);
    audit_between(bench, "2025-04-01", "2025-07-01", &audited);
    assert_near(figure_at(&audited, "crest_flow", "window|status", "all|due", 12.0, "placement", "")->value,
                12.0, 0.0);
    release_audited(&audited);
    audit_between(bench, "2026-07-01", "2026-07-31", &audited); /* closed more than 12 months ago */
    assert_near(
        figure_at(&audited, "crest_flow", "window|status", "12 months|due", 12.0, "placement", "")->value,
        0.0, 0.0);
    release_audited(&audited);
}

/* Placement levels at or below 0 though the platform was set 1.5 mm deep: change cannot be told, exposure can. */
static void levels_recorded_as_first_contact_cannot_tell(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    struct rt_text implants = {0}, followups = {0};
    rt_text_add(&implants, "patient,implant,tooth,placed_on,achieved_depth_mm\n");
    rt_text_add(&followups, "patient,implant,seen_on,visit,film,level_mesial_mm,level_distal_mm\n");
    for (int i = 1; i <= 12; i++) {
        rt_text_format(&implants, "P%02d,a,16,2024-01-01,1.5\n", i);
        rt_text_format(&followups,
                       "P%02d,a,2024-01-01,placement,F%d,0.0,0.0\nP%02d,a,2025-01-01,review,G%d,-0.5,-0.6\n",
                       i, i, i, i);
    }
    load(bench, "implants.csv", &implants);
    load(bench, "followups.csv", &followups);
    audit_between(bench, "2025-07-01", "2025-09-30", &audited);
    const struct rt_figure *mean =
        figure_at(&audited, "crest_change", "window", "12 months", 12.0, "placement", "mean");
    assert_int_equal(mean->state, RT_FIGURE_UNDEFINED);
    assert_true(isnan(mean->value));
    assert_non_null(strstr(mean->remark, "cannot tell"));
    assert_int_equal(
        figure_at(&audited, "exposure_median", "window", "12 months", 12.0, "placement", "worse")->n_implants,
        12);
    assert_null(rt_find_case_series(&audited.cases, "crest_change"));
    release_audited(&audited);
}

/* Travel 1 to 10 mm (stall height 0 to 9, depth 1), stall at 20, gain 10 * travel + e with e = -1, +1, -1, ...: slope 10 +
 * 5/82.5 with intercept, 10 + 5/385 through the origin. An eleventh is capped, a twelfth never stalled. */
static void torque_slope_by_hand(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    struct rt_text text = {0};
    rt_text_add(&text,
                "patient,implant,tooth,placed_on,achieved_depth_mm,stalled,stall_height_mm,stall_torque_ncm,"
                "final_torque_ncm,length_mm,diameter_mm\n");
    for (int i = 1; i <= 10; i++)
        rt_text_format(&text, "P%02d,a,16,2025-08-01,1.0,yes,%d,20,%d,12,4\n", i, i - 1,
                       20 + 10 * i + (i % 2 == 0 ? 1 : -1));
    rt_text_add(&text, "P11,a,16,2025-08-01,1.0,yes,3,20,>50,12,4\n"
                       "P12,a,16,2025-08-01,1.0,no,,,45,12,4\n");
    load(bench, "implants.csv", &text);
    audit_between(bench, "2025-07-01", "2025-09-30", &audited);
    const struct rt_figure *slope = figure_of(&audited, "torque_per_mm", "window", "period");
    assert_int_equal(slope->n_implants, 10);
    assert_near(slope->value, 10.0 + 5.0 / 82.5, 1e-9);
    assert_true(slope->lower < 10.0 && slope->upper > 10.1);
    assert_non_null(strstr(slope->remark, "1 with a capped final torque left out"));
    assert_near(figure_of(&audited, "torque_per_mm_origin", "window", "period")->value, 10.0 + 5.0 / 385.0,
                1e-9);
    assert_int_equal(figure_of(&audited, "torque_per_mm_censored", "window", "period")->n_implants, 11);
    assert_near(figure_of(&audited, "torque_slope_cases", "window|status", "period|usable")->value, 11.0,
                0.0);
    assert_near(figure_of(&audited, "torque_slope_cases", "window|status", "period|never stalled")->value,
                1.0, 0.0);
    assert_near(figure_of(&audited, "torque_capped", "window", "period")->value, 1.0, 0.0);
    release_audited(&audited);
}

/* 19.99 is low, 20 is not, >15 may be either and is left out, >25 is certainly not. */
static void low_torque_leaves_out_what_a_cap_hides(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    struct rt_text text = {0};
    rt_text_add(
        &text,
        "patient,implant,tooth,placed_on,final_torque_ncm\n"
        "P1,a,16,2025-08-01,19.99\nP2,a,16,2025-08-01,20\nP3,a,16,2025-08-01,>15\nP4,a,16,2025-08-01,>25\n");
    load(bench, "implants.csv", &text);
    audit_between(bench, "2025-07-01", "2025-09-30", &audited);
    const struct rt_figure *low = figure_of(&audited, "low_torque", "window", "period");
    assert_int_equal(low->n_implants, 3);
    assert_int_equal(low->n_events, 1);
    assert_near(figure_of(&audited, "low_torque_outcome", "window|outcome", "period|in place")->value, 1.0,
                0.0);
    release_audited(&audited);
}

static void an_empty_store_has_figures_without_numbers(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    audit_between(bench, "2025-07-01", "2025-09-30", &audited);
    assert_near(figure_of(&audited, "recorded", "window", "all")->value, 0.0, 0.0);
    assert_int_equal(figure_of(&audited, "depth_bias", "window", "period")->state, RT_FIGURE_TOO_FEW);
    assert_int_equal(audited.info.implants_recorded, 0);
    assert_string_equal(audited.info.period_name, "2025Q3");
    release_audited(&audited);
}

/* One, two and three implants of one patient: never a number about them but counts. */
static void one_patient_is_too_few_for_anything(void **state)
{
    struct bench *bench = *state;
    for (int n = 1; n <= 3; n++) {
        struct audited audited;
        struct rt_text text = {0}, followups = {0};
        rt_text_add(&text,
                    "patient,implant,tooth,placed_on,planned_depth_mm,achieved_depth_mm,final_torque_ncm,"
                    "density_found,density_planned,tissue_mm,smoking,depth_source\n");
        rt_text_format(&text, "P1,i%d,%d,2024-01-01,1.0,1.2,35,D2,D3,2.5,never,surgery\n", n, 13 + n);
        rt_text_format(&followups,
                       "patient,implant,seen_on,visit,film,level_mesial_mm,level_distal_mm\n"
                       "P1,i%d,2024-01-02,placement,F%d,1.2,1.1\nP1,i%d,2025-01-02,review,G%d,0.4,0.3\n",
                       n, n, n, n);
        load(bench, n == 1 ? "a.csv" : n == 2 ? "b.csv" : "c.csv", &text);
        load(bench, n == 1 ? "d.csv" : n == 2 ? "e.csv" : "f.csv", &followups);
        audit_between(bench, "2024-01-01", "2025-12-31", &audited);
        for (size_t i = 0; i < audited.figures.count; i++) {
            const struct rt_figure *row = &audited.figures.rows[i];
            bool count = strcmp(row->method, "count") == 0 || strcmp(row->method, "count_share") == 0 ||
                         strcmp(row->method, "follow_up_index") == 0 || strcmp(row->method, "setting") == 0 ||
                         strcmp(row->method, "life_table") == 0 ||
                         strcmp(row->method, "criterion") == 0; /* of a source, not of the patient */
            if (!count && !isnan(row->value) && strcmp(row->measure, "comparisons") != 0)
                fail_msg("%s %s has a value", row->measure, row->level);
        }
        assert_int_equal(figure_of(&audited, "depth_bias", "window", "period")->n_implants, n);
        release_audited(&audited);
    }
}

/* Twenty implants, none lost: survival 1 with the exact limit 0.025^(1/20) at the patients at risk. */
static void no_failure_gives_exact_limits(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    struct rt_text implants = {0}, followups = {0};
    rt_text_add(&implants, "patient,implant,tooth,placed_on\n");
    rt_text_add(&followups, "patient,implant,seen_on\n");
    for (int i = 1; i <= 20; i++) {
        rt_text_format(&implants, "P%02d,a,16,2020-01-01\n", i);
        rt_text_format(&followups, "P%02d,a,2022-01-05\n", i);
    }
    load(bench, "implants.csv", &implants);
    load(bench, "followups.csv", &followups);
    audit_between(bench, "2021-10-01", "2022-01-10", &audited);
    const struct rt_figure *row = figure_at(&audited, "survival", "censoring", "recall", 1.0, "", "");
    assert_near(row->value, 1.0, 0.0);
    assert_near(row->lower, pow(0.025, 1.0 / 20.0), 1e-12);
    assert_near(row->upper, 1.0, 0.0);
    assert_string_equal(row->method, "exact_conservative");
    const struct rt_figure *rate = figure_of(&audited, "failure_rate", "window", "12 months");
    assert_near(rate->value, 0.0, 0.0);
    /* at risk in the 12 months from 2021-01-11 to the last sighting on 2022-01-05: 360 days each */
    assert_near(rate->upper, 100.0 * -log(0.025) / (20.0 * 360.0 / 365.25), 1e-9);
    release_audited(&audited);
}

static void the_hash_knows_the_data_not_the_order_of_loading(void **state)
{
    struct bench *bench = *state, *other;
    struct audited first, second;
    struct rt_text a = {0}, b = {0};
    const char *head = "patient,implant,tooth,placed_on,planned_depth_mm,achieved_depth_mm\n";
    assert_int_equal(open_bench((void **)&other), 0);
    rt_text_format(&a, "%sP1,a,16,2025-08-01,1.0,1.1\nP2,a,26,2025-08-02,1.0,1.2\n", head);
    rt_text_format(&b, "%sP2,a,26,2025-08-02,1.0,1.2\nP1,a,16,2025-08-01,1.0,1.1\n", head);
    load(bench, "implants.csv", &a);
    load(other, "implants.csv", &b);
    audit_between(bench, "2025-07-01", "2025-09-30", &first);
    audit_between(other, "2025-07-01", "2025-09-30", &second);
    assert_string_equal(first.info.data_hash, second.info.data_hash);
    assert_int_equal(strlen(first.info.data_hash), 64);
    release_audited(&second);
    struct rt_text more = {0};
    rt_text_add(&more, "patient,implant,seen_on\nP1,a,2025-09-01\n");
    load(other, "followups.csv", &more);
    audit_between(other, "2025-07-01", "2025-09-30", &second);
    assert_string_not_equal(first.info.data_hash, second.info.data_hash);
    release_audited(&second);
    audit_between(other, "2025-07-01", "2025-08-31", &second); /* the visit is after this period */
    assert_string_equal(first.info.data_hash, second.info.data_hash);
    release_audited(&first);
    release_audited(&second);
    close_bench((void **)&other);
}

static void audits_are_recorded_once(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    load_depths(bench);
    audit_between(bench, "2025-07-01", "2025-09-30", &audited);
    for (int i = 0; i < 2; i++)
        assert_int_equal(rt_record_audit(bench->store, &audited.info, &audited.figures,
                                         "2025-10-02T08:00:00Z", &bench->error),
                         RT_OK);
    struct rt_text expected = {0};
    rt_text_format(&expected, "1|%zu\n", audited.figures.count);
    assert_string_equal(
        rows_of(bench, "SELECT count(DISTINCT audit.id), count(*) FROM audit JOIN figure ON audit_id = id"),
        expected.bytes);
    assert_string_equal(
        rows_of(bench, "SELECT printf('%.2f', value), n_implants, n_events IS NULL, state FROM figure "
                       "WHERE measure = 'depth_bias' AND level = 'period' "
                       "AND unit_of_analysis = 'implant'"),
        "0.55|10|1|ok\n");
    rt_text_release(&expected);
    release_audited(&audited);
}

/* A section that the schema does not know keeps the whole audit out of the store; the constraints hold again afterwards. */
static void an_audit_with_an_unknown_section_is_not_recorded(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    struct rt_query *query = NULL;
    load_depths(bench);
    audit_between(bench, "2025-07-01", "2025-09-30", &audited);
    struct rt_figure *row = &audited.figures.rows[audited.figures.count / 2];
    const char *section = row->section;
    row->section = "weather";
    assert_int_equal(
        rt_record_audit(bench->store, &audited.info, &audited.figures, "2025-10-02T08:00:00Z", &bench->error),
        RT_USE);
    assert_non_null(strstr(bench->error.message, "weather"));
    row->section = section;
    assert_string_equal(rows_of(bench, "SELECT count(*) FROM audit"), "0\n");
    assert_string_equal(rows_of(bench, "SELECT count(*) FROM figure"), "0\n");
    assert_int_equal(rt_query_open_text(bench->store,
                                        "INSERT INTO audit (first_day, last_day, data_hash, program, "
                                        "recorded_at) VALUES (2, 1, '', '', '')",
                                        &query, &bench->error),
                     RT_OK);
    assert_int_not_equal(rt_query_run(query, &bench->error), RT_OK);
    rt_query_close(query);
    release_audited(&audited);
}

/* Names of operators are text like any other: separators, quotes and markup stay as they are. */
/* Labels have up to 500 bytes: two that differ in the last one only are two operators. */
static void long_operator_names_stay_apart(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    struct rt_text text = {0};
    char name[501], level[520];
    memset(name, 'x', sizeof name - 1);
    name[500] = '\0';
    rt_text_add(&text, "patient,implant,tooth,placed_on,operator,planned_depth_mm,achieved_depth_mm\n");
    for (int i = 0; i < 2; i++) {
        name[499] = (char)('a' + i);
        rt_text_format(&text, "P%d,a,16,2025-08-01,%s,1.0,1.2\n", i, name);
    }
    load(bench, "implants.csv", &text);
    audit_between(bench, "2025-07-01", "2025-09-30", &audited);
    snprintf(level, sizeof level, "period|%s", name);
    assert_int_equal(figure_of(&audited, "depth_bias", "window|operator", level)->n_implants, 1);
    release_audited(&audited);
}

static void odd_operator_names_stay_text(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    struct rt_text text = {0};
    rt_text_add(&text, "patient,implant,tooth,placed_on,operator,planned_depth_mm,achieved_depth_mm\n"
                       "P1,a,16,2025-08-01,\"=cmd|'<b>\",1.0,1.2\nP2,a,16,2025-08-01,$(x),1.0,1.2\n");
    load(bench, "implants.csv", &text);
    audit_between(bench, "2025-07-01", "2025-09-30", &audited);
    assert_int_equal(figure_of(&audited, "depth_bias", "window|operator", "period|=cmd|'<b>")->n_implants, 1);
    assert_int_equal(figure_of(&audited, "depth_bias", "window|operator", "period|$(x)")->n_implants, 1);
    release_audited(&audited);
}

/* Undo keeps a recorded audit and marks it; the next audit of the period, and of no other, says so. */
static void an_audit_that_lost_a_file_is_restated(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    load_depths(bench);
    assert_int_equal(load_text(bench, "more.csv", "patient,implant,tooth,placed_on\nP99,a,16,2025-08-20\n"),
                     RT_OK);
    audit_between(bench, "2025-07-01", "2025-09-30", &audited);
    assert_false(audited.info.restated);
    assert_int_equal(
        rt_record_audit(bench->store, &audited.info, &audited.figures, "2999-01-01T00:00:00Z", &bench->error),
        RT_OK);
    release_audited(&audited);
    audit_between(bench, "2025-07-01", "2025-09-30", &audited);
    assert_false(audited.info.restated);
    release_audited(&audited);
    assert_int_equal(rt_undo_batch(bench->store, 2, &bench->error), RT_OK);
    audit_between(bench, "2025-07-01", "2025-09-30", &audited);
    assert_true(audited.info.restated);
    release_audited(&audited);
    audit_between(bench, "2025-04-01", "2025-09-30", &audited);
    assert_false(audited.info.restated);
    release_audited(&audited);
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(an_audit_that_lost_a_file_is_restated, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(depth_by_hand, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(windows_follow_the_period, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(survival_by_hand, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(few_at_risk_are_too_few_to_say, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(life_table_by_hand, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(early_failure_by_hand, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(later_events_do_not_exist_yet, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(crest_by_hand, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(a_window_counts_once_it_has_closed, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(levels_recorded_as_first_contact_cannot_tell, open_bench,
                                        close_bench),
        cmocka_unit_test_setup_teardown(torque_slope_by_hand, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(low_torque_leaves_out_what_a_cap_hides, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(an_empty_store_has_figures_without_numbers, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(one_patient_is_too_few_for_anything, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(no_failure_gives_exact_limits, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(the_hash_knows_the_data_not_the_order_of_loading, open_bench,
                                        close_bench),
        cmocka_unit_test_setup_teardown(audits_are_recorded_once, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(an_audit_with_an_unknown_section_is_not_recorded, open_bench,
                                        close_bench),
        cmocka_unit_test_setup_teardown(long_operator_names_stay_apart, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(odd_operator_names_stay_text, open_bench, close_bench),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
