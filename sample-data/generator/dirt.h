/*
 * The mistakes real records have, put into the tables of a clean practice, and a count of every kind.
 */
#ifndef RIDGETALLY_SAMPLE_DIRT_H
#define RIDGETALLY_SAMPLE_DIRT_H

#include "table.h"

enum { RT_SAMPLE_DIRT_KINDS = 80 };

/* What was done how often. Text is constant. */
struct rt_sample_dirt_list {
    struct rt_sample_dirt {
        const char *file, *column, *what;
        int count;
    } kinds[RT_SAMPLE_DIRT_KINDS];
    size_t count;
};

/* Add the dirt; every row carries at most one deliberate mistake besides missing values. */
enum rt_status rt_sample_add_dirt(struct rt_sample_tables *tables, uint64_t seed,
                                  struct rt_sample_dirt_list *list, struct rt_error *error);

#endif
