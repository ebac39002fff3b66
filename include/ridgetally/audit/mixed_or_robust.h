/*
 * Which of two errors of a model with a patient intercept can be trusted.
 */
#ifndef RIDGETALLY_AUDIT_MIXED_OR_ROBUST_H
#define RIDGETALLY_AUDIT_MIXED_OR_ROBUST_H

#include "ridgetally/stats/estimate.h"
#include "ridgetally/stats/mixed.h"

enum { RT_LEAST_REML_PATIENTS = 60 };

/* The estimate by REML; where that finds no variance between patients (its error then takes the implants of a patient for
 * strangers), or with fewer than 60 patients (where it is too small, as the simulation of coverage shows), the one by least
 * squares clustered by patient, *method then being linear_cr2, else NULL. On fewer than 2 degrees of freedom there are no
 * limits. Rule ours. */
struct rt_estimate rt_mixed_or_robust(const struct rt_mixed *mixed, const struct rt_estimate *by_reml,
                                      const struct rt_estimate *by_cr2, const char **method);

#endif
