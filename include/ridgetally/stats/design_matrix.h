/*
 * Model matrices from columns of numbers and of categories and from their products.
 *
 * Columns in order: intercept; the numbers; each category without its reference level (treatment coding); the
 * products, where a category stands for its columns. A level without a row is left out; when that is the
 * first level, the first one with a row is the reference. Columns that the others already give are kept here
 * and set aside by the fit (basis.h), which reports their terms as undefined.
 */
#ifndef RIDGETALLY_STATS_DESIGN_MATRIX_H
#define RIDGETALLY_STATS_DESIGN_MATRIX_H

#include "ridgetally/base/error.h"

#include <stdbool.h>
#include <stddef.h>

struct rt_number_column {
    const char *name;
    const double *values; /* n */
};

struct rt_category_column {
    const char *name;
    const size_t *codes;       /* n, each below level_count */
    const char *const *levels; /* level_count names; the first is the reference */
    size_t level_count;
};

/* A column by its place: below number_count a number, above that a category. */
struct rt_product {
    size_t a, b; /* different, each below number_count + category_count */
};

struct rt_design_columns {
    size_t n;
    const struct rt_number_column *numbers;
    size_t number_count;
    const struct rt_category_column *categories;
    size_t category_count;
    const struct rt_product *products;
    size_t product_count;
    bool without_intercept;
};

struct rt_design {
    size_t n, p;
    double *x;    /* n by p, row after row */
    char **terms; /* p names: `intercept`, column, `category=level`, products joined with ` x `; `|`, `=` and
                     `\` in names escaped with `\` */
    size_t *source; /* p: what each column stems from: the place of its number or category, number_count +
                       category_count + the place of its product, or RT_NO_COLUMN for the intercept */
};

#define RT_NO_COLUMN ((size_t)-1)

/* Build the matrix; release with rt_design_release. RT_USE for a code or a product out of range. */
enum rt_status rt_design_build(struct rt_design *design, const struct rt_design_columns *columns,
                               struct rt_error *error);

void rt_design_release(struct rt_design *design);

/* Place of the column with that term name, or RT_NO_COLUMN when there is none. */
size_t rt_design_find(const struct rt_design *design, const char *term);

#endif
