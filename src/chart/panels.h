/* Panels of one chart, one under the other, a name above each; private to the chart layer. */
#ifndef RIDGETALLY_CHART_PANELS_H
#define RIDGETALLY_CHART_PANELS_H

#include "canvas.h"

/* Where the stack stands and how high one panel is. */
struct panel_stack {
    double height, gap, top;
    size_t count;
};

/* The stack for count panels of a height; sets the height of the drawing. */
struct panel_stack stack_panels(struct canvas *canvas, size_t count, double height);

/* Set top and bottom of panel number `which`, and draw its name above it. */
void place_panel(struct canvas *canvas, const struct panel_stack *stack, size_t which, const char *name,
                 struct panel *panel);

/* Titles of the axes: y at the top of the drawing, x under the last panel, whose place is given. */
void title_panels(struct canvas *canvas, const struct panel *last, const char *x_title, const char *y_title);

/* The first part of a joined level, into text. */
const char *first_part(const char *level, char *text, size_t size);

#endif
