/* How cases spread and how alike those of one patient are; private to the audit layer. */
#ifndef RIDGETALLY_SRC_AUDIT_SPREAD_H
#define RIDGETALLY_SRC_AUDIT_SPREAD_H

#include "ridgetally/base/error.h"
#include "ridgetally/stats/precision.h"

#include <stddef.h>

/* What planning takes from the cases there are. */
struct spread {
    size_t n, patients;
    double mean;        /* NaN without cases */
    double sd;          /* within the groups; NaN with fewer than two cases more than groups */
    double per_patient; /* sum of m^2 / sum of m over the patients' numbers of cases m */
    double icc;         /* 0 where no patient has two cases */
};

/* From n values, their groups 0..groups-1 (NULL: one) and their patients (codes that come together, ascending). The likeness
 * within patients is that of the analysis of variance, (MSB - MSW)/(MSB + (m0 - 1) MSW), m0 = (n - sum of m^2/n)/(patients - 1),
 * of the values less their group's mean, and not below 0 (A. Donner, Int. Stat. Rev. 54 (1986) 67-82). */
enum rt_status spread_of(const double *values, const size_t *group, size_t groups, const size_t *patient,
                         size_t n, struct spread *spread, struct rt_error *error);

/* The design effect's parts for planning. */
struct rt_clustering clustering_of(const struct spread *spread);

#endif
