/* The slides' rows and their cells; private to the output layer. */
#ifndef RIDGETALLY_SRC_OUTPUT_DECK_ROWS_H
#define RIDGETALLY_SRC_OUTPUT_DECK_ROWS_H

#include "ridgetally/output/deck_rows.h"

/* The rows of one slide. Rows with the same family rest on the same implants. */
struct deck_source {
    const char *slide, *section, *measure;
    const char *grouping;
    const char *level;   /* prefix */
    const char *family;  /* "%d" becomes the row's time in whole years */
    const char *outcome; /* "" = counts no event */
    const char *site;
    bool
        yearly; /* a point of a curve: the row's patients are those at risk, its events of all from the start */
};

/* All of them, headline first within a slide; *count receives how many. */
const struct deck_source *deck_sources(size_t *count);

/* Add the row's cells. */
enum rt_status add_row_cells(struct rt_deck_rows *deck, const struct deck_source *source,
                             const struct rt_figure *figure, struct rt_deck_row *row, struct rt_error *error);

/* Pairs of cells of which one is part of the other by what they count; *nestings is the caller's to free. */
struct rt_nesting;
enum rt_status find_nestings(const struct rt_deck_rows *deck, struct rt_nesting **nestings, size_t *count,
                             struct rt_error *error);

/* Copy the shown rows into deck->shown: letters for labels. */
enum rt_status copy_shown(struct rt_deck_rows *deck, struct rt_error *error);

#endif
