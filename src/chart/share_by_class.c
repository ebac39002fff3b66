/* Shares with intervals, one row per class or time, read from the top down. */
#include "canvas.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Rows of one level alone are told apart by their times. */
static bool is_named_by_time(const struct rt_chart_request *request, const struct rt_figure *row)
{
    return shown_level(request, row->level)[0] == '\0' && isfinite(row->at);
}

static struct label name_of(const struct rt_chart_request *request, const struct rt_figure *row)
{
    struct label name = {.length = 0};
    if (is_named_by_time(request, row))
        label_time(&name, row);
    else
        label_name(&name, shown_level(request, row->level));
    return name;
}

/* Events of those due, or of all; of a survival curve, whose failures are of all who began, those still followed. */
static struct label count_of(const struct rt_chart_request *request, const struct rt_figure *row)
{
    struct label count = {.length = 0};
    if (is_named_by_time(request, row)) {
        label_words(&count, "n = ");
        label_count(&count, row, COUNT_IMPLANTS);
    } else {
        label_events(&count, row, row->n_due >= 0 ? COUNT_DUE : COUNT_IMPLANTS);
    }
    return count;
}

static void draw_row(struct canvas *canvas, const struct rt_chart_request *request, const struct panel *panel,
                     const struct rt_figure *row, double y)
{
    const struct label name = name_of(request, row), count = count_of(request, row);
    canvas_label(canvas, panel->left - 10.0, y, ANCHOR_END, INK_PLAIN, &name);
    drawing_segment(canvas->drawing, (struct line_style){COLOUR_RULE, 1.0, DASH_SOLID}, panel->left, y,
                    panel->right, y);
    if (row->state == RT_FIGURE_OK && isfinite(row->value)) {
        if (isfinite(row->lower) && isfinite(row->upper))
            drawing_segment(canvas->drawing, (struct line_style){COLOUR_LAGOON, 5.0, DASH_SOLID},
                            panel_x(panel, row->lower), y, panel_x(panel, row->upper), y);
        drawing_point(canvas->drawing, (struct point_style){COLOUR_INDIGO, SHAPE_CIRCLE, 4.6},
                      panel_x(panel, row->value), y);
    }
    canvas_label(canvas, panel->right + 10.0, y, ANCHOR_START, INK_SOFT, &count);
}

static double widest_of(const struct canvas *canvas, const struct rt_chart_request *request,
                        const struct rows *rows)
{
    double widest = 30.0;
    for (size_t i = 0; i < rows->count; i++) {
        const struct label name = name_of(request, rows->items[i]);
        widest = fmax(widest, text_width_px(name.text, canvas->text_px));
    }
    return fmin(widest, canvas->drawing->width_px * 0.4);
}

const char *build_share_by_class(struct canvas *canvas, const struct rt_chart_request *request)
{
    struct rows rows = {0};
    if (!select_rows(canvas, request, 0, true, &rows))
        return NULL;
    const char *reason = rows.count == 0 ? "no class holds a case" : NULL;
    if (reason == NULL) {
        const double step = 26.0;
        double height = step * (double)rows.count;
        struct panel panel = {.left = widest_of(canvas, request, &rows) + 16.0,
                              .right = canvas->drawing->width_px - 84.0,
                              .top = 34.0,
                              .bottom = 34.0 + height + 6.0,
                              .x = axis_fit(0.0, 1.0, canvas->narrow ? 4 : 5, true),
                              .x_percent = true};
        canvas->drawing->height_px = panel.bottom + 46.0;
        panel_x_axis(canvas, &panel, true);
        panel_titles(canvas, &panel, request->x_title, request->y_title, 33.0);
        for (size_t i = 0; i < rows.count; i++)
            draw_row(canvas, request, &panel, rows.items[i], panel.top + step * ((double)i + 0.5));
    }
    free(rows.items);
    return reason;
}
