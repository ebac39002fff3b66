#include "canvas.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#define STRONG_WIDTH 1.12 /* of bold text, beside the same in plain */

struct look look_of_group(size_t index)
{
    static const struct look looks[] = {
        {COLOUR_INDIGO, SHAPE_CIRCLE},
        {COLOUR_LAGOON, SHAPE_TRIANGLE},
        {COLOUR_OXBLOOD, SHAPE_OPEN_SQUARE},
        {COLOUR_BRASS, SHAPE_DIAMOND},
    };
    return looks[index % (sizeof looks / sizeof looks[0])];
}

const char *colour_of_step(size_t index, size_t count)
{
    static const char *const steps[] = {"#1aa3ab", "#138087", "#0d5e63", "#073b3f"};
    size_t last = sizeof steps / sizeof steps[0] - 1;
    if (count <= 1)
        return steps[1];
    size_t step = (index * last + (count - 1) / 2) / (count - 1);
    return steps[step > last ? last : step];
}

double panel_x(const struct panel *panel, double value)
{
    return axis_pixel(&panel->x, value, panel->left, panel->right);
}

double panel_y(const struct panel *panel, double value)
{
    return axis_pixel(&panel->y, value, panel->bottom, panel->top);
}

/* No text is cut off at an edge of the drawing: it moves in as far as it must. */
static void add_label(struct canvas *canvas, struct label_style style, double x, double y,
                      const struct label *label)
{
    const double width = text_width_px(label->text, style.size_px) * (style.strong ? STRONG_WIDTH : 1.0);
    const double before = style.anchor == ANCHOR_START    ? 0.0
                          : style.anchor == ANCHOR_MIDDLE ? width / 2.0
                                                          : width;
    const double over = x - before + width - (canvas->drawing->width_px - 1.0);
    if (over > 0.0)
        x -= over;
    if (x - before < 1.0)
        x = before + 1.0;
    drawing_label(canvas->drawing, style, x, y, label);
}

void canvas_label(struct canvas *canvas, double x, double y, enum anchor anchor, enum ink ink,
                  const struct label *label)
{
    add_label(canvas,
              (struct label_style){ink == INK_SOFT ? COLOUR_SOFT_INK : COLOUR_INK, canvas->text_px, anchor,
                                   ink == INK_STRONG},
              x, y, label);
}

static void add_words(struct canvas *canvas, double x, double y, enum anchor anchor, enum ink ink,
                      const char *words)
{
    struct label label = {.length = 0};
    if (words != NULL)
        label_words(&label, words);
    canvas_label(canvas, x, y, anchor, ink, &label);
}

void canvas_name(struct canvas *canvas, double x, double y, enum anchor anchor, enum ink ink,
                 const char *name)
{
    struct label label = {.length = 0};
    label_name(&label, name);
    canvas_label(canvas, x, y, anchor, ink, &label);
}

void canvas_tick(struct canvas *canvas, double x, double y, enum anchor anchor, const char *number)
{
    struct label label = {.length = 0};
    label_tick(&label, number);
    canvas_label(canvas, x, y, anchor, INK_SOFT, &label);
}

void canvas_text(struct canvas *canvas, double x, double y, enum anchor anchor, const char *text)
{
    add_words(canvas, x, y, anchor, INK_PLAIN, text);
}

void canvas_soft_text(struct canvas *canvas, double x, double y, enum anchor anchor, const char *text)
{
    add_words(canvas, x, y, anchor, INK_SOFT, text);
}

void canvas_strong_text(struct canvas *canvas, double x, double y, enum anchor anchor, const char *text)
{
    add_words(canvas, x, y, anchor, INK_STRONG, text);
}

void canvas_shortened(char *text, size_t size, double width_px, double size_px)
{
    static const char ellipsis[] = "\xE2\x80\xA6";
    size_t length = strlen(text);
    if (text_width_px(text, size_px) <= width_px)
        return;
    do {
        do
            length -= length > 0 ? 1 : 0;
        while (length > 0 && ((unsigned char)text[length] & 0xC0) == 0x80);
        if (length + sizeof ellipsis <= size)
            memcpy(text + length, ellipsis, sizeof ellipsis);
    } while (length > 1 && text_width_px(text, size_px) > width_px);
}

void panel_y_rules(struct canvas *canvas, const struct panel *panel)
{
    for (size_t i = 0; i < panel->y.tick_count; i++) {
        double y = panel_y(panel, panel->y.ticks[i]);
        drawing_segment(canvas->drawing, (struct line_style){COLOUR_RULE, 1.0, DASH_SOLID}, panel->left, y,
                        panel->right, y);
    }
}

void panel_y_axis(struct canvas *canvas, const struct panel *panel)
{
    panel_y_rules(canvas, panel);
    for (size_t i = 0; i < panel->y.tick_count; i++) {
        double y = panel_y(panel, panel->y.ticks[i]);
        char text[32];
        axis_tick_text(&panel->y, panel->y.ticks[i], panel->y_percent, text, sizeof text);
        canvas_tick(canvas, panel->left - 7.0, y, ANCHOR_END, text);
    }
}

void panel_x_axis(struct canvas *canvas, const struct panel *panel, bool labelled)
{
    const struct line_style line = {COLOUR_AXIS, 1.0, DASH_SOLID};
    drawing_segment(canvas->drawing, line, panel->left, panel->bottom, panel->right, panel->bottom);
    for (size_t i = 0; labelled && i < panel->x.tick_count; i++) {
        double x = panel_x(panel, panel->x.ticks[i]);
        drawing_segment(canvas->drawing, line, x, panel->bottom, x, panel->bottom + 4.0);
        char text[32];
        axis_tick_text(&panel->x, panel->x.ticks[i], panel->x_percent, text, sizeof text);
        canvas_tick(canvas, x, panel->bottom + 13.0, ANCHOR_MIDDLE, text);
    }
}

void panel_titles(struct canvas *canvas, const struct panel *panel, const char *x_title, const char *y_title,
                  double below_px)
{
    canvas_text(canvas, 2.0, panel->top - 14.0, ANCHOR_START, y_title);
    canvas_text(canvas, panel->right, panel->bottom + below_px, ANCHOR_END, x_title);
}

void panel_reference(struct canvas *canvas, const struct panel *panel, double value, const char *label)
{
    if (!isfinite(value) || value < panel->y.low || value > panel->y.high)
        return;
    double y = panel_y(panel, value);
    drawing_segment(canvas->drawing, (struct line_style){COLOUR_SOFT_INK, 1.0, DASH_SOLID}, panel->left, y,
                    panel->right, y);
    if (label != NULL)
        canvas_soft_text(canvas, panel->right, y - 8.0, ANCHOR_END, label);
}

void panel_error_band(struct canvas *canvas, const struct panel *panel, double half_width, bool labelled)
{
    if (!isfinite(half_width) || half_width <= 0.0)
        return;
    const double low = fmax(-half_width, panel->y.low), high = fmin(half_width, panel->y.high);
    if (low >= high)
        return;
    drawing_rectangle(canvas->drawing, "#d9d4c6", 0.5, panel->left, panel_y(panel, high), panel->right,
                      panel_y(panel, low));
    if (labelled)
        canvas_soft_text(canvas, panel->right - 3.0, panel_y(panel, low) - 8.0, ANCHOR_END,
                         "within reading error");
}

double jitter(size_t index)
{
    uint64_t mixed = (uint64_t)index * UINT64_C(0x9E3779B97F4A7C15) + UINT64_C(0x632BE59BD9B4E019);
    mixed = (mixed ^ (mixed >> 31)) * UINT64_C(0xBF58476D1CE4E5B9);
    mixed ^= mixed >> 29;
    return (double)(mixed >> 11) * 0x1p-53 * 2.0 - 1.0;
}

static int compare_positions(const void *a, const void *b)
{
    const struct case_position *p = a;
    const struct case_position *q = b;
    if (p->y != q->y)
        return p->y < q->y ? -1 : 1;
    return (p->x > q->x) - (p->x < q->x);
}

static void draw_counts(struct canvas *canvas, const struct case_position *cases, size_t count,
                        struct point_style style)
{
    const double cell_px = 9.0;
    struct case_position *cells = rt_new_array(count, sizeof *cells);
    if (cells == NULL) {
        canvas->drawing->failed = true;
        return;
    }
    for (size_t i = 0; i < count; i++)
        cells[i] = (struct case_position){floor(cases[i].x / cell_px), floor(cases[i].y / cell_px)};
    qsort(cells, count, sizeof *cells, compare_positions);
    size_t most = 0;
    for (size_t i = 0, run = 0; i < count; i++) {
        run = i > 0 && compare_positions(&cells[i], &cells[i - 1]) == 0 ? run + 1 : 1;
        if (run > most)
            most = run;
    }
    for (size_t i = 0, run = 0; i < count; i++) {
        run = i > 0 && compare_positions(&cells[i], &cells[i - 1]) == 0 ? run + 1 : 1;
        if (i + 1 < count && compare_positions(&cells[i], &cells[i + 1]) == 0)
            continue;
        style.radius_px = 0.8 + 3.6 * sqrt((double)run / (double)most);
        drawing_point(canvas->drawing, style, (cells[i].x + 0.5) * cell_px, (cells[i].y + 0.5) * cell_px);
    }
    free(cells);
}

void canvas_cases(struct canvas *canvas, const struct case_position *cases, size_t count,
                  struct point_style style)
{
    if (count >= CASES_SHOWN_SINGLY) {
        draw_counts(canvas, cases, count, style);
        return;
    }
    for (size_t i = 0; i < count; i++)
        drawing_point(canvas->drawing, style, cases[i].x, cases[i].y);
}

static bool matches(const char *wanted, const char *actual)
{
    return wanted == NULL || wanted[0] == '\0' || strcmp(wanted, actual) == 0;
}

bool select_rows(struct canvas *canvas, const struct rt_chart_request *request, int which, bool all_states,
                 struct rows *rows)
{
    *rows = (struct rows){0};
    const char *measure = request->measures[which];
    if (measure == NULL || request->figures == NULL)
        return true;
    const struct rt_figure_list *list = request->figures;
    rows->items = rt_new_array(list->count, sizeof(const struct rt_figure *));
    if (rows->items == NULL) {
        canvas->drawing->failed = true;
        return false;
    }
    const char *grouping = request->grouping == NULL ? "" : request->grouping;
    const char *level = request->level == NULL ? "" : request->level;
    for (size_t i = 0; i < list->count; i++) {
        const struct rt_figure *row = &list->rows[i];
        if (strcmp(row->section, request->section) != 0 || strcmp(row->measure, measure) != 0 ||
            strcmp(row->grouping, grouping) != 0 || strncmp(row->level, level, strlen(level)) != 0 ||
            !matches(request->baseline, row->baseline) || !matches(request->site, row->site) ||
            (isfinite(request->at) && row->at != request->at))
            continue;
        if (all_states || (row->state == RT_FIGURE_OK && isfinite(row->value)))
            rows->items[rows->count++] = row;
    }
    return true;
}

const char *shown_level(const struct rt_chart_request *request, const char *level)
{
    size_t prefix = request->level == NULL ? 0 : strlen(request->level);
    return prefix > 0 && strncmp(level, request->level, prefix) == 0 ? level + prefix : level;
}

size_t name_index(struct canvas *canvas, struct names *names, const char *name)
{
    for (size_t i = 0; i < names->count; i++)
        if (strcmp(names->items[i], name) == 0)
            return i;
    const char **items = rt_grow_array(names->items, &names->capacity, names->count + 1, sizeof *items);
    if (items == NULL) {
        canvas->drawing->failed = true;
        return 0;
    }
    names->items = items;
    items[names->count] = name;
    return names->count++;
}

void names_release(struct names *names)
{
    free(names->items);
    *names = (struct names){0};
}

void number_text(double value, int decimals, bool signed_value, char *text, size_t size)
{
    bool zero = fabs(value) < 0.5 * pow(10.0, -decimals);
    const char *sign = value < 0 && !zero ? "\xE2\x88\x92" : signed_value && !zero ? "+" : "";
    snprintf(text, size, "%s%.*f", sign, decimals, zero ? 0.0 : fabs(value));
}
