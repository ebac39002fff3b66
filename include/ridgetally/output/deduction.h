/*
 * What an outsider can work out about counts that were not shown, from those that were: a set of unknown whole numbers,
 * the linear statements that hold between them, and the least and the most each unknown can be.
 *
 * The statements are those anybody can make who knows what the counts are of: a whole is the sum of its parts, a part is
 * not more than its whole, patients are not more than their implants. Solved with GLPK (linear programming, then branch and
 * bound, because counts are whole numbers): a general library that has been kept for twenty years; cell protection by linear
 * programming is described in Fischetti, Salazar 2001, Management Science 47:1008-1027 (from memory).
 */
#ifndef RIDGETALLY_OUTPUT_DEDUCTION_H
#define RIDGETALLY_OUTPUT_DEDUCTION_H

#include "ridgetally/base/error.h"

#include <stdbool.h>
#include <stddef.h>

struct rt_deduction;

/* What is known of one unknown in the end. */
struct rt_deduced {
    long least, most; /* no solution lies outside */
    bool proven; /* false: the search was cut short, and the range may be wider than said, never narrower */
};

/* An empty set; NULL when out of memory. Released with rt_release_deduction (NULL is allowed). */
struct rt_deduction *rt_new_deduction(void);
void rt_release_deduction(struct rt_deduction *deduction);

/* A further unknown between least and most (both whole, 0 <= least <= most); its number, counted from 0. A failure sticks and is
 * told by rt_deduce. */
size_t rt_add_unknown(struct rt_deduction *deduction, long least, long most);

size_t rt_unknown_count(const struct rt_deduction *deduction);

/* Where rt_can_reach looks for any solution, look for one in which this unknown is large: it is found sooner, and tells more. */
void rt_prefer_large(struct rt_deduction *deduction, size_t unknown);

/* The unknown was shown: it lies between least and most (equal for an exact count). Narrows what was known. */
void rt_show_unknown(struct rt_deduction *deduction, size_t unknown, long least, long most);

/* whole = sum of the parts. */
void rt_state_sum(struct rt_deduction *deduction, size_t whole, const size_t *parts, size_t count);

/* whole <= sum of the parts, and each part <= whole: patients of groups that share patients. */
void rt_state_union(struct rt_deduction *deduction, size_t whole, const size_t *parts, size_t count);

/* smaller <= larger. */
void rt_state_not_more(struct rt_deduction *deduction, size_t smaller, size_t larger);

/* smaller <= times * larger: implants are at most so many times their patients. */
void rt_state_at_most_times(struct rt_deduction *deduction, size_t smaller, double times, size_t larger);

/* The range of an unknown under all statements. RT_INPUT when no whole numbers fulfil them (the shown counts contradict
 * each other), RT_MEMORY after a failed addition. */
enum rt_status rt_deduce(struct rt_deduction *deduction, size_t unknown, struct rt_deduced *deduced,
                         struct rt_error *error);

/* Forget again what was shown of the unknown. Not for one whose shown range contradicted what was known. */
void rt_hide_unknown(struct rt_deduction *deduction, size_t unknown);

/* Whether numbers that fulfil all statements exist in which the unknown is at least `value`. Linear programming answers; where its
 * most is under twice the value and the unknowns are not many, so that it may matter that counts are whole, whole numbers are looked
 * for in a set number of steps, and only when they are proven not to exist is the answer no after all. RT_MEMORY after a failed addition. */
enum rt_status rt_can_reach(struct rt_deduction *deduction, size_t unknown, long value, bool *can,
                            struct rt_error *error);

/* After rt_can_reach said yes: for every unknown, by its number, a value (not the largest) that it would say yes to, too. Into values
 * (rt_unknown_count of them); returns how many, 0 when nothing is known of the others. */
size_t rt_last_solution(const struct rt_deduction *deduction, long *values);

#endif
