/*
 * Which figures of the audit are simulated: every interval it shows, each where the records of a whole practice stand
 * behind it.
 */
#ifndef RIDGETALLY_SIMULATE_MEASURES_H
#define RIDGETALLY_SIMULATE_MEASURES_H

#include "ridgetally/figure/figure.h"

#include <stdbool.h>
#include <stddef.h>

/* The key of a figure row and what is asked of its interval. */
struct simulated_measure {
    const char *section, *measure, *grouping, *level;
    double at; /* 0: does not apply */
    const char *baseline, *site, *unit_of_analysis;
    bool exact;       /* an exact or conservative method: may cover more than 97% */
    bool needs_event; /* a model of events: judged for too much cover only where events are many */
};

/* Parts of the audit that can be simulated alone. */
enum part {
    PART_FLOW,
    PART_DEPTH,
    PART_STABILITY,
    PART_SLOPE,
    PART_CREST,
    PART_MODEL,
    PART_SURVIVAL,
    PART_HAZARD,
    PART_READERS,
    PART_CHANGE,
    PARTS
};

/* flow, depth, stability, slope, crest, model, survival, hazard, readers, change */
const char *name_of_part(enum part part);

/* Which part computes the measure? */
enum part part_of_measure(const struct simulated_measure *measure);

const struct simulated_measure *simulated_measures(size_t *count);

/* What the table calls it: section and measure, then what else tells it apart. Returns text. */
const char *name_of_measure(const struct simulated_measure *measure, char *text, size_t size);

/* Is this the row of the measure? */
bool is_measure(const struct rt_figure *row, const struct simulated_measure *measure);

/* The row of each measure in a list, NULL where there is none. */
void find_measures(const struct rt_figure_list *figures, const struct rt_figure **rows);

#endif
