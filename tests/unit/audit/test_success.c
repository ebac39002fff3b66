/* Success criteria, the yearly rate, and what survival hangs on: small practices whose answers are worked out by hand. */
#include "../support/audited.h"
#include "../support/near.h"

#include "ridgetally/audit/criteria.h"
#include "ridgetally/audit/yearly_rate.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

/* --- the yearly rate ------------------------------------------------------------------------------------- */

static struct rt_film film(int day, double level)
{
    return (struct rt_film){.seen_on = day, .mesial_mm = level + 0.1, .distal_mm = level - 0.1};
}

/* 1461 days are four years. From 1.0 to 0.2 mm: -0.2 a year. Sum of (t - 2)^2 = 8: 1.96 * 0.1 / sqrt(8) = 0.06929647. */
static void rate_by_hand(void **state)
{
    (void)state;
    const struct rt_film films[] = {film(1000, 1.0), film(2461, 0.2)};
    const struct rt_yearly_rate rate = rt_yearly_rate(films, 2, 1000, 2461, 0.1);
    assert_int_equal(rate.films, 2);
    assert_near(rate.span_years, 4.0, 1e-12);
    assert_near(rate.change_mm, -0.2, 1e-12);
    assert_near(rate.detectable_mm, 0.0692964646, 1e-9);
    /* a third film near the middle of the line leaves the line */
    const struct rt_film three[] = {film(1000, 1.0), film(1731, 0.6), film(2461, 0.2)};
    assert_near(rt_yearly_rate(three, 3, 0, 9999, 0.1).change_mm, -0.2, 1e-3);
    assert_true(isnan(rt_yearly_rate(three, 3, 0, 9999, NAN).detectable_mm));
}

static void no_rate_from_one_day_or_two_kinds(void **state)
{
    (void)state;
    struct rt_film films[] = {film(1000, 1.0), film(1000, 0.5), film(2461, 0.2)};
    assert_true(isnan(rt_yearly_rate(films, 0, 0, 9999, 0.1).change_mm));
    assert_true(isnan(rt_yearly_rate(films, 1, 0, 9999, 0.1).change_mm));
    assert_true(isnan(rt_yearly_rate(films, 2, 0, 9999, 0.1).change_mm));
    assert_int_equal(rt_yearly_rate(films, 3, 1001, 9999, 0.1).films, 1);
    films[2].contact = true; /* the latest film decides the kind: the two before do not count */
    assert_int_equal(rt_yearly_rate(films, 3, 0, 9999, 0.1).films, 1);
    films[2].contact = false;
    films[2].distal_mm = NAN; /* one side missing is no film of the mean */
    assert_int_equal(rt_yearly_rate(films, 3, 0, 9999, 0.1).films, 2);
}

/* --- judging --------------------------------------------------------------------------------------------- */

static enum rt_judgement by_set(const struct rt_success_facts *facts, int set, const char **reason)
{
    *reason = "";
    return rt_judge(facts, &rt_criteria_sets()[set], reason);
}

static struct rt_success_facts sound(void)
{
    struct rt_success_facts facts = {.loaded = true, .rate_asked = true, .rate_detectable_mm = 0.1};
    for (int i = 0; i < RT_REQUIREMENTS; i++) {
        facts.finding[i] = RT_ANSWER_YES;
        facts.amount_mm[i] = 0.0;
    }
    return facts;
}

/* Sets in order: 1986, 1989, 1994, 1997, 2007, 2017. */
static void limits_are_as_published(void **state)
{
    (void)state;
    const char *reason;
    struct rt_success_facts facts = sound();
    for (int set = 0; set < RT_CRITERIA; set++)
        assert_int_equal(by_set(&facts, set, &reason), RT_MET);
    facts.amount_mm[RT_LOSS_YEARLY] = 0.2; /* less than 0.2, but at most 0.2 in the set of 1997 */
    assert_int_equal(by_set(&facts, 0, &reason), RT_NOT_MET);
    assert_int_equal(by_set(&facts, 1, &reason), RT_NOT_MET);
    assert_int_equal(by_set(&facts, 2, &reason), RT_NOT_MET);
    assert_int_equal(by_set(&facts, 3, &reason), RT_MET);
    assert_int_equal(by_set(&facts, 4, &reason), RT_MET); /* asks for no yearly rate */
    facts.rate_detectable_mm = 0.21;                      /* hidden by the error of reading: neither */
    for (int set = 0; set < 4; set++) {
        assert_int_equal(by_set(&facts, set, &reason), RT_CANNOT_JUDGE);
        assert_string_equal(reason, "yearly rate within reading error");
    }
    facts.rate_asked = false; /* the second year has not come */
    assert_int_equal(by_set(&facts, 0, &reason), RT_MET);
    facts.loaded = false;
    assert_int_equal(by_set(&facts, 0, &reason), RT_CANNOT_JUDGE);
    facts = sound();
    facts.amount_mm[RT_LOSS_FIRST_YEAR] = 1.0;
    assert_int_equal(by_set(&facts, 3, &reason), RT_MET);
    facts.amount_mm[RT_LOSS_FIRST_YEAR] = 1.01;
    assert_int_equal(by_set(&facts, 3, &reason), RT_NOT_MET);
    assert_int_equal(by_set(&facts, 2, &reason), RT_MET);
    facts.amount_mm[RT_LOSS_FIRST_YEAR] = 1.5;
    assert_int_equal(by_set(&facts, 2, &reason), RT_NOT_MET);
    facts.amount_mm[RT_LOSS_SINCE_PLACEMENT] = 1.99;
    assert_int_equal(by_set(&facts, 4, &reason), RT_MET);
    facts.amount_mm[RT_LOSS_SINCE_PLACEMENT] = 2.0;
    assert_int_equal(by_set(&facts, 4, &reason), RT_NOT_MET);
    facts.amount_mm[RT_PROBING_STEADY] = 1.0;
    assert_int_equal(by_set(&facts, 5, &reason), RT_MET);
    facts.amount_mm[RT_PROBING_STEADY] = 2.0;
    assert_int_equal(by_set(&facts, 5, &reason), RT_NOT_MET);
}

/* Missing is neither met nor failed; but what is known to fail fails, whatever is missing. */
static void missing_is_not_judged(void **state)
{
    (void)state;
    const char *reason;
    struct rt_success_facts facts = sound();
    facts.finding[RT_NO_PAIN] = RT_ANSWER_MISSING;
    assert_int_equal(by_set(&facts, 0, &reason), RT_CANNOT_JUDGE);
    assert_string_equal(reason, "pain not recorded");
    assert_int_equal(by_set(&facts, 2, &reason), RT_MET);
    facts.finding[RT_IMMOBILE] = RT_ANSWER_NO;
    assert_int_equal(by_set(&facts, 0, &reason), RT_NOT_MET);
    facts.unknown = "not examined then";
    assert_int_equal(by_set(&facts, 0, &reason), RT_CANNOT_JUDGE);
    facts.unknown = NULL;
    facts.failed = true;
    for (int set = 0; set < RT_CRITERIA; set++)
        assert_int_equal(by_set(&facts, set, &reason), RT_NOT_MET);
}

/* --- a practice of seven implants ------------------------------------------------------------------------ */

static void load_seven(struct bench *bench)
{
    assert_int_equal(load_text(bench, "implants.csv",
                               "patient,implant,tooth,placed_on,loaded_on,length_mm\n"
                               "A,a,16,2024-01-01,2024-04-01,10\nB,a,16,2024-01-01,2024-04-01,10\n"
                               "C,a,16,2024-01-01,2024-04-01,10\nD,a,16,2024-01-01,2024-04-01,10\n"
                               "E,a,16,2024-01-01,2024-04-01,10\nF,a,16,2024-01-01,2024-04-01,10\n"
                               "G,a,16,2024-01-01,2024-04-01,10\n"),
                     RT_OK);
    struct rt_text text = {0};
    rt_text_add(&text, "patient,implant,seen_on,visit,film,level_mesial_mm,level_distal_mm,radiolucency,"
                       "probing_mm,bleeding,suppuration,mobile,pain\n");
    static const struct {
        const char *patient, *loading, *year, *bleeding, *pain;
    } rows[] = {
        {"A", "0.9", "0.8", "no", "no"},  {"B", "0.9", "", "no", "no"},      {"C", "0.9", "0.8", "yes", "no"},
        {"D", "0.9", "0.8", "no", ""},    {"E", "-0.5", "-1.0", "no", "no"}, /* 2.0 mm since placement */
        {"F", "0.9", "-0.1", "no", "no"}, /* 1.0 mm in the first year of loading */
        {"G", "0.9", "-0.3", "no", "no"}, /* 1.2 mm in it */
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const char *p = rows[i].patient;
        rt_text_format(&text, "%s,a,2024-01-05,placement,1,1.0,1.0,,,,,,\n", p);
        rt_text_format(&text, "%s,a,2024-04-01,loading,2,%s,%s,no,3,no,no,no,no\n", p, rows[i].loading,
                       rows[i].loading);
        if (rows[i].year[0] != '\0')
            rt_text_format(&text, "%s,a,2025-04-01,review,3,%s,%s,no,3,%s,no,no,%s\n", p, rows[i].year,
                           rows[i].year, rows[i].bleeding, rows[i].pain);
    }
    assert_int_equal(rt_text_status(&text, NULL), RT_OK);
    assert_int_equal(load_text(bench, "followups.csv", text.bytes), RT_OK);
    assert_int_equal(bench->report.rows_refused, 0);
    rt_text_release(&text);
    assert_int_equal(
        load_text(bench, "events.csv", "patient,implant,happened_on,event\nB,a,2024-06-01,removed\n"), RT_OK);
}

static double counted(const struct audited *audited, const char *measure, const char *grouping,
                      const char *level)
{
    return figure_of(audited, measure, grouping, level)->value;
}

/* Latest visit 2025-04-01, one year after loading: no yearly rate is asked for yet. */
static void seven_implants_by_hand(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    load_seven(bench);
    audit_between(bench, "2025-10-01", "2025-12-31", &audited);
    static const struct {
        const char *set;
        int success, survival;
    } expected[] = {{"Albrektsson 1986", 5, 1}, /* A C E F G; D lacks pain */
                    {"Smith and Zarb 1989", 5, 1}, {"Albrektsson and Isidor 1994", 6, 0}, /* D too */
                    {"Roos 1997", 4, 2},                                                  /* G lost 1.2 mm */
                    {"Pisa consensus 2007", 4, 2},  /* E lost 2.0 mm, D lacks pain */
                    {"World Workshop 2017", 5, 1}}; /* C bleeds; D is not asked for pain */
    char level[96];
    for (size_t i = 0; i < sizeof expected / sizeof expected[0]; i++) {
        const char *group = "window|criteria|class";
        snprintf(level, sizeof level, "all|%s|success", expected[i].set);
        assert_near(counted(&audited, "success_class", group, level), expected[i].success, 0.0);
        snprintf(level, sizeof level, "all|%s|survival", expected[i].set);
        assert_near(counted(&audited, "success_class", group, level), expected[i].survival, 0.0);
        snprintf(level, sizeof level, "all|%s|failure", expected[i].set);
        assert_near(counted(&audited, "success_class", group, level), 1.0, 0.0);
    }
    assert_near(
        counted(&audited, "success_unjudged", "window|criteria|reason", "all|Roos 1997|pain not recorded"),
        1.0, 0.0);
    const char *apart = "window|criteria|not_criteria";
    const struct rt_figure *row =
        figure_of(&audited, "success_disagreement", apart, "all|Albrektsson and Isidor 1994|Roos 1997");
    assert_near(row->value, 1.0, 0.0); /* G; D is judged by one of the two only */
    assert_int_equal(row->n_implants, 6);
    assert_near(counted(&audited, "success_disagreement", apart, "all|Roos 1997|Pisa consensus 2007"), 1.0,
                0.0);
    assert_near(
        counted(&audited, "success_disagreement", apart, "all|Pisa consensus 2007|World Workshop 2017"), 1.0,
        0.0);
    row = figure_of(&audited, "success_share", "window|criteria", "all|Roos 1997");
    assert_int_equal(row->n_implants, 6);
    assert_int_equal(row->n_events, 4);
    assert_int_equal(row->n_due, 7);
    assert_int_equal(row->state, RT_FIGURE_TOO_FEW);
    /* failures: one, early (152 days) */
    assert_near(counted(&audited, "failures", "when", "within 180 days"), 1.0, 0.0);
    assert_near(counted(&audited, "failures", "when", "later"), 0.0, 0.0);
    release_audited(&audited);
}

/* Without films read twice there is no error of reading, and nothing is held against it. */
static void no_repeats_no_error(void **state)
{
    struct bench *bench = *state;
    struct audited audited;
    load_seven(bench);
    audit_between(bench, "2025-10-01", "2025-12-31", &audited);
    const struct rt_figure *row =
        figure_at(&audited, "crest_beyond_error", "window|beyond", "all|lost", 12, "placement", "mean");
    assert_int_equal(row->state, RT_FIGURE_UNDEFINED);
    assert_string_equal(row->remark, "no film was read twice by one reader");
    release_audited(&audited);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rate_by_hand),
        cmocka_unit_test(no_rate_from_one_day_or_two_kinds),
        cmocka_unit_test(limits_are_as_published),
        cmocka_unit_test(missing_is_not_judged),
        cmocka_unit_test_setup_teardown(seven_implants_by_hand, open_bench, close_bench),
        cmocka_unit_test_setup_teardown(no_repeats_no_error, open_bench, close_bench),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
