/*
 * How reliable a level read from a film is: the practice's own repeated readings.
 */
#ifndef RIDGETALLY_AUDIT_RELIABILITY_H
#define RIDGETALLY_AUDIT_RELIABILITY_H

#include "ridgetally/base/error.h"
#include "ridgetally/store/store.h"

#include <stddef.h>

/* Which films: those a depth may be read from (0 to 30 days after placement), or all. */
enum rt_films { RT_BASELINE_FILMS, RT_ALL_FILMS };

struct rt_reading_error {
    size_t films; /* read more than once by one reader, both sites */
    size_t implants;
    double variance; /* of one reading of the two-site mean, mm^2; NaN without repeats */
};

/* Pooled within-film variance: sum over films of the squared deviations of their readings from the film's mean over the
 * sum of (readings - 1). Films up to last_day. For two readings each this is Dahlberg's sum of d^2 / 2n. */
enum rt_status rt_reading_error(struct rt_store *store, int last_day, enum rt_films films,
                                struct rt_reading_error *result, struct rt_error *error);

/* The same for both choices of films, for the sections that allow for it. */
struct rt_reading_errors {
    struct rt_reading_error all_films, baseline_films;
};

/* The variances are NaN after a failure. */
enum rt_status rt_reading_errors(struct rt_store *store, int last_day, struct rt_reading_errors *result,
                                 struct rt_error *error);

/* The smallest change between two single readings of one implant that is more than their error: 1.96 sqrt(2) s (2.77 s), with s
 * the within-reader error over all films. NaN without repeats. Re-readings of a film leave out what a new exposure adds. */
double rt_detectable_change_mm(const struct rt_reading_error *all_films);

#endif
