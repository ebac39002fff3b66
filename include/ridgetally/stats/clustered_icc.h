/*
 * Intraclass correlations of readings with limits clustered by patient: the forms of repeat.h, whose own limits take
 * subjects as independent.
 */
#ifndef RIDGETALLY_STATS_CLUSTERED_ICC_H
#define RIDGETALLY_STATS_CLUSTERED_ICC_H

#include "ridgetally/stats/estimate.h"

#include <stddef.h>

/* ICC(1,1) of n readings by subject[i] in 0..subjects-1, from one-way analysis of variance: (BMS - WMS)/(BMS +
 * (k0 - 1) WMS), k0 = (n - sum m^2/n)/(subjects - 1) for m readings of a subject (Shrout & Fleiss 1979, Psychol. Bull.
 * 86:420-428). Limits by the delete-one-cluster jackknife on Fisher's z scale (rt_jackknife_bounded); without clusters one
 * subject is left out at a time. A subject's readings must be in one cluster (RT_USE). Undefined with fewer than two subjects,
 * without repeats, or when no two readings differ. O(n log n). */
enum rt_status rt_clustered_icc(const size_t *subject, size_t subjects, const double *value, size_t n,
                                const struct rt_clusters *clusters, struct rt_estimate *icc,
                                struct rt_error *error);

/* ICC(2,1), absolute agreement, of two readers who each read n subjects once, a[i] and b[i]: (BMS - EMS)/(BMS + EMS +
 * 2 (JMS - EMS)/n) (Shrout & Fleiss 1979). Limits as above. O(n log n). */
enum rt_status rt_two_reader_icc(const double *a, const double *b, size_t n,
                                 const struct rt_clusters *clusters, struct rt_estimate *icc,
                                 struct rt_error *error);

#endif
