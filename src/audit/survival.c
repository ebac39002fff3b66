#include "ridgetally/audit/observations.h"
#include "ridgetally/audit/sections.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/stats/log_rank.h"
#include "ridgetally/stats/survival_curve.h"

#include <math.h>
#include <string.h>

enum { LEAST_YEARS = 5, MOST_YEARS = 40 };

/* What all writers of one curve share. */
struct curve_task {
    const struct rt_cohort *cohort;
    struct rt_rows *rows;
    struct rt_observations *set;
    struct rt_survival_curve curve;
    struct rt_row_key key;
    const char *method;
    const char *unit_of_analysis;
};

static struct rt_figure curve_row(struct curve_task *task, const char *measure, double day)
{
    struct rt_figure row = rt_row_of(task->rows, "survival", measure, &task->key);
    row.at = day / RT_YEAR_DAYS;
    row.unit_of_analysis = task->unit_of_analysis;
    if (task->method != NULL)
        row.method = task->method;
    return row;
}

/* Where the curve is 0 or 1 the double-log limits say nothing: exact limits on the patients at risk. */
static void exact_where_flat(struct rt_figure *row, double survival, size_t clusters_at_risk)
{
    if (survival != 0.0 && survival != 1.0)
        return;
    struct rt_estimate exact = rt_survival_exact(survival, clusters_at_risk);
    row->lower = exact.lower;
    row->upper = exact.upper;
    row->method = "exact_conservative";
    if (isnan(exact.lower))
        row->remark = exact.reason != NULL ? exact.reason : "";
}

/* A row of survival_curve: it keeps its value where few are at risk, to be drawn grey. */
static void write_curve_row(struct curve_task *task, double day, double survival, double lower, double upper,
                            size_t at_risk, size_t patients, size_t events)
{
    struct rt_figure row = curve_row(task, "survival_curve", day);
    row.value = survival;
    row.lower = lower;
    row.upper = upper;
    row.n_implants = (long)at_risk;
    row.n_patients = (long)patients;
    row.n_events = (long)events;
    if (day > 0.0) /* at the start the curve is 1 by definition */
        exact_where_flat(&row, survival, patients);
    if (patients < RT_LEAST_PATIENTS) {
        row.state = RT_FIGURE_TOO_FEW;
        row.remark = "fewer than 10 patients at risk";
    }
    rt_put_row(task->rows, &row);
}

/* The curve as steps: the start, every time of a failure, where few are left for the first time, and the end.
 */
static void write_steps(struct curve_task *task)
{
    const struct rt_survival_curve *curve = &task->curve;
    size_t events = 0;
    bool few = false;
    if (curve->count > 0 && curve->time[0] > 0.0)
        write_curve_row(task, 0.0, 1.0, NAN, NAN, rt_timeline_at_risk(&curve->timeline, 0.0),
                        curve->clusters_at_risk[0], 0);
    for (size_t k = 0; k < curve->count; k++) {
        bool turns_few = !few && curve->clusters_at_risk[k] < RT_LEAST_PATIENTS;
        events += curve->events[k];
        few = few || turns_few;
        if (curve->events[k] > 0 || turns_few || k + 1 == curve->count)
            write_curve_row(task, curve->time[k], curve->survival[k], curve->lower[k], curve->upper[k],
                            curve->at_risk[k], curve->clusters_at_risk[k], events);
    }
}

static size_t events_until(const struct rt_survival_curve *curve, double day)
{
    size_t events = 0, until = rt_timeline_until(&curve->timeline, day);
    for (size_t k = 0; k < until; k++)
        events += curve->events[k];
    return events;
}

/* Patients with an event up to a day, and those with an implant that had none, of all who are in the curve. */
static void count_patients_until(const struct rt_observations *set, double day, struct rt_figure *row)
{
    row->event_patients = row->other_patients = 0;
    for (size_t i = 0; i < set->n;) {
        bool event = false, other = false;
        size_t next = i;
        for (; next < set->n && set->cluster[next] == set->cluster[i]; next++) {
            bool failed = set->event[next] != 0 && set->time[next] <= day;
            event = event || failed;
            other = other || !failed;
        }
        row->event_patients += event;
        row->other_patients += other;
        i = next;
    }
}

static void write_year(struct curve_task *task, int year)
{
    const double day = year * RT_YEAR_DAYS;
    struct rt_figure row = curve_row(task, "survival", day);
    struct rt_figure risk = curve_row(task, "at_risk", day);
    size_t patients = 0;
    if (!rt_rows_check(task->rows, rt_clusters_at_risk(&task->curve.timeline, &task->curve.data, day,
                                                       &patients, task->rows->error)))
        return;
    row.n_implants = risk.n_implants = (long)rt_timeline_at_risk(&task->curve.timeline, day);
    row.n_patients = risk.n_patients = (long)patients;
    row.n_events = (long)events_until(&task->curve, day);
    row.other_implants = (long)task->set->n - row.n_events;
    count_patients_until(task->set, day, &row);
    risk.value = (double)risk.n_implants;
    risk.method = "count";
    if (strcmp(task->unit_of_analysis, "patient") == 0)
        risk.unit = "patients";
    rt_put_row(task->rows, &risk);
    if (year == 0)
        return;
    struct rt_estimate estimate = rt_survival_late_at(&task->curve, day);
    rt_set_estimate(&row, &estimate);
    row.p = NAN;
    if (row.state == RT_FIGURE_OK)
        exact_where_flat(&row, row.value, patients);
    if (patients < RT_LEAST_PATIENTS)
        rt_set_too_few(&row, "fewer than 10 patients at risk");
    rt_put_row(task->rows, &row);
}

static void write_curve(struct curve_task *task, bool steps)
{
    struct rt_follow_up data = rt_follow_up_of(task->set, false);
    if (task->set->n == 0)
        return;
    struct rt_figure row = curve_row(task, "survival", RT_YEAR_DAYS);
    row.n_implants = (long)task->set->n;
    row.n_patients = (long)task->set->clusters;
    rt_apply_minimum(&row);
    if (row.state == RT_FIGURE_TOO_FEW) {
        rt_put_row(task->rows, &row);
        return;
    }
    if (rt_rows_check(task->rows,
                      rt_survival_curve(&task->curve, &data, RT_INTERVAL_DOUBLE_LOG, task->rows->error))) {
        double last = task->curve.count > 0 ? task->curve.time[task->curve.count - 1] : 0.0;
        int years = (int)fmin(MOST_YEARS, fmax(LEAST_YEARS, floor(last / RT_YEAR_DAYS)));
        if (steps)
            write_steps(task);
        for (int year = 0; year <= years; year++)
            write_year(task, year);
    }
    rt_survival_curve_release(&task->curve);
}

/* How many implants have no level of the grouping. */
static void write_not_recorded(struct curve_task *task, enum rt_censoring censoring,
                               enum rt_grouping_of grouping)
{
    rt_observe_implants(task->set, task->cohort, censoring, grouping, RT_NO_LEVEL);
    if (task->set->n == 0)
        return;
    task->key = rt_key_of(task->cohort, "censoring", rt_censoring_name(censoring), grouping, RT_NO_LEVEL);
    struct rt_figure row = curve_row(task, "at_risk", 0.0);
    row.n_implants = (long)task->set->n;
    row.n_patients = (long)task->set->clusters;
    row.value = (double)row.n_implants;
    row.method = "count";
    rt_put_row(task->rows, &row);
}

static void test_levels(struct curve_task *task, size_t comparable, struct rt_figure *row)
{
    struct rt_log_rank result = {0};
    struct rt_log_rank_input input = {
        .data = rt_follow_up_of(task->set, false), .group = task->set->level, .groups = comparable};
    if (rt_rows_check(task->rows, rt_log_rank(&result, &input, task->rows->error))) {
        row->value = result.test.statistic;
        row->p = result.test.p;
        if (isnan(row->value)) {
            row->state = RT_FIGURE_UNDEFINED;
            row->remark = result.test.reason != NULL ? result.test.reason : "";
        }
    }
    rt_log_rank_release(&result);
}

/* Compare the levels first..last-1 of a grouping under the name `comparison`. */
static void write_comparison(struct curve_task *task, enum rt_censoring censoring,
                             enum rt_grouping_of grouping, const char *comparison, int first, int last)
{
    size_t comparable = 0;
    rt_observe_implants(task->set, task->cohort, censoring, grouping, RT_ANY_LEVEL);
    if (!rt_rows_check(task->rows, rt_keep_comparable_levels(task->set, first, last, RT_LEAST_PATIENTS, NULL,
                                                             &comparable, task->rows->error)))
        return;
    struct rt_row_key key = rt_key_text("censoring", rt_censoring_name(censoring), "comparison", comparison);
    struct rt_figure row = rt_row_of(task->rows, "survival", "survival_comparison", &key);
    row.n_implants = (long)task->set->n;
    row.n_patients = (long)task->set->clusters;
    row.n_events = 0;
    for (size_t i = 0; i < task->set->n; i++)
        row.n_events += task->set->event[i];
    if (comparable < 2)
        rt_set_too_few(&row, "fewer than two groups of 10 patients");
    else if (rt_event_patients(task->set) < RT_LEAST_EVENT_PATIENTS)
        rt_set_too_few(&row, "fewer than 5 patients with failures");
    else
        test_levels(task, comparable, &row);
    rt_put_row(task->rows, &row);
}

static void write_grouping(struct curve_task *task, enum rt_censoring censoring, enum rt_grouping_of grouping)
{
    const int levels = rt_level_count(task->cohort, grouping);
    task->method = NULL;
    task->unit_of_analysis = "implant";
    for (int level = 0; level < levels && task->rows->status == RT_OK; level++) {
        rt_observe_implants(task->set, task->cohort, censoring, grouping, level);
        task->key = rt_key_of(task->cohort, "censoring", rt_censoring_name(censoring), grouping, level);
        write_curve(task, true);
    }
    write_not_recorded(task, censoring, grouping);
    if (grouping == RT_BY_DENSITY_FOUND) {
        write_comparison(task, censoring, grouping, "density_found=D", 0, RT_DENSITY_CLASSES);
        write_comparison(task, censoring, grouping, "density_found=LZ", RT_DENSITY_CLASSES, levels);
    } else {
        write_comparison(task, censoring, grouping, rt_group_name(grouping), 0, levels);
    }
}

/* The whole cohort: both censorings, the bounds, and patients with any failure. */
static void write_whole(struct curve_task *task, enum rt_censoring censoring)
{
    bool bound = censoring == RT_WORST_CASE || censoring == RT_BEST_CASE;
    task->key = rt_key_text("censoring", rt_censoring_name(censoring), "", "");
    task->method = bound ? "kaplan_meier_bound" : NULL;
    task->unit_of_analysis = "implant";
    rt_observe_implants(task->set, task->cohort, censoring, RT_BY_NOTHING, 0);
    write_curve(task, !bound);
    if (bound)
        return;
    task->unit_of_analysis = "patient";
    rt_observe_patients(task->set, task->cohort, censoring);
    write_curve(task, false);
}

void rt_survival_figures(const struct rt_cohort *cohort, struct rt_rows *rows)
{
    static const enum rt_grouping_of groupings[] = {
        RT_BY_DENSITY_FOUND, RT_BY_TORQUE_CLASS, RT_BY_DEPTH_CLASS, RT_BY_OPERATOR,
        RT_BY_SMOKING,       RT_BY_TISSUE_CLASS, RT_BY_IMPLANT_LINE};
    struct rt_observations set;
    struct curve_task task = {.cohort = cohort, .rows = rows, .set = &set};
    rt_rows_check(rows, rt_observations_start(&set, cohort, rows->error));
    for (int censoring = 0; censoring < RT_CENSORINGS && rows->status == RT_OK; censoring++)
        write_whole(&task, (enum rt_censoring)censoring);
    for (int censoring = RT_LAST_SIGHTING; censoring <= RT_RECALL; censoring++)
        for (size_t i = 0; i < sizeof groupings / sizeof groupings[0] && rows->status == RT_OK; i++)
            write_grouping(&task, (enum rt_censoring)censoring, groupings[i]);
    rt_observations_release(&set);
}
