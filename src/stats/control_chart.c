#include "ridgetally/stats/control_chart.h"

#include "ridgetally/stats/sum.h"

#include <math.h>

struct rt_control_chart rt_control_chart(const double *values, size_t n, size_t baseline)
{
    struct rt_control_chart chart = {NAN, NAN, NAN, NAN, NAN, NAN, NULL};
    size_t used = baseline == 0 || baseline > n ? n : baseline;
    if (used < 2) {
        chart.reason = "fewer than 2 values";
        return chart;
    }
    /* sums of differences from the first value: a constant series gets its own value as centre, to the last bit */
    struct rt_sum deviations = {0};
    struct rt_sum ranges = {0};
    for (size_t i = 1; i < used; i++) {
        rt_sum_add(&deviations, values[i] - values[0]);
        rt_sum_add(&ranges, fabs(values[i] - values[i - 1]));
    }
    chart.centre = values[0] + rt_sum_value(&deviations) / (double)used;
    chart.moving_range = rt_sum_value(&ranges) / (double)(used - 1);
    chart.sigma = chart.moving_range / RT_MOVING_RANGE_D2;
    chart.lower = chart.centre - 3 * chart.sigma;
    chart.upper = chart.centre + 3 * chart.sigma;
    chart.moving_range_upper = RT_MOVING_RANGE_D4 * chart.moving_range;
    return chart;
}

bool rt_control_signal(const struct rt_control_chart *chart, double value)
{
    return value < chart->lower || value > chart->upper;
}

void rt_ewma(const double *values, size_t n, const struct rt_ewma_design *design,
             struct rt_ewma_point *points)
{
    double lambda = design->lambda;
    double steady = design->width * design->sigma * sqrt(lambda / (2 - lambda));
    double deviation = 0; /* of the average from the centre */
    for (size_t i = 0; i < n; i++) {
        deviation += lambda * (values[i] - design->centre - deviation);
        double grown = lambda < 1 ? -expm1(2.0 * (double)(i + 1) * log1p(-lambda)) : 1.0;
        double half = steady * sqrt(grown);
        points[i] = (struct rt_ewma_point){
            .ewma = design->centre + deviation,
            .lower = design->centre - half,
            .upper = design->centre + half,
            .signal = fabs(deviation) > half,
        };
    }
}
