#include "ridgetally/stats/clustered_rate.h"

#include "ridgetally/stats/jackknife.h"
#include "ridgetally/stats/sum.h"

#include <math.h>

static double total_of(const double *values, size_t count)
{
    struct rt_sum sum = {0.0, 0.0};
    for (size_t i = 0; i < count; i++)
        rt_sum_add(&sum, values[i]);
    return rt_sum_value(&sum);
}

enum rt_status rt_clustered_rate(const double *events, const double *exposure, size_t count,
                                 struct rt_estimate *rate, struct rt_error *error)
{
    for (size_t i = 0; i < count; i++)
        if (!(events[i] >= 0.0) || !(exposure[i] >= 0.0) || isinf(events[i]) || isinf(exposure[i]))
            return rt_fail(error, RT_USE, "row %zu: events and exposure must be finite and not negative",
                           i + 1);
    const double event_total = total_of(events, count), exposure_total = total_of(exposure, count);
    *rate = rt_undefined(exposure_total > 0.0 ? NULL : "no time at risk");
    if (!(exposure_total > 0.0))
        return RT_OK;
    rate->value = event_total / exposure_total;
    if (count < 2 || event_total == 0.0) {
        rate->reason = count < 2 ? "fewer than two clusters" : "no events";
        return RT_OK;
    }
    struct rt_sum squares = {0.0, 0.0};
    for (size_t i = 0; i < count; i++) {
        double residual = events[i] - rate->value * exposure[i];
        rt_sum_add(&squares, residual * residual);
    }
    const double clusters = (double)count;
    rate->df = clusters - 1.0;
    rate->standard_error = sqrt(clusters / rate->df * rt_sum_value(&squares)) / exposure_total;
    const double factor = exp(rt_t_975(rate->df) * rate->standard_error / rate->value);
    rate->lower = rate->value / factor;
    rate->upper = rate->value * factor;
    return RT_OK;
}
