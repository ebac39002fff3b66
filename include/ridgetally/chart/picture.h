/*
 * Drawn charts as files: the SVG on its own, and a PNG of it for programs that take no SVG, made by rsvg-convert (Debian's
 * librsvg2-bin), which draws the text too; gnuplot never sees any.
 */
#ifndef RIDGETALLY_CHART_PICTURE_H
#define RIDGETALLY_CHART_PICTURE_H

#include "ridgetally/base/error.h"

#include <stdbool.h>

enum { RT_PICTURE_WIDE_PX = 1920 };

/* Write svg to STEM.svg, and STEM.png from it. *painted: the PNG was written; false when rsvg-convert is not installed.
 * RT_SYSTEM when a file cannot be written or rsvg-convert fails; RT_MEMORY. */
enum rt_status rt_write_pictures(const char *svg, const char *stem, bool *painted, struct rt_error *error);

#endif
