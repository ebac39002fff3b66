/* How far the survival figures hang on choices: one implant of each patient, the implants left out for contradictory records,
 * failures early and late apart. */
#include "ridgetally/audit/estimates.h"
#include "ridgetally/audit/fate.h"
#include "ridgetally/audit/observations.h"
#include "ridgetally/audit/sections.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/stats/survival_curve.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

enum { LEAST_YEARS = 1, MOST_YEARS = 40, DRAWS = 200, SEED = 20231 };

struct checks_task {
    const struct rt_cohort *cohort;
    struct rt_rows *rows;
    struct rt_observations *set;
    struct rt_sample *sample;
};

static int whole_years(const struct rt_observations *set)
{
    double last = 0.0;
    for (size_t i = 0; i < set->n; i++)
        last = fmax(last, set->time[i]);
    return (int)fmin(MOST_YEARS, fmax(LEAST_YEARS, floor(last / RT_YEAR_DAYS)));
}

/* Give the rows added by hand their patients' codes. */
static void close_set(struct rt_observations *set)
{
    const bool kept[] = {true};
    rt_observations_keep_levels(set, kept);
}

static void clear_set(struct rt_observations *set)
{
    set->n = set->clusters = 0;
    set->late = false;
}

/* --- one implant of each patient ------------------------------------------------------------------------- */

/* The implants to draw from. Patients and implants are told apart by what they are (day, tooth), not by the order of loading,
 * so that the same records give the same draws. */
struct pool {
    uint64_t *key;   /* of each row: day of placement and tooth */
    uint64_t *state; /* of each patient's generator */
    size_t *row;     /* rows of a patient in order of their keys, patients together */
};

/* The minimal standard generator: Park, Miller 1988, Communications of the ACM 31:1192-1201. */
static const uint64_t modulus = 2147483647u, multiplier = 16807u;

static size_t draw(uint64_t *state, size_t count)
{
    *state = *state * multiplier % modulus;
    return (size_t)(*state * count / modulus);
}

static enum rt_status start_pool(struct pool *pool, const struct rt_cohort *cohort, struct rt_error *error)
{
    *pool = (struct pool){.key = rt_new_array(cohort->count + 1, sizeof(uint64_t)),
                          .state = rt_new_array(cohort->patients + 1, sizeof(uint64_t)),
                          .row = rt_new_array(cohort->count + 1, sizeof(size_t))};
    const bool complete = pool->key != NULL && pool->state != NULL && pool->row != NULL;
    return complete ? RT_OK : rt_fail_memory(error);
}

static void release_pool(struct pool *pool)
{
    free(pool->key);
    free(pool->state);
    free(pool->row);
}

static uint64_t key_of_implant(const struct rt_audit_implant *implant)
{
    const int64_t earliest = -1000000; /* days: no placement is before it */
    return (uint64_t)((implant->placed_on - earliest) * 100 + (implant->tooth > 0 ? implant->tooth : 0));
}

/* Put a row in its place among those of its patient, which begin at `from`. */
static void insert_row(struct pool *pool, size_t from, size_t row)
{
    size_t at = row;
    for (; at > from && pool->key[pool->row[at - 1]] > pool->key[row]; at--)
        pool->row[at] = pool->row[at - 1];
    pool->row[at] = row;
}

/* Every analysed implant, with its key, and each patient's generator begun from the seed and the patient's keys. */
static void fill_pool(struct checks_task *task, enum rt_censoring censoring, struct pool *pool)
{
    struct rt_observations *set = task->set;
    clear_set(set);
    for (size_t i = 0; i < task->cohort->count; i++) {
        const struct rt_audit_implant *implant = &task->cohort->implants[i];
        struct rt_observation one;
        if (!rt_is_analysed(task->cohort, implant) || !rt_observe(task->cohort, implant, censoring, &one))
            continue;
        pool->key[set->n] = key_of_implant(implant);
        rt_observations_add(set, implant->patient, &one, 0);
    }
    close_set(set);
    for (size_t row = 0, from = 0; row < set->n; row++) {
        if (row > 0 && set->cluster[row] != set->cluster[row - 1])
            from = row;
        insert_row(pool, from, row);
        uint64_t *state = &pool->state[set->cluster[row]];
        *state = row == from ? SEED + pool->key[row] : *state + pool->key[row];
    }
    for (size_t patient = 0; patient < set->clusters; patient++)
        pool->state[patient] = 1 + pool->state[patient] % (modulus - 1);
}

/* Sums over the draws at one year. */
struct drawn {
    double survival, squared_error, at_risk;
    double late_error; /* squared, grown as the numbers at risk shrink after the last failure */
    double *each;      /* survival of each draw */
    bool undefined;
};

/* Keep one row of each patient in `chosen`; rows of a patient follow each other. */
static void choose_one_each(const struct rt_observations *set, struct pool *pool,
                            struct rt_observations *chosen)
{
    chosen->n = 0;
    for (size_t from = 0, to; from < set->n; from = to) {
        for (to = from; to < set->n && set->cluster[to] == set->cluster[from];)
            to++;
        const size_t row = pool->row[from + draw(&pool->state[set->cluster[from]], to - from)];
        const size_t at = chosen->n++;
        chosen->time[at] = set->time[row];
        chosen->entry[at] = set->entry[row];
        chosen->event[at] = set->event[row];
        chosen->cluster[at] = at;
    }
    chosen->clusters = chosen->n;
    chosen->late = set->late;
}

/* At risk at the last failure over at risk at a day, not below 1 (as rt_survival_late_at). */
static double shrinking(const struct rt_survival_curve *curve, double day)
{
    const size_t until = rt_timeline_until(&curve->timeline, day);
    const double now = (double)rt_timeline_at_risk(&curve->timeline, day);
    for (size_t k = until; k-- > 0;)
        if (curve->events[k] > 0 && now > 0.0)
            return fmax(1.0, (double)curve->at_risk[k] / now);
    return 1.0;
}

static void add_draw(struct checks_task *task, const struct rt_observations *chosen, size_t number,
                     struct drawn *years, int count)
{
    struct rt_survival_curve curve = {.count = 0};
    struct rt_follow_up data = rt_follow_up_of(chosen, false);
    data.clusters = (struct rt_clusters){.of = NULL};
    if (rt_rows_check(task->rows,
                      rt_survival_curve(&curve, &data, RT_INTERVAL_DOUBLE_LOG, task->rows->error))) {
        for (int year = 1; year <= count; year++) {
            struct drawn *one = &years[year - 1];
            const double day = year * RT_YEAR_DAYS;
            const struct rt_estimate estimate = rt_survival_at(&curve, day);
            one->each[number] = estimate.value;
            one->survival += estimate.value;
            one->squared_error += estimate.standard_error * estimate.standard_error;
            one->late_error += estimate.standard_error * estimate.standard_error * shrinking(&curve, day);
            one->at_risk += (double)rt_timeline_at_risk(&curve.timeline, day);
            one->undefined = one->undefined || isnan(estimate.value) || isnan(estimate.standard_error);
        }
    }
    rt_survival_curve_release(&curve);
}

/* Within-cluster resampling: the mean of the draws, its variance the mean variance of a draw minus the variance between
 * draws. */
static void write_drawn(struct checks_task *task, const struct rt_row_key *key, struct drawn *one, int year)
{
    struct rt_figure row = rt_row_of(task->rows, "survival", "survival_one_implant", key);
    double between = 0.0;
    const double mean = one->survival / DRAWS;
    for (size_t i = 0; i < DRAWS; i++)
        between += (one->each[i] - mean) * (one->each[i] - mean);
    const double variance = one->squared_error / DRAWS - between / (DRAWS - 1);
    row.at = year;
    row.n_implants = row.n_patients = lround(one->at_risk / DRAWS);
    row.value = mean;
    if (one->undefined) {
        row.state = RT_FIGURE_UNDEFINED;
        row.value = NAN;
        row.remark = "not every draw is followed that long";
    } else if (mean == 1.0) {
        const struct rt_estimate exact = rt_survival_exact(1.0, (size_t)row.n_patients);
        row.lower = exact.lower;
        row.upper = exact.upper;
        row.method = "exact_conservative";
    } else if (variance > 0.0) {
        const double late = one->late_error / DRAWS - between / (DRAWS - 1);
        double unused;
        rt_curve_limits(RT_INTERVAL_DOUBLE_LOG, mean, sqrt(variance), &unused, &row.upper);
        rt_curve_limits(RT_INTERVAL_DOUBLE_LOG, mean, sqrt(late), &row.lower, &unused);
    } else {
        row.remark = "the draws differ too much for limits";
    }
    if (row.n_patients < RT_LEAST_PATIENTS)
        rt_set_too_few(&row, "fewer than 10 patients at risk");
    rt_put_row(task->rows, &row);
}

static void write_one_each(struct checks_task *task, enum rt_censoring censoring)
{
    struct rt_observations chosen = {.n = 0};
    struct pool pool = {.key = NULL};
    if (rt_rows_check(task->rows, start_pool(&pool, task->cohort, task->rows->error)))
        fill_pool(task, censoring, &pool);
    const int years = whole_years(task->set);
    struct drawn *drawn = rt_new_array((size_t)years, sizeof *drawn);
    double *each = rt_new_array((size_t)years * DRAWS, sizeof *each);
    const struct rt_row_key key = rt_key_text("censoring", rt_censoring_name(censoring), "", "");
    if (drawn == NULL || each == NULL)
        rt_rows_check(task->rows, rt_fail_memory(task->rows->error));
    if (task->set->clusters >= RT_LEAST_PATIENTS && task->rows->status == RT_OK &&
        rt_rows_check(task->rows, rt_observations_start(&chosen, task->cohort, task->rows->error))) {
        for (int year = 0; year < years; year++)
            drawn[year].each = each + (size_t)year * DRAWS;
        for (size_t i = 0; i < DRAWS && task->rows->status == RT_OK; i++) {
            choose_one_each(task->set, &pool, &chosen);
            add_draw(task, &chosen, i, drawn, years);
        }
        for (int year = 1; year <= years; year++)
            write_drawn(task, &key, &drawn[year - 1], year);
    }
    rt_observations_release(&chosen);
    release_pool(&pool);
    free(drawn);
    free(each);
}

/* --- a curve at whole years ------------------------------------------------------------------------------ */

/* Write the curve of the set at whole years, as survival or, with failing = true, as the share that failed. */
static void write_years(struct checks_task *task, const char *measure, const struct rt_row_key *key,
                        bool failing, int years)
{
    struct rt_survival_curve curve = {.count = 0};
    struct rt_follow_up data = rt_follow_up_of(task->set, false);
    if (task->set->n == 0 ||
        !rt_rows_check(task->rows,
                       rt_survival_curve(&curve, &data, RT_INTERVAL_DOUBLE_LOG, task->rows->error))) {
        rt_survival_curve_release(&curve);
        return;
    }
    for (int year = 1; year <= years; year++) {
        struct rt_figure row = rt_row_of(task->rows, "survival", measure, key);
        const double day = year * RT_YEAR_DAYS;
        size_t patients = 0, until = rt_timeline_until(&curve.timeline, day);
        struct rt_estimate estimate = rt_survival_late_at(&curve, day);
        if (!rt_rows_check(task->rows, rt_clusters_at_risk(&curve.timeline, &curve.data, day, &patients,
                                                           task->rows->error)))
            break;
        if (estimate.value == 1.0 || estimate.value == 0.0) {
            estimate = rt_survival_exact(estimate.value, patients);
            row.method = "exact_conservative";
        }
        if (failing)
            estimate = (struct rt_estimate){.value = 1.0 - estimate.value,
                                            .lower = 1.0 - estimate.upper,
                                            .upper = 1.0 - estimate.lower,
                                            .reason = estimate.reason};
        row.at = year;
        row.n_implants = (long)rt_timeline_at_risk(&curve.timeline, day);
        row.n_patients = (long)patients;
        row.n_events = 0;
        for (size_t k = 0; k < until; k++)
            row.n_events += (long)curve.events[k];
        rt_set_estimate(&row, &estimate);
        row.p = NAN;
        if (patients < RT_LEAST_PATIENTS)
            rt_set_too_few(&row, "fewer than 10 patients at risk");
        rt_put_row(task->rows, &row);
    }
    rt_survival_curve_release(&curve);
}

/* --- failures after 180 days ----------------------------------------------------------------------------- */

/* The implants in place and under observation 180 days after placement, from then on. */
static void take_late(struct checks_task *task)
{
    clear_set(task->set);
    for (size_t i = 0; i < task->cohort->count; i++) {
        struct rt_observation one;
        if (!rt_is_analysed(task->cohort, &task->cohort->implants[i]) ||
            !rt_observe(task->cohort, &task->cohort->implants[i], RT_LAST_SIGHTING, &one) ||
            one.exit <= RT_EARLY_DAYS)
            continue;
        one.entry = one.entry > RT_EARLY_DAYS ? one.entry : RT_EARLY_DAYS;
        if (one.entry < one.exit)
            rt_observations_add(task->set, task->cohort->implants[i].patient, &one, 0);
    }
    close_set(task->set);
}

static void count_failures(struct checks_task *task, const char *when, bool early)
{
    rt_sample_clear(task->sample);
    for (size_t i = 0; i < task->cohort->count; i++) {
        const struct rt_audit_implant *implant = &task->cohort->implants[i];
        if (rt_is_analysed(task->cohort, implant) && rt_fate_of(task->cohort, implant) == RT_REMOVED &&
            (implant->removed_on - implant->placed_on <= RT_EARLY_DAYS) == early)
            rt_sample_add(task->sample, task->cohort, i, 1.0);
    }
    struct rt_row_key key = rt_key_text("when", when, "", "");
    rt_put_count(task->rows, "survival", "failures", &key, (long)task->sample->n,
                 (long)task->sample->clusters, RT_NO_COUNT);
}

static void write_late(struct checks_task *task)
{
    const struct rt_row_key key = rt_key_text("censoring", "last sighting", "", "");
    count_failures(task, "within 180 days", true);
    count_failures(task, "later", false);
    take_late(task);
    write_years(task, "late_failure", &key, true, whole_years(task->set));
}

/* --- implants left out for contradictory records --------------------------------------------------------- */

enum word { AS_RECORDED, BEST_CASE, WORST_CASE, WORDS };

static const char *const words[WORDS] = {"as recorded", "best case", "worst case"};

static bool is_left_out(const struct rt_audit_implant *implant)
{
    return (implant->blocked & RT_BLOCKS_SURVIVAL) != 0;
}

/* What a left-out implant is taken for. Best: not failed when last seen; worst: failed on the day of its removal or, without
 * one, the day after it was last seen. */
static void take_for(const struct rt_audit_implant *implant, enum word word, struct rt_observation *one)
{
    const bool removed = one->cause == RT_FAILURE;
    if (word == BEST_CASE) {
        one->exit = implant->last_seen_on - implant->placed_on;
        one->cause = RT_CENSORED;
    } else if (word == WORST_CASE && !removed) {
        one->exit = implant->last_seen_on + 1 - implant->placed_on;
        one->cause = RT_FAILURE;
    }
}

static void take_with_left_out(struct checks_task *task, enum word word)
{
    clear_set(task->set);
    for (size_t i = 0; i < task->cohort->count; i++) {
        const struct rt_audit_implant *implant = &task->cohort->implants[i];
        struct rt_observation one;
        if (!rt_observe(task->cohort, implant, RT_LAST_SIGHTING, &one) ||
            (!is_left_out(implant) && !rt_is_analysed(task->cohort, implant)))
            continue;
        if (is_left_out(implant))
            take_for(implant, word, &one);
        if (one.entry == 0 || one.entry < one.exit)
            rt_observations_add(task->set, implant->patient, &one, 0);
    }
    close_set(task->set);
}

static void write_early_with(struct checks_task *task, const char *records, int closing, enum word word)
{
    const struct rt_cohort *cohort = task->cohort;
    rt_sample_clear(task->sample);
    for (size_t i = 0; i < cohort->count; i++) {
        const struct rt_audit_implant *implant = &cohort->implants[i];
        const int day = implant->placed_on + RT_EARLY_DAYS;
        if (day > cohort->period.last_day || day < closing ||
            (cohort->complete_since != RT_NO_DATE && implant->placed_on < cohort->complete_since))
            continue;
        enum rt_early_state state = rt_early_state(cohort, implant);
        if (is_left_out(implant) && word != AS_RECORDED)
            state = word == WORST_CASE ? RT_EARLY_FAILED : RT_EARLY_NOT_FAILED;
        if (state != RT_EARLY_UNKNOWN)
            rt_sample_add(task->sample, cohort, i, state == RT_EARLY_FAILED ? 1.0 : 0.0);
    }
    struct rt_row_key key = rt_key_text("window", records, "bound", words[word]);
    rt_put_share(task->rows, rt_row_of(task->rows, "survival", "early_failure_left_out", &key), task->sample);
}

static long count_left_out(struct checks_task *task)
{
    long failed = 0;
    rt_sample_clear(task->sample);
    for (size_t i = 0; i < task->cohort->count; i++) {
        if (!is_left_out(&task->cohort->implants[i]))
            continue;
        failed += rt_fate_of(task->cohort, &task->cohort->implants[i]) == RT_REMOVED;
        rt_sample_add(task->sample, task->cohort, i, 0.0);
    }
    struct rt_figure row = rt_row_of(task->rows, "survival", "left_out", NULL);
    row.n_implants = (long)task->sample->n;
    row.n_patients = (long)task->sample->clusters;
    row.n_events = failed;
    row.value = (double)row.n_implants;
    rt_put_row(task->rows, &row);
    return row.n_implants;
}

static void write_left_out(struct checks_task *task)
{
    const char *const records[] = {"12 months", "all"};
    const int closing[] = {rt_closing_start(&task->cohort->period), RT_NO_DATE};
    if (count_left_out(task) == 0)
        return;
    for (int word = 0; word < WORDS && task->rows->status == RT_OK; word++) {
        const struct rt_row_key key = rt_key_text("censoring", "last sighting", "bound", words[word]);
        take_with_left_out(task, (enum word)word);
        write_years(task, "survival_left_out", &key, false, whole_years(task->set));
        for (size_t i = 0; i < 2; i++)
            write_early_with(task, records[i], closing[i], (enum word)word);
    }
}

void rt_survival_check_figures(const struct rt_cohort *cohort, struct rt_rows *rows)
{
    struct rt_observations set = {.n = 0};
    struct rt_sample sample = {.n = 0};
    struct checks_task task = {.cohort = cohort, .rows = rows, .set = &set, .sample = &sample};
    if (rt_rows_check(rows, rt_observations_start(&set, cohort, rows->error)) &&
        rt_rows_check(rows, rt_sample_start(&sample, cohort, rows->error))) {
        if (!cohort->without_resampling)
            for (int i = RT_LAST_SIGHTING; i <= RT_RECALL && rows->status == RT_OK; i++)
                write_one_each(&task, (enum rt_censoring)i);
        write_late(&task);
        write_left_out(&task);
    }
    rt_observations_release(&set);
    rt_sample_release(&sample);
}
