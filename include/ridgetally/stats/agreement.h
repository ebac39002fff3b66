/*
 * Limits of agreement between two measurements of the same cases.
 */
#ifndef RIDGETALLY_STATS_AGREEMENT_H
#define RIDGETALLY_STATS_AGREEMENT_H

#include "ridgetally/stats/estimate.h"

#include <stddef.h>

#define RT_AGREEMENT_MULTIPLE 1.96 /* the usual multiple of the standard deviation */

struct rt_agreement {
    size_t n;
    struct rt_estimate bias;        /* mean of b - a; statistic and p against 0 */
    struct rt_estimate sd;          /* standard deviation of b - a about the bias, for a single case */
    struct rt_estimate lower_limit; /* bias - multiple sd, with its own limits */
    struct rt_estimate upper_limit; /* bias + multiple sd */
    double sd_between; /* with clusters: of patients; 0 when the estimate is negative; else NaN */
    double sd_within;  /* with clusters: of cases within a patient; else NaN */
};

/* Agreement of the differences b - a, given as differences[n].
 *
 * Without clusters: bias -+ t(n-1) s/sqrt(n); limits of agreement each -+ t(n-1) s sqrt(1/n + k^2/(2(n-1))),
 * k = multiple (Bland & Altman 1986, Lancet i:307-310; 1999, Stat. Methods Med. Res. 8:135-160, sec. 2); sd
 * by chi-square.
 *
 * With clusters (several cases per patient): bias = mean of all differences with the CR2 error and Satterthwaite
 * df of rt_mean; sd = sqrt(between + within) from one-way analysis of variance of the differences by patient,
 * unequal numbers by the divisor (n - sum m^2/n)/(patients - 1), a negative between-component taken as 0 (Bland
 * & Altman 1999, sec. 5.3; 2007, J. Biopharm. Stat. 17:571-582), the plain sd when every patient has one case;
 * its limits by the delete-one-cluster jackknife on the log scale, clusters - 1 df. The intervals of the limits
 * of agreement join those of bias and sd, with the jackknife correlation of the two (rt_limits_of_agreement).
 *
 * Undefined: spread with fewer than two cases (or patients). O(n). */
enum rt_status rt_agreement(const double *differences, size_t n, double multiple,
                            const struct rt_clusters *clusters, struct rt_agreement *result,
                            struct rt_error *error);

/* Replicates by two methods while the true value of a subject stays constant (the same film read again and again). */
struct rt_replicate_agreement {
    size_t subjects;
    struct rt_estimate bias; /* mean over subjects of mean b - mean a, on subjects - 1 df */
    struct rt_estimate sd;   /* of the difference of two single readings of one subject */
    struct rt_estimate lower_limit;
    struct rt_estimate upper_limit;
    double variance_a; /* within subjects; NaN when no subject has two readings */
    double variance_b;
};

/* Readings a[i] and b[i] of row i belong to subject clusters->of[i]; which of a subject's a is paired with which b
 * does not matter. sd^2 = variance of the subjects' mean differences + (1 - mean of 1/m) (variance_a + variance_b), m
 * rows per subject (Bland & Altman 1999, sec. 5.1 and 5.2). Bias and sd by the delete-one-subject jackknife on
 * subjects - 1 df, sd on the log scale; limits joined from them as above. RT_USE without clusters. Undefined with
 * fewer than two subjects. O(n). */
enum rt_status rt_agreement_constant(const double *a, const double *b, size_t n, double multiple,
                                     const struct rt_clusters *clusters,
                                     struct rt_replicate_agreement *result, struct rt_error *error);

#endif
