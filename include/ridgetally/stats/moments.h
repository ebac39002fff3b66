/*
 * Count, mean and sum of squared deviations in one careful pass: Welford (1962), Technometrics 4:419-420.
 */
#ifndef RIDGETALLY_STATS_MOMENTS_H
#define RIDGETALLY_STATS_MOMENTS_H

#include <stddef.h>

struct rt_moments {
    double n; /* zero-initialise to start */
    double mean;
    double squares; /* sum of (value - mean)^2 */
};

static inline void rt_moments_add(struct rt_moments *moments, double value)
{
    double step = value - moments->mean;
    moments->n++;
    moments->mean += step / moments->n;
    moments->squares += step * (value - moments->mean);
}

/* Of values[0..count-1], or of values[row[k]] when row is not NULL. */
static inline struct rt_moments rt_moments_of(const double *values, const size_t *row, size_t count)
{
    struct rt_moments moments = {0};
    for (size_t k = 0; k < count; k++)
        rt_moments_add(&moments, values[row == NULL ? k : row[k]]);
    return moments;
}

#endif
