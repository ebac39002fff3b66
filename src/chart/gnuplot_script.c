#include "gnuplot_script.h"

#include <math.h>

/* A pixel to a hundredth, as %.2f has it: pixels are settled to hundredths, so that none lies halfway between two. printf takes
 * ten times as long, and a page has a hundred thousand. */
static void add_pixel(struct rt_text *data, double pixel)
{
    char digits[32];
    size_t at = sizeof digits;
    if (!(fabs(pixel) < 1e9)) {
        rt_text_format(data, "%.2f", pixel);
        return;
    }
    unsigned long hundredths = (unsigned long)llround(fabs(pixel) * 100.0);
    for (int place = 0; place < 3 || hundredths > 0; place++) {
        digits[--at] = (char)('0' + hundredths % 10);
        hundredths /= 10;
        if (place == 1)
            digits[--at] = '.';
    }
    if (signbit(pixel))
        digits[--at] = '-';
    rt_text_add_bytes(data, digits + at, sizeof digits - at);
}

/* Coordinates only: y is turned because gnuplot counts upwards. Labels carry their mark's number between @. */
static void add_data(const struct drawing *drawing, size_t index, struct rt_text *script)
{
    const struct mark *mark = &drawing->marks[index];
    for (size_t i = mark->first; i < mark->first + mark->count; i++) {
        add_pixel(script, drawing->x[i]);
        rt_text_add_character(script, '\t');
        add_pixel(script, drawing->height_px - drawing->y[i]);
        if (mark->kind == MARK_LABEL)
            rt_text_format(script, "\t@%zu@", index);
        rt_text_add_character(script, '\n');
    }
    rt_text_add(script, "e\n");
}

static const char *dash_text(enum dash dash)
{
    switch (dash) {
    case DASH_LONG:
        return " dt (8,4)";
    case DASH_SHORT:
        return " dt (3,3)";
    case DASH_SOLID:
        break;
    }
    return " dt solid";
}

static void add_plot_element(const struct mark *mark, struct rt_text *script)
{
    static const char *const anchors[] = {"left", "center", "right"};
    rt_text_add(script, "'-'"); /* all columns: a list of them would be worked out as an expression each */
    switch (mark->kind) {
    case MARK_LINE:
        rt_text_format(script, " with lines lc rgb '%s' lw %.2f%s", mark->line.colour, mark->line.width_px,
                       dash_text(mark->line.dash));
        break;
    case MARK_AREA:
        rt_text_format(script, " with filledcurves closed fs transparent solid %.2f noborder lc rgb '%s'",
                       mark->opacity, mark->line.colour);
        break;
    case MARK_POINTS: /* point size 1 is drawn with radius 4.5 px at 12 px type */
        rt_text_format(script, " with points pt %d ps %.4f lw 1 lc rgb '%s'", (int)mark->point.shape,
                       mark->point.radius_px / 4.5, mark->point.colour);
        break;
    case MARK_LABEL:
        rt_text_format(script, " with labels noenhanced %s font ',%.0f' tc rgb '%s'",
                       anchors[mark->label.anchor], mark->label.size_px, mark->label.colour);
        break;
    }
}

void gnuplot_add_settings(struct rt_text *script)
{
    /* standard output by name: gnuplot writes line by line to what it was given as standard output */
    rt_text_add(script, "set output '/dev/stdout'\n"
                        "set datafile separator \"\\t\"\nunset key\nunset border\nunset tics\n"
                        "set lmargin at screen 0\nset rmargin at screen 1\n"
                        "set bmargin at screen 0\nset tmargin at screen 1\n");
}

void gnuplot_add_drawing(const struct drawing *drawing, struct rt_text *script)
{
    rt_text_format(script,
                   "set terminal svg size %.0f,%.0f fixed font 'sans,12' noenhanced\n"
                   "set xrange [0:%.0f]\nset yrange [0:%.0f]\nplot ",
                   drawing->width_px, drawing->height_px, drawing->width_px, drawing->height_px);
    for (size_t m = 0; m < drawing->mark_count; m++) {
        rt_text_add(script, m > 0 ? ", \\\n  " : "");
        add_plot_element(&drawing->marks[m], script);
    }
    rt_text_add(script, drawing->mark_count == 0 ? "-1\n" : "\n");
    for (size_t m = 0; m < drawing->mark_count; m++)
        add_data(drawing, m, script);
}
