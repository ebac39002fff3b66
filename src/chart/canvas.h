/*
 * What every chart builder shares: palette, panels with axes, and the rows a request selects.
 */
#ifndef RIDGETALLY_CHART_CANVAS_H
#define RIDGETALLY_CHART_CANVAS_H

#include "axis.h"
#include "drawing.h"

#include "ridgetally/figure/chart_request.h"

#include <stdbool.h>

/* The project's colours (pairwise CIELAB distance at least 47 under four kinds of sight, on the paper). */
#define COLOUR_INK      "#1f2328"
#define COLOUR_SOFT_INK "#565c63"
#define COLOUR_RULE     "#e2ded3"
#define COLOUR_AXIS     "#8b9096"
#define COLOUR_CASE     "#9096a0"
#define COLOUR_PAPER    "#fdfcf9"
#define COLOUR_BRASS    "#998841"
#define COLOUR_OXBLOOD  "#50101f"
#define COLOUR_LAGOON   "#179da5"
#define COLOUR_INDIGO   "#2f1090"

enum { CASES_SHOWN_SINGLY = 400 }; /* from here on cases are drawn as counts per cell */

/* Distinct looks of up to four unordered groups: colour and shape both differ. */
struct look {
    const char *colour;
    enum shape shape;
};
struct look look_of_group(size_t index);

/* Colour of step `index` of `count` ordered classes: one hue, light to dark. */
const char *colour_of_step(size_t index, size_t count);

struct canvas {
    struct drawing *drawing;
    bool narrow;
    double text_px; /* size of ordinary text */
};

struct panel {
    double left, right, top, bottom; /* pixels */
    struct axis x, y;
    bool x_percent, y_percent;
};

double panel_x(const struct panel *panel, double value);
double panel_y(const struct panel *panel, double value);

/* Horizontal rules at the y ticks, tick labels left of the panel. */
void panel_y_axis(struct canvas *canvas, const struct panel *panel);
/* The rules alone, for a panel beside one whose labels serve both. */
void panel_y_rules(struct canvas *canvas, const struct panel *panel);
/* The line at the bottom and, when labelled, tick marks and labels under it. */
void panel_x_axis(struct canvas *canvas, const struct panel *panel, bool labelled);
/* Axis titles: y above the panel's upper left corner, x below its lower right corner at `below` pixels. */
void panel_titles(struct canvas *canvas, const struct panel *panel, const char *x_title, const char *y_title,
                  double below_px);
/* A thin labelled line across the panel at a y value; nothing when value is not finite or out of range. */
void panel_reference(struct canvas *canvas, const struct panel *panel, double value, const char *label);

/* A grey band from -half_width to half_width on the y axis, in which a single change may be reading error; nothing where half_width is
 * not a positive number. */
void panel_error_band(struct canvas *canvas, const struct panel *panel, double half_width, bool labelled);

/* Words of the program in the three inks; no number of a figure and no name may stand in them. */
void canvas_text(struct canvas *canvas, double x, double y, enum anchor anchor, const char *text);
void canvas_soft_text(struct canvas *canvas, double x, double y, enum anchor anchor, const char *text);
/* Cut text, of size bytes, to about width_px at a font size, with an ellipsis; between characters of UTF-8. */
void canvas_shortened(char *text, size_t size, double width_px, double size_px);
void canvas_strong_text(struct canvas *canvas, double x, double y, enum anchor anchor, const char *text);

enum ink { INK_PLAIN, INK_SOFT, INK_STRONG };

/* A label of several parts, a name from the records alone, the number of an axis. */
void canvas_label(struct canvas *canvas, double x, double y, enum anchor anchor, enum ink ink,
                  const struct label *label);
void canvas_name(struct canvas *canvas, double x, double y, enum anchor anchor, enum ink ink,
                 const char *name);
void canvas_tick(struct canvas *canvas, double x, double y, enum anchor anchor, const char *number);

/* Cases as points; from CASES_SHOWN_SINGLY on as one mark per cell whose area grows with the count. */
struct case_position {
    double x, y; /* pixels */
};
void canvas_cases(struct canvas *canvas, const struct case_position *cases, size_t count,
                  struct point_style style);

/* A fixed pseudo-random number in [-1, 1] for an index: jitter that is the same at every drawing. */
double jitter(size_t index);

/* The figure rows of a request's measure, in list order. */
struct rows {
    const struct rt_figure **items;
    size_t count;
};

/* Select rows of measures[which]; only rows in state ok with a value unless all_states. False when out of
 * memory (drawing->failed is set). Free items with free(). */
bool select_rows(struct canvas *canvas, const struct rt_chart_request *request, int which, bool all_states,
                 struct rows *rows);

/* The level shown to readers: without the request's level prefix. */
const char *shown_level(const struct rt_chart_request *request, const char *level);

/* Distinct names in order of appearance. Text is borrowed. */
struct names {
    const char **items;
    size_t count, capacity;
};
/* Index of name, added when new; 0 and drawing->failed when out of memory. */
size_t name_index(struct canvas *canvas, struct names *names, const char *name);
void names_release(struct names *names);

/* value with decimals, sign shown when signed_value, true minus; n > 0 fits text. */
void number_text(double value, int decimals, bool signed_value, char *text, size_t size);

/* A curve through the rows (value at `at`) with, when asked, the band of their limits. */
void canvas_curve(struct canvas *canvas, const struct panel *panel, const struct rows *rows,
                  const char *colour, double width_px, bool with_band);

/* One builder per kind. Each adds marks to the canvas' drawing (whose width is set) and sets its height.
 * Returns NULL, or in words why there is nothing to draw. */
const char *build_agreement(struct canvas *canvas, const struct rt_chart_request *request);
const char *build_error_histogram(struct canvas *canvas, const struct rt_chart_request *request);
const char *build_strip_by_class(struct canvas *canvas, const struct rt_chart_request *request);
const char *build_class_intervals(struct canvas *canvas, const struct rt_chart_request *request);
const char *build_dose_response(struct canvas *canvas, const struct rt_chart_request *request);
const char *build_curve_panels(struct canvas *canvas, const struct rt_chart_request *request);
const char *build_survival(struct canvas *canvas, const struct rt_chart_request *request);
const char *build_share_by_class(struct canvas *canvas, const struct rt_chart_request *request);
const char *build_share_bounds(struct canvas *canvas, const struct rt_chart_request *request);
const char *build_rules(struct canvas *canvas, const struct rt_chart_request *request);
const char *build_rule_dose(struct canvas *canvas, const struct rt_chart_request *request);
const char *build_yardsticks(struct canvas *canvas, const struct rt_chart_request *request);
const char *build_control(struct canvas *canvas, const struct rt_chart_request *request);
const char *build_sums(struct canvas *canvas, const struct rt_chart_request *request);
const char *build_by_quarter(struct canvas *canvas, const struct rt_chart_request *request);
const char *build_funnel(struct canvas *canvas, const struct rt_chart_request *request);

#endif
