/* Histogram of a difference, one panel per group on the same scale, with each group's mean and interval. */
#include "canvas.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/base/number.h"

#include <math.h>
#include <string.h>

static const double BIN_WIDTH = 0.25; /* twice the step in which depths are usually read */

/* Bin whose middle is nearest; ties go up. Integer hundredths keep 0.125 from falling by binary noise. */
static long bin_of(double value)
{
    return (long)floor((double)rt_hundredths(value) / (BIN_WIDTH * 100.0) + 0.5);
}

struct histogram {
    const struct rt_case_series *cases;
    struct names groups;
    long first_bin, last_bin;
    size_t *counts; /* groups x bins */
    size_t highest;
};

static size_t bin_count(const struct histogram *histogram)
{
    return (size_t)(histogram->last_bin - histogram->first_bin + 1);
}

static void count_bins(struct canvas *canvas, struct histogram *histogram)
{
    const struct rt_case_series *cases = histogram->cases;
    histogram->first_bin = histogram->last_bin = 0;
    for (size_t i = 0; i < cases->count; i++) {
        long bin = bin_of(cases->points[i].y);
        histogram->first_bin = bin < histogram->first_bin ? bin : histogram->first_bin;
        histogram->last_bin = bin > histogram->last_bin ? bin : histogram->last_bin;
        name_index(canvas, &histogram->groups, cases->points[i].group);
    }
    size_t bins = bin_count(histogram);
    histogram->counts = bins > 4000 ? NULL : rt_new_array(histogram->groups.count * bins, sizeof(size_t));
    if (histogram->counts == NULL) {
        canvas->drawing->failed = true;
        return;
    }
    for (size_t i = 0; i < cases->count; i++) {
        size_t group = name_index(canvas, &histogram->groups, cases->points[i].group);
        size_t bin = (size_t)(bin_of(cases->points[i].y) - histogram->first_bin);
        size_t now = ++histogram->counts[group * bins + bin];
        histogram->highest = now > histogram->highest ? now : histogram->highest;
    }
}

static const struct rt_figure *row_of_group(const struct rt_chart_request *request, const struct rows *rows,
                                            const char *group)
{
    for (size_t i = 0; i < rows->count; i++)
        if (strcmp(shown_level(request, rows->items[i]->level), group) == 0)
            return rows->items[i];
    return NULL;
}

static void draw_mean(struct canvas *canvas, const struct panel *panel, const struct rt_figure *row)
{
    double y = panel->top + 7.0;
    double x = panel_x(panel, row->value);
    if (isfinite(row->lower) && isfinite(row->upper))
        drawing_segment(canvas->drawing, (struct line_style){COLOUR_OXBLOOD, 2.0, DASH_SOLID},
                        panel_x(panel, row->lower), y, panel_x(panel, row->upper), y);
    drawing_point(canvas->drawing, (struct point_style){COLOUR_OXBLOOD, SHAPE_DIAMOND, 4.0}, x, y);
    struct label label = {.length = 0};
    label_words(&label, "mean ");
    label_value(&label, row, 2, true);
    double end = isfinite(row->upper) ? panel_x(panel, row->upper) : x;
    canvas_label(canvas, fmax(end, x) + 8.0, y, ANCHOR_START, INK_PLAIN, &label);
}

static void draw_panel(struct canvas *canvas, const struct histogram *histogram, size_t group,
                       struct panel *panel)
{
    size_t bins = bin_count(histogram);
    panel_y_axis(canvas, panel);
    double zero = panel_x(panel, 0.0);
    for (size_t b = 0; b < bins; b++) {
        size_t count = histogram->counts[group * bins + b];
        if (count == 0)
            continue;
        double middle = (double)(histogram->first_bin + (long)b) * BIN_WIDTH;
        drawing_rectangle(canvas->drawing, COLOUR_LAGOON, 0.75, panel_x(panel, middle - BIN_WIDTH / 2) + 0.7,
                          panel_y(panel, (double)count), panel_x(panel, middle + BIN_WIDTH / 2) - 0.7,
                          panel->bottom);
    }
    drawing_segment(canvas->drawing, (struct line_style){COLOUR_SOFT_INK, 1.0, DASH_SOLID}, zero, panel->top,
                    zero, panel->bottom);
}

/* The name of the group and, from its row, how many implants it has. */
static void draw_name(struct canvas *canvas, const struct panel *panel, const char *name,
                      const struct rt_figure *row)
{
    struct label label = {.length = 0};
    label_name(&label, name);
    if (row != NULL && row->n_implants >= 0) {
        label_words(&label, ", ");
        label_count(&label, row, COUNT_IMPLANTS);
        label_words(&label, row->n_implants == 1 ? " implant" : " implants");
    }
    canvas_label(canvas, panel->left, panel->top - 9.0, ANCHOR_START, INK_STRONG, &label);
}

static void draw_panels(struct canvas *canvas, const struct rt_chart_request *request,
                        const struct histogram *histogram)
{
    const double height = canvas->narrow ? 96.0 : 108.0;
    const double gap = 30.0;
    double panels = (double)histogram->groups.count;
    canvas->drawing->height_px = 26.0 + panels * (height + gap) + 36.0;
    struct panel panel = {.left = 40.0, .right = canvas->drawing->width_px - 16.0};
    panel.x = axis_fit((double)histogram->first_bin * BIN_WIDTH - BIN_WIDTH / 2,
                       (double)histogram->last_bin * BIN_WIDTH + BIN_WIDTH / 2, canvas->narrow ? 5 : 8, true);
    panel.y = axis_fit(0.0, (double)histogram->highest * 1.3, 3, true);
    struct rows rows = {0};
    select_rows(canvas, request, 0, true, &rows);
    for (size_t g = 0; g < histogram->groups.count; g++) {
        panel.top = 26.0 + (double)g * (height + gap) + gap - 10.0;
        panel.bottom = panel.top + height;
        draw_panel(canvas, histogram, g, &panel);
        panel_x_axis(canvas, &panel, g + 1 == histogram->groups.count);
        const struct rt_figure *row = row_of_group(request, &rows, histogram->groups.items[g]);
        draw_name(canvas, &panel, histogram->groups.items[g], row);
        if (row != NULL && row->state == RT_FIGURE_OK && isfinite(row->value))
            draw_mean(canvas, &panel, row);
    }
    canvas_text(canvas, 2.0, 12.0, ANCHOR_START, request->y_title);
    canvas_text(canvas, panel.right, panel.bottom + 33.0, ANCHOR_END, request->x_title);
    free(rows.items);
}

const char *build_error_histogram(struct canvas *canvas, const struct rt_chart_request *request)
{
    struct histogram histogram = {.cases = request->cases};
    if (request->cases == NULL || request->cases->count == 0)
        return "no case to count";
    count_bins(canvas, &histogram);
    if (!canvas->drawing->failed)
        draw_panels(canvas, request, &histogram);
    free(histogram.counts);
    names_release(&histogram.groups);
    return NULL;
}
