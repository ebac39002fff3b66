#include "ridgetally/chart/chart.h"

#include "canvas.h"
#include "gnuplot.h"
#include "svg.h"

#include "ridgetally/base/memory.h"

#include <string.h>
#include <unistd.h>

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

static enum rt_status build_all(const struct rt_chart_request *requests, size_t count,
                                struct rt_chart *charts, struct drawing *drawings, struct rt_error *error)
{
    for (size_t i = 0; i < count; i++) {
        for (int narrow = 0; narrow < SIZES; narrow++) {
            struct drawing *drawing = &drawings[SIZES * i + (size_t)narrow];
            drawing->width_px = narrow ? RT_CHART_NARROW_PX : RT_CHART_WIDE_PX;
            drawing->height_px = 60.0;
            struct canvas canvas = {
                .drawing = drawing, .narrow = narrow == 1, .text_px = narrow ? 12.0 : 13.0};
            charts[i].reason = build(&canvas, &requests[i]);
            if (drawing->failed)
                return rt_fail_memory(error);
        }
    }
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

static enum rt_status draw_all(const struct rt_chart_request *requests, size_t count, struct rt_chart *charts,
                               const struct drawing *drawings, char **raw, struct rt_error *error)
{
    long cores = sysconf(_SC_NPROCESSORS_ONLN);
    enum rt_status status = gnuplot_draw(drawings, SIZES * count, cores < 1 ? 1 : (size_t)cores, raw, error);
    for (size_t i = 0; i < count && status == RT_OK; i++) {
        if (charts[i].reason != NULL)
            continue;
        const struct drawing *pair = &drawings[SIZES * i];
        status = finish(&requests[i], &pair[0], raw[SIZES * i], "w", &charts[i].wide, error);
        if (status == RT_OK)
            status = finish(&requests[i], &pair[1], raw[SIZES * i + 1], "n", &charts[i].narrow, error);
    }
    return status;
}

enum rt_status rt_draw_charts(const struct rt_chart_request *requests, size_t count, struct rt_chart *charts,
                              struct rt_error *error)
{
    struct drawing *drawings = rt_new_array(SIZES * count, sizeof *drawings);
    char **raw = rt_new_array(SIZES * count, sizeof *raw);
    enum rt_status status = drawings == NULL || raw == NULL ? rt_fail_memory(error) : RT_OK;
    if (status == RT_OK)
        status = build_all(requests, count, charts, drawings, error);
    if (status == RT_OK)
        status = draw_all(requests, count, charts, drawings, raw, error);
    if (status != RT_OK)
        rt_release_charts(charts, count);
    for (size_t i = 0; i < SIZES * count; i++) {
        if (drawings != NULL)
            drawing_release(&drawings[i]);
        if (raw != NULL)
            free(raw[i]);
    }
    free(drawings);
    free(raw);
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
