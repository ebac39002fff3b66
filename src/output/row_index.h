/* Rows of a figure list by their measure, so that a page of many lookups need not walk over all rows for each. */
#ifndef RIDGETALLY_SRC_OUTPUT_ROW_INDEX_H
#define RIDGETALLY_SRC_OUTPUT_ROW_INDEX_H

#include "ridgetally/base/error.h"
#include "ridgetally/figure/figure.h"

enum { ROW_INDEX_HEADS = 512 };

/* Rows whose measures share a head follow one another, in the order of the list. Numbers are places in the list plus 1; 0: none. */
struct row_index {
    const struct rt_figure_list *figures;
    size_t head[ROW_INDEX_HEADS];
    size_t *next; /* of each row */
};

/* RT_MEMORY, and an empty index, without memory. Release with release_row_index, also after a failure. */
enum rt_status make_row_index(struct row_index *index, const struct rt_figure_list *figures,
                              struct rt_error *error);
void release_row_index(struct row_index *index);

/* The place of the first row from `at` on that may have the measure, or figures->count. index may be NULL. */
size_t next_place(const struct row_index *index, const struct rt_figure_list *figures, const char *measure,
                  size_t at);

#endif
