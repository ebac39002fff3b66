/* Charts over the sessions of operators, one panel each on the same scale: control chart and cumulative sums. */
#include "panels.h"
#include "thin.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { LABEL_MARGIN = 118 };

struct over_sessions {
    const struct rt_chart_request *request;
    struct rows path[2]; /* control: the moving average; cumulative sums: more, fewer */
    struct rows limits;  /* control: centre and limits of single sessions */
    struct names operators;
    double last; /* session */
    double low, high;
};

static void widen(struct over_sessions *chart, double value)
{
    if (!isfinite(value))
        return;
    chart->low = fmin(chart->low, value);
    chart->high = fmax(chart->high, value);
}

/* direction -1: the sums of the second measure are drawn downward. */
static void take_rows(struct canvas *canvas, struct over_sessions *chart, int which, double direction)
{
    select_rows(canvas, chart->request, which, false, &chart->path[which]);
    for (size_t i = 0; i < chart->path[which].count; i++) {
        const struct rt_figure *row = chart->path[which].items[i];
        name_index(canvas, &chart->operators, row->level);
        chart->last = fmax(chart->last, row->at);
        widen(chart, direction * row->value);
        widen(chart, direction * row->upper);
        widen(chart, direction * row->lower);
    }
}

static void release(struct over_sessions *chart)
{
    free(chart->path[0].items);
    free(chart->path[1].items);
    free(chart->limits.items);
    names_release(&chart->operators);
}

static struct panel frame(const struct canvas *canvas, const struct over_sessions *chart,
                          const struct panel_stack *stack)
{
    return (struct panel){.x = axis_fit(0.0, chart->last, canvas->narrow || stack->columns > 1 ? 4 : 8, true),
                          .y = axis_fit(chart->low, chart->high, 4, true)};
}

static struct panel_stack stack_of(struct canvas *canvas, const struct over_sessions *chart)
{
    return stack_panels(canvas, chart->operators.count, canvas->narrow ? 130.0 : 150.0, 40.0,
                        canvas->narrow ? 12.0 : LABEL_MARGIN);
}

static bool is_outside(const struct rt_figure *row)
{
    return row->value > row->upper || (isfinite(row->lower) && row->value < row->lower);
}

/* Where a mark of its kind is already, another one would not be seen. */
static void mark_once(struct canvas *canvas, struct point_cells *cells, struct point_style style, double x,
                      double y)
{
    if (take_cell(cells, x, y))
        drawing_point(canvas->drawing, style, x, y);
}

static bool make_panel_cells(struct canvas *canvas, const struct panel *panel, size_t points,
                             struct point_cells *cells)
{
    const bool made = make_cells(cells, panel->left, panel->top, panel->right, panel->bottom, points);
    canvas->drawing->failed = canvas->drawing->failed || !made;
    return made;
}

static const struct point_style signal_style = {COLOUR_OXBLOOD, SHAPE_TRIANGLE, 5.2};
static const struct point_style session_style = {COLOUR_CASE, SHAPE_OPEN_CIRCLE, 2.6};

/* A line at a height with its label in the margin; the label alone is left out on narrow drawings. */
static void draw_level(struct canvas *canvas, const struct panel *panel, double value,
                       struct line_style style, const char *label)
{
    if (!isfinite(value))
        return;
    double y = panel_y(panel, value);
    drawing_segment(canvas->drawing, style, panel->left, y, panel->right, y);
    if (label != NULL && !canvas->narrow)
        canvas_soft_text(canvas, panel->right + 6.0, y, ANCHOR_START, label);
}

/* --- control chart --------------------------------------------------------------------------------------- */

static void draw_band(struct canvas *canvas, const struct panel *panel, const struct rows *path,
                      const char *operator_label)
{
    double *x = rt_new_array(2 * path->count + 1, sizeof *x);
    double *y = rt_new_array(2 * path->count + 1, sizeof *y);
    size_t corners = 0;
    for (size_t i = 0; i < path->count && x != NULL && y != NULL; i++)
        if (strcmp(path->items[i]->level, operator_label) == 0) {
            x[corners] = panel_x(panel, path->items[i]->at);
            y[corners++] = panel_y(panel, path->items[i]->upper);
        }
    corners = x == NULL || y == NULL ? 0 : thin_line(corners, x, y);
    const size_t upper = corners;
    for (size_t i = path->count; i-- > 0 && x != NULL && y != NULL;)
        if (strcmp(path->items[i]->level, operator_label) == 0) {
            x[corners] = panel_x(panel, path->items[i]->at);
            y[corners++] = panel_y(panel, path->items[i]->lower);
        }
    if (x == NULL || y == NULL)
        canvas->drawing->failed = true;
    else {
        corners = upper + thin_line(corners - upper, x + upper, y + upper);
        drawing_area(canvas->drawing, COLOUR_LAGOON, 0.26, corners, x, y);
    }
    free(x);
    free(y);
}

/* The points of a line since it last began. */
struct line_run {
    double *x, *y;
    size_t count;
};

static void end_run(struct canvas *canvas, struct line_style style, struct line_run *run)
{
    run->count = thin_line(run->count, run->x, run->y);
    drawing_polyline(canvas->drawing, style, run->count, run->x, run->y);
    run->count = 0;
}

static void add_to_run(struct line_run *run, double x, double y)
{
    run->x[run->count] = x;
    run->y[run->count++] = y;
}

/* The line of the path times direction; broken behind a signal where the chart begins again. */
static void draw_path(struct canvas *canvas, const struct panel *panel, const struct rows *path,
                      const char *operator_label, const char *colour, double direction, bool resets)
{
    const struct line_style style = {colour, 2.0, DASH_SOLID};
    struct line_run run = {rt_new_array(path->count + 1, sizeof *run.x),
                           rt_new_array(path->count + 1, sizeof *run.y), 0};
    const bool ready = run.x != NULL && run.y != NULL;
    canvas->drawing->failed = canvas->drawing->failed || !ready;
    for (size_t i = 0; ready && i < path->count; i++) {
        const struct rt_figure *row = path->items[i];
        if (strcmp(row->level, operator_label) != 0)
            continue;
        add_to_run(&run, panel_x(panel, row->at), panel_y(panel, direction * row->value));
        if (is_outside(row) && resets) {
            end_run(canvas, style, &run);
            add_to_run(&run, panel_x(panel, row->at), panel_y(panel, 0.0));
        }
    }
    if (ready)
        end_run(canvas, style, &run);
    free(run.x);
    free(run.y);
}

static void mark_path(struct canvas *canvas, const struct panel *panel, const struct rows *path,
                      const char *operator_label, double direction)
{
    struct point_cells cells;
    if (!make_panel_cells(canvas, panel, path->count, &cells))
        return;
    for (size_t i = 0; i < path->count; i++) {
        const struct rt_figure *row = path->items[i];
        if (strcmp(row->level, operator_label) == 0 && is_outside(row))
            mark_once(canvas, &cells, signal_style, panel_x(panel, row->at),
                      panel_y(panel, direction * row->value));
    }
    release_cells(&cells);
}

/* Those within the limits, or those outside. */
static void draw_sessions_that(struct canvas *canvas, const struct panel *panel,
                               const struct rt_case_series *cases, const char *operator_label,
                               const struct rt_figure *limits, bool outside)
{
    struct point_cells cells;
    if (!make_panel_cells(canvas, panel, cases->count, &cells))
        return;
    for (size_t i = 0; i < cases->count; i++) {
        const struct rt_case_point *point = &cases->points[i];
        const bool is_out = limits != NULL && (point->y < limits->lower || point->y > limits->upper);
        if (is_out == outside && strcmp(point->group, operator_label) == 0)
            mark_once(canvas, &cells, outside ? signal_style : session_style, panel_x(panel, point->x),
                      panel_y(panel, point->y));
    }
    release_cells(&cells);
}

static void draw_sessions(struct canvas *canvas, const struct panel *panel,
                          const struct rt_case_series *cases, const char *operator_label,
                          const struct rt_figure *limits)
{
    if (cases == NULL)
        return;
    draw_sessions_that(canvas, panel, cases, operator_label, limits, false);
    draw_sessions_that(canvas, panel, cases, operator_label, limits, true);
}

static const struct rt_figure *limits_of(const struct over_sessions *chart, const char *operator_label)
{
    for (size_t i = 0; i < chart->limits.count; i++)
        if (strcmp(chart->limits.items[i]->level, operator_label) == 0)
            return chart->limits.items[i];
    return NULL;
}

static void draw_control(struct canvas *canvas, const struct over_sessions *chart, const struct panel *panel,
                         const char *operator_label, bool labelled)
{
    const struct rt_figure *limits = limits_of(chart, operator_label);
    const struct line_style dashed = {COLOUR_SOFT_INK, 1.0, DASH_LONG}, thin = {COLOUR_AXIS, 1.0, DASH_SOLID};
    draw_band(canvas, panel, &chart->path[0], operator_label);
    if (limits != NULL) {
        draw_level(canvas, panel, limits->upper, dashed, labelled ? "single session" : NULL);
        draw_level(canvas, panel, limits->value, thin, labelled ? "centre" : NULL);
        draw_level(canvas, panel, limits->lower, dashed, labelled ? "single session" : NULL);
    }
    draw_sessions(canvas, panel, chart->request->cases, operator_label, limits);
    draw_path(canvas, panel, &chart->path[0], operator_label, COLOUR_INDIGO, 1.0, false);
    mark_path(canvas, panel, &chart->path[0], operator_label, 1.0);
}

const char *build_control(struct canvas *canvas, const struct rt_chart_request *request)
{
    struct over_sessions chart = {.request = request};
    take_rows(canvas, &chart, 0, 1.0);
    select_rows(canvas, request, 1, false, &chart.limits);
    for (size_t i = 0; i < chart.limits.count; i++) {
        widen(&chart, chart.limits.items[i]->lower);
        widen(&chart, chart.limits.items[i]->upper);
    }
    for (size_t i = 0; request->cases != NULL && i < request->cases->count; i++)
        widen(&chart, request->cases->points[i].y);
    const char *reason = chart.path[0].count == 0 ? "too few sessions for a chart" : NULL;
    if (reason == NULL && !canvas->drawing->failed) {
        const struct panel_stack stack = stack_of(canvas, &chart);
        struct panel panel = frame(canvas, &chart, &stack);
        for (size_t i = 0; i < chart.operators.count; i++) {
            place_panel(canvas, &stack, i, chart.operators.items[i], &panel);
            panel_y_axis(canvas, &panel);
            panel_x_axis(canvas, &panel, is_lowest(&stack, i));
            draw_control(canvas, &chart, &panel, chart.operators.items[i], is_rightmost(&stack, i));
        }
        title_panels(canvas, &panel, request->x_title, request->y_title);
    }
    release(&chart);
    return reason;
}

/* --- cumulative sums ------------------------------------------------------------------------------------- */

/* Ticks without a sign: below the line the other sum is drawn downward. */
static void two_sided_axis(struct canvas *canvas, const struct panel *panel)
{
    for (size_t i = 0; i < panel->y.tick_count; i++) {
        char text[32];
        double y = panel_y(panel, panel->y.ticks[i]);
        drawing_segment(canvas->drawing, (struct line_style){COLOUR_RULE, 1.0, DASH_SOLID}, panel->left, y,
                        panel->right, y);
        axis_tick_text(&panel->y, fabs(panel->y.ticks[i]), false, text, sizeof text);
        canvas_tick(canvas, panel->left - 7.0, y, ANCHOR_END, text);
    }
}

static double limit_of(const struct rows *path, const char *operator_label)
{
    for (size_t i = 0; i < path->count; i++)
        if (strcmp(path->items[i]->level, operator_label) == 0)
            return path->items[i]->upper;
    return NAN;
}

static void draw_sums(struct canvas *canvas, const struct over_sessions *chart, const struct panel *panel,
                      const char *operator_label, bool labelled)
{
    static const char *const colours[] = {COLOUR_OXBLOOD, COLOUR_LAGOON};
    static const char *const labels[] = {"more failures", "fewer failures"};
    draw_level(canvas, panel, 0.0, (struct line_style){COLOUR_AXIS, 1.0, DASH_SOLID}, NULL);
    for (int which = 0; which < 2; which++) {
        const double direction = which == 0 ? 1.0 : -1.0;
        draw_level(canvas, panel, direction * limit_of(&chart->path[which], operator_label),
                   (struct line_style){colours[which], 1.2, DASH_LONG}, labelled ? labels[which] : NULL);
        draw_path(canvas, panel, &chart->path[which], operator_label, colours[which], direction, true);
        mark_path(canvas, panel, &chart->path[which], operator_label, direction);
    }
}

const char *build_sums(struct canvas *canvas, const struct rt_chart_request *request)
{
    struct over_sessions chart = {.request = request};
    take_rows(canvas, &chart, 0, 1.0);
    take_rows(canvas, &chart, 1, -1.0);
    const char *reason = chart.operators.count == 0 ? "no expectation to compare the failures with" : NULL;
    if (reason == NULL && !canvas->drawing->failed) {
        const struct panel_stack stack = stack_of(canvas, &chart);
        struct panel panel = frame(canvas, &chart, &stack);
        for (size_t i = 0; i < chart.operators.count; i++) {
            place_panel(canvas, &stack, i, chart.operators.items[i], &panel);
            two_sided_axis(canvas, &panel);
            panel_x_axis(canvas, &panel, is_lowest(&stack, i));
            draw_sums(canvas, &chart, &panel, chart.operators.items[i], is_rightmost(&stack, i));
        }
        title_panels(canvas, &panel, request->x_title, request->y_title);
    }
    release(&chart);
    return reason;
}
