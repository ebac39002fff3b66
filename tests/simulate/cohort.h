/*
 * The cohort of an invented practice without the way through files and store, so that thousands can be audited. A run
 * first holds one practice against the cohort the program loads from its files (simulate.c, check_cohort).
 */
#ifndef RIDGETALLY_SIMULATE_COHORT_H
#define RIDGETALLY_SIMULATE_COHORT_H

#include "practice.h"

#include "ridgetally/audit/cohort.h"

/* What is known: what the practice recorded, or everything that happened up to the cut, whoever stayed away. */
enum knowledge { AS_RECORDED, AS_HAPPENED };

/* Fill cohort with every implant up to the cut; the period runs from the first to the last day. empty is
 * the cohort of a new store: its classes and settings hold. Release with rt_release_cohort, also after a failure. */
enum rt_status cohort_of_practice(const struct rt_sample_practice *practice, const struct rt_cohort *empty,
                                  enum knowledge knowledge, struct rt_cohort *cohort, struct rt_error *error);

/* Make every implant a patient of its own: what an interval looks like that ignores who belongs together. */
void forget_patients(struct rt_cohort *cohort);

#endif
