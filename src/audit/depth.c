#include "ridgetally/audit/estimates.h"
#include "ridgetally/audit/sections.h"
#include "ridgetally/base/number.h"
#include "ridgetally/stats/agreement.h"

#include <math.h>
#include <stdlib.h>

/* One window and one level of a grouping. */
struct depth_task {
    const struct rt_cohort *cohort;
    struct rt_rows *rows;
    struct rt_sample *sample; /* value = achieved - planned */
    const char *window;
    int from; /* first day of the window */
    enum rt_grouping_of grouping;
    int level;
    struct rt_row_key key;
    long due; /* implants placed in the window and level */
};

static bool in_window(const struct depth_task *task, const struct rt_audit_implant *implant)
{
    return implant->placed_on >= task->from && (implant->blocked & RT_BLOCKS_DEPTH) == 0;
}

/* Achieved minus planned, free of binary noise: both are recorded in hundredths at most. */
static double depth_error(const struct rt_audit_implant *implant)
{
    if (isnan(implant->achieved_depth_mm) || isnan(implant->planned_depth_mm))
        return NAN;
    return implant->achieved_depth_mm - implant->planned_depth_mm;
}

static void take_level(struct depth_task *task)
{
    rt_sample_clear(task->sample);
    task->due = 0;
    for (size_t i = 0; i < task->cohort->count; i++) {
        const struct rt_audit_implant *implant = &task->cohort->implants[i];
        if (!in_window(task, implant) || rt_level_of(task->cohort, implant, task->grouping) != task->level)
            continue;
        task->due++;
        double error = depth_error(implant);
        if (!isnan(error))
            rt_sample_add(task->sample, task->cohort, i, error);
    }
}

static struct rt_figure depth_row(struct depth_task *task, const char *measure)
{
    struct rt_figure row = rt_row_of(task->rows, "depth", measure, &task->key);
    row.n_due = task->due;
    return row;
}

static void write_spread(struct depth_task *task)
{
    static const char *const measures[] = {"depth_sd", "depth_limit_lower", "depth_limit_upper"};
    struct rt_clusters clusters = rt_sample_clusters(task->sample);
    struct rt_agreement agreement;
    if (!rt_rows_check(task->rows, rt_agreement(task->sample->value, task->sample->n, RT_AGREEMENT_MULTIPLE,
                                                &clusters, &agreement, task->rows->error)))
        return;
    const struct rt_estimate *const estimates[] = {&agreement.sd, &agreement.lower_limit,
                                                   &agreement.upper_limit};
    for (size_t i = 0; i < 3; i++) {
        struct rt_figure row = depth_row(task, measures[i]);
        row.n_implants = (long)task->sample->n;
        row.n_patients = (long)task->sample->clusters;
        rt_set_estimate(&row, estimates[i]);
        row.p = NAN;
        rt_apply_minimum(&row);
        rt_put_row(task->rows, &row);
    }
}

/* Replace the values by a function of them. */
static void transform(struct rt_sample *sample, double (*function)(double))
{
    for (size_t i = 0; i < sample->n; i++)
        sample->value[i] = function(sample->value[i]);
}

static double is_within_half(double error_mm)
{
    return labs(rt_hundredths(error_mm)) <= 50 ? 1.0 : 0.0;
}

static void write_level(struct depth_task *task)
{
    take_level(task);
    if (task->due == 0 && task->grouping != RT_BY_NOTHING)
        return;
    rt_put_mean(task->rows, depth_row(task, "depth_bias"), task->sample);
    if (task->grouping == RT_BY_NOTHING || task->grouping == RT_BY_OPERATOR)
        rt_put_patient_mean(task->rows, depth_row(task, "depth_bias"), task->sample);
    write_spread(task);
    transform(task->sample, fabs);
    rt_put_mean(task->rows, depth_row(task, "depth_mean_absolute"), task->sample);
    transform(task->sample, is_within_half);
    rt_put_share(task->rows, depth_row(task, "depth_within_half"), task->sample);
    if (task->grouping == RT_BY_NOTHING)
        rt_put_patient_mean(task->rows, depth_row(task, "depth_within_half"), task->sample);
}

/* The operator against all others whose operator is known. */
static void write_difference(struct depth_task *task)
{
    rt_sample_clear(task->sample);
    for (size_t i = 0; i < task->cohort->count; i++) {
        const struct rt_audit_implant *implant = &task->cohort->implants[i];
        double error = depth_error(implant);
        if (!in_window(task, implant) || isnan(error) || implant->operator_code < 0)
            continue;
        rt_sample_add(task->sample, task->cohort, i, error);
        task->sample->code[task->sample->n - 1] = implant->operator_code == task->level;
    }
    rt_put_difference(task->rows, depth_row(task, "depth_operator_difference"), task->sample);
}

static void write_grouping(struct depth_task *task, enum rt_grouping_of grouping)
{
    const int levels = rt_level_count(task->cohort, grouping);
    task->grouping = grouping;
    for (task->level = 0; task->level < levels && task->rows->status == RT_OK; task->level++) {
        task->key = rt_key_of(task->cohort, "window", task->window, grouping, task->level);
        write_level(task);
        if (grouping == RT_BY_OPERATOR && levels > 1 && task->due > 0)
            write_difference(task);
    }
}

void rt_depth_figures(const struct rt_cohort *cohort, struct rt_rows *rows)
{
    static const enum rt_grouping_of groupings[] = {RT_BY_NOTHING, RT_BY_OPERATOR, RT_BY_DENSITY_FOUND,
                                                    RT_BY_REGION};
    const char *const windows[] = {"period", "12 months"};
    const int starts[] = {cohort->period.first_day, rt_year_start(&cohort->period)};
    struct rt_sample sample;
    struct depth_task task = {.cohort = cohort, .rows = rows, .sample = &sample};
    rt_rows_check(rows, rt_sample_start(&sample, cohort, rows->error));
    for (size_t i = 0; i < 2; i++) {
        task.window = windows[i];
        task.from = starts[i];
        for (size_t j = 0; j < sizeof groupings / sizeof groupings[0] && rows->status == RT_OK; j++)
            write_grouping(&task, groupings[j]);
    }
    rt_sample_release(&sample);
}
