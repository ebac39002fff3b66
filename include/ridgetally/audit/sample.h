/*
 * A sample: the rows a statistic is computed from, taken from the implants of a cohort in order, so that the
 * rows of a patient follow each other and get one cluster code.
 */
#ifndef RIDGETALLY_AUDIT_SAMPLE_H
#define RIDGETALLY_AUDIT_SAMPLE_H

#include "ridgetally/audit/cohort.h"
#include "ridgetally/stats/estimate.h"

#include <stdbool.h>
#include <stddef.h>

struct rt_sample {
    size_t n;
    double *value;   /* n */
    double *other;   /* n: a second value (planned depth, diameter), as the user of the sample says */
    bool *capped;    /* n: value is a limit reached */
    size_t *code;    /* n: a class or group */
    size_t *cluster; /* n: code of the patient, 0..clusters-1 in order */
    size_t *implant; /* n: index into the cohort */
    size_t clusters;
    size_t last_patient; /* of the cohort, of the last row */
};

/* Room for as many rows as the cohort has implants. RT_MEMORY when there is none. Release also after a
 * failure. */
enum rt_status rt_sample_start(struct rt_sample *sample, const struct rt_cohort *cohort,
                               struct rt_error *error);

/* Forget the rows, keeping the room. */
void rt_sample_clear(struct rt_sample *sample);

/* Append implant number `index` of the cohort with a value; other is NaN, capped false, code 0, to be changed
 * through the arrays at [sample.n - 1]. Implants must come in the order of the cohort. */
void rt_sample_add(struct rt_sample *sample, const struct rt_cohort *cohort, size_t index, double value);

/* The clusters of the rows. */
struct rt_clusters rt_sample_clusters(const struct rt_sample *sample);

/* Patients with at least one row for which chosen[row] is true. */
size_t rt_sample_patients(const struct rt_sample *sample, const bool *chosen);

void rt_sample_release(struct rt_sample *sample);

#endif
