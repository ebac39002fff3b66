/*
 * Fewer marks where many lie on the same pixels: a practice of a million implants has more sessions than a drawing has
 * places. What is seen stays the same, or nearly.
 */
#ifndef RIDGETALLY_CHART_THIN_H
#define RIDGETALLY_CHART_THIN_H

#include <stdbool.h>
#include <stddef.h>

/* Thin a line in place, x in pixels and ascending: of the points in one column of pixels, one pixel wide, at most four stay: the first,
 * the lowest, the highest and the last, in their order. Returns how many points are left. */
size_t thin_line(size_t count, double *x, double *y);

/* Cells of a panel that points lie in. */
struct point_cells {
    double left, top, cell_px;
    size_t columns, rows;
    unsigned char *taken; /* columns * rows */
};

/* Cells for about so many points: of one pixel, of three from 1,000 points up (less than a mark is wide). false when out of memory.
 * Released with release_cells. */
bool make_cells(struct point_cells *cells, double left, double top, double right, double bottom,
                size_t points);
void release_cells(struct point_cells *cells);

/* Take the cell of a point: false when an earlier point has it. Points outside the panel are always free. */
bool take_cell(struct point_cells *cells, double x, double y);

#endif
