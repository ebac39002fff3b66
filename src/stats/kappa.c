#include "ridgetally/stats/kappa.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/jackknife.h"
#include "ridgetally/stats/order.h"

#include <math.h>
#include <stdlib.h>

static const char one_level[] = "both columns hold one and the same level throughout";

/* The cross table of counts with its margins. */
struct table {
    size_t levels;
    enum rt_kappa_weights weights;
    double n;
    double *cell;   /* levels x levels, row a, column b */
    double *row;    /* counts of a */
    double *column; /* counts of b */
};

static double weight(const struct table *table, size_t i, size_t j)
{
    double apart = i > j ? (double)(i - j) : (double)(j - i);
    double widest = (double)table->levels - 1;
    switch (table->weights) {
    case RT_KAPPA_LINEAR:
        return widest > 0 ? 1 - apart / widest : 1;
    case RT_KAPPA_QUADRATIC:
        return widest > 0 ? 1 - apart * apart / (widest * widest) : 1;
    case RT_KAPPA_UNWEIGHTED:
    default:
        return i == j ? 1 : 0;
    }
}

static void count_row(struct table *table, size_t a, size_t b, double times)
{
    table->n += times;
    table->cell[a * table->levels + b] += times;
    table->row[a] += times;
    table->column[b] += times;
}

/* Kappa from disagreement weights 1 - w: 1 - (observed disagreement)/(expected disagreement), without
 * cancellation. NaN when no disagreement can be expected. */
static double kappa_of(const struct table *table, double *observed, double *expected)
{
    double apart = 0;
    double by_chance = 0;
    for (size_t i = 0; i < table->levels; i++) {
        for (size_t j = 0; j < table->levels; j++) {
            double missed = 1 - weight(table, i, j);
            apart += missed * table->cell[i * table->levels + j];
            by_chance += missed * table->row[i] * table->column[j];
        }
    }
    apart /= table->n;
    by_chance /= table->n * table->n;
    if (observed != NULL) {
        *observed = 1 - apart;
        *expected = 1 - by_chance;
    }
    return table->n > 0 && by_chance > 0 ? 1 - apart / by_chance : NAN;
}

/* Variance of kappa: Fleiss, Cohen & Everitt (1969), eq. 8 (value = kappa) and eq. 9 (cells as expected at
 * kappa = 0). */
static double variance(const struct table *table, double kappa, double expected, bool null)
{
    double sum = 0;
    for (size_t i = 0; i < table->levels; i++) {
        for (size_t j = 0; j < table->levels; j++) {
            double row_mean = 0;    /* mean weight of row i over the columns' margin */
            double column_mean = 0; /* mean weight of column j over the rows' margin */
            for (size_t k = 0; k < table->levels; k++) {
                row_mean += weight(table, i, k) * table->column[k] / table->n;
                column_mean += weight(table, k, j) * table->row[k] / table->n;
            }
            double share = null ? table->row[i] * table->column[j] / (table->n * table->n)
                                : table->cell[i * table->levels + j] / table->n;
            double rest = 1 - (null ? 0 : kappa);
            double part = weight(table, i, j) - (row_mean + column_mean) * rest;
            sum += share * part * part;
        }
    }
    double rest = 1 - (null ? 0 : kappa);
    double centre = (null ? 0 : kappa) - expected * rest;
    double numerator = sum - centre * centre;
    if (numerator < 1e-14 * sum) /* rounding of an exact 0 */
        numerator = 0;
    return numerator / (table->n * (1 - expected) * (1 - expected));
}

static void large_sample(const struct table *table, struct rt_kappa *result)
{
    struct rt_estimate *kappa = &result->kappa;
    kappa->df = INFINITY;
    kappa->standard_error = sqrt(variance(table, kappa->value, result->expected, false));
    kappa->lower = fmax(-1, kappa->value - RT_Z_95 * kappa->standard_error);
    kappa->upper = fmin(1, kappa->value + RT_Z_95 * kappa->standard_error);
    double null = variance(table, kappa->value, result->expected, true);
    result->null_error = sqrt(null);
    if (null > 0) {
        kappa->statistic = kappa->value / sqrt(null);
        kappa->p = rt_t_p(kappa->statistic, INFINITY);
    } else {
        kappa->reason = "one of the two columns holds a single level, so kappa 0 cannot be tested";
    }
    if (kappa->standard_error == 0) {
        kappa->lower = kappa->upper = NAN;
        kappa->reason = kappa->value == 1 ? "complete agreement: the large-sample error is zero"
                                          : "one of the two columns holds a single level: the error is zero";
    }
}

static enum rt_status by_jackknife(struct table *table, const size_t *a, const size_t *b, size_t n,
                                   const struct rt_clusters *clusters, struct rt_estimate *kappa,
                                   struct rt_error *error)
{
    struct rt_cluster_rows rows = {0};
    enum rt_status status = rt_gather_clusters(clusters, n, &rows, error);
    double *replicates = rt_new_array(rows.count, sizeof *replicates);
    if (status == RT_OK && replicates == NULL)
        status = rt_fail_memory(error);
    for (size_t c = 0; status == RT_OK && c < rows.count; c++) {
        for (size_t k = rows.start[c]; k < rows.start[c + 1]; k++)
            count_row(table, a[rows.row[k]], b[rows.row[k]], -1);
        replicates[c] = kappa_of(table, NULL, NULL);
        for (size_t k = rows.start[c]; k < rows.start[c + 1]; k++)
            count_row(table, a[rows.row[k]], b[rows.row[k]], 1);
    }
    if (status == RT_OK)
        *kappa = rt_jackknife_bounded(kappa->value, replicates, rows.count);
    free(replicates);
    rt_cluster_rows_release(&rows);
    return status;
}

enum rt_status rt_kappa(const size_t *a, const size_t *b, size_t n, size_t levels,
                        enum rt_kappa_weights weights, const struct rt_clusters *clusters,
                        struct rt_kappa *result, struct rt_error *error)
{
    *result = (struct rt_kappa){
        .n = n, .observed = NAN, .expected = NAN, .null_error = NAN, .kappa = rt_undefined("no rows")};
    for (size_t i = 0; i < n; i++)
        if (a[i] >= levels || b[i] >= levels)
            return rt_fail(error, RT_USE, "a level code is not below the number of levels");
    if (n == 0)
        return RT_OK;
    struct table table = {.levels = levels,
                          .weights = weights,
                          .cell = rt_new_array(levels * levels, sizeof *table.cell),
                          .row = rt_new_array(levels, sizeof *table.row),
                          .column = rt_new_array(levels, sizeof *table.column)};
    enum rt_status status = RT_OK;
    if (table.cell == NULL || table.row == NULL || table.column == NULL) {
        status = rt_fail_memory(error);
    } else {
        for (size_t i = 0; i < n; i++)
            count_row(&table, a[i], b[i], 1);
        result->kappa.value = kappa_of(&table, &result->observed, &result->expected);
        result->kappa.reason = isnan(result->kappa.value) ? one_level : NULL;
        if (result->kappa.reason == NULL && rt_has_clusters(clusters))
            status = by_jackknife(&table, a, b, n, clusters, &result->kappa, error);
        else if (result->kappa.reason == NULL)
            large_sample(&table, result);
    }
    free(table.cell);
    free(table.row);
    free(table.column);
    return status;
}
