/* Running gnuplot: drawings in, its SVG text out. */
#ifndef RIDGETALLY_CHART_GNUPLOT_H
#define RIDGETALLY_CHART_GNUPLOT_H

#include "drawing.h"

#include "ridgetally/base/error.h"

/* Draw `count` drawings with at most `processes` gnuplot processes. svg: array of count, receives gnuplot's
 * raw SVG text (owned by the caller). RT_SYSTEM when gnuplot is missing, fails or is too slow; RT_MEMORY. On
 * failure every svg is NULL. */
enum rt_status gnuplot_draw(const struct drawing *drawings, size_t count, size_t processes, char **svg,
                            struct rt_error *error);

#endif
