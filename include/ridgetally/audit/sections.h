/*
 * The sections of the audit: each computes its figure rows from the cohort (see figure/catalogue.h for what
 * the rows are) and writes them to rows. A failure stays in rows.status.
 */
#ifndef RIDGETALLY_AUDIT_SECTIONS_H
#define RIDGETALLY_AUDIT_SECTIONS_H

#include "ridgetally/audit/cohort.h"
#include "ridgetally/audit/house_rules.h"
#include "ridgetally/audit/reliability.h"
#include "ridgetally/audit/rows.h"

/* Case flow, completeness and follow-up time. */
void rt_flow_figures(const struct rt_cohort *cohort, struct rt_rows *rows);

/* Planned against achieved depth. */
void rt_depth_figures(const struct rt_cohort *cohort, struct rt_rows *rows);

/* Torque and density: quartiles, ranks, agreement, low torque. */
void rt_stability_figures(const struct rt_cohort *cohort, struct rt_rows *rows);

/* Torque gained per millimetre after a stall. */
void rt_torque_slope_figures(const struct rt_cohort *cohort, struct rt_rows *rows);

/* Crest change and exposure in the windows of time. */
void rt_crest_figures(const struct rt_cohort *cohort, struct rt_rows *rows);

/* Models of crest change and level at 12 months. */
void rt_crest_model_figures(const struct rt_reading_errors *errors, const struct rt_cohort *cohort,
                            struct rt_rows *rows);

/* Changes beyond the error of reading, changes between films of different readers, the yearly rate. */
void rt_crest_error_figures(const struct rt_reading_errors *errors, const struct rt_cohort *cohort,
                            struct rt_rows *rows);

/* The crest change that the model predicts over depth for each tissue class, and the model with the operator. */
void rt_crest_adjusted_figures(const struct rt_cohort *cohort, struct rt_rows *rows);

/* The curve of crest change at 12 months on depth. */
void rt_crest_curve_figures(const struct rt_cohort *cohort, struct rt_rows *rows);

/* How far survival hangs on choices: one implant of each patient, the implants left out, failures early and late. */
void rt_survival_check_figures(const struct rt_cohort *cohort, struct rt_rows *rows);

/* How many implants meet each published set of success criteria, how many could be judged, where the sets disagree. */
void rt_success_figures(const struct rt_reading_errors *errors, const struct rt_cohort *cohort,
                        struct rt_rows *rows);

/* Survival curves, yearly values and numbers at risk, bounds, comparisons. */
void rt_survival_figures(const struct rt_cohort *cohort, struct rt_rows *rows);

/* Hazard ratios of the levels of a grouping. */
void rt_hazard_figures(const struct rt_cohort *cohort, struct rt_rows *rows);

/* Life table and cumulative incidence of the competing causes. */
void rt_survival_table_figures(const struct rt_cohort *cohort, struct rt_rows *rows);

/* Early failure, failure before loading, failures per time, gap before discovery. */
void rt_failure_figures(const struct rt_cohort *cohort, struct rt_rows *rows);

/* House rules on trial: how often each was followed, what became of the implants, the verdicts. */
void rt_rule_figures(const struct rt_house_rules *rules, const struct rt_cohort *cohort,
                     struct rt_rows *rows);

/* The error of reading a film, within and between readers. */
void rt_reader_figures(struct rt_store *store, const struct rt_cohort *cohort, struct rt_rows *rows);

/* Operators and time: charts over sessions, quarters, differences, funnel. Reads frozen baselines and the target. */
void rt_operator_figures(struct rt_store *store, const struct rt_cohort *cohort, struct rt_rows *rows);

/* The periods this one is set beside, in the reader's order. */
enum rt_earlier { RT_LAST_PERIOD, RT_YEAR_AGO, RT_EARLIER_PERIODS };

/* What changed since each of them. */
struct rt_earlier_changes {
    struct rt_figure_list since[RT_EARLIER_PERIODS];
};

/* Every compared figure as it was in an earlier period, on today's records, and the change since; the period is loaded from the
 * store, and forgotten again. */
void rt_change_figures(struct rt_store *store, const struct rt_cohort *cohort, enum rt_earlier earlier,
                       struct rt_rows *rows);

/* Yardsticks and what changed: after all other sections, whose rows the yardsticks read. data_hash: that of the period's records;
 * NULL computes it where it is needed. filtered: a part of the records is audited, which is never set beside the recorded
 * audits of all of them. */
void rt_yardstick_figures(struct rt_store *store, const struct rt_cohort *cohort,
                          const struct rt_earlier_changes *changes, bool filtered, const char *data_hash,
                          struct rt_rows *rows);

/* How many more cases until each yardstick and house rule is answered: after all other sections. */
void rt_precision_figures(struct rt_store *store, const struct rt_cohort *cohort, struct rt_rows *rows);

#endif
