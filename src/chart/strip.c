/* Every case of each ordered class as a point, with quartiles; limits reached are open triangles. */
#include "canvas.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <string.h>

enum { LOWER_QUARTILE, MEDIAN, UPPER_QUARTILE };

static const struct rt_figure *row_at_level(const struct rows *rows, const char *level)
{
    for (size_t i = 0; i < rows->count; i++)
        if (strcmp(rows->items[i]->level, level) == 0)
            return rows->items[i];
    return NULL;
}

/* Cases of one class: exact values first, then limits reached, so that each keeps its own shape. */
static void draw_cases(struct canvas *canvas, const struct panel *panel, const struct rt_case_series *cases,
                       const char *group, double middle, double half_width, const char *colour)
{
    struct case_position *positions = rt_new_array(cases->count, sizeof *positions);
    if (positions == NULL) {
        canvas->drawing->failed = true;
        return;
    }
    for (int censored = 0; censored <= 1; censored++) {
        size_t count = 0;
        for (size_t i = 0; i < cases->count; i++) {
            const struct rt_case_point *point = &cases->points[i];
            if (strcmp(point->group, group) == 0 && point->censored == (censored == 1))
                positions[count++] =
                    (struct case_position){middle + half_width * jitter(i), panel_y(panel, point->y)};
        }
        canvas_cases(canvas, positions, count,
                     (struct point_style){colour, censored ? SHAPE_OPEN_TRIANGLE : SHAPE_OPEN_CIRCLE,
                                          censored ? 3.2 : 2.4});
    }
    free(positions);
}

static void draw_quartiles(struct canvas *canvas, const struct panel *panel, const struct rows *rows,
                           const char *level, double middle, double half_width)
{
    const struct rt_figure *lower = row_at_level(&rows[LOWER_QUARTILE], level);
    const struct rt_figure *median = row_at_level(&rows[MEDIAN], level);
    const struct rt_figure *upper = row_at_level(&rows[UPPER_QUARTILE], level);
    double edge = middle + half_width + 7.0;
    if (lower != NULL && upper != NULL)
        drawing_segment(canvas->drawing, (struct line_style){COLOUR_INK, 2.0, DASH_SOLID}, edge,
                        panel_y(panel, lower->value), edge, panel_y(panel, upper->value));
    if (median == NULL)
        return;
    double y = panel_y(panel, median->value);
    drawing_segment(canvas->drawing, (struct line_style){COLOUR_INK, 2.6, DASH_SOLID}, middle - half_width, y,
                    edge, y);
    struct label label = {.length = 0};
    label_value(&label, median, 0, false);
    canvas_label(canvas, edge + 6.0, y, ANCHOR_START, INK_STRONG, &label);
}

static void draw_class_name(struct canvas *canvas, const struct panel *panel, const struct rt_figure *row,
                            const char *name, double middle)
{
    struct label cases = {.length = 0};
    label_cases(&cases, row);
    canvas_name(canvas, middle, panel->bottom + 14.0, ANCHOR_MIDDLE, INK_STRONG, name);
    canvas_label(canvas, middle, panel->bottom + 30.0, ANCHOR_MIDDLE, INK_SOFT, &cases);
}

static void draw_classes(struct canvas *canvas, const struct rt_chart_request *request,
                         const struct rows *rows, const struct rows *all)
{
    double high = 0.0;
    double low = 0.0;
    for (size_t i = 0; request->cases != NULL && i < request->cases->count; i++) {
        high = fmax(high, request->cases->points[i].y);
        low = fmin(low, request->cases->points[i].y);
    }
    for (size_t i = 0; i < rows[UPPER_QUARTILE].count; i++)
        high = fmax(high, rows[UPPER_QUARTILE].items[i]->value);
    canvas->drawing->height_px = canvas->narrow ? 340.0 : 400.0;
    struct panel panel = {.left = 38.0,
                          .right = canvas->drawing->width_px - 8.0,
                          .top = 34.0,
                          .bottom = canvas->drawing->height_px - 64.0,
                          .y = axis_fit(low, high, 6, true)};
    panel_y_axis(canvas, &panel);
    panel_x_axis(canvas, &panel, false);
    panel_titles(canvas, &panel, request->x_title, request->y_title, 52.0);
    canvas_soft_text(canvas, 2.0, panel.bottom + 52.0, ANCHOR_START, "implants / patients");
    panel_reference(canvas, &panel, request->reference, request->reference_label);
    double slot = (panel.right - panel.left) / (double)all->count;
    double half_width = fmin(slot * 0.26, 60.0);
    for (size_t i = 0; i < all->count; i++) {
        const struct rt_figure *row = all->items[i];
        double middle = panel.left + slot * ((double)i + 0.44);
        if (request->cases != NULL)
            draw_cases(canvas, &panel, request->cases, shown_level(request, row->level), middle, half_width,
                       colour_of_step(i, all->count));
        draw_quartiles(canvas, &panel, rows, row->level, middle, half_width);
        draw_class_name(canvas, &panel, row, shown_level(request, row->level), middle);
    }
}

const char *build_strip_by_class(struct canvas *canvas, const struct rt_chart_request *request)
{
    struct rows rows[RT_CHART_MEASURES] = {{0}};
    struct rows all = {0};
    bool selected = select_rows(canvas, request, MEDIAN, true, &all);
    for (int which = LOWER_QUARTILE; which <= UPPER_QUARTILE; which++)
        selected = select_rows(canvas, request, which, false, &rows[which]) && selected;
    const char *reason = all.count == 0 ? "no class holds a case" : NULL;
    if (selected && reason == NULL)
        draw_classes(canvas, request, rows, &all);
    for (int which = LOWER_QUARTILE; which <= UPPER_QUARTILE; which++)
        free(rows[which].items);
    free(all.items);
    return reason;
}
