/* Shares of units against their size, inside limits that narrow with it. */
#include "canvas.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <stdio.h>

static double highest_of(const struct rows *rows)
{
    double highest = 0.0;
    for (size_t i = 0; i < rows->count; i++) {
        highest = fmax(highest, rows->items[i]->value);
        if (isfinite(rows->items[i]->upper))
            highest = fmax(highest, rows->items[i]->upper);
    }
    return highest;
}

static void draw_limit(struct canvas *canvas, const struct panel *panel, const struct rows *curve,
                       enum dash dash)
{
    const struct line_style style = {COLOUR_SOFT_INK, 1.3, dash};
    for (size_t i = 1; i < curve->count; i++) {
        const struct rt_figure *a = curve->items[i - 1], *b = curve->items[i];
        if (a->upper <= panel->y.high) /* else above the drawing */
            drawing_segment(canvas->drawing, style, panel_x(panel, a->at), panel_y(panel, a->upper),
                            panel_x(panel, b->at), panel_y(panel, b->upper));
        if (a->lower > 0.0 || b->lower > 0.0)
            drawing_segment(canvas->drawing, style, panel_x(panel, a->at), panel_y(panel, a->lower),
                            panel_x(panel, b->at), panel_y(panel, b->lower));
    }
}

/* Names of the lines at their right ends, pushed apart where they would touch: the outer limit above, the share of all below. */
static void label_lines(struct canvas *canvas, const struct panel *panel, const struct rows *inner,
                        const struct rows *outer)
{
    const double apart = 14.0;
    const double inner_y = panel_y(panel, inner->items[inner->count - 1]->upper);
    const double outer_y = fmin(panel_y(panel, outer->items[outer->count - 1]->upper), inner_y - apart);
    const double all_y = fmax(panel_y(panel, inner->items[0]->value), inner_y + apart);
    canvas_soft_text(canvas, panel->right + 5.0, outer_y, ANCHOR_START, "99.8%");
    canvas_soft_text(canvas, panel->right + 5.0, inner_y, ANCHOR_START, "95%");
    canvas_soft_text(canvas, panel->right + 5.0, all_y, ANCHOR_START, "all");
}

/* Where the name of a unit stands: at its share, or below it where another's name would touch. */
static double clear_of_others(const struct panel *panel, const struct rows *units, size_t which)
{
    const double line = 14.0, reach = 140.0;
    const double x = panel_x(panel, (double)units->items[which]->n_patients);
    const double own = panel_y(panel, units->items[which]->value);
    double y = own;
    for (size_t i = 0; i < units->count; i++) {
        const double other = panel_y(panel, units->items[i]->value);
        const bool before = other < own || (other == own && i < which);
        if (i != which && before && own - other < line &&
            fabs(panel_x(panel, (double)units->items[i]->n_patients) - x) < reach)
            y += line - (own - other);
    }
    return fmin(y, panel->bottom - 8.0);
}

static void draw_units(struct canvas *canvas, const struct panel *panel, const struct rows *units)
{
    for (size_t i = 0; i < units->count; i++) {
        const struct rt_figure *row = units->items[i];
        double x = panel_x(panel, (double)row->n_patients);
        if (isfinite(row->lower) && isfinite(row->upper))
            drawing_segment(canvas->drawing, (struct line_style){COLOUR_LAGOON, 3.0, DASH_SOLID}, x,
                            panel_y(panel, row->lower), x, panel_y(panel, row->upper));
        drawing_point(canvas->drawing, (struct point_style){COLOUR_INDIGO, SHAPE_CIRCLE, 4.6}, x,
                      panel_y(panel, row->value));
        char name[96];
        snprintf(name, sizeof name, "%.80s", row->level);
        canvas_shortened(name, sizeof name, 130.0, canvas->text_px);
        const bool fits = x + 9.0 + text_width_px(name, canvas->text_px) < panel->right;
        canvas_name(canvas, fits ? x + 9.0 : x - 9.0, clear_of_others(panel, units, i),
                    fits ? ANCHOR_START : ANCHOR_END, INK_PLAIN, name);
    }
}

const char *build_funnel(struct canvas *canvas, const struct rt_chart_request *request)
{
    struct rt_chart_request whole = *request;
    struct rows units = {0}, inner = {0}, outer = {0};
    whole.grouping = "";
    whole.level = "";
    select_rows(canvas, request, 0, false, &units);
    select_rows(canvas, &whole, 1, false, &inner);
    select_rows(canvas, &whole, 2, false, &outer);
    const char *reason =
        units.count == 0 || inner.count < 2 || outer.count < 2 ? "too few patients with a failure" : NULL;
    if (reason == NULL && !canvas->drawing->failed) {
        double highest = fmin(1.0, fmax(highest_of(&units), highest_of(&inner)));
        canvas->drawing->height_px = canvas->narrow ? 300.0 : 340.0;
        struct panel panel = {
            .left = 48.0,
            .right = canvas->drawing->width_px - 52.0,
            .top = 34.0,
            .bottom = canvas->drawing->height_px - 46.0,
            .x = axis_fit(0.0, inner.items[inner.count - 1]->at, canvas->narrow ? 4 : 7, true),
            .y = axis_fit(0.0, highest, 5, true),
            .y_percent = true};
        panel_y_axis(canvas, &panel);
        panel_x_axis(canvas, &panel, true);
        panel_titles(canvas, &panel, request->x_title, request->y_title, 33.0);
        drawing_segment(canvas->drawing, (struct line_style){COLOUR_AXIS, 1.0, DASH_SOLID}, panel.left,
                        panel_y(&panel, inner.items[0]->value), panel.right,
                        panel_y(&panel, inner.items[0]->value));
        draw_limit(canvas, &panel, &inner, DASH_SOLID);
        draw_limit(canvas, &panel, &outer, DASH_LONG);
        label_lines(canvas, &panel, &inner, &outer);
        draw_units(canvas, &panel, &units);
    }
    free(units.items);
    free(inner.items);
    free(outer.items);
    return reason;
}
