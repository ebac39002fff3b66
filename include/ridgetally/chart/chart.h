/*
 * Charts: requests in, SVG out, drawn by gnuplot as an external process (at most one per core, never one per
 * chart). Each chart is drawn twice: wide for a page column, narrow for a phone, so that text keeps its size.
 *
 * No text reaches gnuplot: labels are drawn as numbered marks and replaced by the escaped text afterwards. The
 * SVG is meant to stand inline in an HTML page: it has role, title and description, ids prefixed with the
 * request's id, no font of its own (it inherits), and no scripts.
 */
#ifndef RIDGETALLY_CHART_CHART_H
#define RIDGETALLY_CHART_CHART_H

#include "ridgetally/base/error.h"
#include "ridgetally/figure/chart_request.h"

#include <stddef.h>

enum {
    RT_CHART_WIDE_PX = 720,  /* width of the wide drawing */
    RT_CHART_NARROW_PX = 340 /* width of the narrow drawing */
};

/* One drawn chart. NULL members: nothing to draw (no rows), reason says why in words. */
struct rt_chart {
    char *wide;   /* SVG text, owned */
    char *narrow; /* SVG text, owned */
    const char *reason;
};

/* Draw all requests. charts: array of `count`, zero-initialised by the caller; release each with
 * rt_release_charts even after a failure. RT_SYSTEM when gnuplot is missing, fails or takes longer than two
 * minutes: then every chart is empty and the page can still be written without them. */
enum rt_status rt_draw_charts(const struct rt_chart_request *requests, size_t count, struct rt_chart *charts,
                              struct rt_error *error);

void rt_release_charts(struct rt_chart *charts, size_t count);

#endif
