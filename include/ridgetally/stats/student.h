/*
 * Inference by Student's t with any positive degrees of freedom, the end of every linear method.
 */
#ifndef RIDGETALLY_STATS_STUDENT_H
#define RIDGETALLY_STATS_STUDENT_H

#include "ridgetally/stats/estimate.h"

/* From value, standard_error and df (infinite: normal) of estimate fill statistic = (value - null) / se, the
 * two-sided p and the 95% limits. With an error or df that is NaN or not above 0 these become NaN, and reason
 * is set unless it says something already. */
void rt_student_inference(struct rt_estimate *estimate, double null);

#endif
