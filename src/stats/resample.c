#include "ridgetally/stats/resample.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/moments.h"
#include "ridgetally/stats/order.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdlib.h>

/* The sample, ready for any multiplicity of its clusters. */
struct sample {
    const double *values;
    size_t n;
    struct rt_cluster_rows rows;
    size_t *order;            /* rows ascending in value, for medians */
    struct rt_moments *parts; /* per cluster, for means */
    unsigned *times;          /* how often each cluster counts */
};

static double weighted_mean(const struct sample *sample)
{
    double n = 0;
    double mean = 0;
    for (size_t c = 0; c < sample->rows.count; c++) {
        if (sample->times[c] == 0)
            continue;
        double more = sample->times[c] * sample->parts[c].n;
        n += more;
        mean += (sample->parts[c].mean - mean) * (more / n);
    }
    return n > 0 ? mean : NAN;
}

static double weighted_median(const struct sample *sample)
{
    size_t n = 0;
    for (size_t c = 0; c < sample->rows.count; c++)
        n += sample->times[c] * (sample->rows.start[c + 1] - sample->rows.start[c]);
    size_t seen = 0;
    double lower = NAN;
    for (size_t k = 0; k < sample->n; k++) {
        size_t row = sample->order[k];
        size_t before = seen;
        seen += sample->times[sample->rows.of[row]];
        if (before < (n + 1) / 2 && seen >= (n + 1) / 2)
            lower = sample->values[row];
        if (seen >= n / 2 + 1)
            return lower == sample->values[row] ? lower : lower / 2 + sample->values[row] / 2;
    }
    return NAN;
}

static double statistic_of(const struct sample *sample, enum rt_resample_statistic statistic)
{
    return statistic == RT_RESAMPLE_MEAN ? weighted_mean(sample) : weighted_median(sample);
}

static enum rt_status prepare(const double *values, size_t n, const struct rt_clusters *clusters,
                              struct sample *sample, struct rt_error *error)
{
    *sample = (struct sample){.values = values, .n = n};
    enum rt_status status = rt_gather_clusters(clusters, n, &sample->rows, error);
    if (status != RT_OK)
        return status;
    sample->order = rt_new_array(n, sizeof *sample->order);
    sample->parts = rt_new_array(sample->rows.count, sizeof *sample->parts);
    sample->times = rt_new_array(sample->rows.count, sizeof *sample->times);
    if (sample->order == NULL || sample->parts == NULL || sample->times == NULL)
        return rt_fail_memory(error);
    for (size_t c = 0; c < sample->rows.count; c++) {
        size_t start = sample->rows.start[c];
        sample->parts[c] = rt_moments_of(values, sample->rows.row + start, sample->rows.start[c + 1] - start);
        sample->times[c] = 1;
    }
    return rt_sort_order(values, n, sample->order, error);
}

static void release(struct sample *sample)
{
    rt_cluster_rows_release(&sample->rows);
    free(sample->order);
    free(sample->parts);
    free(sample->times);
}

static double mean_without(const struct sample *sample, double mean, size_t c)
{
    double left = (double)sample->n - sample->parts[c].n;
    return mean + (mean - sample->parts[c].mean) * (sample->parts[c].n / left);
}

/* The k-th smallest value (from 0) of the rows outside a cluster, whose places in the order are given ascending. */
static double value_without(const struct sample *sample, const size_t *place, size_t size, size_t k)
{
    for (size_t p = 0; p < size; p++)
        k += place[p] <= k ? 1 : 0;
    return sample->values[sample->order[k]];
}

/* The statistic with each cluster left out, in O(n). place is scratch for n places, next for the clusters. */
static void leave_out(const struct sample *sample, enum rt_resample_statistic statistic, double value,
                      size_t *place, size_t *next, double *left_out)
{
    size_t count = sample->rows.count;
    for (size_t c = 0; c < count; c++)
        next[c] = sample->rows.start[c];
    for (size_t k = 0; k < sample->n; k++)
        place[next[sample->rows.of[sample->order[k]]]++] = k;
    for (size_t c = 0; c < count; c++) {
        size_t size = sample->rows.start[c + 1] - sample->rows.start[c];
        size_t left = sample->n - size;
        const size_t *own = place + sample->rows.start[c];
        if (statistic == RT_RESAMPLE_MEAN) {
            left_out[c] = mean_without(sample, value, c);
            continue;
        }
        double lower = value_without(sample, own, size, (left - 1) / 2);
        double upper = value_without(sample, own, size, left / 2);
        left_out[c] = lower == upper ? lower : lower / 2 + upper / 2;
    }
}

/* From the statistics with one cluster left out; NaN when they do not differ. */
static double acceleration_of(const double *left_out, size_t count)
{
    double mean = 0;
    for (size_t c = 0; c < count; c++)
        mean += (left_out[c] - mean) / (double)(c + 1);
    double largest = 0;
    double size = 0;
    for (size_t c = 0; c < count; c++) {
        largest = fmax(largest, fabs(mean - left_out[c]));
        size = fmax(size, fabs(left_out[c]));
    }
    if (largest < 1e-14 * size * (double)count)
        return NAN; /* they differ by rounding alone */
    double squares = 0;
    double cubes = 0;
    for (size_t c = 0; c < count && largest > 0; c++) {
        double u =
            (mean - left_out[c]) / largest; /* the scale cancels; this keeps cubes from under- and overflow */
        squares += u * u;
        cubes += u * u * u;
    }
    return squares > 0 ? cubes / (6 * squares * sqrt(squares)) : NAN;
}

static enum rt_status draw(struct sample *sample, enum rt_resample_statistic statistic, unsigned long seed,
                           double *replicates, size_t times, struct rt_error *error)
{
    gsl_rng *generator = gsl_rng_alloc(gsl_rng_mt19937);
    if (generator == NULL)
        return rt_fail_memory(error);
    gsl_rng_set(generator, seed);
    size_t count = sample->rows.count;
    for (size_t b = 0; b < times; b++) {
        for (size_t c = 0; c < count; c++)
            sample->times[c] = 0;
        for (size_t c = 0; c < count; c++)
            sample->times[gsl_rng_uniform_int(generator, count)]++;
        replicates[b] = statistic_of(sample, statistic);
    }
    gsl_rng_free(generator);
    return RT_OK;
}

/* Replicates that equal the value but for the order of summation count as equal. */
static double bias_correction_of(const double *sorted, size_t times, double value)
{
    double rounding = 1e-12 * fmax(fabs(sorted[0]), fabs(sorted[times - 1]));
    double below = 0;
    for (size_t b = 0; b < times; b++)
        below += fabs(sorted[b] - value) <= rounding ? 0.5 : sorted[b] < value ? 1 : 0;
    return gsl_cdf_ugaussian_Pinv(below / (double)times);
}

static void set_limits(const double *sorted, size_t times, struct rt_resample *result)
{
    result->percentile.standard_error =
        times > 1 ? sqrt(rt_moments_of(sorted, NULL, times).squares / ((double)times - 1)) : NAN;
    result->percentile.lower = rt_quantile_sorted(sorted, times, 0.025, RT_QUANTILE_TYPE_6);
    result->percentile.upper = rt_quantile_sorted(sorted, times, 0.975, RT_QUANTILE_TYPE_6);
    double z0 = result->bias_correction = bias_correction_of(sorted, times, result->percentile.value);
    double a = result->acceleration;
    if (isnan(a))
        result->bca_reason = "leaving out any one cluster changes nothing, so the acceleration is undefined";
    else if (isinf(z0))
        result->bca_reason = "all replicates lie on one side of the value";
    if (result->bca_reason != NULL)
        return;
    for (int side = -1; side <= 1; side += 2) {
        double z = z0 + side * RT_Z_95;
        double p = 1 - a * z > 0 ? gsl_cdf_ugaussian_P(z0 + z / (1 - a * z)) : NAN;
        if (isnan(p))
            result->bca_reason = "the acceleration is too large for an adjusted limit";
        *(side < 0 ? &result->bca_lower : &result->bca_upper) =
            isnan(p) ? NAN : rt_quantile_sorted(sorted, times, p, RT_QUANTILE_TYPE_6);
    }
}

static enum rt_status judge(struct sample *sample, enum rt_resample_statistic statistic, unsigned long seed,
                            size_t times, struct rt_resample *result, struct rt_error *error)
{
    size_t count = sample->rows.count;
    double *replicates = rt_new_array(times, sizeof *replicates);
    double *left_out = rt_new_array(count, sizeof *left_out);
    size_t *place = rt_new_array(sample->n, sizeof *place);
    size_t *next = rt_new_array(count, sizeof *next);
    enum rt_status status = RT_OK;
    result->percentile.reason = result->bca_reason = NULL;
    if (replicates == NULL || left_out == NULL || place == NULL || next == NULL)
        status = rt_fail_memory(error);
    if (status == RT_OK) {
        leave_out(sample, statistic, result->percentile.value, place, next, left_out);
        result->acceleration = acceleration_of(left_out, count);
        status = draw(sample, statistic, seed, replicates, times, error);
    }
    if (status == RT_OK) {
        rt_sort_values(replicates, times);
        set_limits(replicates, times, result);
    }
    free(replicates);
    free(left_out);
    free(place);
    free(next);
    return status;
}

enum rt_status rt_resample(const double *values, size_t n, const struct rt_clusters *clusters,
                           enum rt_resample_statistic statistic, unsigned long seed, size_t times,
                           struct rt_resample *result, struct rt_error *error)
{
    static const char too_few[] = "needs at least two clusters (rows without clusters)";
    *result = (struct rt_resample){.percentile = rt_undefined(n == 0 ? "no values" : too_few),
                                   .bca_lower = NAN,
                                   .bca_upper = NAN,
                                   .bca_reason = n == 0 ? "no values" : too_few,
                                   .bias_correction = NAN,
                                   .acceleration = NAN};
    if (times == 0 || times > RT_RESAMPLE_TIMES_MAX)
        return rt_fail(error, RT_USE, "the number of resamples must be 1 to %d", RT_RESAMPLE_TIMES_MAX);
    if (n == 0)
        return RT_OK;
    struct sample sample;
    enum rt_status status = prepare(values, n, clusters, &sample, error);
    if (status == RT_OK)
        result->percentile.value = statistic_of(&sample, statistic);
    if (status == RT_OK && sample.rows.count > 1)
        status = judge(&sample, statistic, seed, times, result, error);
    release(&sample);
    return status;
}
