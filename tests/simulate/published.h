/*
 * The published table of coverage, to hold a shorter run against it.
 */
#ifndef RIDGETALLY_SIMULATE_PUBLISHED_H
#define RIDGETALLY_SIMULATE_PUBLISHED_H

#include "ridgetally/base/error.h"

#include <stdbool.h>
#include <stddef.h>

/* One row; coverage is NaN where no interval was defined. */
struct published_row {
    char method[160];
    int size;
    long practices, defined;
    double coverage;
    bool seen; /* by the run that is compared */
};

struct published {
    struct published_row *rows;
    size_t count, capacity;
};

/* Read the table from a file. Release also after a failure. */
enum rt_status read_published(const char *path, struct published *published, struct rt_error *error);

/* The row of a method and size, NULL when there is none. */
struct published_row *find_published(const struct published *published, const char *method, int size);

void release_published(struct published *published);

#endif
