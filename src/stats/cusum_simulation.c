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
    double *probability, *threshold;   /* of its event, and the normal quantile of that */
    gsl_rng *generator;
    unsigned long seed;
    size_t times, longest;
};

static double gaussian(const struct simulation *simulation)
{
    return gsl_ran_gaussian_ziggurat(simulation->generator, 1.0);
}

/* Do the events of this patient go together? A patient with one case needs no effect: the case has its own probability. */
static bool has_effect(const struct simulation *simulation, size_t who)
{
    return simulation->stream->correlation > 0 &&
           simulation->patients.start[who + 1] - simulation->patients.start[who] > 1;
}

static bool fails(const struct simulation *simulation, size_t i, bool clustered, double patient)
{
    double c = simulation->stream->correlation;
    if (!clustered)
        return gsl_rng_uniform(simulation->generator) < simulation->probability[i];
    return sqrt(c) * patient + sqrt(1 - c) * gaussian(simulation) < simulation->threshold[i];
}

/* Cases until the first signal of stream number `which`; the same number always meets the same cases. */
static size_t run_once(const struct simulation *simulation, size_t which, double limit)
{
    gsl_rng_set(simulation->generator, simulation->seed + which);
    double cusum = 0;
    for (size_t cases = 0; cases < simulation->longest;) {
        size_t who = gsl_rng_uniform_int(simulation->generator, simulation->patients.count);
        bool clustered = has_effect(simulation, who);
        double patient = clustered ? gaussian(simulation) : 0;
        for (size_t at = simulation->patients.start[who]; at < simulation->patients.start[who + 1]; at++) {
            size_t i = simulation->patients.row[at];
            bool event = fails(simulation, i, clustered, patient);
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
    simulation->event_score = rt_new_array(4 * stream->n, sizeof *simulation->event_score);
    simulation->generator = gsl_rng_alloc(gsl_rng_mt19937);
    if (simulation->event_score == NULL || simulation->generator == NULL)
        return rt_fail_memory(error);
    simulation->other_score = simulation->event_score + stream->n;
    simulation->threshold = simulation->other_score + stream->n;
    simulation->probability = simulation->threshold + stream->n;
    for (size_t i = 0; i < stream->n; i++) {
        simulation->event_score[i] = rt_cusum_score(true, stream->p0[i], odds_ratio);
        simulation->other_score[i] = rt_cusum_score(false, stream->p0[i], odds_ratio);
        double odds = stream->true_odds_ratio > 0 ? stream->true_odds_ratio : 1;
        simulation->probability[i] = odds * stream->p0[i] / (1 - stream->p0[i] + odds * stream->p0[i]);
        simulation->threshold[i] = gsl_cdf_ugaussian_Pinv(simulation->probability[i]);
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

/* --- the limit for a run length ------------------------------------------------------------------------------ */

/* A stream's new maximum of the CUSUM and when it came: the first one above a limit is the signal at that limit. */
struct record {
    double cusum;
    size_t cases;
};

struct records {
    struct record *of;
    size_t count, capacity;
    size_t *start; /* times + 1 */
};

static bool add_record(struct records *records, double cusum, size_t cases)
{
    struct record *of = rt_grow_array(records->of, &records->capacity, records->count + 1, sizeof *of);
    if (of == NULL)
        return false;
    records->of = of;
    of[records->count++] = (struct record){cusum, cases};
    return true;
}

/* Run stream number `which` until its CUSUM is above `high`, keeping its maxima. False when memory ran out. */
static bool record_once(const struct simulation *simulation, size_t which, double high,
                        struct records *records)
{
    gsl_rng_set(simulation->generator, simulation->seed + which);
    double cusum = 0, most = 0;
    for (size_t cases = 0; cases < simulation->longest;) {
        size_t who = gsl_rng_uniform_int(simulation->generator, simulation->patients.count);
        bool clustered = has_effect(simulation, who);
        double patient = clustered ? gaussian(simulation) : 0;
        for (size_t at = simulation->patients.start[who]; at < simulation->patients.start[who + 1]; at++) {
            size_t i = simulation->patients.row[at];
            bool event = fails(simulation, i, clustered, patient);
            cases++;
            cusum = fmax(0, cusum + (event ? simulation->event_score : simulation->other_score)[i]);
            if (cusum > most && !add_record(records, most = cusum, cases))
                return false;
            if (cusum > high)
                return true;
        }
    }
    return true;
}

static enum rt_status record_all(const struct simulation *simulation, double high, struct records *records,
                                 struct rt_error *error)
{
    records->count = 0;
    for (size_t which = 0; which < simulation->times; which++) {
        records->start[which] = records->count;
        if (!record_once(simulation, which, high, records))
            return rt_fail_memory(error);
    }
    records->start[simulation->times] = records->count;
    return RT_OK;
}

/* The run length at a limit not above the one the records were kept for. */
static struct rt_estimate recorded_run_length(const struct simulation *simulation,
                                              const struct records *records, double limit)
{
    double mean = 0, squares = 0;
    for (size_t which = 0; which < simulation->times; which++) {
        size_t at = records->start[which];
        while (at < records->start[which + 1] && records->of[at].cusum <= limit)
            at++;
        double cases = (double)(at < records->start[which + 1] ? records->of[at].cases : simulation->longest);
        double deviation = cases - mean;
        mean += deviation / (double)(which + 1);
        squares += deviation * (cases - mean);
    }
    double times = (double)simulation->times;
    struct rt_estimate run_length = rt_undefined(NULL);
    run_length.value = mean;
    run_length.standard_error = sqrt(squares / (times - 1) / times);
    return run_length;
}

/* A limit that a few streams find about large enough: where to begin. */
static double first_guess(const struct simulation *simulation, double run_length)
{
    struct simulation few = *simulation;
    struct rt_estimate answer;
    double high = 0.5;
    few.times = few.times < 100 ? few.times : 100;
    for (; high < LARGEST_LIMIT; high *= 1.3) {
        run_all(&few, high, &answer);
        if (answer.value >= run_length || answer.reason != NULL)
            break;
    }
    return high;
}

static enum rt_status find_limit(const struct simulation *simulation, struct records *records,
                                 double run_length, struct rt_estimate *limit, struct rt_error *error)
{
    double low = 0, high = first_guess(simulation, run_length);
    struct rt_estimate answer = {.value = 0};
    for (; high < LARGEST_LIMIT; high *= 1.2) {
        enum rt_status status = record_all(simulation, high, records, error);
        if (status != RT_OK)
            return status;
        answer = recorded_run_length(simulation, records, high);
        if (answer.value >= run_length)
            break;
        low = high;
    }
    if (!(answer.value >= run_length))
        return RT_OK;
    while (high - low > 1e-3) {
        double middle = 0.5 * (low + high);
        bool enough = recorded_run_length(simulation, records, middle).value >= run_length;
        *(enough ? &high : &low) = middle;
    }
    answer = recorded_run_length(simulation, records, high);
    *limit = rt_undefined(NULL);
    limit->value = high;
    limit->statistic = answer.value;
    limit->standard_error = answer.standard_error;
    return RT_OK;
}

/* All limits meet the same streams, so that one pass over them, kept as their maxima, answers for every limit. */
enum rt_status rt_cusum_simulated_limit(const struct rt_cusum_stream *stream,
                                        const struct rt_cusum_design *design, double run_length,
                                        unsigned long seed, size_t times, struct rt_estimate *limit,
                                        struct rt_error *error)
{
    struct simulation simulation;
    struct records records = {.count = 0};
    *limit = rt_undefined("no limit up to 60 is large enough");
    enum rt_status status = prepare(&simulation, stream, design->odds_ratio, seed, times, error);
    if (status == RT_OK) {
        records.start = rt_new_array(times + 1, sizeof *records.start);
        status = records.start == NULL ? rt_fail_memory(error)
                                       : find_limit(&simulation, &records, run_length, limit, error);
    }
    free(records.of);
    free(records.start);
    release(&simulation);
    return status;
}
