/*
 * A drawing: marks in pixels, y downwards, before gnuplot has seen them. Builders add marks; a failed
 * allocation sets `failed` and makes later additions do nothing, so that a builder needs one check at its
 * end.
 */
#ifndef RIDGETALLY_CHART_DRAWING_H
#define RIDGETALLY_CHART_DRAWING_H

#include "label.h"

#include "ridgetally/base/arena.h"

#include <stdbool.h>
#include <stddef.h>

enum mark_kind { MARK_LINE, MARK_AREA, MARK_POINTS, MARK_LABEL };

enum anchor { ANCHOR_START, ANCHOR_MIDDLE, ANCHOR_END };

/* Shapes by gnuplot's point type numbers. */
enum shape {
    SHAPE_OPEN_SQUARE = 4,
    SHAPE_SQUARE = 5,
    SHAPE_OPEN_CIRCLE = 6,
    SHAPE_CIRCLE = 7,
    SHAPE_OPEN_TRIANGLE = 8,
    SHAPE_TRIANGLE = 9,
    SHAPE_OPEN_DIAMOND = 12,
    SHAPE_DIAMOND = 13
};

/* Dash patterns; SOLID draws none. */
enum dash { DASH_SOLID, DASH_LONG, DASH_SHORT };

struct line_style {
    const char *colour; /* "#rrggbb" */
    double width_px;
    enum dash dash;
};

struct point_style {
    const char *colour;
    enum shape shape;
    double radius_px;
};

struct label_style {
    const char *colour;
    double size_px;
    enum anchor anchor;
    bool strong;
};

struct mark {
    enum mark_kind kind;
    struct line_style line;
    double opacity; /* of an area */
    struct point_style point;
    struct label_style label;
    const char *text;              /* of a label; owned by the drawing */
    size_t first, count;           /* coordinates in x, y */
    size_t first_part, part_count; /* of a label, in parts */
};

struct drawing {
    double width_px, height_px;
    struct mark *marks;
    size_t mark_count, mark_capacity;
    double *x, *y;
    size_t coordinate_count, x_capacity, y_capacity;
    struct label_part *parts; /* of all labels; their figures are borrowed */
    size_t label_part_count, part_capacity;
    struct rt_arena text;
    bool failed;
};

void drawing_polyline(struct drawing *drawing, struct line_style style, size_t count, const double *x,
                      const double *y);
void drawing_segment(struct drawing *drawing, struct line_style style, double x1, double y1, double x2,
                     double y2);
/* A filled polygon with the given corners. */
void drawing_area(struct drawing *drawing, const char *colour, double opacity, size_t count, const double *x,
                  const double *y);
void drawing_rectangle(struct drawing *drawing, const char *colour, double opacity, double x1, double y1,
                       double x2, double y2);
/* Points of the same style added one after another share a mark. */
void drawing_point(struct drawing *drawing, struct point_style style, double x, double y);
/* y is the middle of the text's height. An empty label is left out. */
void drawing_label(struct drawing *drawing, struct label_style style, double x, double y,
                   const struct label *label);

/* Rough width of text in pixels at a font size: for margins and collisions, not for setting. */
double text_width_px(const char *text, double size_px);

void drawing_release(struct drawing *drawing);

#endif
