/*
 * Symmetric positive semi-definite systems whose later columns may depend on earlier ones. The library
 * decompositions pivot, so they would drop an arbitrary column of a dependent set; here the columns are taken
 * in their order and the later one is the redundant one, as the reader of a model expects.
 */
#ifndef RIDGETALLY_STATS_SEMIDEFINITE_H
#define RIDGETALLY_STATS_SEMIDEFINITE_H

#include <stdbool.h>
#include <stddef.h>

/* Factor the size x size matrix (row after row, symmetric) in place as L D L'. A column is redundant when,
 * after the earlier ones are taken out, no more than `tolerance` of its diagonal is left (or its diagonal is
 * 0); redundant[size] is filled. Returns the rank. */
size_t rt_semidefinite_factor(double *matrix, size_t size, double tolerance, bool *redundant);

/* Solve for right[size] in place with a factor; the members of redundant columns become 0. */
void rt_semidefinite_solve(const double *factor, size_t size, const bool *redundant, double *right);

/* The inverse of the factored matrix into inverse (size x size); rows and columns of redundant columns are 0.
 */
void rt_semidefinite_invert(const double *factor, size_t size, const bool *redundant, double *inverse);

/* vector' M^- vector for a semi-definite M (kept), with the rank of M in *rank; NaN when memory ran out. */
double rt_semidefinite_form(const double *matrix, size_t size, const double *vector, double tolerance,
                            size_t *rank);

/* log of the determinant of the factored matrix, redundant columns left out. */
double rt_semidefinite_log_determinant(const double *factor, size_t size, const bool *redundant);

#endif
