/*
 * Repeatability of readings: intraclass correlations, the error of one reading, and the change it can detect.
 */
#ifndef RIDGETALLY_STATS_REPEAT_H
#define RIDGETALLY_STATS_REPEAT_H

#include "ridgetally/stats/estimate.h"

#include <stddef.h>

/* The forms of Shrout & Fleiss (1979), Psychol. Bull. 86:420-428: model 1 readings are exchangeable, model 2 readers are
 * a sample, model 3 the readers are the only ones of interest; single reading, then the mean of k readings. */
enum rt_icc_form { RT_ICC_1_1, RT_ICC_2_1, RT_ICC_3_1, RT_ICC_1_K, RT_ICC_2_K, RT_ICC_3_K, RT_ICC_FORMS };

/* Mean squares: between and within subjects; between readers, and what subjects and readers leave. */
enum rt_mean_square {
    RT_BETWEEN_SUBJECTS,
    RT_WITHIN_SUBJECTS,
    RT_BETWEEN_READERS,
    RT_RESIDUAL,
    RT_MEAN_SQUARES
};

struct rt_repeat {
    size_t n;        /* readings */
    size_t subjects; /* with at least one reading */
    size_t readers;
    double readings_per_subject; /* k; with unequal numbers k0 = (n - sum m^2/n)/(subjects - 1) */
    struct rt_estimate icc[RT_ICC_FORMS];
    struct rt_estimate within_sd;        /* root of the mean square within subjects */
    double dahlberg;                     /* sqrt(sum d^2/(2 pairs)) over subjects read twice */
    const char *no_dahlberg;             /* why dahlberg is NaN; NULL */
    double detectable_change;            /* 1.96 sqrt(2) within_sd */
    double mean_square[RT_MEAN_SQUARES]; /* NaN where the layout does not give it */
    double reader_sd; /* root of the variance between readers, (JMS - EMS)/subjects, at least 0; NaN when
                                     the layout is not complete */
};

/* Judge n readings by subject[i] in 0..subjects-1 and reader[i] in 0..readers-1.
 *
 * Model 1 from one-way analysis of variance by subject: (BMS - WMS)/(BMS + (k - 1) WMS); with unequal numbers of readings
 * k0 stands for k and the limits are approximate. Models 2 and 3 need every reader to have read every subject exactly
 * once, else they are undefined. Limits from F; (2,1) by Satterthwaite's df (Shrout & Fleiss 1979; McGraw & Wong 1996,
 * Psychol. Methods 1:30-46), (2,k) by the Spearman-Brown formula of those of (2,1).
 *
 * within_sd by chi-square on n - subjects df; with clusters (patients with several subjects) by the delete-one-cluster
 * jackknife on the log scale. For subjects read exactly twice it equals Dahlberg's error (Dahlberg 1940, Statistical
 * Methods for Medical and Biological Students). Subjects read once count for nothing in the error. O(n log n). */
enum rt_status rt_repeat(const size_t *subject, size_t subjects, const size_t *reader, size_t readers,
                         const double *value, size_t n, const struct rt_clusters *clusters,
                         struct rt_repeat *result, struct rt_error *error);

#endif
