/*
 * Orthonormal basis of a model matrix: X[kept] = Q R by Householder reflections, taking the columns in order
 * and setting aside each one that the columns before it already give (an aliased column), so that the first
 * of two equal columns is the one that stays. All linear methods work in the coordinates of Q, where every
 * model is well conditioned, and turn back to the columns at the end.
 *
 * Source: Golub & Van Loan (2013), Matrix Computations, 4th ed., sections 5.2 and 5.4.
 */
#ifndef RIDGETALLY_STATS_BASIS_H
#define RIDGETALLY_STATS_BASIS_H

#include "ridgetally/base/error.h"

#include <stdbool.h>
#include <stddef.h>

/* A column whose part outside the columns before it is below this share of its length counts as aliased. */
#define RT_ALIAS_TOLERANCE 1e-11

struct rt_basis {
    size_t n, p, rank;
    size_t *kept;  /* rank: numbers of the columns that stay, ascending */
    double *q;     /* n by rank, row after row: orthonormal columns */
    double *r;     /* rank by rank, row after row, upper triangular */
    double *alias; /* p by rank: column j = sum over k of alias[j * rank + k] times column kept[k] */
};

/* The basis of x (n by p, row after row, finite). Release with rt_basis_release; RT_MEMORY is the only
 * failure. */
enum rt_status rt_basis_build(struct rt_basis *basis, const double *x, size_t n, size_t p,
                              struct rt_error *error);

void rt_basis_release(struct rt_basis *basis);

/* True when column j was kept. */
bool rt_basis_has(const struct rt_basis *basis, size_t column);

/* The Q-coordinates z (rank) of a linear combination of coefficients: weights' b = z'(R b). Weights are p
 * numbers. False, with z undefined, when the combination cannot be estimated because aliased columns enter it
 * in a way the kept ones do not determine. */
bool rt_basis_combination(const struct rt_basis *basis, const double *weights, double *z);

/* The same for the coefficient of the kept column kept[k], aliased columns being held at 0. */
void rt_basis_kept_coefficient(const struct rt_basis *basis, size_t k, double *z);

/* coefficients (rank) = R^-1 coordinates (rank); the two may be the same array. */
void rt_basis_coefficients(const struct rt_basis *basis, const double *coordinates, double *coefficients);

/* True when the constant column lies in the space of the columns (the model has an intercept). */
bool rt_basis_has_constant(const struct rt_basis *basis);

#endif
