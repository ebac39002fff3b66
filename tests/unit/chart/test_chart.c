/*
 * Charts drawn by the real gnuplot from made-up rows. Checked is what a page relies on: every kind gives two
 * SVGs with unique ids, an accessible name, all labels as plain text and no undefined coordinate.
 * With RIDGETALLY_CHART_FOLDER set the drawings are kept there to be looked at.
 */
#include "ridgetally/chart/chart.h"

#include "../support/page_check.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

static const char HOSTILE[] = "<script>`$(x)`\"'|&\n@1@";

struct fixture {
    struct rt_figure_list figures;
    struct rt_case_series_list cases;
    unsigned long seed;
};

static double uniform(struct fixture *fixture)
{
    fixture->seed = fixture->seed * 6364136223846793005UL + 1442695040888963407UL;
    return (double)(fixture->seed >> 11) / 9007199254740992.0;
}

static double normal(struct fixture *fixture)
{
    double sum = -6.0;
    for (int i = 0; i < 12; i++)
        sum += uniform(fixture);
    return sum;
}

static void add_row(struct fixture *fixture, const char *measure, const char *grouping, const char *level,
                    double at, double value, double lower, double upper, long n)
{
    struct rt_figure row = rt_empty_figure();
    row.section = "test";
    row.measure = measure;
    row.grouping = grouping;
    row.level = level;
    row.at = at;
    row.value = value;
    row.lower = lower;
    row.upper = upper;
    row.n_implants = n;
    row.n_patients = n * 2 / 3;
    row.unit_of_analysis = "implant";
    assert_int_equal(rt_add_figure(&fixture->figures, &row, NULL), RT_OK);
}

static void add_point(struct fixture *fixture, struct rt_case_series *series, double x, double y,
                      const char *group, bool censored)
{
    struct rt_case_point point = {x, y, group, censored};
    assert_int_equal(rt_add_case_point(&fixture->cases, series, &point, NULL), RT_OK);
}

static struct rt_chart_request request_of(const struct fixture *fixture, enum rt_chart_kind kind,
                                          const char *id)
{
    return (struct rt_chart_request){.kind = kind,
                                     .id = id,
                                     .title = HOSTILE,
                                     .description = HOSTILE,
                                     .x_title = "depth, mm",
                                     .y_title = "achieved minus planned, mm",
                                     .figures = &fixture->figures,
                                     .section = "test",
                                     .grouping = "",
                                     .level = "",
                                     .at = NAN,
                                     .reference = 0.0,
                                     .reference_label = "as planned"};
}

static void fill_depth(struct fixture *fixture)
{
    static const char *const operators[] = {"A", "B", HOSTILE};
    struct rt_case_series *series = rt_add_case_series(&fixture->cases, "depth", "operator");
    assert_non_null(series);
    for (int i = 0; i < 150; i++) {
        double planned = 1.0 + 0.5 * floor(3.0 * uniform(fixture));
        double error = round(10.0 * (0.2 + 0.45 * normal(fixture))) / 10.0;
        add_point(fixture, series, planned + error / 2.0, error, operators[i % 3], false);
    }
    add_row(fixture, "bias", "", "", NAN, 0.21, 0.12, 0.30, 150);
    add_row(fixture, "low", "", "", NAN, -0.69, -0.83, -0.55, 150);
    add_row(fixture, "high", "", "", NAN, 1.11, 0.97, 1.25, 150);
    add_row(fixture, "bias", "operator", "A", NAN, 0.11, 0.0, 0.22, 50);
    add_row(fixture, "bias", "operator", HOSTILE, NAN, 0.31, 0.2, 0.42, 50);
}

static void fill_torque(struct fixture *fixture)
{
    static const char *const classes[] = {"D1", "D2", "D3", "D4"};
    struct rt_case_series *series = rt_add_case_series(&fixture->cases, "torque", "density");
    assert_non_null(series);
    for (int c = 0; c < 4; c++) {
        for (int i = 0; i < 20 + 15 * (c % 3); i++) {
            double torque = 55.0 - 11.0 * c + 9.0 * normal(fixture);
            add_point(fixture, series, c, fmin(torque, 70.0), classes[c], torque >= 70.0);
        }
        add_row(fixture, "q1", "density", classes[c], NAN, 49.0 - 11.0 * c, NAN, NAN, 30);
        add_row(fixture, "median", "density", classes[c], NAN, 55.0 - 11.0 * c, NAN, NAN, 30);
        add_row(fixture, "q3", "density", classes[c], NAN, 61.0 - 11.0 * c, NAN, NAN, 30);
    }
}

static void fill_crest(struct fixture *fixture)
{
    static const char *const depths[] = {"<0", "0-<1", "1-2", ">2"};
    static const char *const tissues[] = {"<2", "2-<3", ">=3"};
    struct rt_case_series *series = rt_add_case_series(&fixture->cases, "crest", "depth_class|tissue_class");
    assert_non_null(series);
    char level[64];
    for (int t = 0; t < 3; t++) {
        for (int d = 0; d < 4; d++) {
            snprintf(level, sizeof level, "12 months|%s|%s", depths[d], tissues[t]);
            double mean = -0.9 + 0.15 * d + 0.2 * t;
            for (int i = 0; i < 9; i++)
                add_point(fixture, series, d, mean + 0.3 * normal(fixture), level + strlen("12 months|"),
                          false);
            add_row(fixture, "crest", "window|depth_class|tissue_class", level, NAN, mean, mean - 0.25,
                    mean + 0.2, 9);
        }
    }
    for (int i = 0; i <= 20; i++) {
        double x = -0.5 + 0.175 * i;
        double y = -1.0 + 0.35 * x - 0.06 * x * x;
        add_row(fixture, "curve", "", "", x, y, y - 0.1 - 0.05 * fabs(x - 1.3),
                y + 0.1 + 0.05 * fabs(x - 1.3), 108);
    }
}

static void fill_survival(struct fixture *fixture)
{
    static const char *const levels[] = {"D1", "D2", "D3", "D4"};
    for (int l = 0; l < 4; l++) {
        double survival = 1.0;
        long at_risk = 60 + 20 * l;
        for (int i = 1; i <= 24; i++) {
            bool event = i % (9 - 2 * l) == 0;
            if (event)
                survival *= 1.0 - 1.0 / (double)at_risk;
            double error = sqrt(1.0 - survival) * 0.12;
            add_row(fixture, "curve", "density", levels[l], i * 0.25, survival, survival - error,
                    fmin(1.0, survival + 0.6 * error), at_risk);
            if (i % 4 == 0)
                add_row(fixture, "risk", "density", levels[l], i * 0.25, (double)at_risk, NAN, NAN, at_risk);
            at_risk -= 3 + (i % 2);
            if (at_risk < 2)
                at_risk = 2;
        }
    }
    static const char *const tissues[] = {"<2", "2-<3", ">=3"};
    for (int t = 0; t < 3; t++) {
        char level[32];
        snprintf(level, sizeof level, "all|%s", tissues[t]);
        for (int x = 0; x <= 20; x++)
            add_row(fixture, "predicted", "window|tissue_class", level, 0.1 * x, -1.0 + 0.3 * t - 0.02 * x,
                    -1.3 + 0.3 * t - 0.02 * x, -0.8 + 0.3 * t - 0.02 * x, 40);
    }
    for (int y = 0; y < 6; y++) {
        char level[16];
        snprintf(level, sizeof level, "%d", 2020 + y);
        add_row(fixture, "known", "year", level, NAN, 0.95 - 0.06 * y, 0.85 - 0.06 * y, 0.98 - 0.05 * y, 80);
        char bound[64];
        snprintf(bound, sizeof bound, "%s|worst case", level);
        add_row(fixture, "known_bound", "year|bound", bound, NAN, 0.7 - 0.06 * y, NAN, NAN, 100);
        snprintf(bound, sizeof bound, "%s|best case", level);
        add_row(fixture, "known_bound", "year|bound", bound, NAN, 0.97 - 0.05 * y, NAN, NAN, 100);
    }
}

static int set_up(void **state)
{
    struct fixture *fixture = calloc(1, sizeof *fixture);
    assert_non_null(fixture);
    fixture->seed = 42;
    fill_depth(fixture);
    fill_torque(fixture);
    fill_crest(fixture);
    fill_survival(fixture);
    *state = fixture;
    return 0;
}

static int tear_down(void **state)
{
    struct fixture *fixture = *state;
    rt_release_figures(&fixture->figures);
    rt_release_case_series(&fixture->cases);
    free(fixture);
    return 0;
}

static size_t fill_requests(const struct fixture *fixture, struct rt_chart_request *requests)
{
    size_t n = 0;
    requests[n] = request_of(fixture, RT_CHART_AGREEMENT, "agreement");
    requests[n].measures[0] = "bias";
    requests[n].measures[1] = "low";
    requests[n].measures[2] = "high";
    requests[n].cases = rt_find_case_series(&fixture->cases, "depth");
    requests[++n] = request_of(fixture, RT_CHART_ERROR_HISTOGRAM, "histogram");
    requests[n].measures[0] = "bias";
    requests[n].grouping = "operator";
    requests[n].y_title = "implants";
    requests[n].x_title = "achieved minus planned depth, mm";
    requests[n].cases = rt_find_case_series(&fixture->cases, "depth");
    requests[++n] = request_of(fixture, RT_CHART_STRIP_BY_CLASS, "strip");
    requests[n].measures[0] = "q1";
    requests[n].measures[1] = "median";
    requests[n].measures[2] = "q3";
    requests[n].grouping = "density";
    requests[n].y_title = "final torque, Ncm";
    requests[n].x_title = "density found";
    requests[n].reference = NAN;
    requests[n].cases = rt_find_case_series(&fixture->cases, "torque");
    requests[++n] = request_of(fixture, RT_CHART_CLASS_INTERVALS, "classes");
    requests[n].measures[0] = "crest";
    requests[n].grouping = "window|depth_class|tissue_class";
    requests[n].level = "12 months|";
    requests[n].y_title = "crest change, mm";
    requests[n].reference_label = "no change";
    requests[n].cases = rt_find_case_series(&fixture->cases, "crest");
    requests[++n] = request_of(fixture, RT_CHART_DOSE_RESPONSE, "dose");
    requests[n].measures[0] = "curve";
    requests[n].y_title = "crest change, mm";
    requests[n].reference_label = "no change";
    requests[++n] = request_of(fixture, RT_CHART_SURVIVAL, "survival");
    requests[n].measures[0] = "curve";
    requests[n].measures[1] = "risk";
    requests[n].grouping = "density";
    requests[n].reference = NAN;
    requests[n].y_title = "still in place";
    requests[n].x_title = "years since placement";
    requests[++n] = request_of(fixture, RT_CHART_SURVIVAL, "one");
    requests[n].measures[0] = "curve";
    requests[n].measures[1] = "risk";
    requests[n].grouping = "density";
    requests[n].level = "D2";
    requests[n].reference = NAN;
    requests[++n] = request_of(fixture, RT_CHART_SHARE_BY_CLASS, "shares");
    requests[n].measures[0] = "known";
    requests[n].grouping = "year";
    requests[n].y_title = "placed in";
    requests[n].x_title = "status known";
    requests[++n] = request_of(fixture, RT_CHART_SHARE_BOUNDS, "share-bounds");
    requests[n].measures[0] = "known";
    requests[n].measures[1] = "known_bound";
    requests[n].grouping = "year";
    requests[n].y_title = "placed in";
    requests[n].x_title = "status known";
    requests[++n] = request_of(fixture, RT_CHART_CURVE_PANELS, "panels");
    requests[n].measures[0] = "predicted";
    requests[n].grouping = "window|tissue_class";
    requests[n].level = "all|";
    requests[n].y_title = "crest change, mm";
    requests[n].panel_before = "tissue";
    requests[n].reference_label = "no change";
    requests[n].error_band = 0.3;
    requests[n].cases = rt_find_case_series(&fixture->cases, "crest");
    return n + 1;
}

static void keep(const char *id, const char *size, const char *svg)
{
    const char *folder = getenv("RIDGETALLY_CHART_FOLDER");
    if (folder == NULL || svg == NULL)
        return;
    char path[512];
    snprintf(path, sizeof path, "%s/%s-%s.svg", folder, id, size);
    FILE *stream = fopen(path, "w");
    if (stream != NULL) {
        fputs(svg, stream);
        fclose(stream);
    }
}

/* Every id="..." occurs once. */
static void assert_ids_unique(const char *svg)
{
    for (const char *at = strstr(svg, " id=\""); at != NULL; at = strstr(at + 1, " id=\"")) {
        const char *end = strchr(at + 5, '"');
        assert_non_null(end);
        char id[128];
        size_t length = (size_t)(end + 1 - at);
        assert_true(length < sizeof id);
        memcpy(id, at, length);
        id[length] = '\0';
        assert_null(strstr(at + 1, id));
    }
}

static void assert_fit_for_a_page(const char *svg)
{
    assert_non_null(svg);
    assert_int_equal(strncmp(svg, "<svg ", 5), 0);
    assert_non_null(strstr(svg, "role=\"img\""));
    assert_non_null(strstr(svg, "<title id="));
    assert_non_null(strstr(svg, "</svg>\n") != NULL ? svg : strstr(svg, "</svg>"));
    assert_null(strstr(svg, "nan"));
    assert_null(strstr(svg, "<script"));
    assert_null(strstr(svg, "xlink"));
    assert_null(strstr(svg, "font-family"));
    assert_null(strstr(svg, "gnuplot"));
    assert_ids_unique(svg);
}

static void every_kind_is_drawn_twice(void **state)
{
    struct fixture *fixture = *state;
    struct rt_chart_request requests[12];
    struct rt_chart charts[12] = {{0}};
    size_t count = fill_requests(fixture, requests);
    struct rt_error error = {0};
    enum rt_status status = rt_draw_charts(requests, count, charts, &error);
    if (status != RT_OK)
        fail_msg("%s", error.message);
    for (size_t i = 0; i < count; i++) {
        assert_null(charts[i].reason);
        keep(requests[i].id, "wide", charts[i].wide);
        keep(requests[i].id, "narrow", charts[i].narrow);
        assert_fit_for_a_page(charts[i].wide);
        assert_fit_for_a_page(charts[i].narrow);
        assert_null(strstr(strchr(charts[i].wide, '\n'), "@0@"));
    }
    rt_release_charts(charts, count);
}

/* Each kind, drawn wide and narrow, is read back from its SVG: its numbers are cells of the rows, and no other digit is in it but
 * those of axes, names and definitions. Then a digit is changed, and then a row. */
static void every_number_names_its_row(void **state)
{
    struct fixture *fixture = *state;
    struct rt_chart_request requests[12];
    struct rt_chart charts[12] = {{0}};
    const size_t count = fill_requests(fixture, requests);
    const bool prints_numbers[] = {true, true, true, true, false, true, true, true, true, true};
    struct rt_text csv = {0}, changed = {0};
    FILE *nowhere = fopen("/dev/null", "w");
    for (size_t i = 0; i < count; i++)
        requests[i].title = requests[i].description = "A chart";
    assert_int_equal(count, sizeof prints_numbers / sizeof prints_numbers[0]);
    assert_int_equal(rt_draw_charts(requests, count, charts, NULL), RT_OK);
    rt_figures_to_csv(&fixture->figures, &csv);
    for (size_t r = 0; r < fixture->figures.count; r++) {
        fixture->figures.rows[r].n_implants += 1;
        fixture->figures.rows[r].value += 1.0;
    }
    rt_figures_to_csv(&fixture->figures, &changed);
    for (size_t i = 0; i < 2 * count; i++) {
        char *svg = i < count ? charts[i].wide : charts[i - count].narrow;
        struct page_report report = {.stream = stderr};
        check_page(svg, csv.bytes, &report);
        assert_int_equal(report.faults, 0);
        assert_int_equal(report.numbers > 0, prints_numbers[i % count]);
        if (report.numbers == 0)
            continue;
        const long numbers = report.numbers;
        report = (struct page_report){.stream = nowhere};
        check_page(svg, changed.bytes, &report);
        assert_int_equal(report.numbers, numbers);
        assert_true(report.faults * 3 >=
                    numbers); /* patients are the same, and events, which there are none of */
        char *number = strchr(strstr(svg, "data-figure="), '>');
        number += strcspn(number, "0123456789");
        *number = *number == '9' ? '8' : (char)(*number + 1);
        report = (struct page_report){.stream = nowhere};
        check_page(svg, csv.bytes, &report);
        assert_int_equal(report.faults, 1);
    }
    fclose(nowhere);
    rt_text_release(&csv);
    rt_text_release(&changed);
    rt_release_charts(charts, count);
}

static void hostile_text_is_shown_as_it_is(void **state)
{
    struct fixture *fixture = *state;
    struct rt_chart_request requests[12];
    struct rt_chart charts[12] = {{0}};
    fill_requests(fixture, requests);
    assert_int_equal(rt_draw_charts(requests, 2, charts, NULL), RT_OK);
    static const char escaped[] = "&lt;script&gt;`$(x)`&quot;&#39;|&amp; @1@";
    for (size_t i = 0; i < 2; i++) {
        const char *body = strstr(charts[i].wide, "</defs>"); /* beyond title and description */
        assert_non_null(body);
        assert_non_null(strstr(body, escaped));
        assert_non_null(strstr(charts[i].wide, escaped));
    }
    rt_release_charts(charts, 2);
}

/* Compares and releases them. */
static void same_charts(struct rt_chart *first, struct rt_chart *second, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        assert_string_equal(first[i].wide, second[i].wide);
        assert_string_equal(first[i].narrow, second[i].narrow);
    }
    rt_release_charts(first, count);
    rt_release_charts(second, count);
}

static void the_same_rows_give_the_same_drawing(void **state)
{
    struct fixture *fixture = *state;
    struct rt_chart_request requests[12];
    size_t count = fill_requests(fixture, requests);
    struct rt_chart first[12] = {{0}};
    struct rt_chart second[12] = {{0}};
    assert_int_equal(rt_draw_charts(requests, count, first, NULL), RT_OK);
    assert_int_equal(rt_draw_charts(requests, count, second, NULL), RT_OK);
    same_charts(first, second, count);
}

static void nothing_to_draw_is_said_in_words(void **state)
{
    (void)state;
    struct fixture empty = {.seed = 1};
    struct rt_chart_request requests[12];
    struct rt_chart charts[12] = {{0}};
    size_t count = fill_requests(&empty, requests);
    assert_int_equal(rt_draw_charts(requests, count, charts, NULL), RT_OK);
    for (size_t i = 0; i < count; i++) {
        assert_non_null(charts[i].reason);
        assert_null(charts[i].wide);
    }
    rt_release_charts(charts, count);
}

static void a_missing_gnuplot_is_an_error_with_a_remedy(void **state)
{
    struct fixture *fixture = *state;
    struct rt_chart_request requests[12];
    struct rt_chart charts[12] = {{0}};
    size_t count = fill_requests(fixture, requests);
    char *path = strdup(getenv("PATH"));
    assert_non_null(path);
    setenv("PATH", "/nowhere", 1);
    struct rt_error error = {0};
    enum rt_status status = rt_draw_charts(requests, count, charts, &error);
    setenv("PATH", path, 1);
    free(path);
    assert_int_equal(status, RT_SYSTEM);
    assert_non_null(strstr(error.message, "gnuplot could not be started"));
    assert_non_null(strstr(error.remedy, "gnuplot-nox"));
    for (size_t i = 0; i < count; i++)
        assert_null(charts[i].wide);
    rt_release_charts(charts, count);
}

/* Draw with a gnuplot that does what body says. */
static enum rt_status draw_with(struct fixture *fixture, const char *body, struct rt_error *error)
{
    char folder[] = "/tmp/ridgetally-test-XXXXXX", program[64], found[8192], before[4096];
    struct rt_chart_request requests[12];
    struct rt_chart charts[12] = {{0}};
    size_t count = fill_requests(fixture, requests);
    assert_non_null(mkdtemp(folder));
    snprintf(program, sizeof program, "%s/gnuplot", folder);
    snprintf(before, sizeof before, "%s", getenv("PATH"));
    snprintf(found, sizeof found, "%s:%s", folder, before);
    FILE *stream = fopen(program, "w");
    assert_non_null(stream);
    fprintf(stream, "#!/bin/sh\n%s\n", body);
    assert_int_equal(fclose(stream), 0);
    assert_int_equal(chmod(program, 0700), 0);
    setenv("PATH", found, 1);
    enum rt_status status = rt_draw_charts(requests, count, charts, error);
    setenv("PATH", before, 1);
    for (size_t i = 0; i < count; i++) {
        assert_int_equal(charts[i].wide == NULL, status != RT_OK);
        assert_int_equal(charts[i].narrow == NULL, status != RT_OK);
    }
    rt_release_charts(charts, count);
    unlink(program);
    rmdir(folder);
    return status;
}

static void a_gnuplot_that_fails_is_told_in_its_own_words(void **state)
{
    static const struct {
        const char *body, *words;
    } cases[] = {
        {"exec \"$(PATH=${PATH#*:} command -v gnuplot)\" \"$@\"", NULL},
        {"printf '\\nno terminal here\\nand more\\n' >&2; exit 1", "gnuplot failed: no terminal here"},
        {"cat > /dev/null & kill $!; exit 0", "gnuplot wrote no drawing"},
        {"exit 127", "gnuplot could not be started"},
        {"kill -9 $$", "gnuplot failed"},
        {"PATH=${PATH#*:}; head -c 20000 | gnuplot \"$@\"; exit 3",
         "gnuplot failed"}, /* in the midst of a drawing */
        {"echo '</svg>'; sleep 9", "gnuplot wrote something that is not the SVG expected"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct rt_error error = {0};
        enum rt_status status = draw_with(*state, cases[i].body, &error);
        assert_int_equal(status, cases[i].words == NULL ? RT_OK : RT_SYSTEM);
        if (cases[i].words != NULL)
            assert_memory_equal(error.message, cases[i].words, strlen(cases[i].words));
        assert_null(strstr(error.message, "and more"));
    }
}

static void processes_started_before_draw_the_same(void **state)
{
    struct rt_chart_request requests[12];
    struct rt_chart early[12] = {{0}}, late[12] = {{0}};
    size_t count = fill_requests(*state, requests);
    rt_gnuplot_end(NULL);
    rt_gnuplot_end(rt_gnuplot_start()); /* it was not needed */
    struct rt_gnuplot *gnuplot = rt_gnuplot_start();
    assert_non_null(gnuplot);
    assert_int_equal(rt_draw_charts_with(gnuplot, requests, count, early, NULL), RT_OK);
    rt_gnuplot_end(gnuplot);
    assert_int_equal(rt_draw_charts(requests, count, late, NULL), RT_OK);
    same_charts(early, late, count);
}

static void many_cases_are_drawn_as_counts(void **state)
{
    (void)state;
    struct fixture fixture = {.seed = 7};
    struct rt_case_series *series = rt_add_case_series(&fixture.cases, "depth", "operator");
    assert_non_null(series);
    for (int i = 0; i < 5000; i++)
        add_point(&fixture, series, 1.0 + normal(&fixture), normal(&fixture), "A", false);
    struct rt_chart_request request = request_of(&fixture, RT_CHART_AGREEMENT, "many");
    request.cases = series;
    struct rt_chart chart = {0};
    assert_int_equal(rt_draw_charts(&request, 1, &chart, NULL), RT_OK);
    keep("many", "wide", chart.wide);
    size_t marks = 0;
    for (const char *at = strstr(chart.wide, "<use"); at != NULL; at = strstr(at + 1, "<use"))
        marks++;
    assert_in_range(marks, 100, 3000); /* fewer marks than cases */
    rt_release_charts(&chart, 1);
    rt_release_case_series(&fixture.cases);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(every_kind_is_drawn_twice, set_up, tear_down),
        cmocka_unit_test_setup_teardown(every_number_names_its_row, set_up, tear_down),
        cmocka_unit_test_setup_teardown(hostile_text_is_shown_as_it_is, set_up, tear_down),
        cmocka_unit_test_setup_teardown(the_same_rows_give_the_same_drawing, set_up, tear_down),
        cmocka_unit_test(nothing_to_draw_is_said_in_words),
        cmocka_unit_test_setup_teardown(a_missing_gnuplot_is_an_error_with_a_remedy, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_gnuplot_that_fails_is_told_in_its_own_words, set_up, tear_down),
        cmocka_unit_test_setup_teardown(processes_started_before_draw_the_same, set_up, tear_down),
        cmocka_unit_test(many_cases_are_drawn_as_counts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
