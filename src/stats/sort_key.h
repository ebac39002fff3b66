/* Sorting by numbers without comparing them; private to the statistics. */
#ifndef RIDGETALLY_SRC_STATS_SORT_KEY_H
#define RIDGETALLY_SRC_STATS_SORT_KEY_H

#include <stddef.h>
#include <stdint.h>

/* A number as bits whose order is the number's, and what it belongs to. */
struct rt_sort_key {
    uint64_t bits;
    size_t item;
};

/* -0 has the bits of 0. */
uint64_t rt_sort_bits(double number);
double rt_sort_number(uint64_t bits);

/* Sort ascending, equal ones in the order in which they stand: byte after byte, bytes that are the same everywhere left out
 * (days are whole numbers: most of theirs are). spare: room for n keys, scratch. */
void rt_sort_keys(struct rt_sort_key *keys, struct rt_sort_key *spare, size_t n);

#endif
