/*
 * What all of stats shares: an estimate with its error, and how clusters are given.
 *
 * Conventions of the layer. Inputs are plain arrays of length n, finite unless a function says otherwise; the
 * caller drops missing values first. A function returns RT_OK even when a quantity is not defined (no event,
 * one patient, a constant column): the member is NaN and `reason` says why in words. Any other status means
 * the call itself was wrong (RT_USE) or memory ran out. Intervals are two-sided 95% unless a level is a
 * parameter.
 */
#ifndef RIDGETALLY_STATS_ESTIMATE_H
#define RIDGETALLY_STATS_ESTIMATE_H

#include "ridgetally/base/error.h"

#include <stddef.h>

/* Normal quantile 0.975, to double precision. */
#define RT_Z_95 1.959963984540054

/* One quantity. Members that do not apply, or are not defined, are NaN. */
struct rt_estimate {
    double value;
    double standard_error; /* of value, on the scale of value */
    double df;             /* degrees of freedom of statistic; NaN or infinity: normal */
    double statistic;      /* test statistic of value against the null */
    double p;              /* two-sided */
    double lower;          /* 95% limits */
    double upper;
    const char *reason; /* static text: why something is NaN; NULL when all is defined */
};

/* An estimate with every number NaN and the reason given (static text, not copied). */
struct rt_estimate rt_undefined(const char *reason);

/* Which cluster (patient) each row belongs to. of == NULL: every row stands alone. */
struct rt_clusters {
    const size_t *of; /* n codes in 0..count-1, in any order */
    size_t count;
};

#endif
