/*
 * The practice audit as a document: which findings, in which order, in which words, from the figures there
 * are. Nothing is computed here.
 */
#ifndef RIDGETALLY_OUTPUT_AUDIT_H
#define RIDGETALLY_OUTPUT_AUDIT_H

#include "ridgetally/base/error.h"
#include "ridgetally/figure/audit_info.h"
#include "ridgetally/figure/case_list.h"
#include "ridgetally/figure/case_series.h"
#include "ridgetally/figure/document.h"
#include "ridgetally/figure/figure.h"
#include "ridgetally/figure/meeting.h"

/* What the audit is about. All is borrowed by the document. */
struct rt_audit_subject {
    const struct rt_audit_info *info;
    const char *filters; /* which records were chosen, in words; "" = all */
    const struct rt_figure_list *figures;
    const struct rt_case_series_list *cases; /* NULL = none */
    const struct rt_case_list *lists;        /* cases under their labels; NULL = left out */
    const struct rt_meeting *meeting;        /* yardsticks and notes; NULL = none */
};

/* Build the document. Findings whose figures are missing are left out; figures that are too few say so. The
 * caller releases the document, also after a failure. RT_USE when a wording is missing; RT_MEMORY. */
enum rt_status rt_plan_audit(const struct rt_audit_subject *subject, struct rt_document *document,
                             struct rt_error *error);

#endif
