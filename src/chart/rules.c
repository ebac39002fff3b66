/* House rules side by side: each rule's adjusted difference on one scale, in smallest differences that matter. */
#include "canvas.h"

#include "ridgetally/base/memory.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

/* Beyond so many smallest differences an interval is cut, with an arrow. */
#define FARTHEST 4.0

struct forest {
    struct rows differences, verdicts;
    struct panel panel;
    double verdict_x; /* right end of the column of verdicts */
};

static const struct rt_figure *row_of_level(const struct rows *rows, const char *level)
{
    for (size_t i = 0; i < rows->count; i++)
        if (strcmp(rows->items[i]->level, level) == 0)
            return rows->items[i];
    return NULL;
}

static const char *verdict_words(const struct rt_figure *verdict)
{
    if (verdict == NULL || verdict->state == RT_FIGURE_UNDEFINED)
        return "not recorded";
    if (verdict->state != RT_FIGURE_OK)
        return "too few to say";
    if (verdict->value > 0.5)
        return "supported";
    if (verdict->value < -0.5)
        return "not supported";
    return strstr(verdict->remark, "cannot tell") != NULL ? "cannot tell" : "too few to say";
}

/* `depth-below-crest` -> `Depth below crest` */
static void name_words(const char *level, char *text, size_t size)
{
    snprintf(text, size, "%s", level);
    for (char *c = text; *c != '\0'; c++)
        if (*c == '-')
            *c = ' ';
    text[0] = (char)toupper((unsigned char)text[0]);
}

static struct axis scale_of(const struct rows *rows, bool narrow)
{
    double low = 0.0, high = 1.25;
    for (size_t i = 0; i < rows->count; i++) {
        const struct rt_figure *row = rows->items[i];
        const double values[] = {row->value, row->lower, row->upper};
        for (size_t k = 0; k < 3; k++)
            if (isfinite(values[k])) {
                low = fmin(low, fmax(values[k], -FARTHEST));
                high = fmax(high, fmin(values[k], FARTHEST));
            }
    }
    return axis_fit(low, high, narrow ? 5 : 8, true);
}

/* An end of the interval: a small upright stroke, or an arrowhead where it goes on. */
static void draw_end(struct canvas *canvas, const struct forest *forest, double value, double y,
                     const char *colour)
{
    const double x = panel_x(&forest->panel, value);
    const double side = value > forest->panel.x.high ? 1.0 : value < forest->panel.x.low ? -1.0 : 0.0;
    if (side == 0.0) {
        drawing_segment(canvas->drawing, (struct line_style){colour, 2.0, DASH_SOLID}, x, y - 4.0, x,
                        y + 4.0);
        return;
    }
    const double xs[] = {x + side * 7.0, x, x}, ys[] = {y, y - 5.0, y + 5.0};
    drawing_area(canvas->drawing, colour, 1.0, 3, xs, ys);
}

static void draw_difference(struct canvas *canvas, const struct forest *forest, const struct rt_figure *row,
                            const struct rt_figure *verdict, double y)
{
    const bool decided = verdict != NULL && verdict->state == RT_FIGURE_OK && fabs(verdict->value) > 0.5;
    const bool supported = decided && verdict->value > 0.0;
    const char *colour = supported ? COLOUR_INDIGO : decided ? COLOUR_OXBLOOD : COLOUR_SOFT_INK;
    const enum shape shape = supported ? SHAPE_CIRCLE : decided ? SHAPE_SQUARE : SHAPE_OPEN_CIRCLE;
    drawing_segment(canvas->drawing, (struct line_style){colour, 2.6, DASH_SOLID},
                    panel_x(&forest->panel, row->lower), y, panel_x(&forest->panel, row->upper), y);
    draw_end(canvas, forest, row->lower, y, colour);
    draw_end(canvas, forest, row->upper, y, colour);
    if (row->value < forest->panel.x.low || row->value > forest->panel.x.high)
        return;
    const double x = panel_x(&forest->panel, row->value);
    if (!decided) /* an open mark lets the line through: paper behind it */
        drawing_point(canvas->drawing, (struct point_style){COLOUR_PAPER, SHAPE_CIRCLE, 4.6}, x, y);
    drawing_point(canvas->drawing, (struct point_style){colour, shape, 4.6}, x, y);
}

static void draw_line_of_rule(struct canvas *canvas, const struct forest *forest, const struct rt_figure *row,
                              double y)
{
    char name[64];
    struct label cases = {.length = 0};
    const struct rt_figure *verdict = row_of_level(&forest->verdicts, row->level);
    const bool drawn = row->state == RT_FIGURE_OK && isfinite(row->lower) && isfinite(row->upper);
    name_words(row->level, name, sizeof name);
    label_cases(&cases, row);
    const double label_y = canvas->narrow ? y - 17.0 : y;
    canvas_name(canvas, 2.0, canvas->narrow ? label_y : y - 7.5, ANCHOR_START, INK_PLAIN, name);
    if (!canvas->narrow)
        canvas_label(canvas, 2.0, y + 8.0, ANCHOR_START, INK_SOFT, &cases);
    canvas_strong_text(canvas, forest->verdict_x, label_y, ANCHOR_END, verdict_words(verdict));
    if (drawn)
        draw_difference(canvas, forest, row, verdict, y);
}

/* The scale: shaded from one on, where a whole interval supports its rule. */
static void draw_scale(struct canvas *canvas, const struct forest *forest)
{
    const struct panel *panel = &forest->panel;
    const double nothing = panel_x(panel, 0.0), matters = panel_x(panel, 1.0);
    drawing_rectangle(canvas->drawing, COLOUR_LAGOON, 0.13, matters, panel->top, panel->right, panel->bottom);
    drawing_segment(canvas->drawing, (struct line_style){COLOUR_AXIS, 1.0, DASH_SHORT}, nothing, panel->top,
                    nothing, panel->bottom);
    drawing_segment(canvas->drawing, (struct line_style){COLOUR_SOFT_INK, 1.2, DASH_SOLID}, matters,
                    panel->top, matters, panel->bottom);
    const char *none = canvas->narrow ? "none" : "no difference";
    const double words = text_width_px(none, canvas->text_px);
    const double least =
        canvas->narrow ? words + 2.0 : panel->left + words - 10.0; /* clear of the edge or the heading */
    canvas_soft_text(canvas, fmax(nothing, least), panel->top - 9.0, ANCHOR_END, none);
    canvas_soft_text(canvas, fmax(matters, least + 10.0), panel->top - 9.0, ANCHOR_START,
                     canvas->narrow ? "matters" : "smallest that matters");
}

static void draw_forest(struct canvas *canvas, struct forest *forest, const struct rt_chart_request *request)
{
    const double step = canvas->narrow ? 46.0 : 42.0, width = canvas->drawing->width_px;
    const double height = step * (double)forest->differences.count;
    forest->verdict_x = width - 2.0;
    forest->panel = (struct panel){.left = canvas->narrow ? 12.0 : 158.0,
                                   .right = canvas->narrow ? width - 14.0 : width - 118.0,
                                   .top = 28.0,
                                   .bottom = 28.0 + height,
                                   .x = scale_of(&forest->differences, canvas->narrow)};
    canvas->drawing->height_px = forest->panel.bottom + 48.0;
    draw_scale(canvas, forest);
    if (!canvas->narrow)
        canvas_soft_text(canvas, 2.0, forest->panel.top - 9.0, ANCHOR_START, "implants / patients");
    panel_x_axis(canvas, &forest->panel, true);
    canvas_text(canvas, forest->panel.right, forest->panel.bottom + 34.0, ANCHOR_END, request->x_title);
    for (size_t i = 0; i < forest->differences.count; i++)
        draw_line_of_rule(canvas, forest, forest->differences.items[i],
                          forest->panel.top + step * ((double)i + (canvas->narrow ? 0.68 : 0.5)));
}

const char *build_rules(struct canvas *canvas, const struct rt_chart_request *request)
{
    struct forest forest = {.differences = {0}};
    const char *reason = NULL;
    bool any = false;
    if (select_rows(canvas, request, 0, true, &forest.differences) &&
        select_rows(canvas, request, 1, true, &forest.verdicts)) {
        for (size_t i = 0; i < forest.differences.count; i++)
            any = any || forest.differences.items[i]->state == RT_FIGURE_OK;
        if (any)
            draw_forest(canvas, &forest, request);
        else
            reason = "too few cases for any of the rules";
    }
    free(forest.differences.items);
    free(forest.verdicts.items);
    return reason;
}
