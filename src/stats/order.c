#include "ridgetally/stats/order.h"

#include "sort_key.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { FEW_VALUES = 256 };

enum rt_status rt_sort_order(const double *values, size_t n, size_t *order, struct rt_error *error)
{
    struct rt_sort_key *keys = rt_new_array(2 * n, sizeof *keys);
    if (keys == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < n; i++)
        keys[i] = (struct rt_sort_key){rt_sort_bits(values[i]), i};
    rt_sort_keys(keys, keys + n, n);
    for (size_t i = 0; i < n; i++)
        order[i] = keys[i].item;
    free(keys);
    return RT_OK;
}

static int compare_values(const void *a, const void *b)
{
    double left = *(const double *)a;
    double right = *(const double *)b;
    return left < right ? -1 : left > right;
}

void rt_sort_values(double *values, size_t n)
{
    struct rt_sort_key *keys = n > FEW_VALUES ? rt_new_array(2 * n, sizeof *keys) : NULL;
    if (keys == NULL) { /* few, or no memory to do it faster */
        if (n > 1)
            qsort(values, n, sizeof *values, compare_values);
        return;
    }
    for (size_t i = 0; i < n; i++)
        keys[i] = (struct rt_sort_key){rt_sort_bits(values[i]), i};
    rt_sort_keys(keys, keys + n, n);
    for (size_t i = 0; i < n; i++)
        values[i] = rt_sort_number(keys[i].bits);
    free(keys);
}

enum rt_status rt_sorted_copy(const double *values, size_t n, double **sorted, struct rt_error *error)
{
    *sorted = rt_new_array(n, sizeof **sorted);
    if (*sorted == NULL)
        return rt_fail_memory(error);
    if (n > 0)
        memcpy(*sorted, values, n * sizeof **sorted);
    rt_sort_values(*sorted, n);
    return RT_OK;
}

enum rt_status rt_mid_ranks(const double *values, size_t n, double *ranks, struct rt_error *error)
{
    size_t *order = rt_new_array(n, sizeof *order);
    if (order == NULL)
        return rt_fail_memory(error);
    enum rt_status status = rt_sort_order(values, n, order, error);
    for (size_t first = 0, next; status == RT_OK && first < n; first = next) {
        for (next = first + 1; next < n && values[order[next]] == values[order[first]]; next++)
            ;
        for (size_t k = first; k < next; k++)
            ranks[order[k]] = ((double)first + (double)next + 1) / 2;
    }
    free(order);
    return status;
}

enum rt_status rt_dense_ranks(const double *values, size_t n, size_t *code, size_t *count,
                              struct rt_error *error)
{
    *count = 0;
    size_t *order = rt_new_array(n, sizeof *order);
    if (order == NULL)
        return rt_fail_memory(error);
    enum rt_status status = rt_sort_order(values, n, order, error);
    for (size_t k = 0; status == RT_OK && k < n; k++) {
        if (k == 0 || values[order[k]] != values[order[k - 1]])
            ++*count;
        code[order[k]] = *count - 1;
    }
    free(order);
    return status;
}

double rt_quantile_sorted(const double *sorted, size_t n, double p, enum rt_quantile_rule rule)
{
    if (n == 0 || !(p >= 0 && p <= 1))
        return NAN;
    double place = rule == RT_QUANTILE_TYPE_6 ? p * ((double)n + 1) - 1 : p * ((double)n - 1);
    /* A place within rounding of a whole number is that number, as in other implementations of these rules.
     */
    double fuzz = 4 * 2.2204460492503131e-16 * fmax(1, place);
    double whole = floor(place + fuzz);
    double part = place - whole;
    if (fabs(part) < fuzz)
        part = 0;
    if (whole < 0)
        return sorted[0];
    if (whole >= (double)n - 1)
        return sorted[n - 1];
    size_t k = (size_t)whole;
    if (part == 0 || sorted[k] == sorted[k + 1])
        return sorted[k];
    return (1 - part) * sorted[k] + part * sorted[k + 1];
}

bool rt_has_clusters(const struct rt_clusters *clusters)
{
    return clusters != NULL && clusters->of != NULL;
}

/* Number the used clusters 0, 1, ... in code order and say where each one's rows start. */
static void place_clusters(const struct rt_clusters *clusters, size_t n, size_t *size,
                           struct rt_cluster_rows *rows)
{
    for (size_t i = 0; i < n; i++)
        size[clusters->of[i]]++;
    for (size_t c = 0; c < clusters->count; c++) {
        if (size[c] == 0)
            continue;
        rows->start[rows->count + 1] = rows->start[rows->count] + size[c];
        size[c] = rows->count++; /* from now on: the compacted number */
    }
    for (size_t i = 0; i < n; i++)
        rows->of[i] = size[clusters->of[i]];
}

static void fill_rows(size_t n, size_t *next, struct rt_cluster_rows *rows)
{
    memcpy(next, rows->start, rows->count * sizeof *next);
    for (size_t i = 0; i < n; i++)
        rows->row[next[rows->of[i]]++] = i;
}

enum rt_status rt_gather_clusters(const struct rt_clusters *clusters, size_t n, struct rt_cluster_rows *rows,
                                  struct rt_error *error)
{
    *rows = (struct rt_cluster_rows){0};
    bool given = rt_has_clusters(clusters);
    if (given)
        for (size_t i = 0; i < n; i++)
            if (clusters->of[i] >= clusters->count)
                return rt_fail(error, RT_USE, "a cluster code is not below the number of clusters");
    size_t count = given ? clusters->count : n;
    size_t *scratch = rt_new_array(count > n ? count : n, sizeof *scratch);
    rows->start = rt_new_array(n + 1, sizeof *rows->start);
    rows->row = rt_new_array(n, sizeof *rows->row);
    rows->of = rt_new_array(n, sizeof *rows->of);
    enum rt_status status = RT_OK;
    if (scratch == NULL || rows->start == NULL || rows->row == NULL || rows->of == NULL) {
        rt_cluster_rows_release(rows);
        status = rt_fail_memory(error);
    } else if (given) {
        place_clusters(clusters, n, scratch, rows);
        fill_rows(n, scratch, rows);
    } else {
        rows->count = n;
        for (size_t i = 0; i < n; i++)
            rows->start[i + 1] = (rows->row[i] = rows->of[i] = i) + 1;
    }
    free(scratch);
    return status;
}

void rt_cluster_rows_release(struct rt_cluster_rows *rows)
{
    free(rows->start);
    free(rows->row);
    free(rows->of);
    *rows = (struct rt_cluster_rows){0};
}
