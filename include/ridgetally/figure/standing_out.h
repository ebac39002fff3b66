/*
 * What stands out among the comparisons of a figure list: which rows with a p are a question to the practice, which of these are
 * clearer than chance, and the one row that speaks for each question.
 *
 * SCREENED is a row whose p is a question of its own that a practice could decide something about. Left out are the same question asked in
 * another form (another statistic, site, baseline, censoring, or the period beside the 12 months and all records); a kappa against 0, as
 * agreement beyond chance is no finding; and tests of an assumption of a method.
 *
 * CLEAR is a screened row in state ok with an adjusted p below 0.05 (Holm over the house rules, else Benjamini-Hochberg within section and
 * outcome). A hazard ratio is clear only where the score test of its group is clear too; a house rule only with a verdict.
 *
 * QUESTION: rows of one measure, whatever the group, window or term they are about. Three are cut otherwise: each house rule is a question;
 * the score test of a group and its hazard ratios are one; an operator's depth error in the 12 months and over all records are one.
 */
#ifndef RIDGETALLY_FIGURE_STANDING_OUT_H
#define RIDGETALLY_FIGURE_STANDING_OUT_H

#include "ridgetally/base/error.h"
#include "ridgetally/figure/figure.h"

#include <stdbool.h>
#include <stddef.h>

/* Rows of the list that was looked through, in its order. */
struct rt_standing_out {
    size_t screened; /* how many rows were */
    const struct rt_figure **clear;
    size_t clear_count;
    const struct rt_figure **named; /* one a question, its clearest */
    size_t named_count;
};

/* Is the row's p screened? */
bool rt_is_screened(const struct rt_figure *row);

/* Do two screened rows belong to one question? */
bool rt_same_question(const struct rt_figure *a, const struct rt_figure *b);

/* Find what stands out among the rows of an audit, p adjusted. Of a question's clear rows the one of the smallest adjusted p is taken, then of
 * the smallest p, then the first; a hazard ratio before the score test, which has no size. RT_MEMORY without memory; out is then
 * empty. Release with rt_release_standing_out, also after a failure. */
enum rt_status rt_find_standing_out(const struct rt_figure_list *figures, struct rt_standing_out *out,
                                    struct rt_error *error);
void rt_release_standing_out(struct rt_standing_out *out);

#endif
