/* Survival curves as steps with bands, grey where few patients are left, numbers at risk under the axis. */
#include "canvas.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { CURVE, AT_RISK, FEWEST_PATIENTS = 10, MOST_IN_ONE_PANEL = 4 };

struct curves {
    const struct rt_chart_request *request;
    struct rows curve, at_risk;
    struct names levels;
    double last_time, lowest;
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
        drawing_area(canvas->drawing, colour, curves->levels.count > 1 ? 0.13 : 0.22, corners, x, y);
    }
    free(x);
    free(y);
    steps_release(&lower);
    steps_release(&upper);
}

/* Draws one curve and returns where it ends (pixels), for its label. */
static struct case_position draw_curve(struct canvas *canvas, const struct curves *curves,
                                       const struct panel *panel, const char *level, struct look look)
{
    struct case_position end = {panel->left, panel->top};
    for (int thin = 0; thin <= 1; thin++) {
        struct steps steps = steps_of(canvas, curves, panel, level, 0, thin == 1);
        drawing_polyline(canvas->drawing,
                         (struct line_style){thin ? COLOUR_CASE : look.colour, thin ? 1.4 : 2.2,
                                             thin ? DASH_SHORT : look.dash},
                         steps.count, steps.x, steps.y);
        if (steps.count > 0)
            end = (struct case_position){steps.x[steps.count - 1], steps.y[steps.count - 1]};
        steps_release(&steps);
    }
    return end;
}

/* Labels at the lines' ends, moved apart so that none covers another. */
static void draw_end_labels(struct canvas *canvas, const struct curves *curves, const struct panel *panel,
                            struct case_position *ends)
{
    const double apart = canvas->text_px + 3.0;
    size_t count = curves->levels.count;
    for (size_t round = 0; round < 40; round++) {
        for (size_t a = 0; a < count; a++) {
            for (size_t b = a + 1; b < count; b++) {
                double gap = ends[b].y - ends[a].y;
                if (fabs(gap) >= apart)
                    continue;
                double push = (apart - fabs(gap)) / 2.0 + 0.01;
                ends[a].y += gap >= 0.0 ? -push : push;
                ends[b].y += gap >= 0.0 ? push : -push;
            }
        }
    }
    for (size_t i = 0; i < count; i++) {
        struct label_style style = {count > 1 ? look_of_group(i).colour : COLOUR_INK, canvas->text_px,
                                    ANCHOR_START, true};
        if (count > 1)
            drawing_label(canvas->drawing, style, panel->right + 6.0, fmax(ends[i].y, panel->top),
                          shown_level(curves->request, curves->levels.items[i]));
    }
}

static const struct rt_figure *risk_row(const struct curves *curves, const char *level, double time)
{
    for (size_t i = 0; i < curves->at_risk.count; i++)
        if (strcmp(curves->at_risk.items[i]->level, level) == 0 &&
            fabs(curves->at_risk.items[i]->at - time) < 1e-9)
            return curves->at_risk.items[i];
    return NULL;
}

/* The table of numbers at risk, a row per curve, under its time ticks. */
static void draw_at_risk(struct canvas *canvas, const struct curves *curves, const struct panel *panel,
                         double top)
{
    canvas_text(canvas, 2.0, top, ANCHOR_START, "implants at risk");
    for (size_t l = 0; l < curves->levels.count; l++) {
        const char *level = curves->levels.items[l];
        double y = top + 17.0 * (double)(l + 1);
        if (curves->levels.count > 1)
            drawing_label(canvas->drawing,
                          (struct label_style){look_of_group(l).colour, canvas->text_px, ANCHOR_START, true},
                          2.0, y, shown_level(curves->request, level));
        for (size_t t = 0; t < panel->x.tick_count; t++) {
            const struct rt_figure *row = risk_row(curves, level, panel->x.ticks[t]);
            if (row == NULL || row->n_implants < 0)
                continue;
            char text[32];
            snprintf(text, sizeof text, "%ld", row->n_implants);
            canvas_soft_text(canvas, panel_x(panel, panel->x.ticks[t]), y, ANCHOR_MIDDLE, text);
        }
    }
}

static struct axis share_axis(double lowest)
{
    double low = lowest >= 0.9 ? 0.8 : lowest >= 0.7 ? 0.6 : lowest >= 0.5 ? 0.4 : 0.0;
    return axis_fit(low, 1.0, 5, true);
}

static double widest_level(const struct canvas *canvas, const struct curves *curves)
{
    double widest = 0.0;
    for (size_t i = 0; i < curves->levels.count; i++)
        widest = fmax(widest,
                      text_width_px(shown_level(curves->request, curves->levels.items[i]), canvas->text_px));
    return widest;
}

static void draw_all(struct canvas *canvas, const struct curves *curves)
{
    const struct rt_chart_request *request = curves->request;
    bool several = curves->levels.count > 1;
    double label_room = several ? fmin(widest_level(canvas, curves) + 10.0, 120.0) : 12.0;
    double row_room = several ? fmax(48.0, widest_level(canvas, curves) + 10.0) : 48.0;
    double plot_height = canvas->narrow ? 250.0 : 310.0;
    struct panel panel = {
        .left = row_room,
        .right = canvas->drawing->width_px - label_room,
        .top = 34.0,
        .bottom = 34.0 + plot_height,
        .x = axis_fit(0.0, fmax(ceil(curves->last_time - 1e-9), 1.0), canvas->narrow ? 4 : 8, false),
        .y = share_axis(curves->lowest),
        .y_percent = true};
    canvas->drawing->height_px = panel.bottom + 58.0 + 17.0 * (double)curves->levels.count + 12.0;
    panel_y_axis(canvas, &panel);
    panel_x_axis(canvas, &panel, true);
    panel_titles(canvas, &panel, request->x_title, request->y_title, 33.0);
    if (panel.y.low > 0.0)
        canvas_soft_text(canvas, panel.left + 6.0, panel.bottom - 9.0, ANCHOR_START,
                         "the axis does not start at 0%");
    panel_reference(canvas, &panel, request->reference, request->reference_label);
    struct case_position ends[MOST_IN_ONE_PANEL] = {{0}};
    for (size_t l = 0; l < curves->levels.count; l++)
        draw_band(canvas, curves, &panel, curves->levels.items[l],
                  several ? look_of_group(l).colour : COLOUR_LAGOON);
    for (size_t l = 0; l < curves->levels.count; l++)
        ends[l] = draw_curve(canvas, curves, &panel, curves->levels.items[l], look_of_group(l));
    draw_end_labels(canvas, curves, &panel, ends);
    draw_at_risk(canvas, curves, &panel, panel.bottom + 52.0);
}

const char *build_survival(struct canvas *canvas, const struct rt_chart_request *request)
{
    struct curves curves = {.request = request};
    const char *reason = NULL;
    bool selected = select_rows(canvas, request, CURVE, true, &curves.curve) &&
                    select_rows(canvas, request, AT_RISK, true, &curves.at_risk);
    if (selected) {
        read_extent(canvas, &curves);
        if (curves.levels.count == 0)
            reason = "no curve can be drawn yet";
        else if (curves.levels.count > MOST_IN_ONE_PANEL)
            curves.levels.count = MOST_IN_ONE_PANEL;
    }
    if (selected && reason == NULL)
        draw_all(canvas, &curves);
    free(curves.curve.items);
    free(curves.at_risk.items);
    names_release(&curves.levels);
    return reason;
}
