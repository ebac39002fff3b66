/*
 * Adjusting p-values over the rows of a list, and checking their keys.
 */
#ifndef RIDGETALLY_AUDIT_ADJUST_ROWS_H
#define RIDGETALLY_AUDIT_ADJUST_ROWS_H

#include "ridgetally/figure/figure.h"

/* Fill p_adjusted by Benjamini-Hochberg over the rows of one section whose measures have one outcome in the
 * catalogue. Rows that come with an adjusted p (the verdicts on house rules, by Holm) keep it and are not counted. */
enum rt_status rt_adjust_rows(struct rt_figure_list *list, struct rt_error *error);

/* RT_USE naming the measure when two rows have one key: a fault of the program. */
enum rt_status rt_check_row_keys(const struct rt_figure_list *list, struct rt_error *error);

#endif
