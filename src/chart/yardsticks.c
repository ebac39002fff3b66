/* Yardsticks one below the other, each figure with its interval on a scale of its own, against its target. */
#include "canvas.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { STRIP_PX = 98, HEAD_PX = 30 };

/* One yardstick. */
struct strip {
    const struct rt_figure *value, *target, *state; /* value and target NULL where there is none to draw */
    double target_at;                               /* NaN without a target */
    bool at_least;
};

static const struct rt_figure *same_level(const struct rows *rows, const char *level)
{
    for (size_t i = 0; i < rows->count; i++)
        if (strcmp(rows->items[i]->level, level) == 0)
            return rows->items[i];
    return NULL;
}

static bool is_drawn(const struct rt_figure *value)
{
    return value->state == RT_FIGURE_OK && isfinite(value->value);
}

/* The scale: the interval, the point and the target, with some room; shares stay within 0 and 1. */
static struct axis scale_of(const struct canvas *canvas, const struct strip *strip, bool share)
{
    const double numbers[] = {strip->value->value, strip->value->lower, strip->value->upper,
                              strip->target_at};
    double low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++) {
        if (!isfinite(numbers[i]))
            continue;
        low = fmin(low, numbers[i]);
        high = fmax(high, numbers[i]);
    }
    double room = (high - low) * 0.15;
    low = share ? fmax(0.0, low - room) : low - room;
    high = share ? fmin(1.0, high + room) : high + room;
    return axis_fit(low, high, canvas->narrow ? 3 : 5, true);
}

static const char *state_text(const struct rt_figure *state)
{
    if (state == NULL || state->state != RT_FIGURE_OK)
        return "no target set";
    return state->value > 0.0 ? "met" : state->value < 0.0 ? "not met" : "cannot tell";
}

static void draw_head(struct canvas *canvas, const struct strip *strip, const struct panel *panel, double y)
{
    char name[96];
    struct label label = {.length = 0};
    snprintf(name, sizeof name, "%s", strip->value->level);
    for (char *at = name; *at != '\0'; at++)
        *at = *at == '-' ? ' ' : *at;
    name[0] = (char)(name[0] >= 'a' && name[0] <= 'z' ? name[0] - 'a' + 'A' : name[0]);
    label_name(&label, name);
    if (strcmp(strip->value->unit, "share") != 0) {
        label_words(&label, ", ");
        label_words(&label, strip->value->unit);
    }
    canvas_label(canvas, panel->left, y, ANCHOR_START, INK_PLAIN, &label);
    canvas_strong_text(canvas, panel->right, y, ANCHOR_END, state_text(strip->state));
}

/* The side that meets the target is shaded; the target itself is a line with its words at the foot of it. */
static void draw_target(struct canvas *canvas, const struct strip *strip, const struct panel *panel,
                        bool share)
{
    if (!isfinite(strip->target_at))
        return;
    double x = panel_x(panel, strip->target_at), edge = strip->at_least ? panel->right : panel->left;
    drawing_rectangle(canvas->drawing, COLOUR_BRASS, 0.22, fmin(x, edge), panel->top, fmax(x, edge),
                      panel->bottom);
    drawing_segment(canvas->drawing, (struct line_style){COLOUR_INK, 2.0, DASH_SOLID}, x, panel->top - 3.0, x,
                    panel->bottom + 3.0);
    struct label label = {.length = 0};
    label_words(&label, strip->target->remark);
    label_words(&label, " ");
    if (share)
        label_percent(&label, strip->target, fmod(strip->target_at * 1000.0, 10.0) < 0.5 ? 0 : 1);
    else
        label_value(&label, strip->target, 1, false);
    double width = text_width_px(label.text, canvas->text_px);
    double middle = fmin(fmax(x, panel->left + width / 2.0), panel->right - width / 2.0);
    canvas_label(canvas, middle, panel->top - 11.0, ANCHOR_MIDDLE, INK_PLAIN, &label);
}

static void draw_strip(struct canvas *canvas, const struct strip *strip, double top)
{
    const bool share = strcmp(strip->value->unit, "share") == 0;
    struct panel panel = {.left = 14.0,
                          .right = canvas->drawing->width_px - 14.0,
                          .top = top + HEAD_PX + 12.0,
                          .bottom = top + HEAD_PX + 30.0,
                          .x_percent = share};
    draw_head(canvas, strip, &panel, top + 8.0);
    if (!is_drawn(strip->value)) {
        canvas_soft_text(canvas, panel.left, panel.top, ANCHOR_START, "too few to say");
        return;
    }
    panel.x = scale_of(canvas, strip, share);
    draw_target(canvas, strip, &panel, share);
    panel_x_axis(canvas, &panel, true);
    double y = (panel.top + panel.bottom) / 2.0;
    if (isfinite(strip->value->lower) && isfinite(strip->value->upper))
        drawing_segment(canvas->drawing, (struct line_style){COLOUR_LAGOON, 5.0, DASH_SOLID},
                        panel_x(&panel, strip->value->lower), y, panel_x(&panel, strip->value->upper), y);
    drawing_point(canvas->drawing, (struct point_style){COLOUR_INDIGO, SHAPE_CIRCLE, 4.8},
                  panel_x(&panel, strip->value->value), y);
}

const char *build_yardsticks(struct canvas *canvas, const struct rt_chart_request *request)
{
    struct rows values = {0}, targets = {0}, states = {0};
    const char *reason = NULL;
    if (select_rows(canvas, request, 0, true, &values) && select_rows(canvas, request, 1, true, &targets) &&
        select_rows(canvas, request, 2, true, &states)) {
        size_t drawn = 0;
        for (size_t i = 0; i < values.count; i++) {
            const struct rt_figure *target = same_level(&targets, values.items[i]->level);
            struct strip strip = {.value = values.items[i],
                                  .target = target,
                                  .state = same_level(&states, values.items[i]->level),
                                  .target_at =
                                      target != NULL && target->state == RT_FIGURE_OK ? target->value : NAN,
                                  .at_least = target != NULL && strcmp(target->remark, "at least") == 0};
            draw_strip(canvas, &strip, 8.0 + STRIP_PX * (double)i);
            drawn += is_drawn(values.items[i]);
        }
        canvas->drawing->height_px = 8.0 + STRIP_PX * (double)values.count;
        reason = drawn == 0 ? "no yardstick has a figure yet" : NULL;
    }
    free(values.items);
    free(targets.items);
    free(states.items);
    return reason;
}
