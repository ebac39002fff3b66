/*
 * What the reckon methods of the linear family share: options of a model, the rows of a coefficient table and those
 * of a difference of two groups.
 */
#ifndef RIDGETALLY_CLI_RECKON_MODEL_H
#define RIDGETALLY_CLI_RECKON_MODEL_H

#include "ridgetally/cli/reckon.h"

#define RT_RECKON_PREDICTORS                                                                                 \
    {"--numbers", RT_OPTION_NUMBERS_COLUMNS, false, NULL, "columns of numbers in the model", NULL},          \
    {                                                                                                        \
        "--categories", RT_OPTION_CATEGORIES_COLUMNS, false, NULL,                                           \
            "columns of categories in the model, against their first level", NULL                            \
    }

#define RT_RECKON_PRODUCTS                                                                                   \
    {                                                                                                        \
        "--products", RT_OPTION_WORDS, false, NULL, "products of columns of the model, like \"a x b\"", NULL \
    }

/* Which members of an estimate are written for each term. */
enum { RT_WRITE_DF = 1, RT_WRITE_STATISTIC = 2 };

/* Rows of one term: coefficient, standard_error, (df, statistic,) p, lower, upper, in the order of the manual. */
void rt_reckon_term_rows(struct rt_reckon *r, const char *term, const struct rt_estimate *estimate,
                         unsigned write);

/* difference and its _standard_error, _df, _lower, _upper and _p, without a group. */
void rt_reckon_difference_rows(struct rt_reckon *r, const struct rt_estimate *difference);

/* For each of the r->n rows, whether it belongs to the group. NULL only when memory ran out, with the error filled. */
const bool *rt_reckon_rows_of(struct rt_reckon *r, const struct rt_reckon_group *group,
                              struct rt_error *error);

/* Call write once with two numbers given as options, or once per row with the columns they name; group is then the
 * number of the row in the file. Stops at the first failure. */
enum rt_status rt_reckon_number_pairs(struct rt_reckon *r, const char *first, const char *second,
                                      enum rt_status (*write)(struct rt_reckon *r, const char *group,
                                                              double first, double second,
                                                              struct rt_error *error),
                                      struct rt_error *error);

#endif
