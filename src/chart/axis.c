#include "axis.h"

#include <math.h>
#include <stdio.h>

static double round_step(double span, int wanted)
{
    static const double steps[] = {1.0, 2.0, 2.5, 5.0, 10.0};
    double raw = span / (wanted > 0 ? wanted : 1);
    double power = pow(10.0, floor(log10(raw)));
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++)
        if (steps[i] * power >= raw * (1.0 - 1e-9))
            return steps[i] * power;
    return 10.0 * power;
}

static int decimals_of(double step)
{
    for (int decimals = 0; decimals < 9; decimals++) {
        double scaled = step * pow(10.0, decimals);
        if (fabs(scaled - round(scaled)) < 1e-6 * scaled)
            return decimals;
    }
    return 9;
}

struct axis axis_fit(double low, double high, int wanted_ticks, bool widen)
{
    if (!isfinite(low) || !isfinite(high) || low > high) {
        low = 0.0;
        high = 1.0;
    }
    if (high - low < 1e-12 * fmax(1.0, fmax(fabs(low), fabs(high)))) {
        double pad = low == 0.0 ? 0.5 : fabs(low) * 0.1;
        low -= pad;
        high += pad;
    }
    struct axis axis = {.low = low, .high = high};
    double step = round_step(high - low, wanted_ticks);
    double first = widen ? floor(low / step + 1e-9) : ceil(low / step - 1e-9);
    double last = widen ? ceil(high / step - 1e-9) : floor(high / step + 1e-9);
    axis.decimals = decimals_of(step);
    for (double index = first; index <= last && axis.tick_count < AXIS_MOST_TICKS; index += 1.0)
        axis.ticks[axis.tick_count++] = index * step;
    if (widen) {
        axis.low = first * step;
        axis.high = last * step;
    }
    return axis;
}

void axis_tick_text(const struct axis *axis, double value, bool percent, char *text, size_t size)
{
    int decimals = axis->decimals;
    if (percent) {
        value *= 100.0;
        decimals = decimals > 2 ? decimals - 2 : 0;
    }
    if (fabs(value) < 0.5 * pow(10.0, -decimals))
        value = 0.0;
    snprintf(text, size, "%s%.*f%s", value < 0 ? "\xE2\x88\x92" : "", decimals, fabs(value),
             percent ? "%" : "");
}

double axis_pixel(const struct axis *axis, double value, double pixel_low, double pixel_high)
{
    double share = (value - axis->low) / (axis->high - axis->low);
    if (share < 0.0)
        share = 0.0;
    if (share > 1.0)
        share = 1.0;
    return pixel_low + share * (pixel_high - pixel_low);
}
