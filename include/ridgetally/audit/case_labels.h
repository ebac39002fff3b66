/*
 * Writing cases under their labels: what the lists of `due` and of the audit share.
 */
#ifndef RIDGETALLY_AUDIT_CASE_LABELS_H
#define RIDGETALLY_AUDIT_CASE_LABELS_H

#include "ridgetally/audit/cohort.h"
#include "ridgetally/figure/case_list.h"

/* A failure sticks in status. */
struct rt_case_writer {
    struct rt_store *store;
    const struct rt_cohort *cohort;
    struct rt_case_list *list;
    struct rt_error *error;
    enum rt_status status;
};

/* Append a case of implant number `index` of the cohort, or of its patient as a whole. */
void rt_write_case(struct rt_case_writer *writer, enum rt_case_kind kind, size_t index, bool whole_patient,
                   int day, const char *finding, const char *beside);

/* Append the contradictions in the records: RT_CASE_CONTRADICTION those to be looked at, RT_CASE_EXCLUDED those that keep a
 * case out of a figure, also when they are left as they are. */
void rt_write_contradictions(struct rt_case_writer *writer, enum rt_case_kind kind);

#endif
