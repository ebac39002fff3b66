/* Drawings as commands for gnuplot. */
#ifndef RIDGETALLY_CHART_GNUPLOT_SCRIPT_H
#define RIDGETALLY_CHART_GNUPLOT_SCRIPT_H

#include "drawing.h"

#include "ridgetally/base/text.h"

/* What a script begins with. Its drawings go to standard output, one SVG after another. */
void gnuplot_add_settings(struct rt_text *script);

/* One drawing: numbers only, no text of it. A label is drawn as the number of its mark between @. The coordinates of each
 * mark follow the command: from a file gnuplot would read all marks again to find each. */
void gnuplot_add_drawing(const struct drawing *drawing, struct rt_text *script);

#endif
