#include "rules.h"

#include "audited.h"
#include "cohort.h"
#include "practice.h"
#include "published_verdicts.h"

#include "ridgetally/audit/house_rules.h"
#include "ridgetally/audit/sections.h"
#include "ridgetally/base/file.h"
#include "ridgetally/base/memory.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

/* What is held against a truth: the verdict, and where there is one the interval behind it. */
enum world { AS_THE_SAMPLE, RULES_HOLD };
static const char *const world_names[] = {"as the sample", "rules hold"};

/* What a verdict must be in a large practice: by construction, or left open where the truth is near the smallest difference
 * that matters or no number. */
enum expected { SUPPORTED = 1, REFUTED = -1, OPEN = 0 };

/* By expected + 1. */
static const char *const truth_words[] = {"does not hold", "not to be judged", "holds"};

struct trial {
    enum world world;
    const char *rule, *measure; /* of the interval; NULL: the verdict alone */
    double truth;               /* of the measure, known from how the practices are made */
    enum expected verdict;      /* in a large practice */
};

/* Nothing in the sample but torque depends on walls, waiting, reserve or drilling: those rules are not true there. Depth and
 * tissue pull crest change in opposite directions there, so the sum is not judged. */
static const struct trial trials[] = {
    {AS_THE_SAMPLE, "torque-per-millimetre", "rule_slope_adjusted", 10.0, SUPPORTED},
    {AS_THE_SAMPLE, "bone-all-round", "rule_difference_adjusted", 0.0, REFUTED},
    {AS_THE_SAMPLE, "dense-bone-drilling", "rule_difference_adjusted", 0.0, OPEN}, /* harder with easier */
    {AS_THE_SAMPLE, "size-in-reserve", "rule_difference_adjusted", 0.0, REFUTED},
    {AS_THE_SAMPLE, "density-by-drill", NULL, NAN, SUPPORTED},
    {AS_THE_SAMPLE, "tissue-plus-depth", NULL, NAN, OPEN},
    {RULES_HOLD, "bone-all-round", "rule_difference_adjusted", 0.8, SUPPORTED},
    {RULES_HOLD, "tissue-plus-depth", "rule_knee", 4.0, SUPPORTED},
    {RULES_HOLD, "wait-twelve-weeks", NULL, NAN, SUPPORTED},
};
enum { TRIALS = sizeof trials / sizeof trials[0], SIZES = 4, SMALLEST = 0, LARGEST = SIZES - 1 };
static const int sizes[SIZES] = {30, 100, 400, 4000};

struct result {
    struct interval interval;
    int verdict;
    bool decided; /* a verdict in state ok */
};

struct rule_run {
    const struct rule_settings *settings;
    const struct new_store *new_store;
    struct rt_house_rules rules;
    struct result *results; /* [size][practice][trial], shared by the processes */
    struct published_verdicts published;
};

/* The large ones take longest: of a short run fewer do. */
static long practices_of(const struct rule_settings *settings, int size)
{
    return size == LARGEST ? (settings->practices + settings->large_share - 1) / settings->large_share
                           : settings->practices;
}

static struct rt_sample_settings settings_for(enum world world, int implants, long number)
{
    struct rt_sample_settings settings = settings_of(implants, 500000 + number);
    if (world == RULES_HOLD) {
        settings.truths.change_per_depth = settings.truths.change_per_tissue = 0.0;
        settings.truths.change_per_product = 0.0;
        settings.truths.thin_wall_change_mm = -0.8;
        settings.truths.change_below_sum = 0.8;
        settings.truths.early_loading_failure = 0.5;
    }
    return settings;
}

static const struct rt_figure *row_of_rule(const struct rt_figure_list *figures, const char *measure,
                                           const char *rule)
{
    struct rt_figure key = rt_empty_figure();
    key.section = "rules";
    key.measure = measure;
    key.grouping = "rule";
    key.level = rule;
    key.unit_of_analysis = NULL;
    return rt_find_figure(figures, &key);
}

static struct result take_result(const struct rt_figure_list *figures, const struct trial *trial)
{
    struct result result = {.interval = {NAN, NAN, NAN, RT_NO_COUNT, RT_NO_COUNT}};
    const struct rt_figure *verdict = row_of_rule(figures, "rule_verdict", trial->rule);
    const struct rt_figure *row =
        trial->measure == NULL ? NULL : row_of_rule(figures, trial->measure, trial->rule);
    result.decided = verdict != NULL && verdict->state == RT_FIGURE_OK;
    result.verdict = result.decided ? (int)verdict->value : 0;
    if (row != NULL && row->state == RT_FIGURE_OK)
        result.interval =
            (struct interval){row->value, row->lower, row->upper, row->n_events, row->n_patients};
    return result;
}

static enum rt_status audit_world(const struct rule_run *run, enum world world, int size, long number,
                                  struct rt_error *error)
{
    const struct rt_sample_settings settings = settings_for(world, sizes[size], number);
    struct rt_sample_practice practice = {.implant_count = 0};
    struct rt_cohort cohort = {.count = 0};
    struct rt_figure_list figures = {.count = 0};
    struct rt_rows rows = {.list = &figures, .error = error, .status = RT_OK};
    enum rt_status status = rt_generate_practice(&settings, &practice, error);
    if (status == RT_OK)
        status = cohort_of_practice(&practice, &run->new_store->empty, AS_RECORDED, &cohort, error);
    if (status == RT_OK) {
        rt_rule_figures(&run->rules, &cohort, &rows);
        status = rows.status;
    }
    for (size_t t = 0; t < TRIALS && status == RT_OK; t++)
        if (trials[t].world == world)
            run->results[((size_t)size * (size_t)run->settings->practices + (size_t)number) * TRIALS + t] =
                take_result(&figures, &trials[t]);
    rt_release_figures(&figures);
    rt_release_cohort(&cohort);
    rt_release_practice(&practice);
    return status;
}

static enum rt_status work(void *context, long process, struct rt_error *error)
{
    const struct rule_run *run = context;
    enum rt_status status = RT_OK;
    for (int size = LARGEST; size >= SMALLEST; size--)
        for (long i = process; i < practices_of(run->settings, size) && status == RT_OK;
             i += run->settings->processes)
            for (int world = AS_THE_SAMPLE; world <= RULES_HOLD && status == RT_OK; world++)
                status = audit_world(run, (enum world)world, size, i, error);
    return status;
}

/* --- the table ------------------------------------------------------------------------------------------- */

struct tally {
    long practices, defined, covered, supported, refuted, wrong;
    double sum; /* of the defined estimates */
};

static struct tally tally_of(const struct rule_run *run, int size, size_t t)
{
    struct tally tally = {.practices = practices_of(run->settings, size)};
    for (long i = 0; i < tally.practices; i++) {
        const struct result *result =
            &run->results[((size_t)size * (size_t)run->settings->practices + (size_t)i) * TRIALS + t];
        if (is_defined(&result->interval)) {
            tally.defined++;
            tally.sum += result->interval.value;
            tally.covered += covers(&result->interval, trials[t].truth);
        }
        tally.supported += result->verdict > 0;
        tally.refuted += result->verdict < 0;
        tally.wrong += result->verdict != 0 && result->verdict != (int)trials[t].verdict;
    }
    return tally;
}

/* Would chance leave so few among n when each comes with probability share? */
static bool too_seldom(long found, long n, double share)
{
    return n > 0 && gsl_cdf_binomial_P((unsigned)found, share, (unsigned)n) < 0.0005;
}

/* A verdict against the truth at most in 1 of 20 practices of any size; from a 95% interval in a large practice the right one in
 * most; none in a small one (but for the slope); the intervals hold the truth. */
static long faults_of(const struct trial *trial, int size, const struct tally *tally)
{
    const long right = trial->verdict == SUPPORTED ? tally->supported
                       : trial->verdict == REFUTED ? tally->refuted
                                                   : tally->practices - tally->supported - tally->refuted;
    const long silent = tally->practices - tally->supported - tally->refuted;
    long faults = 0;
    faults += too_seldom(tally->practices - tally->wrong, tally->practices, 0.95);
    faults += size == LARGEST && too_seldom(right, tally->practices, 0.90);
    /* a slope is told by few cases: there a verdict that is right may come early */
    const long early =
        trial->measure != NULL && strcmp(trial->measure, "rule_slope_adjusted") == 0 ? right : 0;
    faults += size == SMALLEST && too_seldom(silent + early, tally->practices, 0.95);
    faults += size > SMALLEST && trial->measure != NULL && too_seldom(tally->covered, tally->defined, 0.93);
    if (faults > 0)
        fprintf(stderr,
                "simulate: rule %s, %s, %d implants: %ld of %ld verdicts right, %ld wrong, %ld of %ld "
                "intervals hold\n",
                trial->rule, world_names[trial->world], sizes[size], right, tally->practices, tally->wrong,
                tally->covered, tally->defined);
    return faults;
}

static void add_line(const struct trial *trial, int size, const struct tally *tally, struct rt_text *text)
{
    rt_text_format(text, "%s,%s,%s,%d,%ld,%ld,%ld,%ld,%s,", world_names[trial->world], trial->rule,
                   truth_words[trial->verdict + 1], sizes[size], tally->practices, tally->supported,
                   tally->refuted, tally->practices - tally->supported - tally->refuted,
                   trial->measure == NULL ? "" : trial->measure);
    if (trial->measure == NULL)
        rt_text_add(text, ",,,\n");
    else if (tally->defined == 0)
        rt_text_format(text, "%g,0,,\n", trial->truth);
    else
        rt_text_format(text, "%g,%ld,%.4g,%.4f\n", trial->truth, tally->defined,
                       tally->sum / (double)tally->defined, (double)tally->covered / (double)tally->defined);
}

/* Could these practices be some of those the published line was made from? 1 when not. */
static long compare(struct rule_run *run, const struct trial *trial, int size, const struct tally *tally)
{
    const struct verdict_counts counts = {tally->practices, tally->supported, tally->refuted, tally->defined,
                                          tally->covered};
    if (run->settings->published == NULL ||
        fits_published(&run->published, world_names[trial->world], trial->rule, sizes[size], &counts))
        return 0;
    fprintf(stderr, "simulate: rule %s, %s, %d implants: not likely by %s\n", trial->rule,
            world_names[trial->world], sizes[size], run->settings->published);
    return 1;
}

static enum rt_status write_table(struct rule_run *run, struct rt_error *error)
{
    struct rt_text text = {0};
    long faults = 0;
    rt_text_add(&text, "practices,rule,truth,implants,simulated,supported,not_supported,cannot_tell,interval,"
                       "true_value,defined,mean_estimate,coverage\n");
    for (size_t t = 0; t < TRIALS; t++)
        for (int size = 0; size < SIZES; size++) {
            const struct tally tally = tally_of(run, size, t);
            add_line(&trials[t], size, &tally, &text);
            faults += faults_of(&trials[t], size, &tally) + compare(run, &trials[t], size, &tally);
        }
    if (run->settings->published != NULL && run->published.count != TRIALS * SIZES) {
        faults++;
        fprintf(stderr, "simulate: %s has %zu lines, not %d\n", run->settings->published,
                run->published.count, (int)TRIALS * SIZES);
    }
    enum rt_status status = rt_text_status(&text, error);
    if (status == RT_OK && run->settings->out != NULL)
        status = rt_write_file(run->settings->out, text.bytes, text.length, error);
    if (status == RT_OK)
        fwrite(text.bytes, 1, text.length, stdout);
    rt_text_release(&text);
    if (status == RT_OK && faults > 0)
        status = rt_fail(error, RT_PARTIAL, "%ld verdicts or intervals on house rules are wrong too often",
                         faults);
    return status;
}

enum rt_status simulate_rules(const struct rule_settings *settings, const struct new_store *new_store,
                              struct rt_error *error)
{
    struct rule_run run = {.settings = settings, .new_store = new_store};
    run.results = shared_array((size_t)SIZES * (size_t)settings->practices * TRIALS, sizeof *run.results);
    if (run.results == NULL)
        return rt_fail_memory(error);
    enum rt_status status = rt_load_house_rules(new_store->store, &run.rules, error);
    if (status == RT_OK && settings->published != NULL)
        status = read_published_verdicts(settings->published, &run.published, error);
    if (status == RT_OK)
        status = in_processes(settings->processes, work, &run, error);
    if (status == RT_OK)
        status = write_table(&run, error);
    release_published_verdicts(&run.published);
    return status;
}
