/*
 * How often the audit's intervals hold what their figures come to in the long run.
 */
#ifndef RIDGETALLY_SIMULATE_COVERAGE_H
#define RIDGETALLY_SIMULATE_COVERAGE_H

#include "audited.h"

struct coverage_settings {
    long practices; /* of each size */
    long processes;
    bool parts[PARTS];     /* which parts of the audit */
    long long_run;         /* practices the truths are averaged over */
    const char *out;       /* file for the table; NULL: standard output */
    const char *published; /* table this run must be compatible with; NULL: none */
};

/* Simulate, write the table and judge it: RT_PARTIAL when a method covers too little or too much, or contradicts the
 * published table (words on standard error). */
enum rt_status simulate_coverage(const struct coverage_settings *settings, const struct new_store *new_store,
                                 struct rt_error *error);

#endif
