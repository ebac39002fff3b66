/* Shares with their intervals, one row each, and behind each the span of what the cases that could not be judged could
 * make of it. */
#include "canvas.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define COLOUR_SPAN "#cfcabb"

enum { SHARE, BOUND };

/* The bound of a row: the same level with `|bound` behind it, under the grouping `...|bound`. */
static const struct rt_figure *bound_of(const struct rt_chart_request *request, const struct rt_figure *row,
                                        const char *bound)
{
    for (size_t i = 0; i < request->figures->count; i++) {
        const struct rt_figure *other = &request->figures->rows[i];
        const size_t grouping = strlen(row->grouping), level = strlen(row->level);
        if (request->measures[BOUND] != NULL && strcmp(other->measure, request->measures[BOUND]) == 0 &&
            strcmp(other->section, row->section) == 0 &&
            strncmp(other->grouping, row->grouping, grouping) == 0 &&
            strcmp(other->grouping + grouping, "|bound") == 0 &&
            strncmp(other->level, row->level, level) == 0 && other->level[level] == '|' &&
            strcmp(other->level + level + 1, bound) == 0 && isnan(other->at) == isnan(row->at) &&
            (isnan(row->at) || other->at == row->at) && isfinite(other->value))
            return other;
    }
    return NULL;
}

/* A span from the worst to the best case with ticks at its ends. */
static void draw_span(struct canvas *canvas, const struct panel *panel, const struct rt_figure *worst,
                      const struct rt_figure *best, double y)
{
    const double low = panel_x(panel, worst->value), high = panel_x(panel, best->value);
    const struct line_style line = {COLOUR_SOFT_INK, 1.2, DASH_SOLID};
    drawing_rectangle(canvas->drawing, COLOUR_SPAN, 0.55, low, y - 7.0, high, y + 7.0);
    drawing_segment(canvas->drawing, line, low, y - 7.0, low, y + 7.0);
    drawing_segment(canvas->drawing, line, high, y - 7.0, high, y + 7.0);
}

static void draw_row(struct canvas *canvas, const struct rt_chart_request *request, const struct panel *panel,
                     const struct rt_figure *row, double y)
{
    const struct rt_figure *worst = bound_of(request, row, "worst case");
    const struct rt_figure *best = bound_of(request, row, "best case");
    struct label label = {.length = 0};
    const char *name = shown_level(request, row->level);
    if (canvas->narrow)
        canvas_name(canvas, panel->left, y - 17.0, ANCHOR_START, INK_PLAIN, name);
    else
        canvas_name(canvas, panel->left - 12.0, y, ANCHOR_END, INK_PLAIN, name);
    drawing_segment(canvas->drawing, (struct line_style){COLOUR_RULE, 1.0, DASH_SOLID}, panel->left, y,
                    panel->right, y);
    if (worst != NULL && best != NULL)
        draw_span(canvas, panel, worst, best, y);
    if (row->state == RT_FIGURE_OK && isfinite(row->value)) {
        if (isfinite(row->lower) && isfinite(row->upper))
            drawing_segment(canvas->drawing, (struct line_style){COLOUR_LAGOON, 4.0, DASH_SOLID},
                            panel_x(panel, row->lower), y, panel_x(panel, row->upper), y);
        drawing_point(canvas->drawing, (struct point_style){COLOUR_INDIGO, SHAPE_CIRCLE, 4.6},
                      panel_x(panel, row->value), y);
    }
    label_events(&label, row, COUNT_IMPLANTS);
    canvas_label(canvas, panel->right + 10.0, y, ANCHOR_START, INK_SOFT, &label);
}

static double widest_of(const struct canvas *canvas, const struct rt_chart_request *request,
                        const struct rows *rows)
{
    double widest = 30.0;
    for (size_t i = 0; i < rows->count; i++)
        widest = fmax(widest, text_width_px(shown_level(request, rows->items[i]->level), canvas->text_px));
    return fmin(widest, canvas->drawing->width_px * 0.4);
}

/* Room for the widest count at the end of a line. */
static double widest_count(const struct canvas *canvas, const struct rows *rows)
{
    double widest = 40.0;
    for (size_t i = 0; i < rows->count; i++) {
        struct label label = {.length = 0};
        label_events(&label, rows->items[i], COUNT_IMPLANTS);
        widest = fmax(widest, text_width_px(label.text, canvas->text_px));
    }
    return widest;
}

/* What the marks are, said once under the axis. */
static void draw_key(struct canvas *canvas, const struct panel *panel)
{
    const double y = panel->bottom + 58.0;
    double x = 2.0;
    drawing_segment(canvas->drawing, (struct line_style){COLOUR_LAGOON, 4.0, DASH_SOLID}, x, y, x + 22.0, y);
    drawing_point(canvas->drawing, (struct point_style){COLOUR_INDIGO, SHAPE_CIRCLE, 4.6}, x + 11.0, y);
    canvas_soft_text(canvas, x + 28.0, y, ANCHOR_START, "share of those judged, 95% interval");
    const double below = canvas->narrow ? y + 20.0 : y;
    x += canvas->narrow ? 0.0
                        : 34.0 + text_width_px("share of those judged, 95% interval", canvas->text_px) + 14.0;
    drawing_rectangle(canvas->drawing, COLOUR_SPAN, 0.55, x, below - 7.0, x + 22.0, below + 7.0);
    canvas_soft_text(canvas, x + 28.0, below, ANCHOR_START, "if none, or all, of the others do");
    canvas->drawing->height_px = below + 14.0;
}

const char *build_share_bounds(struct canvas *canvas, const struct rt_chart_request *request)
{
    struct rows rows = {0};
    if (!select_rows(canvas, request, SHARE, true, &rows))
        return NULL;
    size_t kept = 0; /* rows without a time are told from those with one by the request's `at` */
    for (size_t i = 0; i < rows.count; i++)
        if (strcmp(rows.items[i]->unit_of_analysis, "patient") != 0 &&
            (isfinite(request->at) || isnan(rows.items[i]->at)))
            rows.items[kept++] = rows.items[i];
    rows.count = kept;
    const char *reason = rows.count == 0 ? "no case could be judged" : NULL;
    if (reason == NULL) {
        const double step = canvas->narrow ? 44.0 : 30.0;
        const double left = canvas->narrow ? 16.0 : widest_of(canvas, request, &rows) + 18.0;
        struct panel panel = {.left = left,
                              .right = canvas->drawing->width_px - widest_count(canvas, &rows) - 14.0,
                              .top = 30.0,
                              .bottom = 30.0 + step * (double)rows.count + 8.0,
                              .x = axis_fit(0.0, 1.0, canvas->narrow ? 4 : 5, true),
                              .x_percent = true};
        panel_x_axis(canvas, &panel, true);
        panel_titles(canvas, &panel, request->x_title, request->y_title, 33.0);
        for (size_t i = 0; i < rows.count; i++)
            draw_row(canvas, request, &panel, rows.items[i],
                     panel.top + step * ((double)i + (canvas->narrow ? 0.66 : 0.5)));
        draw_key(canvas, &panel);
    }
    free((void *)rows.items);
    return reason;
}
