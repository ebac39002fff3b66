/* Axis geometry: round tick values and the mapping from data to pixels. Pure arithmetic. */
#ifndef RIDGETALLY_CHART_AXIS_H
#define RIDGETALLY_CHART_AXIS_H

#include <stdbool.h>
#include <stddef.h>

enum { AXIS_MOST_TICKS = 24 };

struct axis {
    double low, high; /* data range shown */
    double ticks[AXIS_MOST_TICKS];
    size_t tick_count;
    int decimals; /* digits after the point that tell the ticks apart */
};

/* An axis that covers [low, high] with ticks at multiples of 1, 2, 2.5 or 5 times a power of ten, at most
 * wanted_ticks + 2 of them. widen: the axis ends at ticks; else it ends at low and high. A range of no width
 * is given some. Non-finite bounds give [0, 1]. */
struct axis axis_fit(double low, double high, int wanted_ticks, bool widen);

/* Tick text with the axis' decimals and a true minus sign; percent multiplies by 100 and adds %. */
void axis_tick_text(const struct axis *axis, double value, bool percent, char *text, size_t size);

/* Pixel of a data value when low stands at pixel_low and high at pixel_high; values outside are clipped. */
double axis_pixel(const struct axis *axis, double value, double pixel_low, double pixel_high);

#endif
