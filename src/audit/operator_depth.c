/* Depth error over time: single sessions with limits, moving average, learning curve. */
#include "operators.h"

#include "ridgetally/audit/sections.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/stats/control_chart.h"
#include "ridgetally/stats/curve.h"

#include <math.h>
#include <stdio.h>

#define EWMA_LAMBDA 0.2
#define EWMA_WIDTH  2.86

/* The sessions with a depth error, in time. */
struct depth_series {
    size_t n, implants, baseline; /* baseline: sessions before the last 12 months */
    size_t *number;
    double *value, *lower, *upper, *average;
    bool *signal;
    struct rt_ewma_point *point;
};

static enum rt_status start_series(struct depth_series *series, size_t room, struct rt_error *error)
{
    *series = (struct depth_series){.number = rt_new_array(room + 1, sizeof *series->number),
                                    .value = rt_new_array(4 * (room + 1), sizeof *series->value),
                                    .signal = rt_new_array(room + 1, sizeof *series->signal),
                                    .point = rt_new_array(room + 1, sizeof *series->point)};
    if (series->number == NULL || series->value == NULL || series->signal == NULL || series->point == NULL)
        return rt_fail_memory(error);
    series->lower = series->value + room + 1;
    series->upper = series->lower + room + 1;
    series->average = series->upper + room + 1;
    return RT_OK;
}

static void release_series(struct depth_series *series)
{
    free(series->number);
    free(series->value);
    free(series->signal);
    free(series->point);
}

static bool has_depth(const struct rt_session *session)
{
    return session->depth_implants > 0;
}

static void take_series(const struct operator_task *task, struct depth_series *series)
{
    const int year = rt_year_start(&task->cohort->period);
    for (size_t i = 0; i < task->count; i++) {
        const struct rt_session *session = &task->sessions->of[task->first + i];
        if (!has_depth(session))
            continue;
        series->number[series->n] = i + 1;
        series->value[series->n++] = session->depth_error_mm;
        series->implants += session->depth_implants;
        series->baseline += session->placed_on < year;
    }
    if (series->baseline < RT_LEAST_SESSIONS)
        series->baseline = series->n;
}

/* Counts and minimum of a row about the series. */
static void put_about_series(struct operator_task *task, const struct depth_series *series,
                             const char *measure, double value, double lower, double upper,
                             const char *remark)
{
    struct rt_row_key key = operator_key(task);
    struct rt_figure row = rt_row_of(task->rows, "operators", measure, &key);
    size_t patients = 0;
    if (!rt_rows_check(task->rows, rt_count_session_patients(task->sessions, task->first, task->count, false,
                                                             has_depth, &patients, task->rows->error)))
        return;
    row.n_implants = (long)series->implants;
    row.n_patients = (long)patients;
    row.n_due = (long)series->n;
    row.value = value;
    row.lower = lower;
    row.upper = upper;
    row.remark = remark;
    rt_apply_minimum(&row);
    if (row.state == RT_FIGURE_OK && series->n < RT_LEAST_SESSIONS)
        rt_set_too_few(&row, "fewer than 20 sessions");
    rt_put_row(task->rows, &row);
}

static void write_single(struct operator_task *task, struct depth_series *series,
                         const struct rt_control_chart *limits, const char *remark)
{
    for (size_t i = 0; i < series->n; i++) {
        series->lower[i] = limits->lower;
        series->upper[i] = limits->upper;
        series->signal[i] = rt_control_signal(limits, series->value[i]);
    }
    const struct operator_chart chart = {.name = "single sessions",
                                         .n = series->n,
                                         .number = series->number,
                                         .value = series->value,
                                         .lower = series->lower,
                                         .upper = series->upper,
                                         .signal = series->signal,
                                         .each_is_one = true,
                                         .run_length = task->single_run_length,
                                         .remark = remark};
    write_operator_chart(task, &chart);
}

static void write_average(struct operator_task *task, struct depth_series *series,
                          const struct rt_control_chart *limits, const char *remark)
{
    const struct rt_ewma_design design = {limits->centre, limits->sigma, EWMA_LAMBDA, EWMA_WIDTH};
    rt_ewma(series->value, series->n, &design, series->point);
    for (size_t i = 0; i < series->n; i++) {
        series->average[i] = series->point[i].ewma;
        series->lower[i] = series->point[i].lower;
        series->upper[i] = series->point[i].upper;
        series->signal[i] = series->point[i].signal;
    }
    const struct operator_chart chart = {.name = "moving average",
                                         .path = "depth_moving_average",
                                         .n = series->n,
                                         .number = series->number,
                                         .value = series->average,
                                         .lower = series->lower,
                                         .upper = series->upper,
                                         .signal = series->signal,
                                         .run_length = task->average_run_length,
                                         .remark = remark};
    write_operator_chart(task, &chart);
}

/* They are those of every operator. */
static void take_run_lengths(struct operator_task *task)
{
    if (!isnan(task->average_run_length))
        return;
    task->single_run_length = rt_ewma_run_length(1.0, 3.0, 0.0);
    task->average_run_length = rt_ewma_run_length(EWMA_LAMBDA, EWMA_WIDTH, 0.0);
}

/* Rows on limits and, where the minimum is met, the two charts. */
static void write_series(struct operator_task *task, struct depth_series *series)
{
    struct rt_control_chart limits = rt_control_chart(series->value, series->n, series->baseline);
    const char *remark = series->baseline < series->n ? "limits from the sessions before the last 12 months"
                                                      : "limits from all sessions";
    put_about_series(task, series, "depth_centre", limits.centre, limits.lower, limits.upper, remark);
    put_about_series(task, series, "depth_baseline_sessions", (double)series->baseline, NAN, NAN, remark);
    put_about_series(task, series, "depth_moving_range", limits.moving_range, NAN, NAN, remark);
    if (task->rows->status != RT_OK ||
        task->rows->list->rows[task->rows->list->count - 1].state != RT_FIGURE_OK)
        return;
    if (!(limits.sigma > 0.0)) /* every session the same: no chart */
        return;
    take_run_lengths(task);
    write_single(task, series, &limits, remark);
    write_average(task, series, &limits, remark);
}

void write_operator_depth(struct operator_task *task)
{
    struct depth_series series;
    if (rt_rows_check(task->rows, start_series(&series, task->count, task->rows->error))) {
        take_series(task, &series);
        write_series(task, &series);
    }
    release_series(&series);
}

/* --- learning curve -------------------------------------------------------------------------------------- */

/* Distance from plan in value, running number of the implant in other; patients together as the cohort has them. */
static size_t take_learning(const struct operator_task *task, double *number_of)
{
    size_t number = 0;
    for (size_t s = task->first; s < task->first + task->count; s++)
        for (size_t i = 0; i < task->sessions->of[s].count; i++)
            number_of[task->sessions->implant[task->sessions->of[s].first + i]] = (double)++number;
    rt_sample_clear(task->sample);
    for (size_t i = 0; i < task->cohort->count; i++) {
        const struct rt_audit_implant *implant = &task->cohort->implants[i];
        double error = implant->achieved_depth_mm - implant->planned_depth_mm;
        if (implant->operator_code != task->operator_code || (implant->blocked & RT_BLOCKS_DEPTH) != 0 ||
            isnan(error))
            continue;
        rt_sample_add(task->sample, task->cohort, i, fabs(error));
        task->sample->other[task->sample->n - 1] = number_of[i];
    }
    return number;
}

static void put_learning(struct operator_task *task, double at, const struct rt_estimate *estimate)
{
    struct rt_row_key key = operator_key(task);
    struct rt_figure row = rt_row_of(task->rows, "operators", "learning_curve", &key);
    row.at = at;
    row.n_implants = (long)task->sample->n;
    row.n_patients = (long)task->sample->clusters;
    row.remark = "number one is the first implant in these records, not the operator's first";
    rt_set_estimate(&row, estimate);
    row.p = NAN;
    rt_apply_minimum(&row);
    rt_put_row(task->rows, &row);
}

enum { LEARNING_POINTS = 25, LEAST_LEARNING = 30 };

static void fit_learning(struct operator_task *task, size_t last)
{
    double knots[RT_MOST_KNOTS];
    size_t knot_count = 0;
    struct rt_curve curve = {.knot_count = 0};
    struct rt_sample *sample = task->sample;
    struct rt_clusters clusters = rt_sample_clusters(sample);
    struct rt_estimate none = rt_undefined("too few implants for a curve");
    struct rt_rows *rows = task->rows;
    if (!rt_rows_check(rows, rt_curve_knots(sample->other, sample->n, 0, knots, &knot_count, rows->error)))
        return;
    if (knot_count < RT_FEWEST_KNOTS || sample->n < LEAST_LEARNING || sample->clusters < RT_LEAST_PATIENTS) {
        put_learning(task, NAN, &none);
        return;
    }
    if (rt_rows_check(rows, rt_curve_fit(&curve, sample->other, sample->value, sample->n, knots, knot_count,
                                         &clusters, rows->error))) {
        const size_t step = (last + LEARNING_POINTS - 1) / LEARNING_POINTS;
        for (size_t at = 1; at <= last && rows->status == RT_OK; at += step) {
            struct rt_estimate point = rt_curve_at(&curve, (double)at);
            put_learning(task, (double)at, &point);
        }
    }
    rt_curve_release(&curve);
}

void write_operator_learning(struct operator_task *task)
{
    double *number_of = rt_new_array(task->cohort->count + 1, sizeof *number_of);
    if (number_of == NULL) {
        rt_rows_check(task->rows, rt_fail_memory(task->rows->error));
        return;
    }
    size_t last = take_learning(task, number_of);
    fit_learning(task, last);
    free(number_of);
}
