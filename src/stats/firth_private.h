/*
 * The penalised log likelihood of one logistic model in orthonormal coordinates, and its maximum: the inside
 * of firth.h.
 */
#ifndef RIDGETALLY_STATS_FIRTH_PRIVATE_H
#define RIDGETALLY_STATS_FIRTH_PRIVATE_H

#include "ridgetally/base/error.h"

#include <stdbool.h>
#include <stddef.h>

/* The rows of a pattern of covariates are one row of the model. */
struct rt_penalised {
    size_t n, k;
    double rows; /* that the patterns stand for */
    const double *
        q; /* n by k: the row of each pattern; orthonormal columns when each is repeated as often as it occurs */
    const double *times;  /* n: rows of each pattern */
    const double *events; /* n: those with the event */
    double *g;            /* k: coordinates, the place of the search */
    double value;         /* l* at g */
    double *share;        /* n: pi */
    double *leverage;     /* n: diagonal of the weighted hat matrix, of one row of the pattern */
    double *inverse;      /* k by k: (Q'WQ)^-1 */
    double *score;        /* k: gradient of l* */
    double *curve;        /* k by k: minus the matrix of second derivatives of l* */
    /* scratch */
    double *information, *step, *trial, *third, *row;
};

enum rt_status rt_penalised_start(struct rt_penalised *model, const double *q, const double *times,
                                  const double *events, size_t n, size_t k, struct rt_error *error);

/* Maximise l* over the first `free` coordinates from where g stands, the others held. Everything above is then
 * filled at the maximum. False when the search could not end (l* is not finite at the start). */
bool rt_penalised_maximise(struct rt_penalised *model, size_t free);

void rt_penalised_release(struct rt_penalised *model);

/* Solve matrix x = right for the leading m by m block of a symmetric k by k matrix; false when it is not positive
 * definite. scratch: m by m numbers. x may be right. */
bool rt_solve_positive(const double *matrix, size_t k, size_t m, const double *right, double *x,
                       double *scratch);

#endif
