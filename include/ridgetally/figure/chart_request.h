/*
 * What a chart shows, in terms of figure rows and case series: asked for by a document's block, drawn by the
 * chart layer. A request owns nothing; its text and the lists it points to must outlive it.
 */
#ifndef RIDGETALLY_FIGURE_CHART_REQUEST_H
#define RIDGETALLY_FIGURE_CHART_REQUEST_H

#include "ridgetally/figure/case_series.h"
#include "ridgetally/figure/figure.h"

#include <stdbool.h>

/*
 * The kinds of chart and what each reads. `measures` are measure names looked up under `section` with the given
 * grouping, level prefix, baseline and site; rows that are not in state ok are left out or said so.
 *
 * agreement        measures: bias, lower limit, upper limit (value and interval of each); grouping and level
 *                  select the one row of each. cases: x = mean of the two, y = difference, group = operator.
 * error_histogram  cases: y = difference, group = panel; one panel per group, same scale.
 *                  measures (optional): mean with its interval, one row per level (= group) of grouping.
 * strip_by_class   measures: lower quartile, median, upper quartile, one row per level of grouping.
 *                  cases: y = value, group = level, censored = open triangle (limit reached).
 * class_intervals  measures: the mean with its interval, one row per level `a|b` of a two-way grouping;
 *                  panels by b, positions by a. cases (optional): y = value, group = `a|b`.
 * dose_response    measures: the fitted curve (value, lower, upper at `at`). cases (optional): x, y.
 * survival         measures: survival (value, lower, upper at `at`), numbers at risk (n_implants at `at`).
 *                  Third measure (optional, one curve): survival at whole years, rows of levels `worst case` and
 *                  `best case` are drawn as spans. One curve per level of grouping in a panel each, twelve at most, and
 *                  how many more there are. A curve is greyed from the first row on that is in state too_few or has
 *                  fewer than 10 patients.
 * share_by_class   measures: a share with its interval, one row per level (for example year of placement), or per time (`at`) where
 *                  level names a single one.
 * curve_panels     measures: the fitted curve (value, lower, upper at `at`), one curve per level of
 *                  grouping, each in a panel before the others'.
 *                  cases (optional): x, y, of the panel whose level ends as their group does.
 * share_bounds     measures: a share with its interval, one row per level; its bounds (grouping `...|bound`, levels `...|worst case`
 *                  and `...|best case`). Rows at `at`; where that is NaN, rows without a time.
 * rules            measures: the adjusted difference in smallest differences that matter, the verdict; one line per level (a
 *                  rule's name, shown with its hyphens as spaces).
 * rule_dose        measures: the fitted curve (as dose_response); where the rule states a knee, its places (`at`, value 1
 *                  compatible) and the knee itself. cases (optional): x, y, censored = open triangle. x_marks, slope.
 * yardsticks       measures: the figure (value, lower, upper), the target (value; remark `at least` or `at most`), the state
 *                   (1, 0, -1), one row per level of grouping; each on a scale of its own. Levels are names with hyphens.
 * control          measures: the moving average over sessions (value, limits at `at`), centre and limits of single sessions; one
 *                  panel per level of grouping. cases: x = number of the session, y = its value, group = level.
 * sums             measures: sums of evidence for more and for fewer, drawn up and down (value, limit = upper at `at`).
 * by_quarter       measures: a value with its interval, one row per level `a|quarter`; one panel per a.
 * funnel           measures: a share with its interval, one row per level of grouping, against n_patients; curves of limits
 *                  (lower, upper at `at` patients), ungrouped rows.
 */
enum rt_chart_kind {
    RT_CHART_AGREEMENT,
    RT_CHART_ERROR_HISTOGRAM,
    RT_CHART_STRIP_BY_CLASS,
    RT_CHART_CLASS_INTERVALS,
    RT_CHART_DOSE_RESPONSE,
    RT_CHART_SURVIVAL,
    RT_CHART_SHARE_BY_CLASS,
    RT_CHART_SHARE_BOUNDS,
    RT_CHART_RULES,
    RT_CHART_RULE_DOSE,
    RT_CHART_CURVE_PANELS,
    RT_CHART_YARDSTICKS,
    RT_CHART_CONTROL,
    RT_CHART_SUMS,
    RT_CHART_BY_QUARTER,
    RT_CHART_FUNNEL
};

enum { RT_CHART_MEASURES = 3 };

struct rt_chart_request {
    enum rt_chart_kind kind;
    const char *id;    /* unique in a document; letters, digits and hyphens; prefixes the ids in the SVG */
    const char *title; /* becomes the SVG title (accessible name), not drawn */
    const char *description; /* becomes the SVG description: what there is to see, in a sentence or two */
    const char *x_title;     /* axis titles with units */
    const char *y_title;
    const struct rt_figure_list *figures;
    const char *section;
    const char *measures[RT_CHART_MEASURES]; /* NULL where the kind needs fewer */
    const char *grouping;                    /* "" = ungrouped rows */
    const char *level;                       /* "" = every level; else a prefix such as "12 months|" */
    const char *baseline;                    /* "" or NULL = any */
    const char *site;                        /* "" or NULL = any */
    double at;                               /* rows with this `at` only; NaN = any */
    const struct rt_case_series *cases;      /* NULL = none */
    double reference;                        /* a thin labelled line on the y axis; NaN = none */
    const char *reference_label;
    double x_marks[2]; /* rule_dose: thin lines at these x, labelled reference_label; NaN = none */
    double slope;      /* rule_dose: a thin line of this slope through the origin, labelled so; NaN = none */
    double
        error_band; /* half-width of a band about 0 on the y axis, in which a single case may be reading error; NaN or 0 = none */
    const char *panel_before; /* class_intervals: a word before each panel's level; NULL = none */
    bool low; /* class_intervals: lower panels when wide, so that the drawing fills the width of a slide */
};

#endif
