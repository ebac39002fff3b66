#include "ridgetally/chart/chart.h"

#include "canvas.h"
#include "gnuplot.h"
#include "gnuplot_script.h"
#include "svg.h"

#include "ridgetally/base/memory.h"

#include <stdbool.h>
#include <string.h>

enum { SIZES = 2 }; /* every chart is drawn wide and narrow */

static const char *build(struct canvas *canvas, const struct rt_chart_request *request)
{
    switch (request->kind) {
    case RT_CHART_AGREEMENT:
        return build_agreement(canvas, request);
    case RT_CHART_ERROR_HISTOGRAM:
        return build_error_histogram(canvas, request);
    case RT_CHART_STRIP_BY_CLASS:
        return build_strip_by_class(canvas, request);
    case RT_CHART_CLASS_INTERVALS:
        return build_class_intervals(canvas, request);
    case RT_CHART_DOSE_RESPONSE:
        return build_dose_response(canvas, request);
    case RT_CHART_SURVIVAL:
        return build_survival(canvas, request);
    case RT_CHART_SHARE_BY_CLASS:
        return build_share_by_class(canvas, request);
    case RT_CHART_CURVE_PANELS:
        return build_curve_panels(canvas, request);
    case RT_CHART_SHARE_BOUNDS:
        return build_share_bounds(canvas, request);
    case RT_CHART_RULES:
        return build_rules(canvas, request);
    case RT_CHART_RULE_DOSE:
        return build_rule_dose(canvas, request);
    case RT_CHART_YARDSTICKS:
        return build_yardsticks(canvas, request);
    case RT_CHART_CONTROL:
        return build_control(canvas, request);
    case RT_CHART_SUMS:
        return build_sums(canvas, request);
    case RT_CHART_BY_QUARTER:
        return build_by_quarter(canvas, request);
    case RT_CHART_FUNNEL:
        return build_funnel(canvas, request);
    }
    return "this kind of chart is not known";
}

/* What is being drawn: drawings by chart, wide before narrow. */
struct work {
    const struct rt_chart_request *requests;
    struct rt_chart *charts;
    struct drawing *drawings;
};

static enum rt_status give(void *context, size_t index, struct rt_text *script, struct rt_error *error)
{
    const struct work *work = context;
    const bool narrow = index % SIZES == 1;
    struct drawing *drawing = &work->drawings[index];
    drawing->width_px = narrow ? RT_CHART_NARROW_PX : RT_CHART_WIDE_PX;
    drawing->height_px = 60.0;
    struct canvas canvas = {.drawing = drawing, .narrow = narrow, .text_px = narrow ? 12.0 : 13.0};
    const char *reason = build(&canvas, &work->requests[index / SIZES]);
    if (drawing->failed)
        return rt_fail_memory(error);
    if (reason != NULL)
        work->charts[index / SIZES].reason = reason;
    else
        gnuplot_add_drawing(drawing, script);
    return RT_OK;
}

static enum rt_status finish(const struct rt_chart_request *request, const struct drawing *drawing,
                             const char *raw, const char *size, char **svg, struct rt_error *error)
{
    struct rt_text text = {0};
    struct rt_text id = {0};
    rt_text_format(&id, "%s-%s", request->id, size);
    enum rt_status status = rt_text_status(&id, error);
    if (status == RT_OK)
        status = svg_for_page(drawing, raw, id.bytes, request->title, request->description, &text, error);
    if (status == RT_OK) {
        *svg = rt_text_detach(&text);
        if (*svg == NULL)
            status = rt_fail_memory(error);
    }
    rt_text_release(&text);
    rt_text_release(&id);
    return status;
}

static enum rt_status take(void *context, size_t index, const char *svg, struct rt_error *error)
{
    const struct work *work = context;
    const bool narrow = index % SIZES == 1;
    struct rt_chart *chart = &work->charts[index / SIZES];
    enum rt_status status = finish(&work->requests[index / SIZES], &work->drawings[index], svg,
                                   narrow ? "n" : "w", narrow ? &chart->narrow : &chart->wide, error);
    drawing_release(&work->drawings[index]);
    return status;
}

enum rt_status rt_draw_charts_with(struct rt_gnuplot *gnuplot, const struct rt_chart_request *requests,
                                   size_t count, struct rt_chart *charts, struct rt_error *error)
{
    if (count == 0)
        return RT_OK;
    struct work work = {requests, charts, rt_new_array(SIZES * count, sizeof *work.drawings)};
    const struct gnuplot_work drawings = {SIZES * count, give, take, &work};
    enum rt_status status = gnuplot == NULL || work.drawings == NULL ? rt_fail_memory(error)
                                                                     : gnuplot_run(gnuplot, &drawings, error);
    if (status != RT_OK)
        rt_release_charts(charts, count);
    for (size_t i = 0; work.drawings != NULL && i < SIZES * count; i++)
        drawing_release(&work.drawings[i]);
    free(work.drawings);
    return status;
}

enum rt_status rt_draw_charts(const struct rt_chart_request *requests, size_t count, struct rt_chart *charts,
                              struct rt_error *error)
{
    struct rt_gnuplot *gnuplot = count == 0 ? NULL : rt_gnuplot_start();
    enum rt_status status = rt_draw_charts_with(gnuplot, requests, count, charts, error);
    rt_gnuplot_end(gnuplot);
    return status;
}

void rt_release_charts(struct rt_chart *charts, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        free(charts[i].wide);
        free(charts[i].narrow);
        charts[i] = (struct rt_chart){0};
    }
}
