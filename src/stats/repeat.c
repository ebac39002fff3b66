#include "ridgetally/stats/repeat.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/jackknife.h"
#include "ridgetally/stats/moments.h"
#include "ridgetally/stats/order.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdlib.h>

static const char few_subjects[] = "needs at least two subjects";
static const char read_once[] = "no subject was read twice";
static const char not_complete[] = "not every reader read every subject exactly once";
static const char one_reader[] = "needs at least two readers";
static const char no_spread[] = "all readings are equal";
static const char no_error[] =
    "the readings of each subject agree completely, so there is no error to give limits by";

/* Mean squares: between subjects, within them, between readers, error. */
struct squares {
    double n;   /* subjects */
    double k;   /* readings per subject */
    double bms; /* between subjects */
    double wms; /* within subjects, df within_df */
    double within_df;
    double jms;             /* between readers */
    double ems;             /* left after subjects and readers */
    const char *no_one_way; /* why the first two are not there; NULL */
    const char *no_two_way; /* why the last two are not there; NULL */
};

/* --- mean squares -------------------------------------------------------------------------------------- */

static void one_way(const double *value, const struct rt_cluster_rows *subjects, size_t n,
                    struct squares *squares)
{
    double grand = rt_moments_of(value, NULL, n).mean;
    double between = 0;
    double within = 0;
    double size_squares = 0;
    for (size_t s = 0; s < subjects->count; s++) {
        const size_t *row = subjects->row + subjects->start[s];
        struct rt_moments own = rt_moments_of(value, row, subjects->start[s + 1] - subjects->start[s]);
        between += own.n * (own.mean - grand) * (own.mean - grand);
        within += own.squares;
        size_squares += own.n * own.n;
    }
    squares->n = (double)subjects->count;
    squares->within_df = (double)n - squares->n;
    squares->k = ((double)n - size_squares / (double)n) / (squares->n - 1);
    squares->bms = between / (squares->n - 1);
    squares->wms = within / squares->within_df;
    if (subjects->count < 2)
        squares->no_one_way = few_subjects;
    else if (squares->within_df == 0)
        squares->no_one_way = read_once;
}

/* Is there exactly one reading in every cell of subjects x readers? */
static bool is_complete(const struct rt_cluster_rows *subjects, const struct rt_cluster_rows *readers,
                        size_t n)
{
    if (subjects->count * readers->count != n)
        return false;
    for (size_t s = 0; s < subjects->count; s++) {
        if (subjects->start[s + 1] - subjects->start[s] != readers->count)
            return false;
        size_t base = subjects->start[s];
        for (size_t a = base; a < subjects->start[s + 1]; a++)
            for (size_t b = base; b < a; b++)
                if (readers->of[subjects->row[a]] == readers->of[subjects->row[b]])
                    return false;
    }
    return true;
}

static enum rt_status two_way(const double *value, const struct rt_cluster_rows *subjects,
                              const struct rt_cluster_rows *readers, size_t n, struct squares *squares,
                              struct rt_error *error)
{
    if (readers->count < 2)
        squares->no_two_way = one_reader;
    else if (subjects->count < 2)
        squares->no_two_way = few_subjects;
    else if (!is_complete(subjects, readers, n))
        squares->no_two_way = not_complete;
    if (squares->no_two_way != NULL)
        return RT_OK;
    double *subject_mean = rt_new_array(subjects->count, sizeof *subject_mean);
    double *reader_mean = rt_new_array(readers->count, sizeof *reader_mean);
    if (subject_mean == NULL || reader_mean == NULL) {
        free(subject_mean);
        free(reader_mean);
        return rt_fail_memory(error);
    }
    double grand = rt_moments_of(value, NULL, n).mean;
    double between_readers = 0;
    double left = 0;
    for (size_t s = 0; s < subjects->count; s++)
        subject_mean[s] = rt_moments_of(value, subjects->row + subjects->start[s],
                                        subjects->start[s + 1] - subjects->start[s])
                              .mean;
    for (size_t j = 0; j < readers->count; j++) {
        reader_mean[j] =
            rt_moments_of(value, readers->row + readers->start[j], readers->start[j + 1] - readers->start[j])
                .mean;
        between_readers += (reader_mean[j] - grand) * (reader_mean[j] - grand);
    }
    for (size_t i = 0; i < n; i++) {
        double rest = (value[i] - subject_mean[subjects->of[i]]) - (reader_mean[readers->of[i]] - grand);
        left += rest * rest;
    }
    double k = (double)readers->count;
    squares->jms = squares->n * between_readers / (k - 1);
    squares->ems = left / ((squares->n - 1) * (k - 1));
    free(subject_mean);
    free(reader_mean);
    return RT_OK;
}

/* --- correlations -------------------------------------------------------------------------------------- */

static struct rt_estimate icc(double value, double lower, double upper)
{
    struct rt_estimate estimate = rt_undefined(NULL);
    estimate.value = value;
    estimate.lower = lower;
    estimate.upper = upper;
    if (isnan(value))
        estimate.reason = no_spread;
    else if (isnan(lower) || isnan(upper))
        estimate.reason = no_error;
    return estimate;
}

/* A mean of k readings from a single one. Spearman (1910) and Brown (1910), Br. J. Psychol. 3. */
static double spearman_brown(double single, double k)
{
    return k * single / (1 + (k - 1) * single);
}

/* Single and mean forms of a model whose only error is `error` on df2 df: models 1 and 3. */
static void plain_forms(const struct squares *q, double error, double df2, struct rt_estimate *single,
                        struct rt_estimate *mean)
{
    double f = error > 0 ? q->bms / error : NAN;
    double low = f / gsl_cdf_fdist_Qinv(0.025, q->n - 1, df2);
    double high = f * gsl_cdf_fdist_Qinv(0.025, df2, q->n - 1);
    double k = q->k;
    *single = icc((q->bms - error) / (q->bms + (k - 1) * error), (low - 1) / (low + k - 1),
                  (high - 1) / (high + k - 1));
    *mean = icc((q->bms - error) / q->bms, 1 - 1 / low, 1 - 1 / high);
    if (q->bms == 0 && error > 0) {
        mean->value = mean->lower = mean->upper = NAN;
        mean->reason = "the subjects' means are equal";
    }
}

static void second_model(const struct squares *q, struct rt_estimate *single, struct rt_estimate *mean)
{
    double n = q->n;
    double k = q->k;
    double i = (q->bms - q->ems) / (q->bms + (k - 1) * q->ems + k * (q->jms - q->ems) / n);
    double f = q->jms / q->ems;
    double part = n * (1 + (k - 1) * i) - k * i;
    double df = (k - 1) * (n - 1) * (k * i * f + part) * (k * i * f + part) /
                ((n - 1) * k * k * i * i * f * f + part * part);
    double lower = NAN;
    double upper = NAN;
    if (df > 0 && isfinite(df)) {
        double f1 = gsl_cdf_fdist_Qinv(0.025, n - 1, df);
        double f2 = gsl_cdf_fdist_Qinv(0.025, df, n - 1);
        double base = k * q->jms + (k * n - k - n) * q->ems;
        lower = n * (q->bms - f1 * q->ems) / (f1 * base + n * q->bms);
        upper = n * (f2 * q->bms - q->ems) / (base + n * f2 * q->bms);
    }
    *single = icc(i, lower, upper);
    *mean = icc((q->bms - q->ems) / (q->bms + (q->jms - q->ems) / n), spearman_brown(lower, k),
                spearman_brown(upper, k));
}

static void correlations(const struct squares *q, struct rt_repeat *result)
{
    for (int form = 0; form < RT_ICC_FORMS; form++) {
        bool first = form == RT_ICC_1_1 || form == RT_ICC_1_K;
        result->icc[form] = rt_undefined(q->no_one_way != NULL || first ? q->no_one_way : q->no_two_way);
    }
    if (q->no_one_way != NULL)
        return;
    plain_forms(q, q->wms, q->within_df, &result->icc[RT_ICC_1_1], &result->icc[RT_ICC_1_K]);
    if (q->no_two_way != NULL)
        return;
    double error_df = (q->n - 1) * (q->k - 1);
    plain_forms(q, q->ems, error_df, &result->icc[RT_ICC_3_1], &result->icc[RT_ICC_3_K]);
    second_model(q, &result->icc[RT_ICC_2_1], &result->icc[RT_ICC_2_K]);
    result->reader_sd = sqrt(fmax(0, (q->jms - q->ems) / q->n));
}

/* --- the error of one reading -------------------------------------------------------------------------- */

static void dahlberg(const double *value, const struct rt_cluster_rows *subjects, struct rt_repeat *result)
{
    double sum = 0;
    double pairs = 0;
    result->no_dahlberg = read_once;
    for (size_t s = 0; s < subjects->count; s++) {
        const size_t *row = subjects->row + subjects->start[s];
        size_t size = subjects->start[s + 1] - subjects->start[s];
        if (size > 2) {
            result->no_dahlberg =
                "a subject was read more than twice: within_sd is the same error for that case";
            return;
        }
        if (size < 2)
            continue;
        sum += (value[row[0]] - value[row[1]]) * (value[row[0]] - value[row[1]]);
        pairs++;
    }
    if (pairs > 0) {
        result->dahlberg = sqrt(sum / (2 * pairs));
        result->no_dahlberg = NULL;
    }
}

/* within_sd and its jackknife over clusters: squares and df within subjects add up over the rows' clusters, given as
 * each subject's. */
static enum rt_status within_by_jackknife(const double *value, const struct rt_cluster_rows *subjects,
                                          const struct rt_cluster_rows *clusters,
                                          const struct squares *squares, struct rt_estimate *within,
                                          struct rt_error *error)
{
    double *sum = rt_new_array(clusters->count, sizeof *sum);
    double *df = rt_new_array(clusters->count, sizeof *df);
    if (sum == NULL || df == NULL) {
        free(sum);
        free(df);
        return rt_fail_memory(error);
    }
    bool nested = true;
    for (size_t s = 0; s < subjects->count; s++) {
        const size_t *row = subjects->row + subjects->start[s];
        size_t size = subjects->start[s + 1] - subjects->start[s];
        size_t c = clusters->of[row[0]];
        for (size_t k = 1; k < size; k++)
            nested = nested && clusters->of[row[k]] == c;
        sum[c] += rt_moments_of(value, row, size).squares;
        df[c] += (double)size - 1;
    }
    double all_squares = squares->wms * squares->within_df;
    for (size_t c = 0; c < clusters->count; c++) {
        double rest = squares->within_df - df[c];
        sum[c] = rest > 0 ? sqrt(fmax(0, all_squares - sum[c]) / rest) : NAN;
    }
    *within = rt_jackknife_positive(sqrt(squares->wms), sum, clusters->count);
    free(sum);
    free(df);
    return nested ? RT_OK : rt_fail(error, RT_USE, "the readings of one subject belong to two clusters");
}

static enum rt_status within_subjects(const double *value, size_t n, const struct rt_cluster_rows *subjects,
                                      const struct rt_clusters *clusters, const struct squares *squares,
                                      struct rt_repeat *result, struct rt_error *error)
{
    struct rt_estimate *within = &result->within_sd;
    *within = rt_undefined(squares->within_df > 0 ? NULL : read_once);
    if (within->reason != NULL)
        return RT_OK;
    within->value = sqrt(squares->wms);
    result->detectable_change = 1.96 * sqrt(2) * within->value;
    if (rt_has_clusters(clusters)) {
        struct rt_cluster_rows rows = {0};
        enum rt_status status = rt_gather_clusters(clusters, n, &rows, error);
        if (status == RT_OK)
            status = within_by_jackknife(value, subjects, &rows, squares, within, error);
        rt_cluster_rows_release(&rows);
        return status;
    }
    within->df = squares->within_df;
    within->standard_error = within->value / sqrt(2 * within->df);
    within->lower = within->value * sqrt(within->df / gsl_cdf_chisq_Qinv(0.025, within->df));
    within->upper = within->value * sqrt(within->df / gsl_cdf_chisq_Pinv(0.025, within->df));
    return RT_OK;
}

static enum rt_status judge(const double *value, size_t n, const struct rt_cluster_rows *by_subject,
                            const struct rt_cluster_rows *by_reader, const struct rt_clusters *clusters,
                            struct rt_repeat *result, struct rt_error *error)
{
    struct squares squares = {0};
    one_way(value, by_subject, n, &squares);
    enum rt_status status = two_way(value, by_subject, by_reader, n, &squares, error);
    if (status != RT_OK)
        return status;
    result->subjects = by_subject->count;
    result->readers = by_reader->count;
    result->readings_per_subject = squares.no_one_way == NULL ? squares.k : NAN;
    if (squares.no_one_way == NULL) {
        result->mean_square[RT_BETWEEN_SUBJECTS] = squares.bms;
        result->mean_square[RT_WITHIN_SUBJECTS] = squares.wms;
    }
    if (squares.no_two_way == NULL) {
        result->mean_square[RT_BETWEEN_READERS] = squares.jms;
        result->mean_square[RT_RESIDUAL] = squares.ems;
    }
    correlations(&squares, result);
    dahlberg(value, by_subject, result);
    return within_subjects(value, n, by_subject, clusters, &squares, result, error);
}

enum rt_status rt_repeat(const size_t *subject, size_t subjects, const size_t *reader, size_t readers,
                         const double *value, size_t n, const struct rt_clusters *clusters,
                         struct rt_repeat *result, struct rt_error *error)
{
    *result = (struct rt_repeat){.n = n,
                                 .readings_per_subject = NAN,
                                 .within_sd = rt_undefined(few_subjects),
                                 .dahlberg = NAN,
                                 .no_dahlberg = few_subjects,
                                 .detectable_change = NAN,
                                 .reader_sd = NAN};
    for (int form = 0; form < RT_ICC_FORMS; form++)
        result->icc[form] = rt_undefined(few_subjects);
    for (int k = 0; k < RT_MEAN_SQUARES; k++)
        result->mean_square[k] = NAN;
    if (n == 0)
        return RT_OK;
    struct rt_cluster_rows by_subject = {0};
    struct rt_cluster_rows by_reader = {0};
    enum rt_status status =
        rt_gather_clusters(&(struct rt_clusters){subject, subjects}, n, &by_subject, error);
    if (status == RT_OK)
        status = rt_gather_clusters(&(struct rt_clusters){reader, readers}, n, &by_reader, error);
    if (status == RT_OK)
        status = judge(value, n, &by_subject, &by_reader, clusters, result, error);
    rt_cluster_rows_release(&by_subject);
    rt_cluster_rows_release(&by_reader);
    return status;
}
