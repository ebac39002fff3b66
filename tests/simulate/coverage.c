#include "coverage.h"

#include "published.h"
#include "stored.h"

#include "ridgetally/base/file.h"
#include "ridgetally/base/text.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

enum {
    SIZES = 3,
    LONG_RUN_IMPLANTS = 16000,
    HAZARD_SHARE = 10, /* hazard ratios take longest: every tenth practice */
    STORED_SHARE = 5   /* the way through a store takes long too: every fifth */
};
static const int sizes[SIZES] = {30, 100, 400};

/* Every figure of a practice as it is, and with every implant a patient of its own. */
enum { AS_CLUSTERED, AS_NAIVE, WAYS };

struct run {
    const struct coverage_settings *settings;
    const struct new_store *new_store;
    const struct simulated_measure *measures;
    size_t measure_count;
    struct interval *results;  /* [size][practice][way][measure], shared by the processes */
    struct interval *long_run; /* [practice][knowledge][measure], shared */
    struct published published;
};

static struct interval *result_of(const struct run *run, size_t size, long practice, int way)
{
    size_t index = (size * (size_t)run->settings->practices + (size_t)practice) * WAYS + (size_t)way;
    return run->results + index * run->measure_count;
}

static struct interval *long_run_of(const struct run *run, long practice, enum knowledge knowledge)
{
    return run->long_run + ((size_t)practice * 2 + (size_t)knowledge) * run->measure_count;
}

/* Is the part asked for in this practice? */
static bool is_asked(const struct run *run, enum part part, long number)
{
    const long share = part == PART_HAZARD ? HAZARD_SHARE : is_stored(part) ? STORED_SHARE : 1;
    return run->settings->parts[part] && number % share == 0;
}

static enum rt_status audit_parts(const struct run *run, const struct rt_cohort *cohort, long number,
                                  struct interval *intervals, struct rt_error *error)
{
    bool parts[PARTS];
    for (int part = 0; part < PARTS; part++)
        parts[part] = is_asked(run, (enum part)part, number) && !is_stored((enum part)part);
    return audit_intervals(run->new_store->store, cohort, parts, intervals, error);
}

/* What asks the store, where it is asked for; after audit_parts, which leaves it undefined. */
static enum rt_status audit_stored_parts(const struct run *run, const struct rt_sample_practice *practice,
                                         long number, struct interval *intervals, struct rt_error *error)
{
    bool parts[PARTS], any = false;
    for (int part = 0; part < PARTS; part++) {
        parts[part] = is_asked(run, (enum part)part, number) && is_stored((enum part)part);
        any = any || parts[part];
    }
    return any ? audit_stored(practice, parts, intervals, error) : RT_OK;
}

static enum rt_status simulate_practice(const struct run *run, size_t size, long number,
                                        struct rt_error *error)
{
    const struct rt_sample_settings settings = settings_of(sizes[size], number);
    struct rt_sample_practice practice = {.implant_count = 0};
    struct rt_cohort cohort = {.count = 0};
    enum rt_status status = rt_generate_practice(&settings, &practice, error);
    if (status == RT_OK)
        status = cohort_of_practice(&practice, &run->new_store->empty, AS_RECORDED, &cohort, error);
    if (status == RT_OK)
        status = audit_parts(run, &cohort, number, result_of(run, size, number, AS_CLUSTERED), error);
    if (status == RT_OK)
        status =
            audit_stored_parts(run, &practice, number, result_of(run, size, number, AS_CLUSTERED), error);
    if (status == RT_OK) {
        forget_patients(&cohort);
        status = audit_parts(run, &cohort, number, result_of(run, size, number, AS_NAIVE), error);
    }
    rt_release_cohort(&cohort);
    rt_release_practice(&practice);
    return status;
}

static enum rt_status run_long(const struct run *run, long number, struct rt_error *error)
{
    const struct rt_sample_settings settings = settings_of(LONG_RUN_IMPLANTS, number);
    struct rt_sample_practice practice = {.implant_count = 0};
    enum rt_status status = rt_generate_practice(&settings, &practice, error);
    for (int knowledge = AS_RECORDED; knowledge <= AS_HAPPENED && status == RT_OK; knowledge++) {
        struct rt_cohort cohort = {.count = 0};
        status =
            cohort_of_practice(&practice, &run->new_store->empty, (enum knowledge)knowledge, &cohort, error);
        if (status == RT_OK)
            status =
                audit_parts(run, &cohort, number, long_run_of(run, number, (enum knowledge)knowledge), error);
        rt_release_cohort(&cohort);
    }
    if (status == RT_OK)
        status = audit_stored_parts(run, &practice, number, long_run_of(run, number, AS_RECORDED), error);
    rt_release_practice(&practice);
    return status;
}

/* The share of one process: every K-th practice. */
static enum rt_status work(void *context, long process, struct rt_error *error)
{
    const struct run *run = context;
    const long step = run->settings->processes;
    enum rt_status status = RT_OK;
    for (long i = process; i < run->settings->long_run && status == RT_OK; i += step)
        status = run_long(run, i, error);
    for (long i = process; i < run->settings->practices && status == RT_OK; i += step)
        for (size_t size = 0; size < SIZES && status == RT_OK; size++)
            status = simulate_practice(run, size, i, error);
    return status;
}

/* --- the tally ------------------------------------------------------------------------------------------- */

/* Mean of the long-run values of one figure; NaN where one is undefined. */
static double truth_of(const struct run *run, enum knowledge knowledge, size_t measure)
{
    double sum = 0.0;
    long count = 0;
    for (long i = 0; i < run->settings->long_run; i++) {
        if (!is_asked(run, part_of_measure(&run->measures[measure]), i))
            continue;
        sum += long_run_of(run, i, knowledge)[measure].value;
        count++;
    }
    return sum / (double)count;
}

struct tally {
    long practices, defined, covered, naive_defined, naive_covered, two_sided, many_events;
    double width;
};

/* A figure about patients has no interval without them, nor has a model with a patient intercept. */
static bool can_be_naive(const struct simulated_measure *measure)
{
    return strcmp(measure->unit_of_analysis, "patient") != 0 && !is_stored(part_of_measure(measure)) &&
           strcmp(measure->measure, "crest_model") != 0 && strcmp(measure->measure, "level_model") != 0;
}

static struct tally tally_of(const struct run *run, size_t size, size_t measure, double truth)
{
    struct tally tally = {.practices = 0};
    for (long i = 0; i < run->settings->practices; i++) {
        const struct interval *one = &result_of(run, size, i, AS_CLUSTERED)[measure];
        const struct interval *naive = &result_of(run, size, i, AS_NAIVE)[measure];
        if (!is_asked(run, part_of_measure(&run->measures[measure]), i))
            continue;
        tally.practices++;
        if (!is_defined(one))
            continue;
        tally.defined++;
        tally.covered += covers(one, truth);
        tally.many_events += (one->events == RT_NO_COUNT || one->events >= 10) && one->patients >= 30;
        if (!isnan(one->lower) && !isnan(one->upper)) {
            tally.two_sided++;
            tally.width += one->upper - one->lower;
        }
        if (can_be_naive(&run->measures[measure]) && is_defined(naive)) {
            tally.naive_defined++;
            tally.naive_covered += covers(naive, truth);
        }
    }
    return tally;
}

/* --- the judgement --------------------------------------------------------------------------------------- */

/* The counts of n that a coverage of p leaves likely: each tail beyond them is below 0.05%. */
static bool is_too_low(long covered, long n, double p)
{
    return n > 0 && gsl_cdf_binomial_P((unsigned)covered, p, (unsigned)n) < 0.0005;
}

static bool is_too_high(long covered, long n, double p)
{
    return n > 0 && covered > 0 && gsl_cdf_binomial_Q((unsigned)(covered - 1), p, (unsigned)n) < 0.0005;
}

/* From 100 implants up at least 93%; methods that are not exact at most 97% where most practices have 10 events and 30
 * patients: judged by what chance in so few practices allows. Fewer than 100 defined intervals are not judged. */
static long judge(const struct simulated_measure *measure, const char *name, size_t size,
                  const struct tally *tally)
{
    if (sizes[size] < 100 || tally->defined < 100)
        return 0;
    const double coverage = (double)tally->covered / (double)tally->defined;
    const bool many = 2 * tally->many_events > tally->defined;
    const char *fault = is_too_low(tally->covered, tally->defined, 0.93) ? "less than 93%"
                        : many && !measure->exact && is_too_high(tally->covered, tally->defined, 0.97)
                            ? "more than 97%"
                            : NULL;
    if (fault == NULL)
        return 0;
    fprintf(stderr, "simulate: %s, %d implants: covers %.1f%% of %ld, %s\n", name, sizes[size],
            100.0 * coverage, tally->defined, fault);
    return 1;
}

/* A share of a table as a probability that leaves a little room at both ends. */
static double probability_of(double share, long n)
{
    const double room = 0.5 / (double)(n > 0 ? n : 1);
    return fmin(1.0 - room, fmax(room, share));
}

/* Could these practices be some of those the published row was made from? 1 when not. */
static long compare(const struct run *run, const char *name, int size, const struct tally *tally)
{
    struct published_row *row = find_published(&run->published, name, size);
    const char *fault = NULL;
    if (run->settings->published == NULL)
        return 0;
    if (row == NULL) {
        fprintf(stderr, "simulate: %s, %d implants: not in %s\n", name, size, run->settings->published);
        return 1;
    }
    row->seen = true;
    const double defined = probability_of((double)row->defined / (double)row->practices, row->practices);
    const double coverage = probability_of(row->coverage, row->defined);
    if (is_too_low(tally->defined, tally->practices, defined) ||
        is_too_high(tally->defined, tally->practices, defined))
        fault = "defined as often";
    else if (row->defined > 0 && (is_too_low(tally->covered, tally->defined, coverage) ||
                                  is_too_high(tally->covered, tally->defined, coverage)))
        fault = "covering as often";
    if (fault != NULL)
        fprintf(stderr, "simulate: %s, %d implants: %ld of %ld defined, %ld cover; not %s as in %s\n", name,
                size, tally->defined, tally->practices, tally->covered, fault, run->settings->published);
    return fault != NULL;
}

/* Rows of the published table that this run should have met. */
static long count_unseen(const struct run *run)
{
    long unseen = 0;
    for (size_t i = 0; i < run->published.count; i++) {
        if (run->published.rows[i].seen)
            continue;
        unseen++;
        fprintf(stderr, "simulate: %s, %d implants: in %s, but not simulated\n",
                run->published.rows[i].method, run->published.rows[i].size, run->settings->published);
    }
    return unseen;
}

/* --- the table ------------------------------------------------------------------------------------------- */

static void add_share(struct rt_text *text, long part, long whole)
{
    if (whole > 0)
        rt_text_format(text, ",%.4f", (double)part / (double)whole);
    else
        rt_text_add(text, ",");
}

static void add_row(const char *name, int size, const struct tally *tally, struct rt_text *text)
{
    rt_text_format(text, "%s,%d,%ld,%ld", name, size, tally->practices, tally->defined);
    add_share(text, tally->covered, tally->defined);
    add_share(text, tally->naive_covered, tally->naive_defined);
    if (tally->two_sided > 0)
        rt_text_format(text, ",%.4g\n", tally->width / (double)tally->two_sided);
    else
        rt_text_add(text, ",\n");
}

/* Rows of one figure; returns how many are at fault. */
static long add_measure(const struct run *run, size_t index, struct rt_text *text)
{
    const struct simulated_measure *measure = &run->measures[index];
    char name[160], happened[200];
    long faults = 0;
    name_of_measure(measure, name, sizeof name);
    const double recorded = truth_of(run, AS_RECORDED, index);
    if (isnan(recorded)) {
        fprintf(stderr, "simulate: %s has no value in the long run\n", name);
        return 1;
    }
    for (size_t size = 0; size < SIZES; size++) {
        const struct tally tally = tally_of(run, size, index, recorded);
        add_row(name, sizes[size], &tally, text);
        faults += judge(measure, name, size, &tally) + compare(run, name, sizes[size], &tally);
    }
    if (strcmp(measure->measure, "survival") != 0 || strcmp(measure->level, "last sighting") != 0)
        return faults;
    snprintf(happened, sizeof happened, "%s against what happened", name);
    for (size_t size = 0; size < SIZES; size++) {
        const struct tally tally = tally_of(run, size, index, truth_of(run, AS_HAPPENED, index));
        add_row(happened, sizes[size], &tally, text);
        faults += compare(run, happened, sizes[size], &tally);
    }
    return faults;
}

static enum rt_status write_table(const struct run *run, struct rt_error *error)
{
    struct rt_text text = {0};
    long faults = 0;
    rt_text_add(&text, "method,size,practices,defined,coverage,naive_coverage,mean_width\n");
    for (size_t i = 0; i < run->measure_count; i++)
        if (run->settings->parts[part_of_measure(&run->measures[i])])
            faults += add_measure(run, i, &text);
    faults += count_unseen(run);
    enum rt_status status = rt_text_status(&text, error);
    if (status == RT_OK && run->settings->out != NULL)
        status = rt_write_file(run->settings->out, text.bytes, text.length, error);
    else if (status == RT_OK)
        fwrite(text.bytes, 1, text.length, stdout);
    rt_text_release(&text);
    if (status == RT_OK && faults > 0)
        status = rt_fail(error, RT_PARTIAL, "%ld intervals do not cover as they should", faults);
    return status;
}

enum rt_status simulate_coverage(const struct coverage_settings *settings, const struct new_store *new_store,
                                 struct rt_error *error)
{
    struct run run = {.settings = settings, .new_store = new_store};
    run.measures = simulated_measures(&run.measure_count);
    run.results =
        shared_array(SIZES * WAYS * (size_t)settings->practices * run.measure_count, sizeof *run.results);
    run.long_run = shared_array(2 * (size_t)settings->long_run * run.measure_count, sizeof *run.long_run);
    if (run.results == NULL || run.long_run == NULL)
        return rt_fail_memory(error);
    enum rt_status status = RT_OK;
    if (settings->published != NULL)
        status = read_published(settings->published, &run.published, error);
    if (status == RT_OK)
        status = in_processes(settings->processes, work, &run, error);
    if (status == RT_OK)
        status = write_table(&run, error);
    release_published(&run.published);
    return status;
}
