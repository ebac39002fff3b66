#include "mixed_private.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/order.h"

#include <gsl/gsl_linalg.h>
#include <gsl/gsl_math.h>
#include <math.h>
#include <string.h>

/* --- the data ------------------------------------------------------------------------------------------ */

/* Scratch to gather the rows of one unit. */
struct gatherer {
    struct rt_mixed_data *data;
    const double *q, *residual;
};

static double column_of(const struct gatherer *g, size_t row, size_t column)
{
    return column < g->data->rank ? g->q[row * g->data->rank + column] : g->residual[row];
}

static void add_unit(struct gatherer *g, const size_t *row, size_t count, double *centred)
{
    struct rt_mixed_data *data = g->data;
    double *mean = data->mean + data->units * data->k;
    for (size_t c = 0; c < data->k; c++) {
        for (size_t i = 0; i < count; i++)
            mean[c] += column_of(g, row[i], c);
        mean[c] /= (double)count;
    }
    for (size_t i = 0; i < count && count > 1; i++) {
        for (size_t c = 0; c < data->k; c++)
            centred[c] = column_of(g, row[i], c) - mean[c];
        for (size_t c = 0; c < data->k; c++)
            for (size_t d = 0; d < data->k; d++)
                data->within[c * data->k + d] += centred[c] * centred[d];
    }
    data->size[data->units++] = (double)count;
}

/* Order the rows by cluster and, inside, by unit: two stable counting sorts. */
static enum rt_status unit_rows(const struct rt_clusters *units, const struct rt_cluster_rows *clusters,
                                size_t n, size_t **rows, size_t **unit_of, struct rt_error *error)
{
    struct rt_cluster_rows by_unit = {0};
    size_t *next = rt_new_array(clusters->count, sizeof *next);
    *rows = rt_new_array(n, sizeof **rows);
    *unit_of = rt_new_array(n, sizeof **unit_of);
    enum rt_status status = next == NULL || *rows == NULL || *unit_of == NULL ? rt_fail_memory(error) : RT_OK;
    if (status == RT_OK)
        status = rt_gather_clusters(units, n, &by_unit, error);
    if (status == RT_OK) {
        memcpy(next, clusters->start, clusters->count * sizeof *next);
        for (size_t i = 0; i < n; i++) {
            size_t row = by_unit.row[i];
            (*rows)[next[clusters->of[row]]++] = row;
        }
        memcpy(*unit_of, by_unit.of, n * sizeof **unit_of);
    }
    rt_cluster_rows_release(&by_unit);
    free(next);
    return status;
}

static void add_cluster(struct gatherer *g, const size_t *row, size_t count, const size_t *unit_of,
                        double *centred)
{
    size_t start = 0;
    for (size_t i = 1; i <= count; i++) {
        if (i < count && (unit_of == NULL || unit_of[row[i]] == unit_of[row[start]]))
            continue;
        add_unit(g, row + start, i - start, centred);
        start = i;
    }
    g->data->cluster_squares += (double)count * (double)count;
}

/* Number the sizes that occur: place[m] becomes the number of size m, plus 1. */
static size_t number_sizes(const struct rt_mixed_data *data, size_t *place)
{
    size_t sizes = 0;
    for (size_t u = 0; u < data->units; u++)
        if (place[(size_t)data->size[u]] == 0)
            place[(size_t)data->size[u]] = ++sizes;
    return sizes;
}

/* matrix += factor u v' */
static void add_outer(double *matrix, size_t k, double factor, const double *u, const double *v)
{
    for (size_t c = 0; c < k; c++) {
        double f = factor * u[c];
        for (size_t d = 0; d < k; d++)
            matrix[c * k + d] += f * v[d];
    }
}

static enum rt_status pool_sizes(struct rt_mixed_data *data, struct rt_error *error)
{
    size_t k = data->k;
    size_t *place = rt_new_array(data->n + 1, sizeof *place);
    if (place == NULL)
        return rt_fail_memory(error);
    data->sizes = number_sizes(data, place);
    data->size_rows = rt_new_array(data->sizes, sizeof *data->size_rows);
    data->size_clusters = rt_new_array(data->sizes, sizeof *data->size_clusters);
    data->size_products = rt_new_array(data->sizes, k * k * sizeof *data->size_products);
    bool complete = data->size_rows != NULL && data->size_clusters != NULL && data->size_products != NULL;
    for (size_t u = 0; complete && u < data->units; u++) {
        size_t s = place[(size_t)data->size[u]] - 1;
        data->size_rows[s] = data->size[u];
        data->size_clusters[s]++;
        add_outer(data->size_products + s * k * k, k, 1, data->mean + u * k, data->mean + u * k);
    }
    free(place);
    return complete ? RT_OK : rt_fail_memory(error);
}

enum rt_status rt_mixed_data_build(struct rt_mixed_data *data, const double *q, const double *residual,
                                   size_t n, size_t rank, const struct rt_clusters *clusters,
                                   const struct rt_clusters *units, struct rt_error *error)
{
    *data = (struct rt_mixed_data){.n = n, .rank = rank, .k = rank + 1, .two_level = units != NULL};
    struct gatherer g = {data, q, residual};
    struct rt_cluster_rows rows = {0};
    size_t *sorted = NULL;
    size_t *unit_of = NULL;
    double *centred = rt_new_array(data->k, sizeof *centred);
    enum rt_status status = rt_gather_clusters(clusters, n, &rows, error);
    if (status == RT_OK && units != NULL)
        status = unit_rows(units, &rows, n, &sorted, &unit_of, error);
    if (status == RT_OK) {
        data->first_unit = rt_new_array(rows.count + 1, sizeof *data->first_unit);
        data->size = rt_new_array(n, sizeof *data->size);
        data->mean = rt_new_array(n * data->k, sizeof *data->mean);
        data->within = rt_new_array(data->k * data->k, sizeof *data->within);
        if (centred == NULL || data->first_unit == NULL || data->size == NULL || data->mean == NULL ||
            data->within == NULL)
            status = rt_fail_memory(error);
    }
    for (size_t c = 0; status == RT_OK && c < rows.count; c++) {
        const size_t *row = (units != NULL ? sorted : rows.row) + rows.start[c];
        add_cluster(&g, row, rows.start[c + 1] - rows.start[c], unit_of, centred);
        data->first_unit[++data->clusters] = data->units;
    }
    if (status == RT_OK && units == NULL)
        status = pool_sizes(data, error);
    free(centred);
    free(sorted);
    free(unit_of);
    rt_cluster_rows_release(&rows);
    if (status != RT_OK)
        rt_mixed_data_release(data);
    return status;
}

void rt_mixed_data_release(struct rt_mixed_data *data)
{
    free(data->first_unit);
    free(data->size);
    free(data->mean);
    free(data->within);
    free(data->size_rows);
    free(data->size_clusters);
    free(data->size_products);
    *data = (struct rt_mixed_data){0};
}

/* --- the point ----------------------------------------------------------------------------------------- */

struct rt_mixed_point *rt_mixed_point_new(size_t rank)
{
    size_t k = rank + 1;
    struct rt_mixed_point *point = rt_new_array(1, sizeof *point);
    if (point == NULL)
        return NULL;
    double *numbers = rt_new_array(6 * k * k + 3 * rank * rank + rank + 4 * k, sizeof *numbers);
    if (numbers == NULL) {
        free(point);
        return NULL;
    }
    point->rank = rank;
    point->k = k;
    point->a = numbers;
    point->slope[0] = numbers + k * k;
    point->slope[1] = numbers + 2 * k * k;
    for (size_t d = 0; d < 3; d++)
        point->curve[d] = numbers + (3 + d) * k * k;
    point->inverse = numbers + 6 * k * k;
    point->product[0] = point->inverse + rank * rank;
    point->product[1] = point->product[0] + rank * rank;
    point->shift = point->product[1] + rank * rank;
    point->scratch = point->shift + rank;
    return point;
}

void rt_mixed_point_free(struct rt_mixed_point *point)
{
    if (point != NULL)
        free(point->a);
    free(point);
}

/* --- sums over clusters -------------------------------------------------------------------------------- */

/* One cluster at hand: weights of its units w = m/(1 + m theta_2), their sum and weighted mean, and
 * c = 1/(1 + theta_1 sum). */
struct cluster_sums {
    double weight, c;
    double *mean;      /* k */
    double *deviation; /* k: unit mean less the weighted mean, or what the unit's derivative needs */
    double *first;     /* k: 1'V^-1 [Q r] of the cluster */
    double *weighted;  /* k: sum over units of w times 1'V^-1 [Q r] of the unit */
};

static double unit_weight(const struct rt_mixed_data *data, size_t unit, double theta)
{
    return data->size[unit] / (1 + data->size[unit] * theta);
}

/* The part of unit j in the derivatives by theta_2, and by both. */
static void add_unit_derivatives(struct rt_mixed_point *point, const struct cluster_sums *s, double w)
{
    size_t k = point->k;
    double *z = s->deviation; /* becomes 1'V^-1 [Q r] of the unit */
    for (size_t c = 0; c < k; c++)
        z[c] = w * (z[c] + s->c * s->mean[c]);
    double across = w * s->c;
    double own = w - point->theta[0] * s->c * w * w;
    add_outer(point->slope[1], k, -1, z, z);
    add_outer(point->curve[1], k, across, s->first, z);
    add_outer(point->curve[1], k, across, z, s->first);
    add_outer(point->curve[2], k, 2 * w, z, z);
    point->log_determinant_slope[1] += own;
    point->log_determinant_curve[0][1] -= across * across;
    point->log_determinant_curve[1][1] -= own * own;
    for (size_t c = 0; c < k; c++)
        s->weighted[c] += w * z[c];
}

static void add_cluster_derivatives(const struct rt_mixed_data *data, struct rt_mixed_point *point,
                                    const struct cluster_sums *s, size_t first, size_t end)
{
    size_t k = point->k;
    double sum = s->weight * s->c; /* 1'V^-1 1 */
    for (size_t c = 0; c < k; c++)
        s->first[c] = sum * s->mean[c];
    add_outer(point->slope[0], k, -1, s->first, s->first);
    add_outer(point->curve[0], k, 2 * sum, s->first, s->first);
    point->log_determinant_slope[0] += sum;
    point->log_determinant_curve[0][0] -= sum * sum;
    double squares = 0;
    double fourths = 0;
    memset(s->weighted, 0, k * sizeof *s->weighted);
    for (size_t j = first; j < end; j++) {
        double w = unit_weight(data, j, point->theta[1]);
        squares += w * w;
        fourths += w * w * w * w;
        for (size_t c = 0; c < k; c++)
            s->deviation[c] = data->mean[j * k + c] - s->mean[c];
        add_unit_derivatives(point, s, w);
    }
    double shared = point->theta[0] * s->c;
    add_outer(point->curve[2], k, -2 * shared, s->weighted, s->weighted);
    point->log_determinant_curve[1][1] -= shared * shared * fmax(0, squares * squares - fourths);
}

/* Add one cluster to A (and its derivatives); returns its part of log|V/s^2|. */
static double add_cluster_sums(const struct rt_mixed_data *data, struct rt_mixed_point *point, size_t cluster,
                               bool derivatives)
{
    size_t k = point->k;
    size_t first = data->first_unit[cluster];
    size_t end = data->first_unit[cluster + 1];
    struct cluster_sums s = {
        0, 0, point->scratch, point->scratch + k, point->scratch + 2 * k, point->scratch + 3 * k};
    double determinant = 0;
    memset(s.mean, 0, k * sizeof *s.mean);
    for (size_t j = first; j < end; j++) {
        double w = unit_weight(data, j, point->theta[1]);
        s.weight += w;
        determinant += log1p(data->size[j] * point->theta[1]);
        for (size_t c = 0; c < k; c++)
            s.mean[c] += w * data->mean[j * k + c];
    }
    for (size_t c = 0; c < k; c++)
        s.mean[c] /= s.weight;
    s.c = 1 / (1 + point->theta[0] * s.weight);
    for (size_t j = first; j < end && end - first > 1; j++) {
        for (size_t c = 0; c < k; c++)
            s.deviation[c] = data->mean[j * k + c] - s.mean[c];
        add_outer(point->a, k, unit_weight(data, j, point->theta[1]), s.deviation, s.deviation);
    }
    add_outer(point->a, k, s.weight * s.c, s.mean, s.mean);
    if (derivatives)
        add_cluster_derivatives(data, point, &s, first, end);
    return determinant + log1p(point->theta[0] * s.weight);
}

/* matrix += factor other */
static void add_matrix(double *matrix, size_t cells, double factor, const double *other)
{
    for (size_t c = 0; c < cells; c++)
        matrix[c] += factor * other[c];
}

/* The same for all clusters of one size in a model of one level, where 1'V^-1 1 = m / (1 + m theta). */
static double add_size_sums(const struct rt_mixed_data *data, struct rt_mixed_point *point, size_t size,
                            bool derivatives)
{
    size_t cells = point->k * point->k;
    double rows = data->size_rows[size];
    double clusters = data->size_clusters[size];
    const double *products = data->size_products + size * cells;
    double sum = rows / (1 + rows * point->theta[0]);
    add_matrix(point->a, cells, sum, products);
    if (derivatives) {
        add_matrix(point->slope[0], cells, -sum * sum, products);
        add_matrix(point->curve[0], cells, 2 * sum * sum * sum, products);
        point->log_determinant_slope[0] += clusters * sum;
        point->log_determinant_curve[0][0] -= clusters * sum * sum;
    }
    return clusters * log1p(rows * point->theta[0]);
}

/* --- from the sums to the deviance --------------------------------------------------------------------- */

static double trace_of_product(const double *a, const double *b, size_t rank)
{
    double trace = 0;
    for (size_t i = 0; i < rank; i++)
        for (size_t j = 0; j < rank; j++)
            trace += a[i * rank + j] * b[j * rank + i];
    return trace;
}

/* v'M v with v = (-shift, 1), and (unless out is NULL) the first rank members of M v. */
static double quadratic(const struct rt_mixed_point *point, const double *matrix, double *out)
{
    size_t k = point->k;
    double value = 0;
    for (size_t c = 0; c < k; c++) {
        double row = matrix[c * k + k - 1];
        for (size_t d = 0; d < point->rank; d++)
            row -= matrix[c * k + d] * point->shift[d];
        if (c < point->rank) {
            value -= point->shift[c] * row;
            if (out != NULL)
                out[c] = row;
        } else {
            value += row;
        }
    }
    return value;
}

/* A_qq^-1 and log|A_qq|, the shift and the RSS. */
static bool solve(struct rt_mixed_point *point, double *log_determinant)
{
    size_t rank = point->rank;
    *log_determinant = 0;
    for (size_t i = 0; i < rank; i++)
        for (size_t j = 0; j < rank; j++)
            point->inverse[i * rank + j] = point->a[i * point->k + j];
    if (rank > 0) {
        gsl_matrix_view view = gsl_matrix_view_array(point->inverse, rank, rank);
        if (gsl_linalg_cholesky_decomp1(&view.matrix) != 0)
            return false;
        for (size_t i = 0; i < rank; i++)
            *log_determinant += 2 * log(gsl_matrix_get(&view.matrix, i, i));
        if (gsl_linalg_cholesky_invert(&view.matrix) != 0)
            return false;
    }
    for (size_t i = 0; i < rank; i++) {
        point->shift[i] = 0;
        for (size_t j = 0; j < rank; j++)
            point->shift[i] += point->inverse[i * rank + j] * point->a[j * point->k + rank];
    }
    point->rss = quadratic(point, point->a, NULL);
    return isfinite(*log_determinant) && point->rss > 0;
}

static void differentiate_trace(struct rt_mixed_point *point, size_t levels)
{
    size_t rank = point->rank;
    for (size_t a = 0; a < levels; a++) {
        for (size_t i = 0; i < rank; i++)
            for (size_t j = 0; j < rank; j++) {
                double sum = 0;
                for (size_t l = 0; l < rank; l++)
                    sum += point->inverse[i * rank + l] * point->slope[a][l * point->k + j];
                point->product[a][i * rank + j] = sum;
            }
        point->trace_slope[a] = 0;
        for (size_t i = 0; i < rank; i++)
            point->trace_slope[a] += point->product[a][i * rank + i];
    }
    for (size_t a = 0; a < levels; a++)
        for (size_t b = a; b < levels; b++) {
            const double *curve = point->curve[a + b];
            double sum = -trace_of_product(point->product[a], point->product[b], rank);
            for (size_t i = 0; i < rank; i++)
                for (size_t j = 0; j < rank; j++)
                    sum += point->inverse[i * rank + j] * curve[j * point->k + i];
            point->trace_curve[a][b] = point->trace_curve[b][a] = sum;
        }
}

static void differentiate_rss(struct rt_mixed_point *point, size_t levels)
{
    size_t rank = point->rank;
    double *w[2] = {point->scratch, point->scratch + point->k};
    for (size_t a = 0; a < levels; a++)
        point->rss_slope[a] = quadratic(point, point->slope[a], w[a]);
    for (size_t a = 0; a < levels; a++)
        for (size_t b = a; b < levels; b++) {
            double moved = 0;
            for (size_t i = 0; i < rank; i++)
                for (size_t j = 0; j < rank; j++)
                    moved += w[a][i] * point->inverse[i * rank + j] * w[b][j];
            point->rss_curve[a][b] = point->rss_curve[b][a] =
                quadratic(point, point->curve[a + b], NULL) - 2 * moved;
        }
}

static void assemble(struct rt_mixed_point *point, size_t levels, double df)
{
    for (size_t a = 0; a < levels; a++) {
        point->gradient[a] =
            point->log_determinant_slope[a] + point->trace_slope[a] + df * point->rss_slope[a] / point->rss;
        for (size_t b = 0; b < levels; b++)
            point->hessian[a][b] =
                point->log_determinant_curve[a][b] + point->trace_curve[a][b] +
                df * (point->rss_curve[a][b] / point->rss -
                      point->rss_slope[a] * point->rss_slope[b] / (point->rss * point->rss));
    }
}

bool rt_mixed_evaluate(const struct rt_mixed_data *data, struct rt_mixed_point *point, bool derivatives)
{
    size_t cells = point->k * point->k;
    memcpy(point->a, data->within, cells * sizeof *point->a);
    if (derivatives) {
        memset(point->slope[0], 0, 5 * cells * sizeof *point->a); /* slopes and curves lie side by side */
        memset(point->log_determinant_slope, 0, sizeof point->log_determinant_slope);
        memset(point->log_determinant_curve, 0, sizeof point->log_determinant_curve);
    }
    double determinant = 0;
    for (size_t c = 0; data->two_level && c < data->clusters; c++)
        determinant += add_cluster_sums(data, point, c, derivatives);
    for (size_t s = 0; s < data->sizes; s++)
        determinant += add_size_sums(data, point, s, derivatives);
    point->log_determinant_curve[1][0] = point->log_determinant_curve[0][1];
    double information = 0;
    if (!solve(point, &information))
        return false;
    double df = (double)(data->n - data->rank);
    point->deviance = determinant + information + df * (1 + log(2 * M_PI * point->rss / df));
    if (derivatives) {
        size_t levels = data->two_level ? 2 : 1;
        differentiate_trace(point, levels);
        differentiate_rss(point, levels);
        assemble(point, levels, df);
    }
    return isfinite(point->deviance);
}
