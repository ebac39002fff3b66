#include "ridgetally/stats/cluster_sandwich.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/order.h"
#include "ridgetally/stats/student.h"

#include <gsl/gsl_eigen.h>
#include <gsl/gsl_matrix.h>
#include <math.h>
#include <string.h>

/* 1 - eigenvalue below this: the cluster alone decides that direction, which is dropped. */
static const double full_leverage = 1e-12;

static const char one_cluster[] = "needs at least two patients (clusters)";
static const char decided_by_one[] =
    "one patient (cluster) alone decides it, so its error cannot be estimated";
static const char no_spread[] = "the rows leave no variation between patients (clusters) to judge it by";

/* A cluster keeps its Q_i rotated to orthogonal rows: row k has squared length (eigenvalue) mu_k of T_i. */
struct rt_sandwich {
    size_t n, p, clusters;
    size_t *start;      /* clusters + 1: rotated rows of each cluster */
    double *row;        /* rotated rows, p numbers each */
    double *weight;     /* (1 - mu)^(-1/2) of each rotated row, 0 when dropped */
    double *meat;       /* p by p: sum of u_i u_i' with u_i = S_i Q_i' e_i */
    double *spread;     /* p by p scratch: sum of w_i w_i' */
    double *w;          /* p scratch */
    double *z;          /* p scratch: the combination at hand, scaled to a length near 1 */
    double mean_square; /* of the residuals: the scale below which a variance is rounding */
};

/* Scratch of the building, one per call. */
struct builder {
    struct rt_sandwich *s;
    const double *q, *residual;
    const size_t *rows;
    size_t count; /* rows of the cluster at hand */
    double *gram; /* p by p at most */
    double *vectors;
    double *values;
    double *u;
    gsl_eigen_symmv_workspace **workspaces; /* by size, made when first needed */
};

static double dot(const double *a, const double *b, size_t n)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += a[i] * b[i];
    return sum;
}

static const double *q_row(const struct builder *b, size_t i)
{
    return b->q + b->rows[i] * b->s->p;
}

/* Eigenvalues and vectors (columns of `vectors`) of the m by m matrix in gram. False when memory ran out. */
static bool eigen(struct builder *b, size_t m)
{
    if (b->workspaces[m] == NULL)
        b->workspaces[m] = gsl_eigen_symmv_alloc(m);
    if (b->workspaces[m] == NULL)
        return false;
    gsl_matrix_view gram = gsl_matrix_view_array(b->gram, m, m);
    gsl_matrix_view vectors = gsl_matrix_view_array(b->vectors, m, m);
    gsl_vector_view values = gsl_vector_view_array(b->values, m);
    gsl_eigen_symmv(&gram.matrix, &values.vector, &vectors.matrix, b->workspaces[m]);
    return true;
}

/* Rotated rows of a cluster with fewer rows than columns: U'Q_i with Q_i Q_i' = U diag(mu) U'. */
static bool rotate_small(struct builder *b, double *row)
{
    size_t m = b->count;
    size_t p = b->s->p;
    for (size_t i = 0; i < m; i++)
        for (size_t j = 0; j < m; j++)
            b->gram[i * m + j] = dot(q_row(b, i), q_row(b, j), p);
    if (!eigen(b, m))
        return false;
    for (size_t k = 0; k < m; k++)
        for (size_t j = 0; j < p; j++)
            for (size_t i = 0; i < m; i++)
                row[k * p + j] += b->vectors[i * m + k] * q_row(b, i)[j];
    return true;
}

/* Rotated rows of a cluster with at least as many rows as columns: sqrt(mu) V' with T_i = V diag(mu) V'. */
static bool rotate_large(struct builder *b, double *row)
{
    size_t p = b->s->p;
    memset(b->gram, 0, p * p * sizeof *b->gram);
    for (size_t i = 0; i < b->count; i++)
        for (size_t j = 0; j < p; j++)
            for (size_t k = 0; k <= j; k++)
                b->gram[j * p + k] += q_row(b, i)[j] * q_row(b, i)[k];
    for (size_t j = 0; j < p; j++)
        for (size_t k = 0; k < j; k++)
            b->gram[k * p + j] = b->gram[j * p + k];
    if (!eigen(b, p))
        return false;
    for (size_t k = 0; k < p; k++)
        for (size_t j = 0; j < p; j++)
            row[k * p + j] = sqrt(fmax(0, b->values[k])) * b->vectors[j * p + k];
    return true;
}

/* Add u_i u_i' with u = S_i z, S_i = I + sum over rotated rows of f l l', f = ((1 - mu)^(-1/2) - 1)/mu, which
 * is a^2/(1 + a) for a = (1 - mu)^(-1/2). */
static void add_score(struct builder *b, const double *row, const double *weight, size_t m)
{
    size_t p = b->s->p;
    double *z = b->values;
    memset(z, 0, p * sizeof *z);
    for (size_t i = 0; i < b->count; i++)
        for (size_t j = 0; j < p; j++)
            z[j] += q_row(b, i)[j] * b->residual[b->rows[i]];
    memcpy(b->u, z, p * sizeof *z);
    for (size_t k = 0; k < m; k++) {
        const double *l = row + k * p;
        double a = weight[k];
        double f = a > 0 ? a * a / (1 + a) : -1 / dot(l, l, p);
        double along = f * dot(l, z, p);
        for (size_t j = 0; j < p; j++)
            b->u[j] += along * l[j];
    }
    for (size_t j = 0; j < p; j++)
        for (size_t k = 0; k < p; k++)
            b->s->meat[j * p + k] += b->u[j] * b->u[k];
}

static bool add_cluster(struct builder *b, size_t cluster)
{
    struct rt_sandwich *s = b->s;
    size_t m = b->count < s->p ? b->count : s->p;
    double *row = s->row + s->start[cluster] * s->p;
    double *weight = s->weight + s->start[cluster];
    if (b->count == 1)
        memcpy(row, q_row(b, 0), s->p * sizeof *row);
    else if (!(b->count < s->p ? rotate_small(b, row) : rotate_large(b, row)))
        return false;
    for (size_t k = 0; k < m; k++) {
        double left = 1 - dot(row + k * s->p, row + k * s->p, s->p);
        weight[k] = left > full_leverage ? 1 / sqrt(left) : 0;
    }
    add_score(b, row, weight, m);
    s->start[cluster + 1] = s->start[cluster] + m;
    return true;
}

static bool allocate(struct rt_sandwich *s, struct builder *b, const struct rt_cluster_rows *rows)
{
    size_t p = s->p;
    size_t total = 0;
    for (size_t c = 0; c < rows->count; c++) {
        size_t size = rows->start[c + 1] - rows->start[c];
        total += size < p ? size : p;
    }
    s->clusters = rows->count;
    s->start = rt_new_array(rows->count + 1, sizeof *s->start);
    s->row = rt_new_array(total * p, sizeof *s->row);
    s->weight = rt_new_array(total, sizeof *s->weight);
    s->meat = rt_new_array(p * p, sizeof *s->meat);
    s->spread = rt_new_array(p * p, sizeof *s->spread);
    s->w = rt_new_array(p, sizeof *s->w);
    s->z = rt_new_array(p, sizeof *s->z);
    b->gram = rt_new_array(p * p, sizeof *b->gram);
    b->vectors = rt_new_array(p * p, sizeof *b->vectors);
    b->values = rt_new_array(p, sizeof *b->values);
    b->u = rt_new_array(p, sizeof *b->u);
    b->workspaces = rt_new_array(p + 1, sizeof *b->workspaces);
    return s->start != NULL && s->row != NULL && s->weight != NULL && s->meat != NULL && s->spread != NULL &&
           s->w != NULL && s->z != NULL && b->gram != NULL && b->vectors != NULL && b->values != NULL &&
           b->u != NULL && b->workspaces != NULL;
}

static void release(struct builder *b)
{
    if (b->workspaces != NULL)
        for (size_t m = 0; m <= b->s->p; m++)
            if (b->workspaces[m] != NULL)
                gsl_eigen_symmv_free(b->workspaces[m]);
    free(b->workspaces);
    free(b->gram);
    free(b->vectors);
    free(b->values);
    free(b->u);
}

enum rt_status rt_sandwich_build(struct rt_sandwich **sandwich, const double *q, size_t n, size_t p,
                                 const double *residual, const struct rt_clusters *clusters,
                                 struct rt_error *error)
{
    *sandwich = NULL;
    struct rt_cluster_rows rows = {0};
    struct rt_sandwich *s = rt_new_array(1, sizeof *s);
    if (s == NULL)
        return rt_fail_memory(error);
    struct builder b = {.s = s, .q = q, .residual = residual};
    s->n = n;
    s->p = p;
    enum rt_status status = rt_gather_clusters(clusters, n, &rows, error);
    if (status == RT_OK && !allocate(s, &b, &rows))
        status = rt_fail_memory(error);
    for (size_t c = 0; status == RT_OK && c < rows.count; c++) {
        b.rows = rows.row + rows.start[c];
        b.count = rows.start[c + 1] - rows.start[c];
        if (!add_cluster(&b, c))
            status = rt_fail_memory(error);
    }
    for (size_t i = 0; i < n; i++)
        s->mean_square += (residual[i] * residual[i] - s->mean_square) / (double)(i + 1);
    release(&b);
    rt_cluster_rows_release(&rows);
    if (status == RT_OK)
        *sandwich = s;
    else
        rt_sandwich_free(s);
    return status;
}

/* Expected variance (in units of the error variance) and Satterthwaite df of the combination z. */
static void moments(struct rt_sandwich *s, const double *z, double *expected, double *df)
{
    size_t p = s->p;
    double fourth = 0;
    double own = 0;
    *expected = 0;
    memset(s->spread, 0, p * p * sizeof *s->spread);
    for (size_t c = 0; c < s->clusters; c++) {
        double d = 0;
        memset(s->w, 0, p * sizeof *s->w);
        for (size_t k = s->start[c]; k < s->start[c + 1]; k++) {
            const double *l = s->row + k * p;
            double along = s->weight[k] * dot(l, z, p);
            d += along * along;
            for (size_t j = 0; j < p; j++)
                s->w[j] += along * l[j];
        }
        double w2 = dot(s->w, s->w, p);
        *expected += d - w2;
        own += (d - w2) * (d - w2);
        fourth += w2 * w2;
        for (size_t j = 0; j < p; j++)
            for (size_t k = 0; k < p; k++)
                s->spread[j * p + k] += s->w[j] * s->w[k];
    }
    double shared = dot(s->spread, s->spread, p * p);
    *df = *expected * *expected / (shared - fourth + own);
}

static double variance_of(const struct rt_sandwich *s, const double *z)
{
    double variance = 0;
    for (size_t j = 0; j < s->p; j++)
        variance += z[j] * dot(s->meat + j * s->p, z, s->p);
    return fmax(0, variance);
}

/* Squares of a combination in extreme units must stay in range; returns the power of two taken out. */
static int scale_combination(struct rt_sandwich *s, const double *z)
{
    double largest = 0;
    for (size_t j = 0; j < s->p; j++)
        largest = fmax(largest, fabs(z[j]));
    int exponent = 0;
    if (largest > 0)
        frexp(largest, &exponent);
    for (size_t j = 0; j < s->p; j++)
        s->z[j] = ldexp(z[j], -exponent);
    return exponent;
}

void rt_sandwich_infer(struct rt_sandwich *sandwich, const double *z, double null,
                       struct rt_estimate *estimate)
{
    double value = estimate->value;
    *estimate = rt_undefined(NULL);
    estimate->value = value;
    if (sandwich->clusters < 2) {
        estimate->reason = one_cluster;
        return;
    }
    int exponent = scale_combination(sandwich, z);
    double length = dot(sandwich->z, sandwich->z, sandwich->p);
    double expected = NAN;
    double df = NAN;
    moments(sandwich, sandwich->z, &expected, &df);
    /* CR2 is unbiased under the working model, so its expectation is |z|^2 unless a direction was dropped. */
    if (!(expected > (1 - 1e-6) * length)) {
        estimate->reason = decided_by_one;
        return;
    }
    double variance = variance_of(sandwich, sandwich->z);
    if (!(variance > 1e-24 * length * sandwich->mean_square)) {
        estimate->reason = no_spread;
        return;
    }
    estimate->standard_error = ldexp(sqrt(variance), exponent);
    estimate->df = df;
    rt_student_inference(estimate, null);
}

size_t rt_sandwich_clusters(const struct rt_sandwich *sandwich)
{
    return sandwich->clusters;
}

void rt_sandwich_free(struct rt_sandwich *sandwich)
{
    if (sandwich == NULL)
        return;
    free(sandwich->start);
    free(sandwich->row);
    free(sandwich->weight);
    free(sandwich->meat);
    free(sandwich->spread);
    free(sandwich->w);
    free(sandwich->z);
    free(sandwich);
}
