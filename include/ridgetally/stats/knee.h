/*
 * The knee of a line: where its slope changes, with the rows of a cluster (patient) sharing a random intercept.
 *
 * Model: y = a + b x + c max(0, x - k) + patient + error, by maximum likelihood for each k on a grid, the ratio of the two
 * variances profiled out; k is the place of the largest likelihood.
 *
 * Interval: the k that are not rejected (which need not be one piece). Not rejected is a k over which the best k has a likelihood
 * ratio of at most the 0.95 quantile of chi-square on 1 df, or which has p > 0.05 by replicates made under it: the fit with that k
 * and its residuals, the sign of a whole patient's flipped or not by chance (the grid bootstrap, B. E. Hansen, Review of Economics and
 * Statistics 81 (1999) 594-607, here with the wild cluster bootstrap below; cited from memory). In a replicate the ratio of the
 * variances stays that of the best k, and the likelihood ratio is n log(rss at k / smallest rss on the grid) of the whitened rows;
 * p = (1 + replicates at least as large)/(times + 1). When none of the first 199 replicates is as large, k is rejected there and then
 * (stopping early: J. Besag & P. Clifford, Biometrika 78 (1991) 301-304, cited from memory). Fewer than 19 replicates reject nothing.
 * Chi-square alone holds the true knee too seldom (92% in simulated practices of 100 to 170 rows).
 *
 * Test of k against a straight line: the largest likelihood ratio over the grid, which has no chi-square distribution
 * (R. B. Davies, Biometrika 74 (1987) 33-43); its null comes from the residuals of the straight line's fit, the sign of a whole
 * patient's flipped or not by chance (wild cluster bootstrap with the null imposed, Cameron, Gelbach & Miller, Review of
 * Economics and Statistics 90 (2008) 414-427); p = (1 + replicates at least as large)/(times + 1).
 */
#ifndef RIDGETALLY_STATS_KNEE_H
#define RIDGETALLY_STATS_KNEE_H

#include "ridgetally/stats/estimate.h"

#include <stdbool.h>

struct rt_knee_design {
    double step;        /* of the grid, whose points are whole multiples of it */
    double from, to;    /* quantiles of x (type 7) between which the grid lies */
    size_t fewest_rows; /* below these numbers nothing is computed */
    size_t fewest_clusters;
    size_t fewest_per_side; /* rows strictly on each side of a grid point */
    size_t times; /* replicates of each bootstrap; 0: neither interval nor test, and nothing is kept */
    /* of gsl_rng_mt19937: the test flips where a number is below 1/2, the interval where the next bit of a number is 0, lowest first, a
     * new number for every 32 patients of a replicate, and from the seed again for each k */
    unsigned long seed;
};

/* 0.1 steps between the 15th and 85th percentile, 60 rows, 40 clusters, 15 rows a side, 999 replicates, seed 1. */
extern const struct rt_knee_design rt_knee_default;

struct rt_knee {
    double knee;                     /* NaN with a reason when nothing can be computed */
    double lower, upper;             /* ends of the set of knees that are not rejected */
    double slope_below, slope_above; /* b and b + c at the knee */
    double sd_between, sd_within;    /* of patients and of errors at the knee, maximum likelihood */
    double statistic;                /* likelihood ratio of the knee against the straight line */
    double p;
    size_t pieces;          /* of the set: 1 unless it is broken */
    bool at_edge;           /* the set reaches an end of the grid: no knee can be located on that side */
    size_t candidate_count; /* grid points tried */
    double *candidates;
    double *statistics; /* likelihood ratio of each against the straight line */
    bool *kept;         /* in the set */
    const char *reason;
};

/* Find the knee of n rows. clusters without `of`: every row is its own patient. Release with rt_knee_release. */
enum rt_status rt_knee(struct rt_knee *result, const double *x, const double *y, size_t n,
                       const struct rt_clusters *clusters, const struct rt_knee_design *design,
                       struct rt_error *error);

void rt_knee_release(struct rt_knee *result);

#endif
