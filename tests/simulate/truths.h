/*
 * The whole way from file to figure on many invented practices: their files are written with the mistakes real records
 * have, loaded into a store and audited, and the figures' intervals are held against the truths the practices were made
 * with.
 */
#ifndef RIDGETALLY_SIMULATE_TRUTHS_H
#define RIDGETALLY_SIMULATE_TRUTHS_H

#include "audited.h"

struct truth_settings {
    long practices; /* of the sample's size; their seeds are 1, 2, ... */
    long processes;
    const char *out; /* file for the table; NULL: standard output */
};

/* Count how many intervals hold their truth. RT_PARTIAL when fewer do than chance allows (words on standard error). */
enum rt_status simulate_truths(const struct truth_settings *settings, struct rt_error *error);

/* Is the cohort the simulations make of a practice the one the program loads from its files? Compares every interval of
 * one practice; RT_PARTIAL when they differ. */
enum rt_status check_cohort(const struct new_store *new_store, struct rt_error *error);

#endif
