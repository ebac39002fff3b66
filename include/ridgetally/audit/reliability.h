/*
 * How reliable the depth read from the baseline film is: the practice's own repeated readings.
 */
#ifndef RIDGETALLY_AUDIT_RELIABILITY_H
#define RIDGETALLY_AUDIT_RELIABILITY_H

#include "ridgetally/base/error.h"
#include "ridgetally/store/store.h"

#include <stddef.h>

struct rt_reading_error {
    size_t films; /* baseline films read more than once by one reader, both sites */
    size_t implants;
    double variance; /* of one reading of the two-site mean, mm^2; NaN without repeats */
};

/* Pooled within-film variance: sum over films of the squared deviations of their readings from the film's mean over the
 * sum of (readings - 1). Films up to last_day. For two readings each this is Dahlberg's sum of d^2 / 2n. */
enum rt_status rt_reading_error(struct rt_store *store, int last_day, struct rt_reading_error *result,
                                struct rt_error *error);

#endif
