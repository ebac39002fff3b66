/* Run lengths of the CUSUM on simulated streams of clustered cases. */
#include "ridgetally/stats/cusum.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/order.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>

#define LARGEST_LIMIT 60.0

struct simulation {
    const struct rt_cusum_stream *stream;
    struct rt_cluster_rows patients;
    double *event_score, *other_score; /* of each case */
    double *threshold;                 /* normal quantile of its p0 */
    gsl_rng *generator;
    unsigned long seed;
    size_t times, longest;
};

static bool fails(const struct simulation *simulation, size_t i, double patient)
{
    double c = simulation->stream->correlation;
    if (c <= 0)
        return gsl_rng_uniform(simulation->generator) < simulation->stream->p0[i];
    return sqrt(c) * patient + sqrt(1 - c) * gsl_ran_ugaussian(simulation->generator) <
           simulation->threshold[i];
}

/* Cases until the first signal of stream number `which`; the same number always meets the same cases. */
static size_t run_once(const struct simulation *simulation, size_t which, double limit)
{
    gsl_rng_set(simulation->generator, simulation->seed + which);
    double cusum = 0;
    for (size_t cases = 0; cases < simulation->longest;) {
        size_t who = gsl_rng_uniform_int(simulation->generator, simulation->patients.count);
        double patient = simulation->stream->correlation > 0 ? gsl_ran_ugaussian(simulation->generator) : 0;
        for (size_t at = simulation->patients.start[who]; at < simulation->patients.start[who + 1]; at++) {
            size_t i = simulation->patients.row[at];
            bool event = fails(simulation, i, patient);
            cases++;
            cusum = fmax(0, cusum + (event ? simulation->event_score : simulation->other_score)[i]);
            if (cusum > limit)
                return cases;
        }
    }
    return simulation->longest;
}

static void run_all(const struct simulation *simulation, double limit, struct rt_estimate *run_length)
{
    double mean = 0;
    double squares = 0;
    bool cut = false;
    for (size_t which = 0; which < simulation->times; which++) {
        double cases = (double)run_once(simulation, which, limit);
        double deviation = cases - mean;
        cut |= cases >= (double)simulation->longest;
        mean += deviation / (double)(which + 1);
        squares += deviation * (cases - mean);
    }
    double times = (double)simulation->times;
    *run_length = rt_undefined(cut ? "some streams were cut off: the mean is too small" : NULL);
    run_length->value = mean;
    run_length->standard_error = sqrt(squares / (times - 1) / times);
}

static void release(struct simulation *simulation)
{
    rt_cluster_rows_release(&simulation->patients);
    free(simulation->event_score);
    if (simulation->generator != NULL)
        gsl_rng_free(simulation->generator);
}

static enum rt_status prepare(struct simulation *simulation, const struct rt_cusum_stream *stream,
                              double odds_ratio, unsigned long seed, size_t times, struct rt_error *error)
{
    *simulation = (struct simulation){.stream = stream, .seed = seed, .times = times};
    if (stream->n == 0 || times < 2)
        return rt_fail(error, RT_USE, "a simulation needs cases and at least 2 streams");
    simulation->longest = 10000000 / times + 100000;
    enum rt_status status = rt_gather_clusters(&stream->patients, stream->n, &simulation->patients, error);
    if (status != RT_OK)
        return status;
    simulation->event_score = rt_new_array(3 * stream->n, sizeof *simulation->event_score);
    simulation->generator = gsl_rng_alloc(gsl_rng_mt19937);
    if (simulation->event_score == NULL || simulation->generator == NULL)
        return rt_fail_memory(error);
    simulation->other_score = simulation->event_score + stream->n;
    simulation->threshold = simulation->other_score + stream->n;
    for (size_t i = 0; i < stream->n; i++) {
        simulation->event_score[i] = rt_cusum_score(true, stream->p0[i], odds_ratio);
        simulation->other_score[i] = rt_cusum_score(false, stream->p0[i], odds_ratio);
        simulation->threshold[i] = gsl_cdf_ugaussian_Pinv(stream->p0[i]);
    }
    return RT_OK;
}

enum rt_status rt_cusum_simulated_run_length(const struct rt_cusum_stream *stream,
                                             const struct rt_cusum_design *design, unsigned long seed,
                                             size_t times, struct rt_estimate *run_length,
                                             struct rt_error *error)
{
    struct simulation simulation;
    *run_length = rt_undefined("no cases");
    enum rt_status status = prepare(&simulation, stream, design->odds_ratio, seed, times, error);
    if (status == RT_OK)
        run_all(&simulation, design->limit, run_length);
    release(&simulation);
    return status;
}

enum rt_status rt_cusum_simulated_limit(const struct rt_cusum_stream *stream,
                                        const struct rt_cusum_design *design, double run_length,
                                        unsigned long seed, size_t times, struct rt_estimate *limit,
                                        struct rt_error *error)
{
    struct simulation simulation;
    *limit = rt_undefined("no limit up to 60 is large enough");
    enum rt_status status = prepare(&simulation, stream, design->odds_ratio, seed, times, error);
    struct rt_estimate answer = {.value = 0};
    double low = 0;
    double high = 0.5;
    for (; status == RT_OK && high < LARGEST_LIMIT; high *= 2) {
        run_all(&simulation, high, &answer);
        if (answer.value >= run_length || answer.reason != NULL)
            break;
        low = high;
    }
    bool found = status == RT_OK && answer.value >= run_length;
    while (found && high - low > 1e-3) {
        double middle = 0.5 * (low + high);
        run_all(&simulation, middle, &answer);
        *(answer.value >= run_length ? &high : &low) = middle;
    }
    if (found) {
        run_all(&simulation, high, &answer);
        *limit = rt_undefined(NULL);
        limit->value = high;
        limit->standard_error = answer.standard_error;
    }
    release(&simulation);
    return status;
}
