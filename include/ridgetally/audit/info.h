/*
 * What an audit is about: names, dates, cohort sizes and the hash of the data.
 */
#ifndef RIDGETALLY_AUDIT_INFO_H
#define RIDGETALLY_AUDIT_INFO_H

#include "ridgetally/audit/cohort.h"
#include "ridgetally/base/sha256.h"
#include "ridgetally/figure/audit_info.h"

/* Fill info for the cohort of a period. filter_words ("" = all records) goes into the data hash. */
enum rt_status rt_audit_info(struct rt_store *store, const struct rt_cohort *cohort, const char *filter_words,
                             struct rt_audit_info *info, struct rt_error *error);

/* SHA-256, in hexadecimal, over every record and setting that figures of periods up to last_day depend on, and the words of
 * the filters. */
enum rt_status rt_data_hash(struct rt_store *store, int last_day, const char *filter_words,
                            char hex[RT_SHA256_HEX], struct rt_error *error);

#endif
