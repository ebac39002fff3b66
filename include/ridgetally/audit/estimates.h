/*
 * From a sample to a figure row: compute, apply the minimum numbers, write. The row comes with its key, n_due and
 * whatever else is special about it; counts, numbers, method and state are filled here.
 */
#ifndef RIDGETALLY_AUDIT_ESTIMATES_H
#define RIDGETALLY_AUDIT_ESTIMATES_H

#include "ridgetally/audit/rows.h"
#include "ridgetally/audit/sample.h"

/* Mean of sample.value, CR2 by patient. */
void rt_put_mean(struct rt_rows *rows, struct rt_figure row, const struct rt_sample *sample);

/* Mean of the patients' means (shares, where the values are 0 and 1) of sample.value; unit of analysis patient. */
void rt_put_patient_mean(struct rt_rows *rows, struct rt_figure row, const struct rt_sample *sample);

/* Mean of sample.value where sample.code is 1 minus that where it is 0, CR2 by patient. n_implants and n_patients are those
 * with code 1; both sides need the minimum of patients. */
void rt_put_difference(struct rt_rows *rows, struct rt_figure row, const struct rt_sample *sample);

/* Share of rows whose sample.value is 1 (else 0), Korn-Graubard by patient; exact on the patients where none or all
 * are 1. n_events is their number. */
void rt_put_share(struct rt_rows *rows, struct rt_figure row, const struct rt_sample *sample);

/* Share of patients with at least one row whose sample.value is 1; unit of analysis patient. */
void rt_put_patient_share(struct rt_rows *rows, struct rt_figure row, const struct rt_sample *sample);

/* Quantile of sample.value, Woodruff by patient. */
void rt_put_quantile(struct rt_rows *rows, struct rt_figure row, const struct rt_sample *sample, double p);

/* The same for values of which sample.capped are limits reached; a quantile beyond the caps has the remark `>cap`. */
void rt_put_capped_quantile(struct rt_rows *rows, struct rt_figure row, const struct rt_sample *sample,
                            double p);

#endif
