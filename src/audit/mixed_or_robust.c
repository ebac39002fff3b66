#include "ridgetally/audit/mixed_or_robust.h"

struct rt_estimate rt_mixed_or_robust(const struct rt_mixed *mixed, const struct rt_estimate *by_reml,
                                      const struct rt_estimate *by_cr2, const char **method)
{
    const double least_df = 2.0;
    struct rt_estimate estimate = *by_reml;
    const bool too_small = mixed->boundary || mixed->clusters < RT_LEAST_REML_PATIENTS;
    *method = mixed->reason == NULL && too_small ? "linear_cr2" : NULL;
    if (*method != NULL)
        estimate = *by_cr2;
    if (estimate.df < least_df) {
        const double value = estimate.value;
        estimate = rt_undefined("too few degrees of freedom for limits");
        estimate.value = value;
    }
    return estimate;
}
