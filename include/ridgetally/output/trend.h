/*
 * The trend of one operator as a document: case mix first, then what the charts say. Nothing is computed here.
 */
#ifndef RIDGETALLY_OUTPUT_TREND_H
#define RIDGETALLY_OUTPUT_TREND_H

#include "ridgetally/output/audit.h"

/* Copy into rows, and cases into points, what a page about one operator shows: the rows of section operators about that
 * operator or about the practice as a whole (other operators only as the limits and the average of the funnel). Both are
 * empty before; the caller releases them. RT_MEMORY. */
enum rt_status rt_trend_figures(const struct rt_audit_subject *audit, const char *operator_label,
                                struct rt_figure_list *rows, struct rt_case_series_list *points,
                                struct rt_error *error);

/* Build the document from such rows. As rt_plan_audit. */
enum rt_status rt_plan_trend(const struct rt_audit_subject *subject, const char *operator_label,
                             struct rt_document *document, struct rt_error *error);

#endif
