/*
 * Compensated running sums (Neumaier 1974 Z angew Math Mech 54:39-51): terms may be added and taken away
 * again in any number and size and the sum keeps about twice the digits of a double.
 */
#ifndef RIDGETALLY_STATS_SUM_H
#define RIDGETALLY_STATS_SUM_H

#include <math.h>

struct rt_sum {
    double high; /* zero-initialise to start */
    double low;  /* what rounding took from high */
};

static inline void rt_sum_add(struct rt_sum *sum, double term)
{
    double total = sum->high + term;
    if (fabs(sum->high) >= fabs(term))
        sum->low += (sum->high - total) + term;
    else
        sum->low += (term - total) + sum->high;
    sum->high = total;
}

static inline double rt_sum_value(const struct rt_sum *sum)
{
    return sum->high + sum->low;
}

#endif
