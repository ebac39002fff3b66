#include "ridgetally/stats/basis.h"

#include "ridgetally/base/memory.h"

#include <gsl/gsl_blas.h>
#include <gsl/gsl_linalg.h>
#include <math.h>

/* Exact scaling by powers of two keeps squares of very large and very small columns in range. */
static int binary_exponent(const double *x, size_t n, size_t stride)
{
    double largest = 0;
    for (size_t i = 0; i < n; i++)
        largest = fmax(largest, fabs(x[i * stride]));
    int exponent = 0;
    if (largest > 0)
        frexp(largest, &exponent);
    return exponent;
}

static void scale_columns(gsl_matrix *work, const double *x, int *exponent)
{
    for (size_t j = 0; j < work->size2; j++) {
        exponent[j] = binary_exponent(x + j, work->size1, work->size2);
        for (size_t i = 0; i < work->size1; i++)
            gsl_matrix_set(work, i, j, ldexp(x[i * work->size2 + j], -exponent[j]));
    }
}

/* Reflect column after column; returns the rank. The reflections stay in the kept columns of work below the
 * diagonal, R above it. */
static size_t reflect_columns(gsl_matrix *work, size_t *kept, double *tau)
{
    size_t rank = 0;
    for (size_t j = 0; j < work->size2 && rank < work->size1; j++) {
        gsl_vector_view whole = gsl_matrix_column(work, j);
        gsl_vector_view rest = gsl_vector_subvector(&whole.vector, rank, whole.vector.size - rank);
        /* Reflections keep lengths, so the whole column still has its first length. */
        double length = gsl_blas_dnrm2(&whole.vector);
        if (!(gsl_blas_dnrm2(&rest.vector) > RT_ALIAS_TOLERANCE * length))
            continue;
        tau[rank] = gsl_linalg_householder_transform(&rest.vector);
        if (j + 1 < work->size2) {
            gsl_matrix_view right =
                gsl_matrix_submatrix(work, rank, j + 1, work->size1 - rank, work->size2 - j - 1);
            gsl_linalg_householder_hm(tau[rank], &rest.vector, &right.matrix);
        }
        kept[rank++] = j;
    }
    return rank;
}

/* Apply the reflections backwards to the first columns of the identity. */
static void form_q(struct rt_basis *basis, gsl_matrix *work, const double *tau)
{
    if (basis->rank == 0)
        return;
    gsl_matrix_view q = gsl_matrix_view_array(basis->q, basis->n, basis->rank);
    gsl_matrix_set_identity(&q.matrix);
    for (size_t k = basis->rank; k-- > 0;) {
        gsl_vector_view whole = gsl_matrix_column(work, basis->kept[k]);
        gsl_vector_view v = gsl_vector_subvector(&whole.vector, k, basis->n - k);
        gsl_matrix_view block = gsl_matrix_submatrix(&q.matrix, k, k, basis->n - k, basis->rank - k);
        gsl_linalg_householder_hm(tau[k], &v.vector, &block.matrix);
    }
}

/* Column j of work holds its Q-coordinates in its first rows; solve R b = coordinates, at the scale of work.
 */
static void form_r_and_alias(struct rt_basis *basis, const gsl_matrix *work, const int *exponent)
{
    size_t rank = basis->rank;
    for (size_t j = 0; j < basis->p; j++) {
        double *b = basis->alias + j * rank;
        size_t known = 0; /* rows of R set so far: kept columns up to j */
        while (known < rank && basis->kept[known] <= j)
            known++;
        bool is_kept = known > 0 && basis->kept[known - 1] == j;
        for (size_t k = 0; k < known; k++) {
            b[k] = gsl_matrix_get(work, k, j);
            if (is_kept)
                basis->r[k * rank + known - 1] = ldexp(b[k], exponent[j]);
        }
        if (is_kept) {
            for (size_t k = 0; k < rank; k++)
                b[k] = k + 1 == known ? 1.0 : 0.0;
            continue;
        }
        for (size_t k = known; k-- > 0;) {
            for (size_t l = k + 1; l < known; l++)
                b[k] -= gsl_matrix_get(work, k, basis->kept[l]) * b[l];
            b[k] /= gsl_matrix_get(work, k, basis->kept[k]);
        }
        for (size_t k = 0; k < known; k++)
            b[k] = ldexp(b[k], exponent[j] - exponent[basis->kept[k]]);
    }
}

enum rt_status rt_basis_build(struct rt_basis *basis, const double *x, size_t n, size_t p,
                              struct rt_error *error)
{
    *basis = (struct rt_basis){.n = n, .p = p};
    enum rt_status status = RT_OK;
    double *copy = rt_new_array(n * p, sizeof *copy);
    double *tau = rt_new_array(p, sizeof *tau);
    int *exponent = rt_new_array(p, sizeof *exponent);
    basis->kept = rt_new_array(p, sizeof *basis->kept);
    if (copy == NULL || tau == NULL || exponent == NULL || basis->kept == NULL) {
        status = rt_fail_memory(error);
        goto done;
    }
    gsl_matrix_view work = {0};
    if (n > 0 && p > 0) {
        work = gsl_matrix_view_array(copy, n, p);
        scale_columns(&work.matrix, x, exponent);
        basis->rank = reflect_columns(&work.matrix, basis->kept, tau);
    }
    basis->q = rt_new_array(n * basis->rank, sizeof *basis->q);
    basis->r = rt_new_array(basis->rank * basis->rank, sizeof *basis->r);
    basis->alias = rt_new_array(p * basis->rank, sizeof *basis->alias);
    if (basis->q == NULL || basis->r == NULL || basis->alias == NULL) {
        status = rt_fail_memory(error);
        goto done;
    }
    if (basis->rank > 0) {
        form_q(basis, &work.matrix, tau);
        form_r_and_alias(basis, &work.matrix, exponent);
    }
done:
    free(copy);
    free(tau);
    free(exponent);
    if (status != RT_OK)
        rt_basis_release(basis);
    return status;
}

void rt_basis_release(struct rt_basis *basis)
{
    free(basis->kept);
    free(basis->q);
    free(basis->r);
    free(basis->alias);
    *basis = (struct rt_basis){0};
}

bool rt_basis_has(const struct rt_basis *basis, size_t column)
{
    for (size_t k = 0; k < basis->rank; k++)
        if (basis->kept[k] == column)
            return true;
    return false;
}

/* Weights w can be estimated when w = A' w[kept] with A the alias rows: then w'b is the same for every
 * solution b of the normal equations. */
static bool estimable(const struct rt_basis *basis, const double *weights)
{
    for (size_t j = 0; j < basis->p; j++) {
        double given = 0;
        double size = fabs(weights[j]);
        for (size_t k = 0; k < basis->rank; k++) {
            double part = basis->alias[j * basis->rank + k] * weights[basis->kept[k]];
            given += part;
            size += fabs(part);
        }
        if (!(fabs(given - weights[j]) <= 1e-9 * size))
            return false;
    }
    return true;
}

/* z becomes the solution of R' z = z. */
static void solve_transposed(const struct rt_basis *basis, double *z)
{
    for (size_t k = 0; k < basis->rank; k++) {
        for (size_t l = 0; l < k; l++)
            z[k] -= basis->r[l * basis->rank + k] * z[l];
        z[k] /= basis->r[k * basis->rank + k];
    }
}

bool rt_basis_combination(const struct rt_basis *basis, const double *weights, double *z)
{
    if (!estimable(basis, weights))
        return false;
    for (size_t k = 0; k < basis->rank; k++)
        z[k] = weights[basis->kept[k]];
    solve_transposed(basis, z);
    return true;
}

void rt_basis_kept_coefficient(const struct rt_basis *basis, size_t k, double *z)
{
    for (size_t l = 0; l < basis->rank; l++)
        z[l] = l == k ? 1 : 0;
    solve_transposed(basis, z);
}

void rt_basis_coefficients(const struct rt_basis *basis, const double *coordinates, double *coefficients)
{
    for (size_t k = basis->rank; k-- > 0;) {
        double value = coordinates[k];
        for (size_t l = k + 1; l < basis->rank; l++)
            value -= basis->r[k * basis->rank + l] * coefficients[l];
        coefficients[k] = value / basis->r[k * basis->rank + k];
    }
}

bool rt_basis_has_constant(const struct rt_basis *basis)
{
    double outside = 0; /* squared length of 1 - QQ'1 */
    double *sum = rt_new_array(basis->rank, sizeof *sum);
    if (sum == NULL)
        return false;
    for (size_t i = 0; i < basis->n; i++)
        for (size_t k = 0; k < basis->rank; k++)
            sum[k] += basis->q[i * basis->rank + k];
    for (size_t i = 0; i < basis->n; i++) {
        double rest = 1;
        for (size_t k = 0; k < basis->rank; k++)
            rest -= basis->q[i * basis->rank + k] * sum[k];
        outside += rest * rest;
    }
    free(sum);
    return outside < 1e-18 * (double)basis->n;
}
