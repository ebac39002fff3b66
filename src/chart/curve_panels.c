/* Fitted curves of several classes, a small panel each on the same scales: its own curve with its band and its cases in front, the
 * curves of the other classes pale behind. */
#include "canvas.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <string.h>

enum { MOST_PANELS = 12 };

#define COLOUR_OTHER "#b9b4a6"

struct curves {
    const struct rt_chart_request *request;
    struct rows rows;
    struct names levels;
    double low_x, high_x, low_y, high_y;
};

static void widen(struct curves *curves, double x, double y)
{
    if (!isfinite(x) || !isfinite(y))
        return;
    curves->low_x = fmin(curves->low_x, x);
    curves->high_x = fmax(curves->high_x, x);
    curves->low_y = fmin(curves->low_y, y);
    curves->high_y = fmax(curves->high_y, y);
}

/* The last part of a joined name, by which cases belong to a panel. */
static const char *last_part(const char *name)
{
    const char *bar = strrchr(name, '|');
    return bar == NULL ? name : bar + 1;
}

static bool is_of_level(const struct rt_case_point *point, const char *level)
{
    return strcmp(last_part(point->group), last_part(level)) == 0;
}

static void read_extent(struct canvas *canvas, struct curves *curves)
{
    const struct rt_case_series *cases = curves->request->cases;
    curves->low_x = INFINITY;
    curves->high_x = -INFINITY;
    for (size_t i = 0; i < curves->rows.count; i++) {
        const struct rt_figure *row = curves->rows.items[i];
        name_index(canvas, &curves->levels, row->level);
        widen(curves, row->at, row->value);
        widen(curves, row->at, row->lower);
        widen(curves, row->at, row->upper);
    }
    for (size_t i = 0; cases != NULL && i < cases->count; i++)
        for (size_t l = 0; l < curves->levels.count; l++)
            if (is_of_level(&cases->points[i], curves->levels.items[l]))
                widen(curves, cases->points[i].x, cases->points[i].y);
}

/* The rows of one level in `picked`, which has room for all. */
static struct rows pick(const struct curves *curves, const char *level, const struct rt_figure **picked)
{
    struct rows rows = {picked, 0};
    for (size_t i = 0; i < curves->rows.count; i++)
        if (strcmp(curves->rows.items[i]->level, level) == 0)
            picked[rows.count++] = curves->rows.items[i];
    return rows;
}

static void draw_cases(struct canvas *canvas, const struct curves *curves, const struct panel *panel,
                       const char *level)
{
    const struct rt_case_series *cases = curves->request->cases;
    struct case_position *positions =
        cases == NULL ? NULL : rt_new_array(cases->count + 1, sizeof *positions);
    size_t count = 0;
    if (cases != NULL && positions == NULL)
        canvas->drawing->failed = true;
    for (size_t i = 0; positions != NULL && i < cases->count; i++)
        if (is_of_level(&cases->points[i], level))
            positions[count++] =
                (struct case_position){panel_x(panel, cases->points[i].x) + 1.6 * jitter(2 * i),
                                       panel_y(panel, cases->points[i].y) + 1.6 * jitter(2 * i + 1)};
    if (count > 0)
        canvas_cases(canvas, positions, count, (struct point_style){COLOUR_CASE, SHAPE_OPEN_CIRCLE, 2.2});
    free(positions);
}

static void draw_name(struct canvas *canvas, const struct curves *curves, const struct panel *panel,
                      const char *level, const struct rows *rows)
{
    const char *before = curves->request->panel_before;
    struct label name = {.length = 0}, cases = {.length = 0};
    if (before != NULL && before[0] != '\0') {
        label_words(&name, before);
        label_words(&name, " ");
    }
    label_name(&name, shown_level(curves->request, level));
    canvas_label(canvas, panel->left, panel->top - 12.0, ANCHOR_START, INK_STRONG, &name);
    if (rows->count == 0 || rows->items[0]->n_implants < 0)
        return;
    label_cases(&cases, rows->items[0]);
    canvas_label(canvas, panel->right, panel->top - 12.0, ANCHOR_END, INK_SOFT, &cases);
}

static void draw_panel(struct canvas *canvas, const struct curves *curves, const struct panel *panel,
                       size_t which, const struct rt_figure **picked)
{
    const struct rt_chart_request *request = curves->request;
    const char *level = curves->levels.items[which];
    panel_y_axis(canvas, panel);
    panel_x_axis(canvas, panel, true);
    panel_error_band(canvas, panel, request->error_band, which == 0);
    for (size_t l = 0; l < curves->levels.count; l++) {
        struct rows other = pick(curves, curves->levels.items[l], picked);
        if (l != which)
            canvas_curve(canvas, panel, &other, COLOUR_OTHER, 1.3, false);
    }
    panel_reference(canvas, panel, request->reference, which == 0 ? request->reference_label : NULL);
    draw_cases(canvas, curves, panel, level);
    struct rows own = pick(curves, level, picked);
    canvas_curve(canvas, panel, &own, COLOUR_INDIGO, 2.4, true);
    draw_name(canvas, curves, panel, level, &own);
}

static void draw_all(struct canvas *canvas, const struct curves *curves, const struct rt_figure **picked)
{
    const struct rt_chart_request *request = curves->request;
    const size_t count = curves->levels.count < MOST_PANELS ? curves->levels.count : MOST_PANELS;
    const size_t across = canvas->narrow ? 1 : count < 3 ? count : 3;
    const size_t down = (count + across - 1) / across;
    const double gutter = 46.0, between = 40.0, first_top = 52.0, height = canvas->narrow ? 170.0 : 250.0;
    const double step = height + 62.0;
    const double width =
        (canvas->drawing->width_px - gutter - 10.0 - between * (double)(across - 1)) / (double)across;
    struct panel panel = {.x = axis_fit(curves->low_x, curves->high_x, canvas->narrow ? 5 : 4, true),
                          .y = axis_fit(curves->low_y, curves->high_y, canvas->narrow ? 4 : 6, true)};
    for (size_t l = 0; l < count; l++) {
        panel.left = gutter + (double)(l % across) * (width + between);
        panel.right = panel.left + width;
        panel.top = first_top + (double)(l / across) * step;
        panel.bottom = panel.top + height;
        draw_panel(canvas, curves, &panel, l, picked);
    }
    const double last_bottom = first_top + (double)(down - 1) * step + height;
    canvas->drawing->height_px = last_bottom + 48.0;
    canvas_text(canvas, 2.0, 11.0, ANCHOR_START, request->y_title);
    canvas_text(canvas, canvas->drawing->width_px - 10.0, last_bottom + 34.0, ANCHOR_END, request->x_title);
}

const char *build_curve_panels(struct canvas *canvas, const struct rt_chart_request *request)
{
    struct curves curves = {.request = request};
    const char *reason = NULL;
    if (!select_rows(canvas, request, 0, false, &curves.rows))
        return NULL;
    const struct rt_figure **picked = rt_new_array(curves.rows.count + 1, sizeof *picked);
    if (picked == NULL)
        canvas->drawing->failed = true;
    read_extent(canvas, &curves);
    if (curves.rows.count < 2)
        reason = "too few cases for a curve";
    else if (!canvas->drawing->failed)
        draw_all(canvas, &curves, picked);
    free((void *)picked);
    free((void *)curves.rows.items);
    names_release(&curves.levels);
    return reason;
}
