/*
 * The figure row: the one form in which every number a user sees exists. Audit computes rows; chart, page and
 * output only select and format them. A list owns its rows and their text.
 *
 * The key of a row is (section, measure, grouping, level, at, baseline, site, unit_of_analysis); it is unique
 * in a list. Two-way groupings are named `a|b` with levels `x|y`. The catalogue (catalogue.h) says what each
 * measure is.
 */
#ifndef RIDGETALLY_FIGURE_FIGURE_H
#define RIDGETALLY_FIGURE_FIGURE_H

#include "ridgetally/base/arena.h"
#include "ridgetally/base/error.h"
#include "ridgetally/base/text.h"

#include <stddef.h>

enum rt_figure_state {
    RT_FIGURE_OK = 0,
    RT_FIGURE_TOO_FEW,   /* below the stated minimum: value, limits and p are empty */
    RT_FIGURE_UNDEFINED, /* mathematics gives no number; remark says why */
    RT_FIGURE_WITHHELD   /* kept back to protect patients (deck) */
};

enum { RT_NO_COUNT = -1 }; /* a count that does not apply to the row */

/* One figure. Text members are never NULL (empty = does not apply). Numbers that do not apply are NaN. */
struct rt_figure {
    const char *section; /* flow, depth, stability, crest, survival, success, rules, operators, readers,
                            yardsticks, precision */
    const char *measure; /* catalogue name */
    const char *grouping;
    const char *level;
    double at; /* time of a curve or window, x of a dose-response curve; unit by catalogue */
    long n_implants, n_patients, n_events, n_due;
    double value, lower, upper;
    double p, p_adjusted;
    const char *unit;             /* mm, Ncm, share, months, ... */
    const char *baseline;         /* placement, loading or empty */
    const char *site;             /* mesial, distal, mean, worse or empty */
    const char *unit_of_analysis; /* implant or patient */
    const char *method;           /* method key, see catalogue.h */
    enum rt_figure_state state;
    const char *remark; /* plain words: why too few, what a reader must know */
    /* Not printed nor kept in the store; RT_NO_COUNT: not known. Patients with an event, and with a case without one: what a
     * deck must look at before it shows n_events. Implants without one: given where they are not n_implants - n_events. */
    long event_patients, other_patients, other_implants;
};

struct rt_figure_list {
    struct rt_figure *rows;
    size_t count, capacity;
    struct rt_arena text; /* owns the rows' text */
};

/* A row with all text empty, counts RT_NO_COUNT and numbers NaN. */
struct rt_figure rt_empty_figure(void);

/* Append a copy of row (its text is copied into the list). Infinite numbers are refused (RT_USE): an endless
 * limit is NaN with a remark. */
enum rt_status rt_add_figure(struct rt_figure_list *list, const struct rt_figure *row,
                             struct rt_error *error);

/* Move all rows of other behind those of list, without copying their text; other is empty afterwards, also after a failure. */
enum rt_status rt_move_figures(struct rt_figure_list *list, struct rt_figure_list *other,
                               struct rt_error *error);

/* The row with this key, or NULL. NULL for grouping, level, baseline, site or unit_of_analysis matches any;
 * a NaN `at` matches any. The first match in list order is returned. */
const struct rt_figure *rt_find_figure(const struct rt_figure_list *list, const struct rt_figure *key);

/* Order of the keys, for sorting and for finding a key that stands twice: negative, zero or positive. An
 * empty `at` comes first. */
int rt_compare_figure_keys(const struct rt_figure *a, const struct rt_figure *b);

/* Add the row's key as a page names it: section/measure/grouping/level/at/baseline/site/unit of analysis, with `%`, `/` and
 * control characters inside a member written %25, %2F, %0A; not yet escaped for HTML. */
void rt_add_figure_key(struct rt_text *text, const struct rt_figure *figure);

/* ok, too_few, undefined or withheld: the text of the state column. */
const char *rt_figure_state_name(enum rt_figure_state state);

/* Add the whole list to text as CSV (header first; columns as in the man page, section FIGURES) or JSON
 * (an array of objects with the same names; empty cells are null). */
void rt_figures_to_csv(const struct rt_figure_list *list, struct rt_text *text);
void rt_figures_to_json(const struct rt_figure_list *list, struct rt_text *text);

void rt_release_figures(struct rt_figure_list *list);

#endif
