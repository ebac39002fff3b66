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

/* Processes of gnuplot that wait for work. */
struct rt_gnuplot;

/* Start one process per core, at most 8. Starting takes each of them a while, so that a caller who knows that there will be charts
 * starts them before it works out what is in them. NULL when out of memory; that gnuplot is missing is told by drawing. End with
 * rt_gnuplot_end (NULL: nothing to do). */
struct rt_gnuplot *rt_gnuplot_start(void);
void rt_gnuplot_end(struct rt_gnuplot *gnuplot);

/* As rt_draw_charts, by processes that were started before (NULL: RT_MEMORY) and that draw once. */
enum rt_status rt_draw_charts_with(struct rt_gnuplot *gnuplot, const struct rt_chart_request *requests,
                                   size_t count, struct rt_chart *charts, struct rt_error *error);

/* Draw all requests. charts: array of `count`, zero-initialised by the caller; release each with
 * rt_release_charts even after a failure. RT_SYSTEM when gnuplot is missing, fails or takes longer than two
 * minutes: then every chart is empty and the page can still be written without them. */
enum rt_status rt_draw_charts(const struct rt_chart_request *requests, size_t count, struct rt_chart *charts,
                              struct rt_error *error);

void rt_release_charts(struct rt_chart *charts, size_t count);

#endif
