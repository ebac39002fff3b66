/* Charts over sessions, by quarter, and the funnel: drawn from rows, with every operator named and nothing run as markup. */
#include "ridgetally/chart/chart.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static const char hostile[] = "<b>'$1";
static const char escaped[] = "&lt;b&gt;";

static void add_row(struct rt_figure_list *list, const char *measure, const char *grouping, const char *level,
                    double at, double value, double lower, double upper)
{
    struct rt_figure row = rt_empty_figure();
    row.section = "operators";
    row.measure = measure;
    row.grouping = grouping;
    row.level = level;
    row.at = at;
    row.value = value;
    row.lower = lower;
    row.upper = upper;
    row.unit = strcmp(measure, "share") == 0 ? "share" : "mm";
    row.n_implants = 60;
    row.n_patients = 40;
    assert_int_equal(rt_add_figure(list, &row, NULL), RT_OK);
}

static void fill(struct rt_figure_list *list, int sessions)
{
    const char *const operators[] = {"A", hostile};
    for (int o = 0; o < 2; o++) {
        for (int i = 1; i <= sessions; i++) {
            add_row(list, "average", "operator", operators[o], i, 0.02 * (i % 31) - 0.3, -0.25, 0.25);
            add_row(list, "more", "operator", operators[o], i, 0.1 * (i % 21), NAN, 1.9);
            add_row(list, "fewer", "operator", operators[o], i, 0.05 * (i % 21), NAN, 1.6);
        }
        add_row(list, "centre", "operator", operators[o], NAN, 0.0, -1.0, 1.0);
        add_row(list, "unit", "operator", operators[o], NAN, 0.1, 0.02, 0.3);
        for (int q = 1; q <= 4; q++) {
            char level[64];
            snprintf(level, sizeof level, "%s|2026Q%d", operators[o], q);
            add_row(list, "share", "operator|year_to", level, NAN, 0.1 * q, 0.05, 0.8);
        }
    }
    for (int n = 5; n < 60; n += 5) {
        add_row(list, "inner", "", "", n, 0.1, fmax(0, 0.1 - 0.6 / sqrt(n)), fmin(1, 0.1 + 0.6 / sqrt(n)));
        add_row(list, "outer", "", "", n, 0.1, 0.0, fmin(1, 0.1 + 0.9 / sqrt(n)));
    }
}

enum { KINDS = 4 };

static void ask(const struct rt_figure_list *list, struct rt_chart_request *requests)
{
    static const struct {
        enum rt_chart_kind kind;
        const char *id, *first, *second, *third, *grouping;
    } kinds[KINDS] = {{RT_CHART_CONTROL, "control", "average", "centre", NULL, "operator"},
                      {RT_CHART_SUMS, "sums", "more", "fewer", NULL, "operator"},
                      {RT_CHART_BY_QUARTER, "quarters", "share", NULL, NULL, "operator|year_to"},
                      {RT_CHART_FUNNEL, "funnel", "unit", "inner", "outer", "operator"}};
    for (size_t i = 0; i < KINDS; i++)
        requests[i] = (struct rt_chart_request){.kind = kinds[i].kind,
                                                .id = kinds[i].id,
                                                .title = "title",
                                                .description = "about",
                                                .x_title = "x",
                                                .y_title = "y",
                                                .figures = list,
                                                .section = "operators",
                                                .measures = {kinds[i].first, kinds[i].second, kinds[i].third},
                                                .grouping = kinds[i].grouping,
                                                .level = "",
                                                .at = NAN,
                                                .reference = NAN,
                                                .reference_label = ""};
}

static void every_operator_has_a_panel(void **state)
{
    (void)state;
    struct rt_figure_list list = {0};
    struct rt_chart_request requests[KINDS];
    struct rt_chart charts[KINDS] = {{0}};
    fill(&list, 30);
    ask(&list, requests);
    assert_int_equal(rt_draw_charts(requests, KINDS, charts, NULL), RT_OK);
    for (size_t i = 0; i < KINDS; i++) {
        assert_null(charts[i].reason);
        assert_non_null(strstr(charts[i].wide, ">A<"));
        assert_non_null(strstr(charts[i].wide, escaped));
        assert_non_null(strstr(charts[i].narrow, escaped));
        assert_null(strstr(charts[i].wide, "<b>"));
    }
    assert_non_null(strstr(charts[1].wide, "fewer failures"));
    assert_non_null(strstr(charts[2].wide, "2026Q4"));
    assert_non_null(strstr(charts[3].wide, "99.8%"));
    rt_release_charts(charts, KINDS);
    rt_release_figures(&list);
}

/* A path of lines of their own would take 100 bytes a session, and gnuplot minutes. */
static void many_sessions_stay_one_line(void **state)
{
    (void)state;
    struct rt_figure_list list = {0};
    struct rt_chart_request requests[KINDS];
    struct rt_chart charts[KINDS] = {{0}};
    fill(&list, 20000);
    ask(&list, requests);
    assert_int_equal(rt_draw_charts(requests, 1, charts, NULL), RT_OK);
    assert_null(charts[0].reason);
    assert_in_range(strlen(charts[0].wide), 10000, 400000);
    rt_release_charts(charts, 1);
    rt_release_figures(&list);
}

static void nothing_to_draw_is_said_in_words(void **state)
{
    (void)state;
    struct rt_figure_list list = {0};
    struct rt_chart_request requests[KINDS];
    struct rt_chart charts[KINDS] = {{0}};
    ask(&list, requests);
    assert_int_equal(rt_draw_charts(requests, KINDS, charts, NULL), RT_OK);
    for (size_t i = 0; i < KINDS; i++) {
        assert_non_null(charts[i].reason);
        assert_null(charts[i].wide);
    }
    rt_release_charts(charts, KINDS);
    rt_release_figures(&list);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_operator_has_a_panel),
        cmocka_unit_test(many_sessions_stay_one_line),
        cmocka_unit_test(nothing_to_draw_is_said_in_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
