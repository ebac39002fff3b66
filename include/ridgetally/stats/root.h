/*
 * A root of a continuous function inside an interval where it changes sign, to the last digits (Brent's
 * method by GSL).
 */
#ifndef RIDGETALLY_STATS_ROOT_H
#define RIDGETALLY_STATS_ROOT_H

#include <gsl/gsl_math.h>

/* x in low..high with function(x) = 0, to a relative 1e-15 (absolute below 1e-15); NaN when the values at low and
 * high have the same sign or one of them is NaN, or memory ran out. */
double rt_find_root(double (*function)(double x, void *parameters), void *parameters, double low,
                    double high);

#endif
