/* One measure by quarter, one panel for each operator on the same scale: value and interval. */
#include "panels.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

struct by_quarter {
    struct rows rows; /* levels `operator|quarter`, every state */
    struct names quarters, operators;
    char (*labels)[512]; /* owns the operators' names */
    double low, high;
    bool share;
};

static int compare_names(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

static const char *quarter_of(const struct rt_figure *row)
{
    const char *bar = strrchr(row->level, '|');
    return bar == NULL ? row->level : bar + 1;
}

static bool is_shown(const struct rt_figure *row)
{
    return row->state == RT_FIGURE_OK && isfinite(row->value);
}

static bool take(struct canvas *canvas, const struct rt_chart_request *request, struct by_quarter *chart)
{
    bool any = false;
    if (!select_rows(canvas, request, 0, true, &chart->rows))
        return false;
    chart->labels = rt_new_array(chart->rows.count + 1, sizeof *chart->labels);
    if (chart->labels == NULL) {
        canvas->drawing->failed = true;
        return false;
    }
    chart->low = INFINITY;
    chart->high = -INFINITY;
    for (size_t i = 0; i < chart->rows.count; i++) {
        const struct rt_figure *row = chart->rows.items[i];
        name_index(canvas, &chart->quarters, quarter_of(row));
        name_index(canvas, &chart->operators,
                   first_part(row->level, chart->labels[i], sizeof *chart->labels));
        chart->share = strcmp(row->unit, "share") == 0;
        if (!is_shown(row))
            continue;
        any = true;
        chart->low = fmin(chart->low, isfinite(row->lower) ? row->lower : row->value);
        chart->high = fmax(chart->high, isfinite(row->upper) ? row->upper : row->value);
    }
    if (chart->share) {
        chart->low = 0.0;
        chart->high = fmin(1.0, chart->high);
    }
    if (chart->quarters.count > 0)
        qsort(chart->quarters.items, chart->quarters.count, sizeof *chart->quarters.items, compare_names);
    return any;
}

static double place_of(const struct panel *panel, const struct by_quarter *chart, const char *quarter)
{
    size_t at = 0;
    while (at + 1 < chart->quarters.count && strcmp(chart->quarters.items[at], quarter) != 0)
        at++;
    return panel->left + (panel->right - panel->left) * ((double)at + 0.5) / (double)chart->quarters.count;
}

/* Labels of the quarters, as many as there is room for, the last one always. */
static void label_quarters(struct canvas *canvas, const struct panel *panel, const struct by_quarter *chart)
{
    const double step_px = (panel->right - panel->left) / (double)chart->quarters.count;
    const size_t every = (size_t)ceil(58.0 / step_px);
    for (size_t i = 0; i < chart->quarters.count; i++)
        if ((chart->quarters.count - 1 - i) % every == 0)
            canvas_name(canvas, place_of(panel, chart, chart->quarters.items[i]), panel->bottom + 13.0,
                        ANCHOR_MIDDLE, INK_SOFT, chart->quarters.items[i]);
}

static void draw_row(struct canvas *canvas, const struct panel *panel, const struct rt_figure *row, double x)
{
    if (!is_shown(row)) { /* too few: a short stroke at the foot */
        drawing_segment(canvas->drawing, (struct line_style){COLOUR_AXIS, 1.4, DASH_SOLID}, x,
                        panel->bottom - 6.0, x, panel->bottom);
        return;
    }
    if (isfinite(row->lower) && isfinite(row->upper))
        drawing_segment(canvas->drawing, (struct line_style){COLOUR_LAGOON, 4.0, DASH_SOLID}, x,
                        panel_y(panel, row->lower), x, panel_y(panel, row->upper));
    drawing_point(canvas->drawing, (struct point_style){COLOUR_INDIGO, SHAPE_CIRCLE, 3.8}, x,
                  panel_y(panel, row->value));
}

static void draw_operator(struct canvas *canvas, const struct panel *panel, const struct by_quarter *chart,
                          const char *operator_label)
{
    const double step_px = (panel->right - panel->left) / (double)chart->quarters.count;
    double before_x = NAN, before_y = NAN; /* the line breaks where a quarter has too few */
    for (int pass = 0; pass < 2; pass++)
        for (size_t i = 0; i < chart->rows.count; i++) {
            const struct rt_figure *row = chart->rows.items[i];
            if (strcmp(chart->labels[i], operator_label) != 0)
                continue;
            double x = place_of(panel, chart, quarter_of(row));
            if (pass == 0) {
                draw_row(canvas, panel, row, x);
            } else if (is_shown(row)) {
                double y = panel_y(panel, row->value);
                if (!isnan(before_x) && x - before_x < 1.5 * step_px)
                    drawing_segment(canvas->drawing, (struct line_style){COLOUR_INDIGO, 1.4, DASH_SOLID},
                                    before_x, before_y, x, y);
                before_x = x;
                before_y = y;
            }
        }
}

const char *build_by_quarter(struct canvas *canvas, const struct rt_chart_request *request)
{
    struct by_quarter chart = {.share = false};
    const char *reason = take(canvas, request, &chart) ? NULL : "too few cases in every quarter";
    if (reason == NULL && !canvas->drawing->failed) {
        struct panel_stack stack =
            stack_panels(canvas, chart.operators.count, canvas->narrow ? 96.0 : 110.0, 48.0, 16.0);
        struct panel panel = {.x = axis_fit(0.0, 1.0, 2, true),
                              .y = axis_fit(chart.low, chart.high, 3, true),
                              .y_percent = chart.share};
        for (size_t i = 0; i < chart.operators.count; i++) {
            place_panel(canvas, &stack, i, chart.operators.items[i], &panel);
            panel_y_axis(canvas, &panel);
            panel_x_axis(canvas, &panel, false);
            panel_reference(canvas, &panel, request->reference, i == 0 ? request->reference_label : NULL);
            draw_operator(canvas, &panel, &chart, chart.operators.items[i]);
            if (is_lowest(&stack, i))
                label_quarters(canvas, &panel, &chart);
        }
        title_panels(canvas, &panel, request->x_title, request->y_title);
    }
    free(chart.rows.items);
    free(chart.labels);
    names_release(&chart.quarters);
    names_release(&chart.operators);
    return reason;
}
