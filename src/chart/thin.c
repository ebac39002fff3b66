#include "thin.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <stdlib.h>

enum { MOST_IN_A_COLUMN = 4, MANY_POINTS = 1000 };

/* The points from begin to end share a column: the kept ones go to *kept, which moves on. */
static void keep_of_column(size_t begin, size_t end, double *x, double *y, size_t *kept)
{
    size_t low = begin, high = begin;
    for (size_t i = begin; i < end; i++) {
        low = y[i] < y[low] ? i : low;
        high = y[i] > y[high] ? i : high;
    }
    const size_t first = low < high ? low : high, second = low < high ? high : low;
    const size_t places[MOST_IN_A_COLUMN] = {begin, first, second, end - 1};
    for (size_t i = 0; i < MOST_IN_A_COLUMN; i++)
        if (i == 0 || places[i] != places[i - 1]) {
            x[*kept] = x[places[i]];
            y[(*kept)++] = y[places[i]];
        }
}

size_t thin_line(size_t count, double *x, double *y)
{
    size_t kept = 0;
    for (size_t begin = 0, end; begin < count; begin = end) {
        for (end = begin + 1; end < count && floor(x[end]) == floor(x[begin]);)
            end++;
        if (end - begin > MOST_IN_A_COLUMN) {
            keep_of_column(begin, end, x, y, &kept);
            continue;
        }
        for (size_t i = begin; i < end; i++) {
            x[kept] = x[i];
            y[kept++] = y[i];
        }
    }
    return kept;
}

bool make_cells(struct point_cells *cells, double left, double top, double right, double bottom,
                size_t points)
{
    *cells = (struct point_cells){.left = left, .top = top, .cell_px = points < MANY_POINTS ? 1.0 : 3.0};
    cells->columns = (size_t)ceil(fmax(right - left, 0.0) / cells->cell_px) + 1;
    cells->rows = (size_t)ceil(fmax(bottom - top, 0.0) / cells->cell_px) + 1;
    cells->taken = rt_new_array(cells->columns * cells->rows, 1);
    return cells->taken != NULL;
}

void release_cells(struct point_cells *cells)
{
    free(cells->taken);
    *cells = (struct point_cells){0};
}

bool take_cell(struct point_cells *cells, double x, double y)
{
    const double column = floor((x - cells->left) / cells->cell_px),
                 row = floor((y - cells->top) / cells->cell_px);
    if (!(column >= 0.0 && row >= 0.0 && column < (double)cells->columns && row < (double)cells->rows))
        return true;
    unsigned char *cell = &cells->taken[(size_t)row * cells->columns + (size_t)column];
    const bool free_cell = *cell == 0;
    *cell = 1;
    return free_cell;
}
