/* A reader who knows which kinds of cases there can be, and how many cases some sets of kinds hold: what is the most that another
 * set can hold? Linear programming of its own (a dense two-phase simplex), no part of the program that is attacked. */
#ifndef RIDGETALLY_TESTS_SUPPORT_ATTACKER_H
#define RIDGETALLY_TESTS_SUPPORT_ATTACKER_H

#include <stdbool.h>
#include <stddef.h>

struct attacker;

/* kinds: how many; statement k says that the cases of the kinds marked in sets[k] are counts[k]. NULL when out of memory or when the
 * statements contradict each other. */
struct attacker *new_attacker(size_t kinds, size_t statements, bool *const *sets, const long *counts);
void release_attacker(struct attacker *attacker);

/* The most cases that the marked kinds can hold; a large number when there is no end to them. */
long attacker_most(struct attacker *attacker, const bool *set);

#endif
