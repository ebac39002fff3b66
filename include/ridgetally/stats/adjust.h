/*
 * Many p-values at once.
 */
#ifndef RIDGETALLY_STATS_ADJUST_H
#define RIDGETALLY_STATS_ADJUST_H

#include "ridgetally/base/error.h"

#include <stddef.h>

/* Adjusted p-values of Holm (1979), Scand. J. Stat. 6:65-70: the running maximum of min(1, (m - rank + 1) p) from the
 * smallest p up. NaN entries stay NaN and are not counted in m. adjusted may be p itself. RT_USE for a p outside 0..1. */
enum rt_status rt_adjust_holm(const double *p, size_t n, double *adjusted, struct rt_error *error);

/* The same by Benjamini & Hochberg (1995), J. R. Stat. Soc. B 57:289-300: the running minimum of min(1, m p/rank) from
 * the largest p down. */
enum rt_status rt_adjust_benjamini_hochberg(const double *p, size_t n, double *adjusted,
                                            struct rt_error *error);

#endif
