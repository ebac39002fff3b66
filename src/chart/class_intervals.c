/* Means with intervals by one class along the axis, in panels by another; the cases behind in grey. */
#include "canvas.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Rows, positions (first part of the level) and panels (second part) of one chart. */
struct grid {
    const struct rt_chart_request *request;
    struct rows rows;
    struct names positions, panels;
    struct rt_arena text;
};

/* Split `a|b` (or `a`) of a shown level into owned parts; false when out of memory. */
static bool split_level(struct grid *grid, const char *level, const char **first, const char **second)
{
    char *copy = (char *)rt_arena_copy(&grid->text, level);
    if (copy == NULL)
        return false;
    char *bar = strchr(copy, '|');
    if (bar != NULL)
        *bar = '\0';
    *first = copy;
    *second = bar == NULL ? "" : bar + 1;
    return true;
}

static bool is_unrecorded(const char *level)
{
    return strstr(level, "not recorded") != NULL;
}

static void read_names(struct canvas *canvas, struct grid *grid)
{
    for (size_t i = 0; i < grid->rows.count; i++) {
        const char *first = NULL;
        const char *second = NULL;
        const char *level = shown_level(grid->request, grid->rows.items[i]->level);
        if (is_unrecorded(level))
            continue;
        if (!split_level(grid, level, &first, &second)) {
            canvas->drawing->failed = true;
            return;
        }
        name_index(canvas, &grid->positions, first);
        name_index(canvas, &grid->panels, second);
    }
}

/* Words that all positions end in (a unit), which the axis title says once: " mm" of "<0 mm", "1 to 2 mm". */
static size_t shared_ending(const struct names *names)
{
    const char *first = names->items[0];
    const char *ending = strrchr(first, ' ');
    if (ending == NULL || names->count < 2)
        return 0;
    size_t length = strlen(ending);
    for (size_t i = 0; i < names->count; i++) {
        size_t all = strlen(names->items[i]);
        if (all <= length || strcmp(names->items[i] + all - length, ending) != 0)
            return 0;
    }
    return length;
}

static const struct rt_figure *row_at(const struct grid *grid, const char *first, const char *second)
{
    size_t length = strlen(first);
    for (size_t i = 0; i < grid->rows.count; i++) {
        const char *level = shown_level(grid->request, grid->rows.items[i]->level);
        if (strncmp(level, first, length) == 0 &&
            (level[length] == '|' ? strcmp(level + length + 1, second) == 0
                                  : level[length] == '\0' && second[0] == '\0'))
            return grid->rows.items[i];
    }
    return NULL;
}

static struct axis scale_of(const struct grid *grid, int ticks)
{
    double low = 0.0;
    double high = 0.0;
    const struct rt_case_series *cases = grid->request->cases;
    for (size_t i = 0; cases != NULL && i < cases->count; i++) {
        low = fmin(low, cases->points[i].y);
        high = fmax(high, cases->points[i].y);
    }
    for (size_t i = 0; i < grid->rows.count; i++) {
        const struct rt_figure *row = grid->rows.items[i];
        const double values[] = {row->value, row->lower, row->upper};
        for (size_t k = 0; k < 3; k++) {
            if (isfinite(values[k])) {
                low = fmin(low, values[k]);
                high = fmax(high, values[k]);
            }
        }
    }
    return axis_fit(low, high, ticks, true);
}

static void draw_cases(struct canvas *canvas, const struct grid *grid, const struct panel *panel,
                       const char *level, double middle, double half_width)
{
    const struct rt_case_series *cases = grid->request->cases;
    if (cases == NULL)
        return;
    struct case_position *positions = rt_new_array(cases->count, sizeof *positions);
    if (positions == NULL) {
        canvas->drawing->failed = true;
        return;
    }
    size_t count = 0;
    for (size_t i = 0; i < cases->count; i++)
        if (strcmp(cases->points[i].group, level) == 0)
            positions[count++] =
                (struct case_position){middle + half_width * jitter(i), panel_y(panel, cases->points[i].y)};
    canvas_cases(canvas, positions, count, (struct point_style){COLOUR_CASE, SHAPE_OPEN_CIRCLE, 2.1});
    free(positions);
}

static void draw_mean(struct canvas *canvas, const struct panel *panel, const struct rt_figure *row,
                      double middle, const char *colour)
{
    if (isfinite(row->lower) && isfinite(row->upper))
        drawing_segment(canvas->drawing, (struct line_style){colour, 2.6, DASH_SOLID}, middle,
                        panel_y(panel, row->lower), middle, panel_y(panel, row->upper));
    double y = panel_y(panel, row->value);
    drawing_point(canvas->drawing, (struct point_style){colour, SHAPE_CIRCLE, 4.4}, middle, y);
    struct label label = {.length = 0};
    label_value(&label, row, 2, true);
    canvas_label(canvas, middle + 8.0, y, ANCHOR_START, INK_STRONG, &label);
}

static void draw_position(struct canvas *canvas, const struct grid *grid, const struct panel *panel,
                          size_t position, const char *panel_name)
{
    double slot = (panel->right - panel->left) / (double)grid->positions.count;
    double middle = panel->left + slot * ((double)position + 0.34);
    const char *name = grid->positions.items[position];
    char level[256];
    snprintf(level, sizeof level, panel_name[0] == '\0' ? "%.100s" : "%.100s|%.100s", name, panel_name);
    draw_cases(canvas, grid, panel, level, middle, fmin(slot * 0.22, 26.0));
    char short_name[128];
    snprintf(short_name, sizeof short_name, "%.*s", (int)(strlen(name) - shared_ending(&grid->positions)),
             name);
    canvas_name(canvas, middle, panel->bottom + 13.0, ANCHOR_MIDDLE, INK_PLAIN, short_name);
    const struct rt_figure *row = row_at(grid, name, panel_name);
    if (row == NULL) {
        canvas_soft_text(canvas, middle, panel->bottom + 28.0, ANCHOR_MIDDLE, "none");
        return;
    }
    struct label cases = {.length = 0};
    label_cases(&cases, row);
    if (text_width_px(cases.text, canvas->text_px) > slot - 6.0) {
        struct label patients = {.length = 0};
        label_words(&patients, "/ ");
        label_count(&patients, row, COUNT_PATIENTS);
        canvas_label(canvas, middle, panel->bottom + 42.0, ANCHOR_MIDDLE, INK_SOFT, &patients);
        cases = (struct label){.length = 0};
        label_count(&cases, row, COUNT_IMPLANTS);
    }
    canvas_label(canvas, middle, panel->bottom + 28.0, ANCHOR_MIDDLE, INK_SOFT, &cases);
    if (row->state == RT_FIGURE_OK && isfinite(row->value))
        draw_mean(canvas, panel, row, middle, colour_of_step(position, grid->positions.count));
    else if (row->state == RT_FIGURE_TOO_FEW && row->n_implants > 0)
        canvas_soft_text(canvas, fmax(middle, panel->left + 24.0),
                         panel->top + 8.0 + 15.0 * (double)(position % 2), ANCHOR_MIDDLE, "too few");
}

static void draw_panel_name(struct canvas *canvas, const struct rt_chart_request *request,
                            const struct panel *panel, const char *name)
{
    if (name[0] == '\0')
        return;
    struct label label = {.length = 0};
    if (request->panel_before != NULL && request->panel_before[0] != '\0') {
        label_words(&label, request->panel_before);
        label_words(&label, " ");
    }
    label_name(&label, name);
    canvas_label(canvas, panel->left, panel->top - 12.0, ANCHOR_START, INK_STRONG, &label);
}

/* Panels side by side when wide, one under another when narrow; the same scale in all. */
static void draw_grid(struct canvas *canvas, const struct grid *grid)
{
    const struct rt_chart_request *request = grid->request;
    size_t panels = grid->panels.count;
    double height = canvas->narrow ? 170.0 : request->low ? 150.0 : 270.0;
    double step = height + 62.0;
    double gutter = 42.0;
    size_t across = canvas->narrow ? 1 : panels;
    double width = (canvas->drawing->width_px - 8.0 - gutter - 14.0 * (double)(across - 1)) / (double)across;
    struct panel panel = {.y = scale_of(grid, canvas->narrow || request->low ? 4 : 6)};
    canvas->drawing->height_px = 46.0 + step * (double)(canvas->narrow ? panels : 1) + 20.0;
    for (size_t p = 0; p < panels; p++) {
        size_t column = canvas->narrow ? 0 : p;
        panel.left = gutter + (double)column * (width + 14.0);
        panel.right = panel.left + width;
        panel.top = 46.0 + (canvas->narrow ? step * (double)p : 0.0);
        panel.bottom = panel.top + height;
        if (column == 0) {
            panel_y_axis(canvas, &panel);
        } else {
            for (size_t i = 0; i < panel.y.tick_count; i++)
                drawing_segment(canvas->drawing, (struct line_style){COLOUR_RULE, 1.0, DASH_SOLID},
                                panel.left, panel_y(&panel, panel.y.ticks[i]), panel.right,
                                panel_y(&panel, panel.y.ticks[i]));
        }
        panel_x_axis(canvas, &panel, false);
        panel_error_band(canvas, &panel, request->error_band, p == 0);
        panel_reference(canvas, &panel, request->reference, p == 0 ? request->reference_label : NULL);
        draw_panel_name(canvas, request, &panel, grid->panels.items[p]);
        for (size_t i = 0; i < grid->positions.count; i++)
            draw_position(canvas, grid, &panel, i, grid->panels.items[p]);
    }
    canvas_text(canvas, 2.0, 12.0, ANCHOR_START, request->y_title);
    canvas_text(canvas, panel.right, canvas->drawing->height_px - 12.0, ANCHOR_END, request->x_title);
    canvas_soft_text(canvas, 2.0, canvas->drawing->height_px - 12.0, ANCHOR_START, "implants / patients");
}

const char *build_class_intervals(struct canvas *canvas, const struct rt_chart_request *request)
{
    struct grid grid = {.request = request};
    const char *reason = NULL;
    if (select_rows(canvas, request, 0, true, &grid.rows))
        read_names(canvas, &grid);
    if (grid.positions.count == 0)
        reason = "no class holds a case";
    else if (!canvas->drawing->failed)
        draw_grid(canvas, &grid);
    free(grid.rows.items);
    names_release(&grid.positions);
    names_release(&grid.panels);
    rt_arena_release(&grid.text);
    return reason;
}
