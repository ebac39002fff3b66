/* What stands out. Rows are made by hand; which of them are screened, clear and named follows from the rule in the header. */
#include "ridgetally/figure/standing_out.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

struct line {
    const char *section, *measure, *grouping, *level;
    double value, p, adjusted;
    const char *baseline, *site, *analysis;
};

static struct rt_figure row_of(const struct line *line)
{
    struct rt_figure row = rt_empty_figure();
    row.section = line->section;
    row.measure = line->measure;
    row.grouping = line->grouping;
    row.level = line->level;
    row.value = line->value;
    row.p = line->p;
    row.p_adjusted = line->adjusted;
    row.baseline = line->baseline == NULL ? "" : line->baseline;
    row.site = line->site == NULL ? "" : line->site;
    row.unit_of_analysis = line->analysis == NULL ? "implant" : line->analysis;
    return row;
}

struct bench {
    struct rt_figure_list figures;
    struct rt_standing_out out;
};

static void look_through(struct bench *bench, const struct line *lines, size_t count)
{
    *bench = (struct bench){0};
    for (size_t i = 0; i < count; i++) {
        const struct rt_figure row = row_of(&lines[i]);
        assert_int_equal(rt_add_figure(&bench->figures, &row, NULL), RT_OK);
    }
    assert_int_equal(rt_find_standing_out(&bench->figures, &bench->out, NULL), RT_OK);
}

static void clean(struct bench *bench)
{
    rt_release_standing_out(&bench->out);
    rt_release_figures(&bench->figures);
}

#define LOOK(bench, lines) look_through(bench, lines, sizeof(lines) / sizeof(lines)[0])

static size_t place_of(const struct bench *bench, size_t named)
{
    assert_true(named < bench->out.named_count);
    return (size_t)(bench->out.named[named] - bench->figures.rows);
}

static void nothing_stands_out_of_nothing(void **state)
{
    (void)state;
    struct bench bench;
    look_through(&bench, NULL, 0);
    assert_int_equal(bench.out.screened, 0);
    assert_int_equal(bench.out.clear_count, 0);
    assert_int_equal(bench.out.named_count, 0);
    clean(&bench);
    static const struct line lines[] = {
        {"depth", "depth_bias", "window", "12 months", 0.2, NAN, NAN, 0, 0, 0}};
    LOOK(&bench, lines);
    assert_int_equal(bench.out.screened, 0);
    clean(&bench);
}

/* Each line has a p as small as can be and is no question of its own; the last three are. */
static void what_is_no_question_is_not_screened(void **state)
{
    (void)state;
    static const struct line lines[] = {
        {"stability", "density_kappa", "window|density_scale", "12 months|D", 0.5, 1e-9, 1e-9, 0, 0, 0},
        {"stability", "density_kappa_quadratic", "window|density_scale", "12 months|D", 0.6, 1e-9, 1e-9, 0, 0,
         0},
        {"stability", "torque_density_tau_b", "window|density_scale", "12 months|D", -0.4, 1e-9, 1e-9, 0, 0,
         0},
        {"stability", "torque_density_spearman", "window|density_scale", "period|D", -0.4, 1e-9, 1e-9, 0, 0,
         0},
        {"survival", "proportional_hazards", "censoring|comparison", "last sighting|smoking", 9, 1e-9, 1e-9,
         0, 0, 0},
        {"survival", "survival_comparison", "censoring|comparison", "recall|smoking", 9, 1e-9, 1e-9, 0, 0, 0},
        {"crest", "crest_model", "window|term", "all|intercept", -0.4, 1e-9, 1e-9, "placement", "mean", 0},
        {"crest", "crest_model", "window|term", "all|tissue_mm", 0.3, 1e-9, 1e-9, "placement", "worse", 0},
        {"crest", "crest_model", "window|term", "all|tissue_mm", 0.3, 1e-9, 1e-9, "loading", "mean", 0},
        {"crest", "crest_model_cr2", "window|term", "all|tissue_mm", 0.3, 1e-9, 1e-9, "placement", "mean", 0},
        {"crest", "level_model", "window|term", "all|tissue_mm", 0.3, 1e-9, 1e-9, "placement", "mean", 0},
        {"rules", "rule_sum_slope", "rule|term", "sum|depth", -0.3, 1e-9, 1e-9, 0, 0, 0},
        {"survival", "survival_comparison", "censoring|comparison", "last sighting|smoking", 9, 1e-9, 1e-9, 0,
         0, "patient"},
        /* operators may be called like a cohort or a term */
        {"operators", "difference_within_half", "operator", "period", 0.2, 1e-9, 1e-9, 0, 0, 0},
        {"operators", "difference_low_torque", "operator", "recall", 0.2, 1e-9, 1e-9, 0, 0, 0},
        {"operators", "difference_depth_distance", "operator", "intercept", 0.2, 1e-9, 1e-9, 0, 0, 0},
    };
    struct bench bench;
    LOOK(&bench, lines);
    assert_int_equal(bench.out.screened, 3);
    assert_int_equal(bench.out.named_count, 3);
    for (size_t i = 0; i < 3; i++)
        assert_int_equal(place_of(&bench, i), 13 + i);
    clean(&bench);
}

static void a_hazard_ratio_needs_the_test_of_its_group(void **state)
{
    (void)state;
    struct line lines[] = {
        {"survival", "survival_comparison", "censoring|comparison", "last sighting|torque_class", 8, 0.045,
         0.3, 0, 0, 0},
        {"survival", "survival_comparison", "censoring|comparison", "last sighting|smoking", 9, 0.001, 0.01,
         0, 0, 0},
        {"survival", "survival_comparison", "censoring|comparison", "last sighting|density_found=D", 9, 0.2,
         0.4, 0, 0, 0},
        {"survival", "survival_comparison", "censoring|comparison", "last sighting|density_found=LZ", 9,
         0.002, 0.02, 0, 0, 0},
        {"survival", "hazard_ratio", "censoring|torque_class", "last sighting|>=50 Ncm", 0.15, 0.0002, 0.003,
         0, 0, 0},
        {"survival", "hazard_ratio", "censoring|smoking", "last sighting|former", 1.8, 0.004, 0.04, 0, 0, 0},
        {"survival", "hazard_ratio", "censoring|smoking", "last sighting|current", 2.8, 0.003, 0.03, 0, 0, 0},
        {"survival", "hazard_ratio", "censoring|density_found", "last sighting|D4", 2.8, 0.003, 0.03, 0, 0,
         0},
        {"survival", "hazard_ratio", "censoring|density_found", "last sighting|LZ4", 2.8, 0.003, 0.06, 0, 0,
         0},
    };
    struct bench bench;
    LOOK(&bench, lines);
    assert_int_equal(bench.out.screened, 9);
    assert_int_equal(bench.out.clear_count, 4); /* two tests, both ratios of smoking */
    assert_int_equal(bench.out.named_count, 2);
    assert_int_equal(place_of(&bench, 0), 3); /* no ratio of it is clear: the test speaks */
    assert_int_equal(place_of(&bench, 1), 6); /* the clearer ratio, before the test, which has a smaller p */
    clean(&bench);
    lines[0].adjusted = 0.049;
    LOOK(&bench, lines);
    assert_int_equal(bench.out.named_count, 3);
    assert_int_equal(place_of(&bench, 1), 4);
    clean(&bench);
    lines[0].level = "recall|torque_class"; /* the other way of ending follow-up does not vouch for it */
    LOOK(&bench, lines);
    assert_int_equal(bench.out.named_count, 2);
    clean(&bench);
}

static void one_row_speaks_for_each_question(void **state)
{
    (void)state;
    static const struct line lines[] = {
        {"depth", "depth_operator_difference", "window|operator", "12 months|A", 0.2, 0.001, 0.003, 0, 0, 0},
        {"crest", "crest_model", "window|term", "all|achieved_depth_mm", -0.3, 1e-7, 1e-6, "placement",
         "mean", 0},
        {"crest", "crest_model", "window|term", "12 months|tissue_mm", 0.3, 1e-8, 1e-7, "placement", "mean",
         0},
        {"crest", "crest_model", "window|term", "12 months|smoking=current", -0.3, 0.04, 0.05, "placement",
         "mean", 0},
        {"operators", "difference_depth_error", "operator", "A", -0.4, 1e-5, 1e-4, 0, 0, 0},
        {"operators", "difference_depth_error", "operator", "B", -0.4, 2e-5, 1e-4, 0, 0, 0},
        {"operators", "difference_depth_distance", "operator", "A", -0.4, 0.001, 0.01, 0, 0, 0},
        {"operators", "difference_depth_distance", "operator", "B", -0.4, 0.0009, 0.01, 0, 0, 0},
        {"rules", "rule_verdict", "rule", "one", 1, 0.001, 0.01, 0, 0, 0},
        {"rules", "rule_verdict", "rule", "two", -1, 0.001, 0.01, 0, 0, 0},
        {"rules", "rule_verdict", "rule", "three", 0, 0.001, 0.01, 0, 0, 0}, /* cannot tell */
        {"yardsticks", "low_torque_change", "change", "last period", 0.1, 0.01, 0.03, 0, 0, 0},
        {"yardsticks", "low_torque_change", "change", "a year ago", 0.1, 0.01, 0.03, 0, 0, 0},
    };
    static const size_t named[] = {2, 4, 7, 8, 9, 11};
    struct bench bench;
    LOOK(&bench, lines);
    assert_int_equal(bench.out.screened, 13);
    assert_int_equal(bench.out.clear_count, 11);
    assert_int_equal(bench.out.named_count, sizeof named / sizeof named[0]);
    for (size_t i = 0; i < sizeof named / sizeof named[0]; i++)
        assert_int_equal(place_of(&bench, i), named[i]);
    clean(&bench);
}

static void rows_not_ok_are_not_clear(void **state)
{
    (void)state;
    static const struct line line = {
        "operators", "difference_low_torque", "operator", "A", 0.2, 1e-9, 1e-9, 0, 0, 0};
    static const enum rt_figure_state states[] = {RT_FIGURE_TOO_FEW, RT_FIGURE_UNDEFINED, RT_FIGURE_WITHHELD};
    for (size_t i = 0; i < sizeof states / sizeof states[0]; i++) {
        struct rt_figure_list figures = {0};
        struct rt_standing_out out;
        struct rt_figure row = row_of(&line);
        row.state = states[i];
        assert_int_equal(rt_add_figure(&figures, &row, NULL), RT_OK);
        assert_int_equal(rt_find_standing_out(&figures, &out, NULL), RT_OK);
        assert_int_equal(out.clear_count, 0);
        rt_release_standing_out(&out);
        rt_release_figures(&figures);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_stands_out_of_nothing),
        cmocka_unit_test(what_is_no_question_is_not_screened),
        cmocka_unit_test(a_hazard_ratio_needs_the_test_of_its_group),
        cmocka_unit_test(one_row_speaks_for_each_question),
        cmocka_unit_test(rows_not_ok_are_not_clear),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
