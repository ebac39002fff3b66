/*
 * The text of a label while it is put together, and what each part of it is: words, a name from the records, or a number of a figure
 * row. What a number is travels with the label into the SVG (svg.c), so that a page can be read back against its figures.
 *
 *     struct label label = {0};
 *     label_words(&label, "bias ");
 *     label_value(&label, row, 2, true);
 *     canvas_label(canvas, x, y, ANCHOR_END, INK_STRONG, &label);
 *
 * Text beyond LABEL_BYTES is cut between characters of UTF-8, parts beyond LABEL_PARTS are dropped.
 */
#ifndef RIDGETALLY_CHART_LABEL_H
#define RIDGETALLY_CHART_LABEL_H

#include "ridgetally/figure/figure.h"

#include <stdbool.h>
#include <stddef.h>

enum { LABEL_BYTES = 256, LABEL_PARTS = 6 };

enum label_part_kind {
    LABEL_WORDS,  /* of the program: a title, a state */
    LABEL_NAME,   /* a level of a grouping: a class, an operator, a quarter */
    LABEL_TICK,   /* a number of an axis */
    LABEL_FIGURE, /* a number of a figure row */
};

struct label_part {
    enum label_part_kind kind;
    size_t length;                  /* bytes of the label's text */
    const struct rt_figure *figure; /* borrowed; of a figure part only */
    const char *column;             /* of the figures output; a constant */
};

struct label {
    char text[LABEL_BYTES];
    size_t length;
    struct label_part parts[LABEL_PARTS];
    size_t part_count;
};

/* A count of a row. */
enum label_count { COUNT_IMPLANTS, COUNT_PATIENTS, COUNT_EVENTS, COUNT_DUE };

void label_words(struct label *label, const char *words);
void label_name(struct label *label, const char *name);
void label_tick(struct label *label, const char *number);

/* The row's value, rounded, with a true minus sign; a plus sign when signed_value. */
void label_value(struct label *label, const struct rt_figure *figure, int decimals, bool signed_value);

/* The row's value times 100, with a % sign. */
void label_percent(struct label *label, const struct rt_figure *figure, int decimals);

void label_count(struct label *label, const struct rt_figure *figure, enum label_count which);

/* The row's time or place on the axis with the unit of its measure: "3 years". */
void label_time(struct label *label, const struct rt_figure *figure);

/* "38 / 29": implants and patients of the row. */
void label_cases(struct label *label, const struct rt_figure *figure);

/* "3 of 38": events of a count of the row; "n = 38", implants, where the row has no events. */
void label_events(struct label *label, const struct rt_figure *figure, enum label_count of);

#endif
