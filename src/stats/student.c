#include "ridgetally/stats/student.h"

#include "ridgetally/stats/jackknife.h"

#include <math.h>

void rt_student_inference(struct rt_estimate *estimate, double null)
{
    estimate->statistic = estimate->p = estimate->lower = estimate->upper = NAN;
    if (!isfinite(estimate->value) || !(estimate->standard_error > 0) ||
        !isfinite(estimate->standard_error) || !(estimate->df > 0)) {
        if (estimate->reason == NULL)
            estimate->reason = "there is no error to judge the value by";
        return;
    }
    double half = rt_t_975(estimate->df) * estimate->standard_error;
    estimate->statistic = (estimate->value - null) / estimate->standard_error;
    estimate->p = rt_t_p(estimate->statistic, estimate->df);
    if (isfinite(half)) {
        estimate->lower = estimate->value - half;
        estimate->upper = estimate->value + half;
    } else if (estimate->reason == NULL) {
        estimate->reason = "the degrees of freedom are so few that the interval has no end";
    }
}
