#include "ridgetally/audit/observations.h"
#include "ridgetally/audit/sections.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/stats/incidence.h"
#include "ridgetally/stats/life_table.h"
#include "ridgetally/stats/survival_curve.h"

#include <math.h>

/* --- life table ------------------------------------------------------------------------------------------
 */

/* Curves of the same implants with and without clusters: their errors' ratio is what clustering by patient
 * adds to the error of the life table. */
struct clustering {
    struct rt_survival_curve robust, naive;
};

static enum rt_status start_clustering(struct clustering *both, const struct rt_follow_up *data,
                                       struct rt_error *error)
{
    struct rt_follow_up single = *data;
    single.clusters = (struct rt_clusters){.of = NULL};
    enum rt_status status = rt_survival_curve(&both->robust, data, RT_INTERVAL_DOUBLE_LOG, error);
    if (status == RT_OK)
        status = rt_survival_curve(&both->naive, &single, RT_INTERVAL_DOUBLE_LOG, error);
    return status;
}

static double error_ratio(const struct clustering *both, double day)
{
    double last = both->robust.count > 0 ? both->robust.time[both->robust.count - 1] : 0.0;
    double robust = rt_survival_at(&both->robust, fmin(day, last)).standard_error;
    double naive = rt_survival_at(&both->naive, fmin(day, last)).standard_error;
    return naive > 0.0 ? robust / naive : NAN;
}

static void keep_from_placement(struct rt_observations *set)
{
    for (size_t i = 0; i < set->n; i++)
        set->level[i] = set->entry[i] > 0.0;
    const bool kept[] = {true, false};
    rt_observations_keep_levels(set, kept);
    set->late = false;
}

struct table_task {
    struct rt_rows *rows;
    struct rt_observations *set;
    struct rt_row_key key;
};

static void write_interval_count(struct table_task *task, const char *measure, double at, double value,
                                 long patients)
{
    struct rt_figure row = rt_row_of(task->rows, "survival", measure, &task->key);
    row.at = at;
    row.value = value;
    row.n_patients = patients;
    rt_put_row(task->rows, &row);
}

static void write_interval(struct table_task *task, const struct rt_life_interval *interval,
                           const struct clustering *both, size_t patients)
{
    const double at = interval->start / RT_YEAR_DAYS;
    const long entering = (long)interval->entering, count = (long)patients;
    write_interval_count(task, "life_table_entering", at, interval->entering, count);
    write_interval_count(task, "life_table_withdrawn", at, interval->withdrawn, RT_NO_COUNT);
    write_interval_count(task, "life_table_failed", at, interval->failed, RT_NO_COUNT);
    write_interval_count(task, "life_table_exposed", at, interval->exposed, RT_NO_COUNT);
    struct rt_figure one = rt_row_of(task->rows, "survival", "life_table_interval", &task->key);
    struct rt_figure all = rt_row_of(task->rows, "survival", "life_table_cumulative", &task->key);
    one.at = all.at = at;
    one.n_implants = all.n_implants = entering;
    one.n_patients = all.n_patients = count;
    one.n_events = all.n_events = (long)interval->failed;
    const char *reason = interval->reason != NULL ? interval->reason : "";
    rt_set_estimate(&one,
                    &(struct rt_estimate){interval->interval_survival, NAN, NAN, NAN, NAN, NAN, NAN, reason});
    rt_set_estimate(
        &all, &(struct rt_estimate){interval->cumulative_survival, NAN, NAN, NAN, NAN, NAN, NAN, reason});
    one.remark = one.state == RT_FIGURE_OK ? "" : one.remark;
    rt_curve_limits(RT_INTERVAL_DOUBLE_LOG, all.value,
                    interval->standard_error * error_ratio(both, interval->end), &all.lower, &all.upper);
    if (all.value == 1.0 || all.value == 0.0) {
        struct rt_estimate exact = rt_survival_exact(all.value, patients);
        all.lower = exact.lower;
        all.upper = exact.upper;
        all.method = "exact_conservative";
    }
    if (patients < RT_LEAST_PATIENTS) {
        rt_set_too_few(&one, "fewer than 10 patients entering");
        rt_set_too_few(&all, "fewer than 10 patients entering");
    } else if (entering < RT_LEAST_SHARE_IMPLANTS) {
        rt_set_too_few(&one, "fewer than 20 implants entering");
        rt_set_too_few(&all, "fewer than 20 implants entering");
    }
    rt_put_row(task->rows, &one);
    rt_put_row(task->rows, &all);
}

static void write_life_table(struct table_task *task)
{
    struct rt_rows *rows = task->rows;
    struct clustering both = {.robust = {.count = 0}};
    struct rt_life_interval *intervals = NULL;
    size_t count = 0, patients = 0;
    keep_from_placement(task->set);
    struct rt_follow_up data = rt_follow_up_of(task->set, false);
    if (data.n > 0 && rt_rows_check(rows, start_clustering(&both, &data, rows->error)) &&
        rt_rows_check(rows, rt_life_table(data.n, data.time, data.event, RT_YEAR_DAYS, &intervals, &count,
                                          rows->error))) {
        for (size_t i = 0; i < count && rows->status == RT_OK; i++) {
            rt_rows_check(rows, rt_clusters_at_risk(&both.robust.timeline, &data, intervals[i].start,
                                                    &patients, rows->error));
            write_interval(task, &intervals[i], &both, patients);
        }
    }
    free(intervals);
    rt_survival_curve_release(&both.robust);
    rt_survival_curve_release(&both.naive);
}

/* --- cumulative incidence --------------------------------------------------------------------------------
 */

static const char *const cause_names[] = {"", "failure", "death", "elective"};
enum { CAUSES = 3 };

static void write_incidence_at(struct table_task *task, const struct rt_incidence *result, size_t cause,
                               double day, enum rt_censoring censoring)
{
    size_t patients = 0, until = rt_timeline_until(&result->timeline, day);
    task->key = rt_key_text("censoring", rt_censoring_name(censoring), "cause", cause_names[cause]);
    struct rt_figure row = rt_row_of(task->rows, "survival", "incidence", &task->key);
    if (!rt_rows_check(task->rows, rt_clusters_at_risk(&result->timeline, &result->data, day, &patients,
                                                       task->rows->error)))
        return;
    row.at = day / RT_YEAR_DAYS;
    row.n_implants = (long)rt_timeline_at_risk(&result->timeline, day);
    row.n_patients = (long)patients;
    row.n_events = 0;
    for (size_t k = 0; k < until; k++)
        row.n_events += (long)result->cause_events[(cause - 1) * result->count + k];
    struct rt_estimate estimate = rt_incidence_late_at(result, cause, day);
    rt_set_estimate(&row, &estimate);
    row.p = NAN;
    if (row.value == 0.0) {
        struct rt_estimate exact = rt_survival_exact(1.0, patients);
        row.lower = 0.0;
        row.upper = 1.0 - exact.lower;
        row.method = "exact_conservative";
        row.remark = "";
    }
    if (patients < RT_LEAST_PATIENTS)
        rt_set_too_few(&row, "fewer than 10 patients at risk");
    else if (result->data.n < RT_LEAST_SHARE_IMPLANTS)
        rt_set_too_few(&row, "fewer than 20 implants");
    rt_put_row(task->rows, &row);
}

static void write_incidence(struct table_task *task, enum rt_censoring censoring)
{
    struct rt_incidence result = {.count = 0};
    struct rt_follow_up data = rt_follow_up_of(task->set, true);
    if (data.n > 0 && rt_rows_check(task->rows, rt_incidence(&result, &data, CAUSES, RT_INTERVAL_DOUBLE_LOG,
                                                             task->rows->error))) {
        double last = result.count > 0 ? result.time[result.count - 1] : 0.0;
        int years = (int)fmin(40.0, fmax(1.0, floor(last / RT_YEAR_DAYS)));
        for (size_t cause = 1; cause <= CAUSES; cause++)
            for (int year = 1; year <= years; year++)
                write_incidence_at(task, &result, cause, year * RT_YEAR_DAYS, censoring);
    }
    rt_incidence_release(&result);
}

void rt_survival_table_figures(const struct rt_cohort *cohort, struct rt_rows *rows)
{
    struct rt_observations set;
    struct table_task task = {.rows = rows, .set = &set};
    rt_rows_check(rows, rt_observations_start(&set, cohort, rows->error));
    for (int i = RT_LAST_SIGHTING; i <= RT_RECALL && rows->status == RT_OK; i++) {
        enum rt_censoring censoring = (enum rt_censoring)i;
        rt_observe_implants(&set, cohort, censoring, RT_BY_NOTHING, 0);
        write_incidence(&task, censoring);
        task.key = rt_key_text("censoring", rt_censoring_name(censoring), "", "");
        write_life_table(&task);
    }
    rt_observations_release(&set);
}
