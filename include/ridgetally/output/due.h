/*
 * The list of what is due as a document. Case labels appear in it: it stays inside the practice.
 */
#ifndef RIDGETALLY_OUTPUT_DUE_H
#define RIDGETALLY_OUTPUT_DUE_H

#include "ridgetally/output/audit.h"

/* Build the document from the day's list, sorted, and its figures (audit/due.h): subject->info, filters, figures and
 * lists. The caller releases the document, also after a failure. */
enum rt_status rt_plan_due(const struct rt_audit_subject *subject, struct rt_document *document,
                           struct rt_error *error);

#endif
