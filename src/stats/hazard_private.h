/*
 * Working state of one fit of the hazard model, in coefficients of z (see hazard_likelihood.h).
 */
#ifndef RIDGETALLY_STATS_HAZARD_PRIVATE_H
#define RIDGETALLY_STATS_HAZARD_PRIVATE_H

#include "ridgetally/stats/hazard_likelihood.h"

#define RT_HAZARD_REDUNDANT 1e-11 /* share of a column's information that must be its own */

struct rt_hazard_work {
    struct rt_partial partial;
    size_t terms;
    double *b, *trial, *step, *score;       /* terms */
    double *information, *factor, *inverse; /* terms x terms */
    double *sums;                           /* clusters x terms; NULL without clusters */
    double *middle;                         /* terms x terms: sum over clusters of r r' */
    bool *redundant;                        /* terms */
    bool *dropped;                          /* terms: redundant from the start */
    bool *infinite;                         /* terms */
    bool *frozen;                           /* terms: carried to infinity and held there */
    bool *undetermined;                     /* terms: nothing is left to estimate them by at the limit */
    double *recession;                      /* terms: direction in which the likelihood rises without end */
    size_t rank;
    bool converged;
};

/* The likelihood at b; score and information go into the work, without the columns that are out of the fit. */
double rt_hazard_evaluate(struct rt_hazard_work *work, const double *b);

/* Factor the information of the last evaluation. */
void rt_hazard_factor(struct rt_hazard_work *work, double tolerance);

/* Climb from b to the maximum, or to the limit of a monotone likelihood; fills the fit's likelihood, iterations and
 * monotone. */
enum rt_status rt_hazard_climb(struct rt_hazard_work *work, struct rt_hazard *fit, struct rt_error *error);

#endif
