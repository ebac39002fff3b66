#include "ridgetally/stats/estimate.h"

#include <math.h>

struct rt_estimate rt_undefined(const char *reason)
{
    return (struct rt_estimate){.value = NAN,
                                .standard_error = NAN,
                                .df = NAN,
                                .statistic = NAN,
                                .p = NAN,
                                .lower = NAN,
                                .upper = NAN,
                                .reason = reason};
}
