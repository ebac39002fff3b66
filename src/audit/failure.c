#include "ridgetally/audit/estimates.h"
#include "ridgetally/audit/fate.h"
#include "ridgetally/audit/observations.h"
#include "ridgetally/audit/sections.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/stats/clustered_rate.h"
#include "ridgetally/stats/incidence.h"
#include "ridgetally/stats/rate.h"
#include "ridgetally/stats/survival_curve.h"

#include <math.h>

struct failure_task {
    const struct rt_cohort *cohort;
    struct rt_rows *rows;
    struct rt_sample *sample;
};

/* --- early failure --------------------------------------------------------------------------------------- */

/* What to make of an implant whose state at 180 days is not known. */
enum unknown { LEAVE_OUT, AS_NOT_FAILED, AS_FAILED };

/* Is it due, and (closing) did its 180 days end then? */
static bool early_window_closed(const struct rt_cohort *cohort, const struct rt_audit_implant *implant,
                                int closing)
{
    return rt_early_is_due(cohort, implant) && implant->placed_on + RT_EARLY_DAYS >= closing;
}

/* Returns how many implants are due. */
static long take_early(struct failure_task *task, int closing, enum rt_grouping_of grouping, int level,
                       enum unknown unknown)
{
    long due = 0;
    rt_sample_clear(task->sample);
    for (size_t i = 0; i < task->cohort->count; i++) {
        const struct rt_audit_implant *implant = &task->cohort->implants[i];
        if (!early_window_closed(task->cohort, implant, closing) ||
            rt_level_of(task->cohort, implant, grouping) != level)
            continue;
        due++;
        enum rt_early_state state = rt_early_state(task->cohort, implant);
        if (state == RT_EARLY_UNKNOWN && unknown == LEAVE_OUT)
            continue;
        bool failed = state == RT_EARLY_FAILED || (state == RT_EARLY_UNKNOWN && unknown == AS_FAILED);
        rt_sample_add(task->sample, task->cohort, i, failed ? 1.0 : 0.0);
    }
    return due;
}

static void write_early_level(struct failure_task *task, const char *records, int closing,
                              enum rt_grouping_of grouping, int level)
{
    struct rt_row_key key = rt_key_of(task->cohort, "window", records, grouping, level);
    struct rt_figure row = rt_row_of(task->rows, "survival", "early_failure", &key);
    row.n_due = take_early(task, closing, grouping, level, LEAVE_OUT);
    if (row.n_due == 0 && grouping != RT_BY_NOTHING)
        return;
    rt_put_share(task->rows, row, task->sample);
    if (grouping == RT_BY_NOTHING)
        rt_put_patient_share(task->rows, row, task->sample);
}

static void write_early_bound(struct failure_task *task, const char *records, int closing,
                              enum unknown unknown)
{
    struct rt_row_key key =
        rt_key_text("window", records, "bound", unknown == AS_FAILED ? "worst case" : "best case");
    struct rt_figure row = rt_row_of(task->rows, "survival", "early_failure_bound", &key);
    row.n_due = take_early(task, closing, RT_BY_NOTHING, 0, unknown);
    rt_put_share(task->rows, row, task->sample);
}

static void write_early(struct failure_task *task)
{
    static const enum rt_grouping_of groupings[] = {
        RT_BY_NOTHING,     RT_BY_OPERATOR, RT_BY_DENSITY_FOUND, RT_BY_TORQUE_CLASS,
        RT_BY_DEPTH_CLASS, RT_BY_SMOKING,  RT_BY_TISSUE_CLASS,  RT_BY_IMPLANT_LINE};
    const char *const records[] = {"12 months", "all"};
    const int closing[] = {rt_closing_start(&task->cohort->period), RT_NO_DATE};
    for (size_t i = 0; i < 2; i++) {
        for (size_t j = 0; j < sizeof groupings / sizeof groupings[0]; j++)
            for (int level = 0; level < rt_level_count(task->cohort, groupings[j]); level++)
                write_early_level(task, records[i], closing[i], groupings[j], level);
        write_early_bound(task, records[i], closing[i], AS_NOT_FAILED);
        write_early_bound(task, records[i], closing[i], AS_FAILED);
    }
}

/* --- failure before loading ------------------------------------------------------------------------------ */

enum { LOADING_CAUSE = 2, OTHER_CAUSE = 3, LOADING_CAUSES = 3 };

/* Days to the first of failure, loading and other endings. False when loading is not recorded. */
static bool observe_until_loading(const struct rt_cohort *cohort, const struct rt_audit_implant *implant,
                                  struct rt_observation *observation, int *cause)
{
    if (!rt_is_analysed(cohort, implant) || !rt_observe(cohort, implant, RT_LAST_SIGHTING, observation))
        return false;
    *cause = observation->cause == RT_FAILURE    ? RT_FAILURE
             : observation->cause == RT_CENSORED ? 0
                                                 : OTHER_CAUSE;
    if (implant->loaded_on == RT_NO_DATE)
        return implant->loaded == RT_ANSWER_NO;
    int loading = implant->loaded_on - implant->placed_on;
    if (loading >= 0 && (*cause == 0 || loading <= observation->exit)) {
        observation->exit = loading;
        *cause = LOADING_CAUSE;
    }
    return observation->entry == 0 || observation->entry < observation->exit;
}

static long take_until_loading(const struct rt_cohort *cohort, struct rt_observations *set)
{
    long analysed = 0;
    for (size_t i = 0; i < cohort->count; i++) {
        const struct rt_audit_implant *implant = &cohort->implants[i];
        struct rt_observation observation;
        int cause;
        analysed += rt_is_analysed(cohort, implant);
        if (!observe_until_loading(cohort, implant, &observation, &cause))
            continue;
        rt_observations_add(set, implant->patient, &observation, 0);
        set->cause[set->n - 1] = cause;
    }
    const bool kept[] = {true};
    rt_observations_keep_levels(set, kept);
    return analysed;
}

static void write_loading_at(struct failure_task *task, const struct rt_incidence *result,
                             const struct rt_observations *set, long due, size_t cause, double years)
{
    struct rt_row_key key =
        rt_key_text("censoring", "last sighting", "cause", cause == RT_FAILURE ? "failure" : "loading");
    struct rt_figure row = rt_row_of(task->rows, "survival", "failure_before_loading", &key);
    double day = floor(years * RT_YEAR_DAYS);
    size_t until = rt_timeline_until(&result->timeline, day);
    row.at = years;
    row.n_implants = (long)set->n;
    row.n_patients = (long)set->clusters;
    row.n_due = due;
    row.n_events = 0;
    for (size_t k = 0; k < until; k++)
        row.n_events += (long)result->cause_events[(cause - 1) * result->count + k];
    struct rt_estimate estimate = rt_incidence_late_at(result, cause, day);
    rt_set_estimate(&row, &estimate);
    row.p = NAN;
    if (row.value == 0.0) {
        struct rt_estimate exact = rt_survival_exact(1.0, set->clusters);
        row.lower = 0.0;
        row.upper = 1.0 - exact.lower;
        row.method = "exact_conservative";
        row.remark = "";
    }
    rt_apply_minimum(&row);
    rt_put_row(task->rows, &row);
}

static void write_before_loading(struct failure_task *task)
{
    static const double years[] = {0.25, 0.5, 1.0};
    struct rt_observations set;
    struct rt_incidence result = {.count = 0};
    struct rt_rows *rows = task->rows;
    if (rt_rows_check(rows, rt_observations_start(&set, task->cohort, rows->error))) {
        long due = take_until_loading(task->cohort, &set);
        struct rt_follow_up data = rt_follow_up_of(&set, true);
        if (set.n > 0 && rt_rows_check(rows, rt_incidence(&result, &data, LOADING_CAUSES,
                                                          RT_INTERVAL_DOUBLE_LOG, rows->error)))
            for (size_t cause = RT_FAILURE; cause <= LOADING_CAUSE; cause++)
                for (size_t i = 0; i < sizeof years / sizeof years[0]; i++)
                    write_loading_at(task, &result, &set, due, cause, years[i]);
    }
    rt_incidence_release(&result);
    rt_observations_release(&set);
}

/* --- failures per time ----------------------------------------------------------------------------------- */

/* Sums of each patient. */
struct exposure {
    double *events, *years; /* by patient */
    double patient_years;   /* with at least one implant at risk: each patient's longest implant */
    size_t patients;
    long implants, events_in;
};

/* Years of one implant at risk within the window that begins on first_day; *failed when it failed in it. */
static double years_at_risk(const struct rt_cohort *cohort, const struct rt_audit_implant *implant,
                            enum rt_censoring censoring, int first_day, bool *failed)
{
    struct rt_observation observation;
    *failed = false;
    if (!rt_is_analysed(cohort, implant) || !rt_observe(cohort, implant, censoring, &observation))
        return -1.0;
    int from = implant->placed_on + observation.entry, until = implant->placed_on + observation.exit;
    if (until < first_day)
        return -1.0;
    *failed = observation.cause == RT_FAILURE;
    from = from < first_day - 1 ? first_day - 1 : from;
    return (until - from) / RT_YEAR_DAYS;
}

static void take_exposure(const struct rt_cohort *cohort, enum rt_censoring censoring, int first_day,
                          struct exposure *sums)
{
    for (size_t i = 0; i < cohort->count;) {
        const size_t patient = cohort->implants[i].patient;
        double events = 0.0, years = 0.0, longest = 0.0;
        long at_risk = 0;
        for (; i < cohort->count && cohort->implants[i].patient == patient; i++) {
            bool failed;
            double own = years_at_risk(cohort, &cohort->implants[i], censoring, first_day, &failed);
            if (own < 0.0)
                continue;
            at_risk++;
            events += failed;
            years += own;
            longest = fmax(longest, own);
        }
        if (at_risk == 0)
            continue;
        sums->events[sums->patients] = events;
        sums->years[sums->patients++] = years;
        sums->implants += at_risk;
        sums->events_in += (long)events;
        sums->patient_years += longest;
    }
}

static void write_rate(struct failure_task *task, const char *window, int first_day,
                       enum rt_censoring censoring)
{
    struct exposure sums = {.events = rt_new_array(task->cohort->patients + 1, sizeof(double)),
                            .years = rt_new_array(task->cohort->patients + 1, sizeof(double))};
    bool seen = censoring == RT_LAST_SIGHTING;
    struct rt_row_key key =
        rt_key_text("window", window, seen ? "" : "censoring", seen ? "" : rt_censoring_name(censoring));
    struct rt_figure row = rt_row_of(task->rows, "survival", "failure_rate", &key);
    struct rt_estimate rate;
    if (sums.events == NULL || sums.years == NULL) {
        rt_rows_check(task->rows, rt_fail_memory(task->rows->error));
        goto done;
    }
    take_exposure(task->cohort, censoring, first_day, &sums);
    if (!rt_rows_check(task->rows,
                       rt_clustered_rate(sums.events, sums.years, sums.patients, &rate, task->rows->error)))
        goto done;
    rate.value *= 100.0;
    rate.lower *= 100.0;
    rate.upper *= 100.0;
    row.n_implants = sums.implants;
    row.n_patients = (long)sums.patients;
    row.n_events = sums.events_in;
    rt_set_estimate(&row, &rate);
    if (row.value == 0.0) {
        row.lower = 0.0;
        row.upper = 100.0 * rt_rate_limits(0.0, sums.patient_years).upper;
        row.method = "rate_exact_conservative";
        row.remark = "";
    }
    rt_apply_minimum(&row);
    rt_put_row(task->rows, &row);
done:
    free(sums.events);
    free(sums.years);
}

/* --- discovery ------------------------------------------------------------------------------------------- */

static void write_discovery_gap(struct failure_task *task)
{
    rt_sample_clear(task->sample);
    for (size_t i = 0; i < task->cohort->count; i++) {
        const struct rt_audit_implant *implant = &task->cohort->implants[i];
        if (rt_is_analysed(task->cohort, implant) && rt_fate_of(task->cohort, implant) == RT_REMOVED)
            rt_sample_add(task->sample, task->cohort, i,
                          implant->removed_on - implant->last_seen_before_removal);
    }
    struct rt_row_key key = rt_key_text("window", "all", "", "");
    rt_put_quantile(task->rows, rt_row_of(task->rows, "survival", "discovery_gap", &key), task->sample, 0.5);
}

void rt_failure_figures(const struct rt_cohort *cohort, struct rt_rows *rows)
{
    struct rt_sample sample = {.n = 0};
    struct failure_task task = {.cohort = cohort, .rows = rows, .sample = &sample};
    if (rt_rows_check(rows, rt_sample_start(&sample, cohort, rows->error))) {
        write_early(&task);
        write_before_loading(&task);
        for (int i = RT_LAST_SIGHTING; i <= RT_RECALL; i++) {
            write_rate(&task, "period", cohort->period.first_day, (enum rt_censoring)i);
            write_rate(&task, "12 months", rt_year_start(&cohort->period), (enum rt_censoring)i);
        }
        write_discovery_gap(&task);
    }
    rt_sample_release(&sample);
}
