/*
 * Figures that ask the store: an invented practice goes through its files and a store before it is audited. They are the error
 * of reading and what changed since an earlier period.
 */
#ifndef RIDGETALLY_TESTS_SIMULATE_STORED_H
#define RIDGETALLY_TESTS_SIMULATE_STORED_H

#include "audited.h"
#include "practice.h"

#include "ridgetally/base/error.h"

/* Does the part ask the store? */
bool is_stored(enum part part);

/* Audit the last quarter before the cut of the settings (2026Q2) in a store of its own, and set the intervals of the measures of the stored
 * parts that are asked for (parts: PARTS flags); the others are left alone. */
enum rt_status audit_stored(const struct rt_sample_practice *practice, const bool *parts,
                            struct interval *intervals, struct rt_error *error);

#endif
