/* Running gnuplot: commands in, its SVG text out, through pipes. */
#ifndef RIDGETALLY_CHART_GNUPLOT_H
#define RIDGETALLY_CHART_GNUPLOT_H

#include "ridgetally/base/error.h"
#include "ridgetally/base/text.h"
#include "ridgetally/chart/chart.h"

#include <stddef.h>

/* So many drawings. give adds the commands of one of them; none, when there is nothing to draw. take receives its SVG as gnuplot
 * wrote it, as soon as it is there: in any order. Either ends the run by another status than RT_OK. */
struct gnuplot_work {
    size_t count;
    enum rt_status (*give)(void *context, size_t index, struct rt_text *script, struct rt_error *error);
    enum rt_status (*take)(void *context, size_t index, const char *svg, struct rt_error *error);
    void *context;
};

/* Have all of it drawn, each drawing by whichever process has least to do. RT_SYSTEM when gnuplot is missing, fails or is too
 * slow; RT_MEMORY; what give or take said. Afterwards gnuplot is good for nothing but rt_gnuplot_end. */
enum rt_status gnuplot_run(struct rt_gnuplot *gnuplot, const struct gnuplot_work *work,
                           struct rt_error *error);

#endif
