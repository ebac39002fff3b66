/*
 * Cases under their labels: what is due on a day, and the audit's own case lists. They are selections of records, never
 * diagnoses; nothing in them asks for a radiograph.
 */
#ifndef RIDGETALLY_AUDIT_DUE_H
#define RIDGETALLY_AUDIT_DUE_H

#include "ridgetally/audit/cohort.h"
#include "ridgetally/audit/filter.h"
#include "ridgetally/audit/rows.h"
#include "ridgetally/figure/audit_info.h"
#include "ridgetally/figure/case_list.h"

/* Thresholds of the published case definitions (World Workshop 2017: Berglundh et al. 2018, J. Periodontol. 89 Suppl 1:
 * S313-S318), in hundredths of mm: crest lost since a baseline film; without one, bone below the platform and probing. */
enum { RT_LOSS_WITH_BASELINE = 200, RT_BONE_WITHOUT_BASELINE = 300, RT_PROBING_WITHOUT_BASELINE = 600 };

/* Everything due on the cohort's last day, sorted: implants in place (not removed, patient alive and
 * not moved away since the last visit).
 *
 * recall: no implant of a patient was seen within the recall interval before the day.
 * baseline film: placed more than 30 days before, and no film with both sites read from 0 to 30 days after placement.
 * loading: longer since placement than the house rule `wait-twelve-weeks` waits, and not loaded, or loading not recorded; not
 *   those recorded as unused.
 * bone: the latest film against the film around loading (else around placement, of the same kind of level) shows 2 mm or more
 *   lost at a site; without such a film, bone 3 mm or more below the platform at a site; without such a film and with less bone
 *   gone, probing of 6 mm or more with bleeding or suppuration, which fits only where the definition is worded "and/or".
 * low torque: final torque in the lowest class in force, and not loaded, or loading not recorded.
 * contradiction: doubts of that weight neither mended nor left as they are. */
enum rt_status rt_due_cases(struct rt_store *store, const struct rt_cohort *cohort, struct rt_case_list *list,
                            struct rt_error *error);

/* flow/due_cases: how many of each kind. */
void rt_due_figures(struct rt_store *store, const struct rt_cohort *cohort, struct rt_rows *rows);

/* The list of a day with its figures (flow/due_cases and section readers), of all records or of a part. list and figures are
 * released by the caller, also after a failure. */
enum rt_status rt_due_run(struct rt_store *store, int day, const struct rt_audit_filters *filters,
                          struct rt_case_list *list, struct rt_figure_list *figures,
                          struct rt_audit_info *info, struct rt_error *error);

/* The audit's case lists: implants lost, and implants placed with a final torque in the lowest class, in the 12 months to
 * the end of the period (a longer period counts whole); implants left out of a section for a contradiction. Sorted. */
enum rt_status rt_audit_cases(struct rt_store *store, const struct rt_period *period,
                              const struct rt_audit_filters *filters, struct rt_case_list *list,
                              struct rt_error *error);

#endif
