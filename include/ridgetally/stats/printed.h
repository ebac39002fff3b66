/*
 * What printed results say: the p of a printed interval, and of a printed test statistic.
 */
#ifndef RIDGETALLY_STATS_PRINTED_H
#define RIDGETALLY_STATS_PRINTED_H

#include "ridgetally/stats/estimate.h"

#include <stdbool.h>

/* From a printed estimate with its 95% limits: standard error = width / (2 c), statistic = estimate / error, two-sided p;
 * c and p by t on df degrees of freedom (infinite: normal). For a ratio all on the log scale (the error of the log);
 * value is the estimate. Undefined unless lower < upper, all above 0 for a ratio, df > 0. */
struct rt_estimate rt_from_limits(double estimate, double lower, double upper, bool is_ratio, double df);

enum rt_printed_statistic {
    RT_PRINTED_Z,
    RT_PRINTED_T,
    RT_PRINTED_F,
    RT_PRINTED_CHI_SQUARE,
    RT_PRINTED_CORRELATION
};

/* statistic, df and p of a printed test: z and t two-sided, F on df and df2 and chi-square on df upper tail; a Pearson
 * correlation of n = df + 2 pairs by t = r sqrt(df/(1 - r^2)), which becomes the statistic. Undefined outside the
 * statistic's range or for df not above 0. */
struct rt_estimate rt_from_statistic(enum rt_printed_statistic kind, double value, double df, double df2);

#endif
