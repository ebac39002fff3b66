/*
 * The audit of a store over a period: every figure row and every case series, computed on the day's data. Nothing is
 * written unless rt_record_audit is called; the clock is never read.
 */
#ifndef RIDGETALLY_AUDIT_AUDIT_H
#define RIDGETALLY_AUDIT_AUDIT_H

#include "ridgetally/audit/filter.h"
#include "ridgetally/audit/period.h"
#include "ridgetally/base/error.h"
#include "ridgetally/figure/audit_info.h"
#include "ridgetally/figure/case_series.h"
#include "ridgetally/figure/figure.h"
#include "ridgetally/store/store.h"

/* Compute all figures and case series of the period into empty lists, which the caller releases (also after a failure).
 * filters, figures, cases or info may be NULL. With filters the figures are those of a store that holds nothing but the
 * implants chosen, and the data hash is of them and of the filters' words. Rows are in the order of sections and have
 * unique keys. */
enum rt_status rt_audit_run(struct rt_store *store, const struct rt_period *period,
                            const struct rt_audit_filters *filters, struct rt_figure_list *figures,
                            struct rt_case_series_list *cases, struct rt_audit_info *info,
                            struct rt_error *error);

/* The figures of rt_audit_run but for what is made by resampling, which takes a good part of the time: the interval
 * and the test of a knee and with them the rule's verdict (the verdict says why), charts of failures whose limits no
 * recorded audit has frozen, survival of one implant of each patient. Rows that count or adjust over all rows, and
 * the precision of the knee, follow; all others are the same. Not for rt_record_audit. */
enum rt_status rt_figures_without_resampling(struct rt_store *store, const struct rt_period *period,
                                             const struct rt_audit_filters *filters,
                                             struct rt_figure_list *figures, struct rt_error *error);

/* Keep the figures in the store under period, data hash and program version, so that the next audit can tell what changed.
 * The same audit again replaces what was kept. Audits of a part of the records are not for keeping: the next audit would take
 * them for the practice's. recorded_at is a UTC instant, YYYY-MM-DDTHH:MM:SSZ. */
enum rt_status rt_record_audit(struct rt_store *store, const struct rt_audit_info *info,
                               const struct rt_figure_list *figures, const char *recorded_at,
                               struct rt_error *error);

#endif
