#include "ridgetally/stats/semidefinite.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <string.h>

/* The factor is stored in the lower triangle: D on the diagonal, L below it. */
size_t rt_semidefinite_factor(double *matrix, size_t size, double tolerance, bool *redundant)
{
    size_t rank = 0;
    for (size_t j = 0; j < size; j++) {
        double whole = matrix[j * size + j];
        double rest = whole;
        for (size_t k = 0; k < j; k++)
            rest -= matrix[j * size + k] * matrix[j * size + k] * matrix[k * size + k];
        redundant[j] = !(whole > 0) || !(rest > tolerance * whole) || !isfinite(rest);
        rank += redundant[j] ? 0 : 1;
        matrix[j * size + j] = redundant[j] ? 0 : rest;
        for (size_t i = j + 1; i < size; i++) {
            double value = matrix[i * size + j];
            for (size_t k = 0; k < j; k++)
                value -= matrix[i * size + k] * matrix[j * size + k] * matrix[k * size + k];
            matrix[i * size + j] = redundant[j] ? 0 : value / rest;
        }
    }
    return rank;
}

void rt_semidefinite_solve(const double *factor, size_t size, const bool *redundant, double *right)
{
    for (size_t i = 0; i < size; i++) {
        if (redundant[i]) {
            right[i] = 0;
            continue;
        }
        for (size_t k = 0; k < i; k++)
            right[i] -= factor[i * size + k] * right[k];
    }
    for (size_t i = size; i-- > 0;) {
        if (redundant[i])
            continue;
        right[i] /= factor[i * size + i];
        for (size_t k = i + 1; k < size; k++)
            right[i] -= redundant[k] ? 0 : factor[k * size + i] * right[k];
    }
}

void rt_semidefinite_invert(const double *factor, size_t size, const bool *redundant, double *inverse)
{
    for (size_t j = 0; j < size; j++) {
        double *row = inverse + j * size;
        memset(row, 0, size * sizeof *row);
        if (redundant[j])
            continue;
        row[j] = 1;
        rt_semidefinite_solve(factor, size, redundant, row);
    }
}

double rt_semidefinite_form(const double *matrix, size_t size, const double *vector, double tolerance,
                            size_t *rank)
{
    double form = NAN;
    *rank = 0;
    double *factor = rt_new_array(size * size, sizeof *factor);
    double *solution = rt_new_array(size, sizeof *solution);
    bool *redundant = rt_new_array(size, sizeof *redundant);
    if (factor != NULL && solution != NULL && redundant != NULL) {
        memcpy(factor, matrix, size * size * sizeof *factor);
        memcpy(solution, vector, size * sizeof *solution);
        *rank = rt_semidefinite_factor(factor, size, tolerance, redundant);
        rt_semidefinite_solve(factor, size, redundant, solution);
        form = 0;
        for (size_t i = 0; i < size; i++)
            form += solution[i] * vector[i];
    }
    free(factor);
    free(solution);
    free(redundant);
    return form;
}

double rt_semidefinite_log_determinant(const double *factor, size_t size, const bool *redundant)
{
    double sum = 0;
    for (size_t j = 0; j < size; j++)
        sum += redundant[j] ? 0 : log(factor[j * size + j]);
    return sum;
}
