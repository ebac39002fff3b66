/* The outcome along the number a house rule is about: the fitted curve over the cases, what the rule says as a thin line, and
 * the places of a knee that the records do not reject as a bar above the axis. */
#include "canvas.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <string.h>

struct dose_chart {
    const struct rt_chart_request *request;
    struct rows curve, places, knee;
    bool share;
    struct panel panel;
};

static void widen(double value, double *low, double *high)
{
    if (isfinite(value)) {
        *low = fmin(*low, value);
        *high = fmax(*high, value);
    }
}

static void fit_axes(struct canvas *canvas, struct dose_chart *chart)
{
    double low_x = INFINITY, high_x = -INFINITY, low_y = 0.0, high_y = 0.0;
    const struct rt_case_series *cases = chart->request->cases;
    for (size_t i = 0; i < chart->curve.count; i++) {
        const struct rt_figure *row = chart->curve.items[i];
        widen(row->at, &low_x, &high_x);
        widen(row->lower, &low_y, &high_y);
        widen(row->upper, &low_y, &high_y);
        widen(row->value, &low_y, &high_y);
    }
    for (size_t i = 0; cases != NULL && i < cases->count; i++) {
        widen(cases->points[i].x, &low_x, &high_x);
        widen(cases->points[i].y, &low_y, &high_y);
    }
    for (size_t i = 0; i < 2; i++)
        widen(chart->request->x_marks[i], &low_x, &high_x);
    if (isfinite(chart->request->slope))
        low_x = fmin(low_x, 0.0);
    chart->panel.x = axis_fit(low_x, high_x, canvas->narrow ? 5 : 8, true);
    chart->panel.y = axis_fit(low_y, high_y, canvas->narrow ? 5 : 6, true);
}

static void draw_points(struct canvas *canvas, const struct dose_chart *chart)
{
    const struct rt_case_series *cases = chart->request->cases;
    for (int censored = 0; cases != NULL && censored < 2; censored++) {
        struct case_position *positions = rt_new_array(cases->count, sizeof *positions);
        size_t count = 0;
        if (positions == NULL) {
            canvas->drawing->failed = true;
            return;
        }
        for (size_t i = 0; i < cases->count; i++)
            if (cases->points[i].censored == (censored == 1))
                positions[count++] = (struct case_position){
                    panel_x(&chart->panel, cases->points[i].x) + 1.6 * jitter(2 * i),
                    panel_y(&chart->panel, cases->points[i].y) + 1.6 * jitter(2 * i + 1)};
        canvas_cases(
            canvas, positions, count,
            (struct point_style){COLOUR_CASE, censored ? SHAPE_OPEN_TRIANGLE : SHAPE_OPEN_CIRCLE, 2.4});
        free(positions);
    }
}

/* What the rule says: upright lines at its numbers, or its slope from the origin. */
static void draw_rule(struct canvas *canvas, const struct dose_chart *chart)
{
    const struct line_style line = {COLOUR_OXBLOOD, 1.3, DASH_LONG};
    const struct panel *panel = &chart->panel;
    double last = NAN;
    for (size_t i = 0; i < 2; i++) {
        const double mark = chart->request->x_marks[i];
        if (!isfinite(mark) || mark < panel->x.low || mark > panel->x.high)
            continue;
        last = panel_x(panel, mark);
        drawing_segment(canvas->drawing, line, last, panel->top, last, panel->bottom);
    }
    if (isfinite(last))
        canvas_text(canvas, last + 5.0, panel->top + 7.0, ANCHOR_START, chart->request->reference_label);
    if (isfinite(chart->request->slope)) {
        const double far = fmin(panel->x.high, panel->y.high / chart->request->slope);
        drawing_segment(canvas->drawing, line, panel_x(panel, 0.0), panel_y(panel, 0.0), panel_x(panel, far),
                        panel_y(panel, far * chart->request->slope));
        canvas_text(canvas, panel_x(panel, 0.55 * far) - 44.0,
                    panel_y(panel, 0.62 * far * chart->request->slope), ANCHOR_END,
                    chart->request->reference_label);
    }
}

/* Runs of compatible places, half a step to each side, and the knee among them. */
static void draw_knee(struct canvas *canvas, const struct dose_chart *chart)
{
    const double y = chart->panel.bottom - 12.0, half = 0.05;
    bool any = false;
    for (size_t i = 0; i < chart->places.count;) {
        size_t end = i;
        while (end < chart->places.count && chart->places.items[end]->value > 0.5)
            end++;
        if (end > i) {
            any = true;
            drawing_segment(canvas->drawing, (struct line_style){COLOUR_BRASS, 6.0, DASH_SOLID},
                            panel_x(&chart->panel, chart->places.items[i]->at - half), y,
                            panel_x(&chart->panel, chart->places.items[end - 1]->at + half), y);
        }
        i = end > i ? end : i + 1;
    }
    if (!any)
        return;
    if (chart->knee.count > 0)
        drawing_point(canvas->drawing, (struct point_style){COLOUR_INK, SHAPE_DIAMOND, 4.6},
                      panel_x(&chart->panel, chart->knee.items[0]->value), y);
    canvas_soft_text(canvas, chart->panel.left + 4.0, y - 14.0, ANCHOR_START,
                     canvas->narrow ? "bends not rejected" : "bends that the records do not reject");
}

static void draw(struct canvas *canvas, struct dose_chart *chart)
{
    const struct rt_chart_request *request = chart->request;
    canvas->drawing->height_px = canvas->narrow ? 320.0 : 380.0;
    fit_axes(canvas, chart);
    chart->panel.left = 50.0;
    chart->panel.right = canvas->drawing->width_px - 16.0;
    chart->panel.top = 34.0;
    chart->panel.bottom = canvas->drawing->height_px - 46.0;
    chart->panel.y_percent = chart->share;
    panel_y_axis(canvas, &chart->panel);
    panel_x_axis(canvas, &chart->panel, true);
    panel_titles(canvas, &chart->panel, request->x_title, request->y_title, 33.0);
    panel_reference(canvas, &chart->panel, request->reference, NULL);
    draw_points(canvas, chart);
    canvas_curve(canvas, &chart->panel, &chart->curve, COLOUR_INDIGO, 2.4, true);
    draw_rule(canvas, chart);
    draw_knee(canvas, chart);
}

const char *build_rule_dose(struct canvas *canvas, const struct rt_chart_request *request)
{
    struct dose_chart chart = {.request = request};
    const char *reason = NULL;
    if (select_rows(canvas, request, 0, false, &chart.curve) &&
        select_rows(canvas, request, 1, false, &chart.places) &&
        select_rows(canvas, request, 2, false, &chart.knee)) {
        if (chart.curve.count < 2)
            reason = "too few cases for a curve";
        else {
            chart.share = strcmp(chart.curve.items[0]->unit, "share") == 0;
            draw(canvas, &chart);
        }
    }
    free(chart.curve.items);
    free(chart.places.items);
    free(chart.knee.items);
    return reason;
}
