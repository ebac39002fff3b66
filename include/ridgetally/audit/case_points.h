/*
 * The case series of the audit (figure/catalogue.h lists them).
 */
#ifndef RIDGETALLY_AUDIT_CASE_POINTS_H
#define RIDGETALLY_AUDIT_CASE_POINTS_H

#include "ridgetally/audit/cohort.h"
#include "ridgetally/figure/case_series.h"

/* Add every series; points are sorted by group and numbers and carry no label. */
enum rt_status rt_audit_case_points(const struct rt_cohort *cohort, struct rt_case_series_list *list,
                                    struct rt_error *error);

/* Add the series of readings: as above. */
enum rt_status rt_reader_case_points(struct rt_store *store, const struct rt_cohort *cohort,
                                     struct rt_case_series_list *list, struct rt_error *error);

#endif
