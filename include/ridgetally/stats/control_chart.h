/*
 * Control charts of single values in time order: individuals with moving range, and exponentially weighted moving
 * average.
 *
 * Formulas: NIST/SEMATECH e-Handbook of Statistical Methods, sections 6.3.2.2 (individuals) and 6.3.2.4 (EWMA).
 */
#ifndef RIDGETALLY_STATS_CONTROL_CHART_H
#define RIDGETALLY_STATS_CONTROL_CHART_H

#include "ridgetally/stats/estimate.h"

#include <stdbool.h>

/* Mean moving range of two values over their standard deviation, as tabled (d2 for n = 2). */
#define RT_MOVING_RANGE_D2 1.128
/* Upper limit of the moving range over its mean, as tabled (D4 for n = 2). */
#define RT_MOVING_RANGE_D4 3.267

/* The individuals chart. All NaN with a reason for fewer than two values in the baseline. */
struct rt_control_chart {
    double centre;             /* mean of the baseline */
    double moving_range;       /* mean |x[i] - x[i-1]| of the baseline */
    double sigma;              /* moving_range / 1.128 */
    double lower, upper;       /* centre -+ 3 sigma */
    double moving_range_upper; /* 3.267 moving_range */
    const char *reason;
};

/* Limits from the first `baseline` of n values in time order; 0 or more than n: all of them. */
struct rt_control_chart rt_control_chart(const double *values, size_t n, size_t baseline);

/* Is the value outside the limits? A value on a limit is inside. False without limits. */
bool rt_control_signal(const struct rt_control_chart *chart, double value);

/* What an EWMA chart is drawn with. */
struct rt_ewma_design {
    double centre; /* start and centre line */
    double sigma;  /* standard deviation of one value, >= 0 */
    double lambda; /* weight of the newest value, above 0, at most 1 */
    double width;  /* limits at -+ this many standard deviations of the average, > 0 */
};

struct rt_ewma_point {
    double ewma;         /* lambda x + (1 - lambda) previous */
    double lower, upper; /* centre -+ width sigma sqrt(lambda/(2 - lambda) (1 - (1 - lambda)^(2 i))) */
    bool signal;         /* outside them */
};

/* points[i] for the n values in time order (i counts from 1 in the formula): the limits are the exact ones, which
 * widen with time, not those for long series. */
void rt_ewma(const double *values, size_t n, const struct rt_ewma_design *design,
             struct rt_ewma_point *points);

/* Average number of values to the first signal of this chart, for independent normal values whose mean lies `shift` sigma
 * from the centre (0: the run length between false signals), limits taken as known. The density of the average inside its
 * widening limits is carried from step to step by Gauss-Legendre quadrature (the integral equation of S. V. Crowder,
 * Technometrics 29 (1987) 401-407, for limits that change with time). For lambda = 1 it is that of single values with
 * limits at `width` sigma. NaN for a lambda or width out of range, a run length beyond 1e5 steps of change, or without memory. */
double rt_ewma_run_length(double lambda, double width, double shift);

#endif
