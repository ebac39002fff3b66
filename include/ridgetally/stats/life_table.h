/*
 * The actuarial life table (Cutler & Ederer 1958 J Chron Dis 8:699-712; Berkson & Gage 1950).
 *
 * Intervals are [start, end): an event or a withdrawal on a border belongs to the later interval. Withdrawals
 * count half: exposed = entering - withdrawn / 2, interval survival = 1 - failed / exposed. Cumulative
 * survival is the product to the end of the interval; its error there is Greenwood's, S sqrt(sum of q /
 * (exposed (1 - q))), q = failed / exposed.
 */
#ifndef RIDGETALLY_STATS_LIFE_TABLE_H
#define RIDGETALLY_STATS_LIFE_TABLE_H

#include "ridgetally/base/error.h"

#include <stddef.h>

struct rt_life_interval {
    double start, end; /* end may be infinite in the last interval */
    double entering;
    double withdrawn;
    double exposed; /* entering - withdrawn / 2 */
    double failed;
    double interval_survival;   /* NaN when nobody is exposed */
    double cumulative_survival; /* at end; NaN when nobody is exposed */
    double standard_error;      /* of cumulative_survival; NaN where that is 0 or undefined */
    double hazard;              /* failed / (width (exposed - failed / 2)); NaN in an interval without end */
    double hazard_error;        /* hazard sqrt((1 - (hazard width / 2)^2) / failed); NaN without a failure */
    const char *reason;         /* why something is NaN; NULL */
};

/* Fill the table from grouped counts: start[0..count] are the count + 1 borders, ascending, the last may be
 * infinite; withdrawn and failed hold count numbers >= 0; entering is the number at start[0]. RT_USE when
 * counts are negative or more leave than are there. */
enum rt_status rt_life_table_grouped(size_t count, const double *start, double entering,
                                     const double *withdrawn, const double *failed,
                                     struct rt_life_interval *intervals, struct rt_error *error);

/* Group n single times (>= 0) and events (1 failed, 0 withdrawn) into the intervals between count + 1 ascending borders,
 * the first 0, and fill the table. A time within 1e-9 (relative) of a border is on it. RT_USE for a bad row, bad borders,
 * or a time at or beyond the last border (which may be infinite). */
enum rt_status rt_life_table_between(size_t n, const double *time, const int *event, size_t count,
                                     const double *borders, struct rt_life_interval *intervals,
                                     struct rt_error *error);

/* The same for intervals of one width from 0 to the interval that holds the last time. *intervals is allocated for the
 * caller (free()), *count receives how many; 0 for n = 0. RT_USE also when the width cuts the span into more than 100,000
 * intervals. */
enum rt_status rt_life_table(size_t n, const double *time, const int *event, double width,
                             struct rt_life_interval **intervals, size_t *count, struct rt_error *error);

#endif
