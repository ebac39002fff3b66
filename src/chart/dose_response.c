/* A fitted curve with its band over the cases. */
#include "canvas.h"

#include "ridgetally/base/memory.h"

#include <math.h>

struct extent {
    double low_x, high_x, low_y, high_y;
};

static void widen(struct extent *extent, double x, double y)
{
    if (isfinite(x)) {
        extent->low_x = fmin(extent->low_x, x);
        extent->high_x = fmax(extent->high_x, x);
    }
    if (isfinite(y)) {
        extent->low_y = fmin(extent->low_y, y);
        extent->high_y = fmax(extent->high_y, y);
    }
}

static struct extent extent_of(const struct rows *rows, const struct rt_case_series *cases)
{
    struct extent extent = {INFINITY, -INFINITY, 0.0, 0.0};
    for (size_t i = 0; i < rows->count; i++) {
        widen(&extent, rows->items[i]->at, rows->items[i]->value);
        widen(&extent, rows->items[i]->at, rows->items[i]->lower);
        widen(&extent, rows->items[i]->at, rows->items[i]->upper);
    }
    for (size_t i = 0; cases != NULL && i < cases->count; i++)
        widen(&extent, cases->points[i].x, cases->points[i].y);
    return extent;
}

void canvas_curve(struct canvas *canvas, const struct panel *panel, const struct rows *rows,
                  const char *colour, double width_px, bool with_band)
{
    double *x = rt_new_array(2 * rows->count, sizeof *x);
    double *y = rt_new_array(2 * rows->count, sizeof *y);
    size_t corners = 0;
    if (x == NULL || y == NULL) {
        canvas->drawing->failed = true;
    } else {
        for (size_t i = 0; i < rows->count; i++) {
            if (!isfinite(rows->items[i]->lower) || !isfinite(rows->items[i]->upper))
                continue;
            x[corners] = panel_x(panel, rows->items[i]->at);
            y[corners++] = panel_y(panel, rows->items[i]->upper);
        }
        for (size_t i = rows->count; i-- > 0;) {
            if (!isfinite(rows->items[i]->lower) || !isfinite(rows->items[i]->upper))
                continue;
            x[corners] = panel_x(panel, rows->items[i]->at);
            y[corners++] = panel_y(panel, rows->items[i]->lower);
        }
        if (with_band)
            drawing_area(canvas->drawing, COLOUR_LAGOON, 0.26, corners, x, y);
        for (size_t i = 0; i < rows->count; i++) {
            x[i] = panel_x(panel, rows->items[i]->at);
            y[i] = panel_y(panel, rows->items[i]->value);
        }
        drawing_polyline(canvas->drawing, (struct line_style){colour, width_px, DASH_SOLID}, rows->count, x,
                         y);
    }
    free(x);
    free(y);
}

static void draw_cases(struct canvas *canvas, const struct panel *panel, const struct rt_case_series *cases)
{
    struct case_position *positions = rt_new_array(cases->count, sizeof *positions);
    if (positions == NULL) {
        canvas->drawing->failed = true;
        return;
    }
    for (size_t i = 0; i < cases->count; i++)
        positions[i] = (struct case_position){panel_x(panel, cases->points[i].x) + 1.6 * jitter(2 * i),
                                              panel_y(panel, cases->points[i].y) + 1.6 * jitter(2 * i + 1)};
    canvas_cases(canvas, positions, cases->count, (struct point_style){COLOUR_CASE, SHAPE_OPEN_CIRCLE, 2.3});
    free(positions);
}

const char *build_dose_response(struct canvas *canvas, const struct rt_chart_request *request)
{
    struct rows rows = {0};
    if (!select_rows(canvas, request, 0, false, &rows))
        return NULL;
    const char *reason = rows.count < 2 ? "too few cases for a curve" : NULL;
    if (reason == NULL) {
        struct extent extent = extent_of(&rows, request->cases);
        canvas->drawing->height_px = canvas->narrow ? 320.0 : 400.0;
        struct panel panel = {.left = 46.0,
                              .right = canvas->drawing->width_px - 16.0,
                              .top = 34.0,
                              .bottom = canvas->drawing->height_px - 46.0,
                              .x = axis_fit(extent.low_x, extent.high_x, canvas->narrow ? 5 : 8, true),
                              .y = axis_fit(extent.low_y, extent.high_y, 6, true)};
        panel_y_axis(canvas, &panel);
        panel_x_axis(canvas, &panel, true);
        panel_titles(canvas, &panel, request->x_title, request->y_title, 33.0);
        panel_error_band(canvas, &panel, request->error_band, true);
        panel_reference(canvas, &panel, request->reference, request->reference_label);
        if (request->cases != NULL)
            draw_cases(canvas, &panel, request->cases);
        canvas_curve(canvas, &panel, &rows, COLOUR_INDIGO, 2.4, true);
    }
    free(rows.items);
    return reason;
}
