/*
 * The table of verdicts on house rules that the repository holds (reports/verdicts.csv), which a shorter run must not contradict.
 */
#ifndef RIDGETALLY_TESTS_SIMULATE_PUBLISHED_VERDICTS_H
#define RIDGETALLY_TESTS_SIMULATE_PUBLISHED_VERDICTS_H

#include "ridgetally/base/error.h"

#include <stdbool.h>
#include <stddef.h>

struct verdict_counts {
    long practices, supported, refuted;
    long defined, covered; /* intervals; 0 of a verdict without one */
};

struct published_verdict {
    char practices[32], rule[48];
    int implants;
    struct verdict_counts counts;
};

struct published_verdicts {
    struct published_verdict *lines;
    size_t count, capacity;
};

/* Release also after a failure. RT_INPUT for a file that cannot be read. */
enum rt_status read_published_verdicts(const char *path, struct published_verdicts *published,
                                       struct rt_error *error);
void release_published_verdicts(struct published_verdicts *published);

/* Is there a line for these practices, rule and size, and could the counts be some of those it was made from? Each tail beyond
 * them must be at least 0.05%. */
bool fits_published(const struct published_verdicts *published, const char *practices, const char *rule,
                    int implants, const struct verdict_counts *counts);

#endif
