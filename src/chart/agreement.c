/* Agreement plot: difference against mean, with bias, limits of agreement and their intervals. */
#include "canvas.h"

#include "ridgetally/base/memory.h"

#include <math.h>

enum { BIAS, LOWER_LIMIT, UPPER_LIMIT };

static void widen_by_row(const struct rt_figure *row, double *low, double *high)
{
    const double values[] = {row->value, row->lower, row->upper};
    for (size_t i = 0; i < 3; i++) {
        if (isfinite(values[i])) {
            *low = fmin(*low, values[i]);
            *high = fmax(*high, values[i]);
        }
    }
}

static void draw_level(struct canvas *canvas, const struct panel *panel, const struct rt_figure *row,
                       int which)
{
    static const char *const names[] = {"bias ", "lower limit ", "upper limit "};
    const char *colour = which == BIAS ? COLOUR_OXBLOOD : COLOUR_SOFT_INK;
    double y = panel_y(panel, row->value);
    if (isfinite(row->lower) && isfinite(row->upper))
        drawing_rectangle(canvas->drawing, colour, which == BIAS ? 0.18 : 0.10, panel->left,
                          panel_y(panel, row->upper), panel->right, panel_y(panel, row->lower));
    drawing_segment(canvas->drawing, (struct line_style){colour, 1.6, which == BIAS ? DASH_SOLID : DASH_LONG},
                    panel->left, y, panel->right, y);
    struct label label = {.length = 0};
    label_words(&label, names[which]);
    label_value(&label, row, 2, true);
    canvas_label(canvas, panel->right, y - 8.0, ANCHOR_END, INK_STRONG, &label);
}

/* The key to the groups' shapes, in one line above the panel. */
static void draw_key(struct canvas *canvas, const struct panel *panel, const struct rt_case_series *cases,
                     const struct names *groups)
{
    double x = panel->right;
    for (size_t g = groups->count; g-- > 0;) {
        struct look look = look_of_group(g);
        canvas_name(canvas, x, panel->top - 12.0, ANCHOR_END, INK_PLAIN, groups->items[g]);
        x -= text_width_px(groups->items[g], canvas->text_px) + 9.0;
        drawing_point(canvas->drawing, (struct point_style){look.colour, look.shape, 3.6}, x,
                      panel->top - 12.0);
        x -= 14.0;
    }
    if (cases->grouping != NULL && groups->count > 0)
        canvas_soft_text(canvas, x + 4.0, panel->top - 12.0, ANCHOR_END, cases->grouping);
}

static void draw_groups(struct canvas *canvas, const struct panel *panel, const struct rt_case_series *cases,
                        struct names *groups)
{
    struct case_position *positions = rt_new_array(cases->count, sizeof *positions);
    if (positions == NULL) {
        canvas->drawing->failed = true;
        return;
    }
    for (size_t i = 0; i < cases->count; i++)
        name_index(canvas, groups, cases->points[i].group);
    bool one_look = groups->count > 4;
    for (size_t g = 0; g < groups->count; g++) {
        size_t count = 0;
        for (size_t i = 0; i < cases->count; i++) {
            const struct rt_case_point *point = &cases->points[i];
            if (name_index(canvas, groups, point->group) != g)
                continue;
            positions[count++] = (struct case_position){panel_x(panel, point->x) + 1.6 * jitter(2 * i),
                                                        panel_y(panel, point->y) + 1.6 * jitter(2 * i + 1)};
        }
        struct look look = look_of_group(one_look ? 0 : g);
        canvas_cases(canvas, positions, count,
                     (struct point_style){look.colour, look.shape, canvas->narrow ? 2.2 : 2.6});
    }
    if (!one_look)
        draw_key(canvas, panel, cases, groups);
    free(positions);
}

const char *build_agreement(struct canvas *canvas, const struct rt_chart_request *request)
{
    const struct rt_case_series *cases = request->cases;
    if (cases == NULL || cases->count == 0)
        return "no case has both depths";
    double low_x = INFINITY, high_x = -INFINITY, low_y = 0.0, high_y = 0.0;
    for (size_t i = 0; i < cases->count; i++) {
        low_x = fmin(low_x, cases->points[i].x);
        high_x = fmax(high_x, cases->points[i].x);
        low_y = fmin(low_y, cases->points[i].y);
        high_y = fmax(high_y, cases->points[i].y);
    }
    struct rows rows[RT_CHART_MEASURES] = {{0}};
    for (int which = BIAS; which <= UPPER_LIMIT; which++)
        if (select_rows(canvas, request, which, false, &rows[which]) && rows[which].count > 0)
            widen_by_row(rows[which].items[0], &low_y, &high_y);
    canvas->drawing->height_px = canvas->narrow ? 350.0 : 430.0;
    struct panel panel = {.left = 46.0,
                          .right = canvas->drawing->width_px - 16.0,
                          .top = 52.0,
                          .bottom = canvas->drawing->height_px - 46.0,
                          .x = axis_fit(low_x, high_x, canvas->narrow ? 5 : 8, true),
                          .y = axis_fit(low_y, high_y, 6, true)};
    panel_y_axis(canvas, &panel);
    panel_x_axis(canvas, &panel, true);
    canvas_text(canvas, 2.0, 14.0, ANCHOR_START, request->y_title);
    canvas_text(canvas, panel.right, panel.bottom + 33.0, ANCHOR_END, request->x_title);
    panel_reference(canvas, &panel, request->reference, NULL);
    if (request->reference >= panel.y.low && request->reference <= panel.y.high)
        canvas_soft_text(canvas, panel.left + 4.0, panel_y(&panel, request->reference) + 9.0, ANCHOR_START,
                         request->reference_label);
    struct names groups = {0};
    draw_groups(canvas, &panel, cases, &groups);
    for (int which = BIAS; which <= UPPER_LIMIT; which++) {
        if (rows[which].count > 0)
            draw_level(canvas, &panel, rows[which].items[0], which);
        free(rows[which].items);
    }
    names_release(&groups);
    return NULL;
}
