/* Making gnuplot's SVG fit to stand in a page. */
#ifndef RIDGETALLY_CHART_SVG_H
#define RIDGETALLY_CHART_SVG_H

#include "drawing.h"

#include "ridgetally/base/error.h"
#include "ridgetally/base/text.h"

/* Rewrite raw gnuplot SVG of `drawing` as an inline SVG with accessible title and description, ids prefixed
 * with `id`, no fonts, and the numbered marks replaced by the drawing's escaped label text. RT_SYSTEM when
 * raw is not what gnuplot writes. */
enum rt_status svg_for_page(const struct drawing *drawing, const char *raw, const char *id, const char *title,
                            const char *description, struct rt_text *page_svg, struct rt_error *error);

#endif
