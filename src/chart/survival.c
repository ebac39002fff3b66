/* Survival curves as steps with bands, in small panels when there are several groups, grey where few patients are
 * left, numbers at risk under the axis. */
#include "canvas.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { CURVE, AT_RISK, BOUNDS, FEWEST_PATIENTS = 10, MOST_PANELS = 12 };

struct curves {
    const struct rt_chart_request *request;
    struct rows curve, at_risk, bounds; /* bounds: what the lost could change */
    struct names levels;
    double last_time, lowest;
    bool left_out; /* there are curves beyond the most panels */
};

static bool is_thin(const struct rt_figure *row)
{
    return row->state == RT_FIGURE_TOO_FEW || (row->n_patients >= 0 && row->n_patients < FEWEST_PATIENTS);
}

static void read_extent(struct canvas *canvas, struct curves *curves)
{
    curves->lowest = 1.0;
    for (size_t i = 0; i < curves->curve.count; i++) {
        const struct rt_figure *row = curves->curve.items[i];
        if (strstr(row->level, "not recorded") != NULL || !isfinite(row->at) || !isfinite(row->value))
            continue;
        name_index(canvas, &curves->levels, row->level);
        curves->last_time = fmax(curves->last_time, row->at);
        if (is_thin(row))
            continue;
        curves->lowest = fmin(curves->lowest, row->value);
        if (isfinite(row->lower))
            curves->lowest = fmin(curves->lowest, row->lower);
    }
    for (size_t i = 0; i < curves->bounds.count; i++)
        curves->lowest = fmin(curves->lowest, curves->bounds.items[i]->value);
}

/* Corners of a step function through the rows of one level from time 0 and share 1. which: 0 value, 1 lower,
 * 2 upper. Undefined limits keep the last one, which is 1 at the start. Stops (or starts) at the first thin
 * row. */
struct steps {
    double *x, *y;
    size_t count;
};

static double pick(const struct rt_figure *row, int which)
{
    return which == 0 ? row->value : which == 1 ? row->lower : row->upper;
}

static struct steps steps_of(struct canvas *canvas, const struct curves *curves, const struct panel *panel,
                             const char *level, int which, bool thin_part)
{
    struct steps steps = {rt_new_array(2 * curves->curve.count + 2, sizeof(double)),
                          rt_new_array(2 * curves->curve.count + 2, sizeof(double)), 0};
    if (steps.x == NULL || steps.y == NULL) {
        canvas->drawing->failed = true;
        return steps;
    }
    double share = 1.0;
    bool thin = false;
    if (!thin_part) {
        steps.x[0] = panel_x(panel, 0.0);
        steps.y[steps.count++] = panel_y(panel, 1.0);
    }
    for (size_t i = 0; i < curves->curve.count; i++) {
        const struct rt_figure *row = curves->curve.items[i];
        if (strcmp(row->level, level) != 0 || !isfinite(row->at) || !isfinite(row->value))
            continue;
        bool was_thin = thin;
        thin = thin || is_thin(row);
        if (thin && row->value < panel->y.low)
            break; /* few patients: not worth a longer axis */
        /* The step that leads into the thin part belongs to the part before it. */
        if (thin_part == was_thin || (thin_part && thin)) {
            steps.x[steps.count] = panel_x(panel, row->at);
            steps.y[steps.count++] = panel_y(panel, share);
        }
        if (isfinite(pick(row, which)))
            share = pick(row, which);
        if (thin_part ? thin : !thin) {
            steps.x[steps.count] = panel_x(panel, row->at);
            steps.y[steps.count++] = panel_y(panel, share);
        }
    }
    return steps;
}

static void steps_release(struct steps *steps)
{
    free(steps->x);
    free(steps->y);
}

static void draw_band(struct canvas *canvas, const struct curves *curves, const struct panel *panel,
                      const char *level, const char *colour)
{
    struct steps lower = steps_of(canvas, curves, panel, level, 1, false);
    struct steps upper = steps_of(canvas, curves, panel, level, 2, false);
    size_t corners = lower.count + upper.count;
    double *x = rt_new_array(corners, sizeof *x);
    double *y = rt_new_array(corners, sizeof *y);
    if (x == NULL || y == NULL) {
        canvas->drawing->failed = true;
    } else if (!canvas->drawing->failed) {
        for (size_t i = 0; i < upper.count; i++) {
            x[i] = upper.x[i];
            y[i] = upper.y[i];
        }
        for (size_t i = 0; i < lower.count; i++) {
            x[upper.count + i] = lower.x[lower.count - 1 - i];
            y[upper.count + i] = lower.y[lower.count - 1 - i];
        }
        drawing_area(canvas->drawing, colour, 0.24, corners, x, y);
    }
    free(x);
    free(y);
    steps_release(&lower);
    steps_release(&upper);
}

static void draw_curve(struct canvas *canvas, const struct curves *curves, const struct panel *panel,
                       const char *level)
{
    for (int thin = 0; thin <= 1; thin++) {
        struct steps steps = steps_of(canvas, curves, panel, level, 0, thin == 1);
        drawing_polyline(canvas->drawing,
                         (struct line_style){thin ? COLOUR_CASE : COLOUR_INDIGO, thin ? 1.4 : 2.2,
                                             thin ? DASH_SHORT : DASH_SOLID},
                         steps.count, steps.x, steps.y);
        steps_release(&steps);
    }
}

/* Another group's curve, as far as it is sure, pale behind the one the panel is about. */
static void draw_other(struct canvas *canvas, const struct curves *curves, const struct panel *panel,
                       const char *level)
{
    struct steps steps = steps_of(canvas, curves, panel, level, 0, false);
    drawing_polyline(canvas->drawing, (struct line_style){"#b9b4a6", 1.2, DASH_SOLID}, steps.count, steps.x,
                     steps.y);
    steps_release(&steps);
}

static const struct rt_figure *risk_row(const struct curves *curves, const char *level, double time)
{
    for (size_t i = 0; i < curves->at_risk.count; i++)
        if (strcmp(curves->at_risk.items[i]->level, level) == 0 &&
            fabs(curves->at_risk.items[i]->at - time) < 1e-9)
            return curves->at_risk.items[i];
    return NULL;
}

/* Numbers at risk of one curve under the time ticks of its panel. */
static void draw_at_risk(struct canvas *canvas, const struct curves *curves, const struct panel *panel,
                         const char *level, bool titled)
{
    double y = panel->bottom + 47.0;
    if (titled)
        canvas_text(canvas, 2.0, panel->bottom + 31.0, ANCHOR_START, "implants at risk");
    for (size_t t = 0; t < panel->x.tick_count; t++) {
        const struct rt_figure *row = risk_row(curves, level, panel->x.ticks[t]);
        if (row == NULL || row->n_implants < 0)
            continue;
        struct label label = {.length = 0};
        label_count(&label, row, COUNT_IMPLANTS);
        canvas_label(canvas, panel_x(panel, panel->x.ticks[t]), y, ANCHOR_MIDDLE, INK_SOFT, &label);
    }
}

static const struct rt_figure *bound_at(const struct curves *curves, const char *level, double time)
{
    for (size_t i = 0; i < curves->bounds.count; i++)
        if (strcmp(curves->bounds.items[i]->level, level) == 0 && curves->bounds.items[i]->at == time)
            return curves->bounds.items[i];
    return NULL;
}

/* Where the curve could stand at each year if none, or all, of those lost had failed: a span beside the year's tick. */
static void draw_bounds(struct canvas *canvas, const struct curves *curves, const struct panel *panel)
{
    const struct line_style line = {COLOUR_OXBLOOD, 1.4, DASH_SOLID};
    const struct rt_figure *last = NULL;
    for (size_t i = 0; i < curves->bounds.count; i++) {
        const struct rt_figure *worst = curves->bounds.items[i];
        const struct rt_figure *best = bound_at(curves, "best case", worst->at);
        if (strcmp(worst->level, "worst case") != 0 || best == NULL || worst->at > panel->x.high)
            continue;
        const double x = panel_x(panel, worst->at), high = panel_y(panel, best->value),
                     low = panel_y(panel, worst->value);
        drawing_segment(canvas->drawing, line, x, high, x, low);
        drawing_segment(canvas->drawing, line, x - 4.0, high, x + 4.0, high);
        drawing_segment(canvas->drawing, line, x - 4.0, low, x + 4.0, low);
        last = worst;
    }
    if (last != NULL)
        canvas_soft_text(canvas, panel_x(panel, last->at) + 4.0, panel_y(panel, last->value) + 11.0,
                         ANCHOR_END,
                         canvas->narrow ? "spans: none or all of the lost failed"
                                        : "spans: if none, or all, of those lost had failed");
}

static struct axis share_axis(double lowest)
{
    double low = lowest >= 0.9 ? 0.8 : lowest >= 0.7 ? 0.6 : lowest >= 0.5 ? 0.4 : 0.0;
    return axis_fit(low, 1.0, 5, true);
}

static bool any_thin(const struct curves *curves)
{
    for (size_t i = 0; i < curves->curve.count; i++)
        if (isfinite(curves->curve.items[i]->at) && is_thin(curves->curve.items[i]))
            return true;
    return false;
}

/* The level's name, shortened to the width of its panel. */
static void draw_name(struct canvas *canvas, const struct panel *panel, const char *name)
{
    char text[128];
    snprintf(text, sizeof text, "%.*s", (int)sizeof text - 1, name);
    canvas_shortened(text, sizeof text, (panel->right - panel->left + 12.0) / 1.12, canvas->text_px);
    canvas_name(canvas, panel->left, panel->top - 13.0, ANCHOR_START, INK_STRONG, text);
}

static void draw_panel(struct canvas *canvas, const struct curves *curves, const struct panel *panel,
                       size_t which, bool first_across)
{
    const char *level = curves->levels.items[which];
    if (first_across)
        panel_y_axis(canvas, panel);
    else
        panel_y_rules(canvas, panel);
    panel_x_axis(canvas, panel, true);
    for (size_t l = 0; l < curves->levels.count; l++)
        if (l != which)
            draw_other(canvas, curves, panel, curves->levels.items[l]);
    draw_band(canvas, curves, panel, level, COLOUR_LAGOON);
    draw_curve(canvas, curves, panel, level);
    draw_bounds(canvas, curves, panel);
    panel_reference(canvas, panel, curves->request->reference, curves->request->reference_label);
    draw_at_risk(canvas, curves, panel, level, first_across);
    if (curves->levels.count > 1)
        draw_name(canvas, panel, shown_level(curves->request, level));
}

/* What the axis and the dashes mean, in lines of their own at the foot. */
static void draw_notes(struct canvas *canvas, const struct curves *curves, bool from_zero, double y)
{
    const struct rt_chart_request *request = curves->request;
    canvas_text(canvas, canvas->drawing->width_px - 14.0, y, ANCHOR_END, request->x_title);
    if (!from_zero)
        canvas_soft_text(canvas, 2.0, y, ANCHOR_START, "axis not from 0%");
    y += 17.0;
    if (any_thin(curves)) {
        canvas_soft_text(canvas, 2.0, y, ANCHOR_START, "dashed: fewer than 10 patients at risk");
        y += 17.0;
    }
    canvas->drawing->height_px = y - 7.0;
}

/* One group: one large panel. Several: small panels on the same scale, four or three across when wide and two when narrow, each
 * with its own band in front of the others' curves. */
static void draw_all(struct canvas *canvas, const struct curves *curves)
{
    const struct rt_chart_request *request = curves->request;
    const size_t count = curves->levels.count;
    const size_t most = canvas->narrow ? 2 : count == 3 || count == 5 || count == 6 || count == 9 ? 3 : 4;
    const size_t across = count < most ? count : most, down = (count + across - 1) / across;
    const double gutter = 48.0, between = 24.0, first_top = count > 1 ? 46.0 : 32.0;
    const double height = count == 1 ? (canvas->narrow ? 200.0 : 280.0) : (canvas->narrow ? 120.0 : 150.0);
    const double step = height + 92.0;
    const double width =
        (canvas->drawing->width_px - gutter - 14.0 - between * (double)(across - 1)) / (double)across;
    struct panel panel = {
        .x = axis_fit(0.0, fmax(ceil(curves->last_time - 1e-9), 1.0), width < 200.0 ? 4 : 6, false),
        .y = share_axis(curves->lowest),
        .y_percent = true};
    for (size_t l = 0; l < count; l++) {
        panel.left = gutter + (double)(l % across) * (width + between);
        panel.right = panel.left + width;
        panel.top = first_top + (double)(l / across) * step;
        panel.bottom = panel.top + height;
        draw_panel(canvas, curves, &panel, l, l % across == 0);
    }
    const double last_bottom = first_top + (double)(down - 1) * step + height;
    canvas_text(canvas, 2.0, 11.0, ANCHOR_START, request->y_title);
    draw_notes(canvas, curves, panel.y.low <= 0.0, last_bottom + 67.0);
    if (curves->left_out)
        canvas_soft_text(canvas, canvas->drawing->width_px - 14.0, 11.0, ANCHOR_END, "more in the table");
}

const char *build_survival(struct canvas *canvas, const struct rt_chart_request *request)
{
    struct curves curves = {.request = request};
    const char *reason = NULL;
    bool selected = select_rows(canvas, request, CURVE, true, &curves.curve) &&
                    select_rows(canvas, request, AT_RISK, true, &curves.at_risk);
    if (selected && request->measures[BOUNDS] != NULL) {
        struct rt_chart_request every = *request;
        every.level = "";
        selected = select_rows(canvas, &every, BOUNDS, false, &curves.bounds);
        size_t kept = 0;
        for (size_t i = 0; i < curves.bounds.count; i++)
            if (strstr(curves.bounds.items[i]->level, " case") != NULL &&
                strcmp(curves.bounds.items[i]->unit_of_analysis, "patient") != 0)
                curves.bounds.items[kept++] = curves.bounds.items[i];
        curves.bounds.count = kept;
    }
    if (selected) {
        read_extent(canvas, &curves);
        if (curves.levels.count == 0)
            reason = "no curve can be drawn yet";
        else if (curves.levels.count > MOST_PANELS) {
            curves.left_out = true;
            curves.levels.count = MOST_PANELS;
        }
    }
    if (selected && reason == NULL)
        draw_all(canvas, &curves);
    free(curves.curve.items);
    free(curves.at_risk.items);
    free(curves.bounds.items);
    names_release(&curves.levels);
    return reason;
}
