/*
 * What an audit is about: names, dates, cohort sizes and the hash of the data.
 */
#ifndef RIDGETALLY_AUDIT_INFO_H
#define RIDGETALLY_AUDIT_INFO_H

#include "ridgetally/audit/cohort.h"
#include "ridgetally/figure/audit_info.h"

/* Fill info for the cohort of a period; comparisons stays 0. filter_words ("" = all records) goes into the data hash. */
enum rt_status rt_audit_info(struct rt_store *store, const struct rt_cohort *cohort, const char *filter_words,
                             struct rt_audit_info *info, struct rt_error *error);

#endif
