/*
 * How fast the crest beside one implant goes, and what speed its films could show at all.
 */
#ifndef RIDGETALLY_AUDIT_YEARLY_RATE_H
#define RIDGETALLY_AUDIT_YEARLY_RATE_H

#include "ridgetally/audit/window.h"

#include <stddef.h>

struct rt_yearly_rate {
    size_t films;      /* used: both sites read, of one level kind */
    double span_years; /* from the first to the last of them */
    double
        change_mm; /* a year, negative = loss: least squares slope of the two-site mean on time; NaN without two days */
    double
        detectable_mm; /* 1.96 s / sqrt(sum of (t - mean t)^2), t in years: for two films a year apart 2.77 s; NaN
                             without two days or without s */
};

/* The rate over the films (in order of days) seen from first_day to last_day. Of two level kinds that of the latest film
 * counts. error_mm: s, the error of one reading of the two-site mean; NaN = not known. Draper, Smith 1998, Applied
 * Regression Analysis, 3rd ed., ch. 1. */
struct rt_yearly_rate rt_yearly_rate(const struct rt_film *films, size_t count, int first_day, int last_day,
                                     double error_mm);

#endif
