#include "ridgetally/audit/estimates.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/mean.h"
#include "ridgetally/stats/quantile.h"
#include "ridgetally/stats/share.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static void set_counts(struct rt_figure *row, const struct rt_sample *sample)
{
    row->n_implants = (long)sample->n;
    row->n_patients = (long)sample->clusters;
}

/* Numbers, minimum and writing, once the counts are set. */
static void finish(struct rt_rows *rows, struct rt_figure *row, const struct rt_estimate *estimate,
                   bool with_p)
{
    rt_set_estimate(row, estimate);
    if (!with_p)
        row->p = NAN;
    rt_apply_minimum(row);
    rt_put_row(rows, row);
}

void rt_put_mean(struct rt_rows *rows, struct rt_figure row, const struct rt_sample *sample)
{
    struct rt_clusters clusters = rt_sample_clusters(sample);
    struct rt_estimate mean;
    set_counts(&row, sample);
    if (rt_rows_check(rows, rt_mean(sample->value, sample->n, &clusters, &mean, rows->error)))
        finish(rows, &row, &mean, false);
}

/* Reduce the values to one per patient; the caller frees them. */
static double *per_patient(const struct rt_sample *sample, bool any)
{
    double *values = rt_new_array(sample->clusters + 1, sizeof *values);
    if (values == NULL)
        return NULL;
    for (size_t i = 0; i < sample->n;) {
        const size_t cluster = sample->cluster[i];
        double sum = 0.0, largest = sample->value[i];
        size_t count = 0;
        for (; i < sample->n && sample->cluster[i] == cluster; i++, count++) {
            sum += sample->value[i];
            largest = fmax(largest, sample->value[i]);
        }
        values[cluster] = any ? largest : sum / (double)count;
    }
    return values;
}

void rt_put_patient_mean(struct rt_rows *rows, struct rt_figure row, const struct rt_sample *sample)
{
    struct rt_estimate mean;
    const bool shares = strcmp(row.unit, "share") == 0;
    double *values = per_patient(sample, false);
    set_counts(&row, sample);
    row.unit_of_analysis = "patient";
    row.method = shares ? "patient_share" : "patient_mean";
    if (values == NULL) {
        rt_rows_check(rows, rt_fail_memory(rows->error));
    } else if (shares) {
        mean = rt_mean_of_shares(values, sample->clusters);
        finish(rows, &row, &mean, false);
    } else if (rt_rows_check(rows, rt_mean(values, sample->clusters, NULL, &mean, rows->error))) {
        finish(rows, &row, &mean, false);
    }
    free(values);
}

/* Rows and patients whose code is as given. */
static void count_code(const struct rt_sample *sample, bool *chosen, size_t code, long *implants,
                       long *patients)
{
    *implants = 0;
    for (size_t i = 0; i < sample->n; i++) {
        chosen[i] = sample->code[i] == code;
        *implants += chosen[i];
    }
    *patients = (long)rt_sample_patients(sample, chosen);
}

void rt_put_difference(struct rt_rows *rows, struct rt_figure row, const struct rt_sample *sample)
{
    struct rt_clusters clusters = rt_sample_clusters(sample);
    struct rt_estimate difference;
    long others = 0, other_patients = 0;
    bool *in_second = rt_new_array(sample->n + 1, sizeof *in_second);
    if (in_second == NULL) {
        rt_rows_check(rows, rt_fail_memory(rows->error));
        return;
    }
    count_code(sample, in_second, 0, &others, &other_patients);
    count_code(sample, in_second, 1, &row.n_implants, &row.n_patients);
    if (rt_rows_check(rows, rt_mean_difference(sample->value, in_second, sample->n, &clusters, &difference,
                                               rows->error))) {
        rt_set_estimate(&row, &difference);
        rt_apply_minimum(&row);
        if (other_patients < RT_LEAST_PATIENTS)
            rt_set_too_few(&row, "fewer than 10 patients of other operators");
        rt_put_row(rows, &row);
    }
    free(in_second);
}

/* Patients with at least one value of 1, and with at least one other; NULL: every row a patient of its own. */
static void count_event_patients(struct rt_figure *row, const int *event, size_t n,
                                 const struct rt_clusters *clusters)
{
    row->event_patients = row->other_patients = 0;
    for (size_t i = 0; i < n;) {
        bool with = false, without = false;
        size_t next = i;
        for (; next < n && (next == i || (clusters != NULL && clusters->of[next] == clusters->of[i]));
             next++) {
            with = with || event[next] != 0;
            without = without || event[next] == 0;
        }
        row->event_patients += with;
        row->other_patients += without;
        i = next;
    }
}

/* The share of the n values that are 1, into a row whose patients are counted. */
static void put_share_of(struct rt_rows *rows, struct rt_figure *row, const double *values, size_t n,
                         const struct rt_clusters *clusters)
{
    struct rt_share share;
    int *event = rt_new_array(n + 1, sizeof *event);
    if (event == NULL) {
        rt_rows_check(rows, rt_fail_memory(rows->error));
        return;
    }
    for (size_t i = 0; i < n; i++)
        event[i] = values[i] > 0.0;
    if (rt_rows_check(rows, rt_share(event, n, clusters, &share, rows->error))) {
        row->n_events = (long)share.events;
        count_event_patients(row, event, n, clusters);
        if (share.exact_on_clusters && n > 0)
            row->method = "exact_conservative";
        finish(rows, row, &share.estimate, false);
    }
    free(event);
}

void rt_put_share(struct rt_rows *rows, struct rt_figure row, const struct rt_sample *sample)
{
    struct rt_clusters clusters = rt_sample_clusters(sample);
    set_counts(&row, sample);
    put_share_of(rows, &row, sample->value, sample->n, &clusters);
}

void rt_put_patient_share(struct rt_rows *rows, struct rt_figure row, const struct rt_sample *sample)
{
    double *values = per_patient(sample, true);
    set_counts(&row, sample);
    row.unit_of_analysis = "patient";
    if (values == NULL)
        rt_rows_check(rows, rt_fail_memory(rows->error));
    else
        put_share_of(rows, &row, values, sample->clusters, NULL);
    free(values);
}

void rt_put_quantile(struct rt_rows *rows, struct rt_figure row, const struct rt_sample *sample, double p)
{
    struct rt_clusters clusters = rt_sample_clusters(sample);
    struct rt_estimate quantile;
    set_counts(&row, sample);
    if (rt_rows_check(rows, rt_quantile(sample->value, sample->n, p, &clusters, &quantile, rows->error)))
        finish(rows, &row, &quantile, false);
}

void rt_put_capped_quantile(struct rt_rows *rows, struct rt_figure row, const struct rt_sample *sample,
                            double p)
{
    struct rt_clusters clusters = rt_sample_clusters(sample);
    struct rt_estimate quantile;
    double beyond = NAN;
    char not_reached[64];
    set_counts(&row, sample);
    if (!rt_rows_check(rows, rt_capped_quantile(sample->value, sample->capped, sample->n, p, &clusters,
                                                &quantile, &beyond, rows->error)))
        return;
    if (isnan(quantile.value) && !isnan(beyond)) {
        snprintf(not_reached, sizeof not_reached, ">%.15g", beyond);
        quantile.reason = not_reached;
    }
    finish(rows, &row, &quantile, false);
}
