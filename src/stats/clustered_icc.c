#include "ridgetally/stats/clustered_icc.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/jackknife.h"
#include "ridgetally/stats/moments.h"
#include "ridgetally/stats/order.h"

#include <math.h>
#include <stdlib.h>

static const char few_subjects[] = "needs at least two subjects";
static const char read_once[] = "no subject was read twice";
static const char no_spread[] = "all readings are equal";

/* Sums over subjects that add up over clusters, of values from which the grand mean has been taken. */
struct sums {
    double readings, subjects, size_squares; /* n, subjects, sum of m^2 */
    double total, totals;                    /* sum of values; sum of (subject's total)^2/m */
    double within;                           /* squares about the subjects' means */
    double difference, differences;          /* of two readers: sum of d and of d^2 */
};

static void add_sums(struct sums *sums, const struct sums *part, double sign)
{
    sums->readings += sign * part->readings;
    sums->subjects += sign * part->subjects;
    sums->size_squares += sign * part->size_squares;
    sums->total += sign * part->total;
    sums->totals += sign * part->totals;
    sums->within += sign * part->within;
    sums->difference += sign * part->difference;
    sums->differences += sign * part->differences;
}

static double mean_square_between(const struct sums *s)
{
    return fmax(0.0, s->totals - s->total * s->total / s->readings) / (s->subjects - 1.0);
}

typedef double correlation(const struct sums *sums, const char **reason);

static double one_way(const struct sums *s, const char **reason)
{
    double df = s->readings - s->subjects;
    *reason = s->subjects < 2.0 ? few_subjects : df < 1.0 ? read_once : NULL;
    if (*reason != NULL)
        return NAN;
    double k = (s->readings - s->size_squares / s->readings) / (s->subjects - 1.0);
    double between = mean_square_between(s), within = fmax(0.0, s->within) / df;
    double all = between + (k - 1.0) * within;
    *reason = all > 0.0 ? NULL : no_spread;
    return all > 0.0 ? (between - within) / all : NAN;
}

static double two_readers(const struct sums *s, const char **reason)
{
    *reason = s->subjects < 2.0 ? few_subjects : NULL;
    if (*reason != NULL)
        return NAN;
    double n = s->subjects, of_readers = s->difference * s->difference / n;
    double between = mean_square_between(s), readers = of_readers / 2.0;
    double error = fmax(0.0, s->differences - of_readers) / 2.0 / (n - 1.0);
    double all = between + error + 2.0 * (readers - error) / n;
    *reason = all > 0.0 ? NULL : no_spread;
    return all > 0.0 ? (between - error) / all : NAN;
}

/* The correlation of all clusters, and its jackknife over them. */
static enum rt_status join_clusters(const struct sums *of, size_t count, correlation *correlate,
                                    struct rt_estimate *icc, struct rt_error *error)
{
    struct sums all = {.readings = 0.0};
    const char *reason = NULL;
    double *left_out = rt_new_array(count + 1, sizeof *left_out);
    if (left_out == NULL)
        return rt_fail_memory(error);
    for (size_t c = 0; c < count; c++)
        add_sums(&all, &of[c], 1.0);
    double value = correlate(&all, &reason);
    *icc = rt_undefined(reason);
    if (reason == NULL) {
        for (size_t c = 0; c < count; c++) {
            struct sums rest = all;
            add_sums(&rest, &of[c], -1.0);
            left_out[c] = correlate(&rest, &reason);
        }
        *icc = rt_jackknife_bounded(value, left_out, count);
    }
    free(left_out);
    return RT_OK;
}

static struct sums sums_of_subject(const double *value, const size_t *row, size_t size, double grand)
{
    struct rt_moments own = rt_moments_of(value, row, size);
    double total = own.n * (own.mean - grand);
    return (struct sums){.readings = own.n,
                         .subjects = 1.0,
                         .size_squares = own.n * own.n,
                         .total = total,
                         .totals = total * total / own.n,
                         .within = own.squares};
}

enum rt_status rt_clustered_icc(const size_t *subject, size_t subjects, const double *value, size_t n,
                                const struct rt_clusters *clusters, struct rt_estimate *icc,
                                struct rt_error *error)
{
    struct rt_cluster_rows by_subject = {0}, by_cluster = {0};
    const struct rt_clusters of_subject = {subject, subjects};
    bool nested = true;
    *icc = rt_undefined(few_subjects);
    enum rt_status status = rt_gather_clusters(&of_subject, n, &by_subject, error);
    if (status == RT_OK)
        status =
            rt_gather_clusters(rt_has_clusters(clusters) ? clusters : &of_subject, n, &by_cluster, error);
    struct sums *of = rt_new_array(by_cluster.count + 1, sizeof *of);
    if (status == RT_OK && of == NULL)
        status = rt_fail_memory(error);
    if (status == RT_OK && n > 0) {
        double grand = rt_moments_of(value, NULL, n).mean;
        for (size_t s = 0; s < by_subject.count; s++) {
            const size_t *row = by_subject.row + by_subject.start[s];
            size_t size = by_subject.start[s + 1] - by_subject.start[s];
            struct sums one = sums_of_subject(value, row, size, grand);
            for (size_t k = 1; k < size; k++)
                nested = nested && by_cluster.of[row[k]] == by_cluster.of[row[0]];
            add_sums(&of[by_cluster.of[row[0]]], &one, 1.0);
        }
        status = nested ? join_clusters(of, by_cluster.count, one_way, icc, error)
                        : rt_fail(error, RT_USE, "the readings of one subject belong to two clusters");
    }
    free(of);
    rt_cluster_rows_release(&by_subject);
    rt_cluster_rows_release(&by_cluster);
    return status;
}

enum rt_status rt_two_reader_icc(const double *a, const double *b, size_t n,
                                 const struct rt_clusters *clusters, struct rt_estimate *icc,
                                 struct rt_error *error)
{
    struct rt_cluster_rows by_cluster = {0};
    *icc = rt_undefined(few_subjects);
    enum rt_status status = rt_gather_clusters(clusters, n, &by_cluster, error);
    struct sums *of = rt_new_array(by_cluster.count + 1, sizeof *of);
    if (status == RT_OK && of == NULL)
        status = rt_fail_memory(error);
    if (status == RT_OK && n > 0) {
        double grand = (rt_moments_of(a, NULL, n).mean + rt_moments_of(b, NULL, n).mean) / 2.0;
        for (size_t i = 0; i < n; i++) {
            double total = (a[i] - grand) + (b[i] - grand), d = b[i] - a[i];
            struct sums one = {.readings = 2.0,
                               .subjects = 1.0,
                               .size_squares = 4.0,
                               .total = total,
                               .totals = total * total / 2.0,
                               .difference = d,
                               .differences = d * d};
            add_sums(&of[by_cluster.of[i]], &one, 1.0);
        }
        status = join_clusters(of, by_cluster.count, two_readers, icc, error);
    }
    free(of);
    rt_cluster_rows_release(&by_cluster);
    return status;
}
