/* Panels of one chart, a name above each: one under the other, or, where a wide drawing has many, two beside each other. Private to the
 * chart layer. */
#ifndef RIDGETALLY_CHART_PANELS_H
#define RIDGETALLY_CHART_PANELS_H

#include "canvas.h"

/* Where the stack stands, how high and wide one panel is, and how far the panels of two columns are apart. */
struct panel_stack {
    double height, gap, top;
    double left, width, step;
    size_t count, columns;
};

/* The stack for count panels of a height between left and right margins of the drawing; sets the height of the drawing. */
struct panel_stack stack_panels(struct canvas *canvas, size_t count, double height, double left,
                                double right_margin);

/* Set the edges of panel number `which`, and draw its name above it. */
void place_panel(struct canvas *canvas, const struct panel_stack *stack, size_t which, const char *name,
                 struct panel *panel);

/* Has the panel no other below it, which could carry the labels of its x axis? None beside it, where labels of its lines have room? */
bool is_lowest(const struct panel_stack *stack, size_t which);
bool is_rightmost(const struct panel_stack *stack, size_t which);

/* Titles of the axes: y at the top of the drawing, x under the last panel, whose place is given. */
void title_panels(struct canvas *canvas, const struct panel *last, const char *x_title, const char *y_title);

/* The first part of a joined level, into text. */
const char *first_part(const char *level, char *text, size_t size);

#endif
