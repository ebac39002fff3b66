/*
 * The different rows of a design: most models of records have few of them, and what is the same in all rows of a pattern need be
 * computed once only.
 */
#ifndef RIDGETALLY_STATS_PATTERNS_H
#define RIDGETALLY_STATS_PATTERNS_H

#include "ridgetally/base/error.h"

#include <stddef.h>

struct rt_patterns {
    size_t count;
    size_t *of;    /* n: the pattern of each row, in the order of first appearance */
    size_t *first; /* count: the first row of each pattern */
    double *times; /* count: rows of each pattern */
};

/* Tell the patterns of x (n by p, row after row, no NaN); 0 and -0 are the same. Expected time grows with n times p. Release
 * with rt_patterns_release. */
enum rt_status rt_patterns_build(struct rt_patterns *patterns, const double *x, size_t n, size_t p,
                                 struct rt_error *error);

void rt_patterns_release(struct rt_patterns *patterns);

#endif
