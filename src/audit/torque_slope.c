#include "ridgetally/audit/estimates.h"
#include "ridgetally/audit/sections.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/stats/limited.h"
#include "ridgetally/stats/linear.h"

#include <math.h>
#include <stdio.h>

/* What a case can tell about the torque gained per millimetre after a stall. */
enum usable { USABLE, NEVER_STALLED, STALL_NOT_RECORDED, NO_FINAL_TORQUE, OTHER_MISSING, KINDS };

static const char *const kind_names[KINDS] = {"usable", "never stalled", "stall not recorded",
                                              "no final torque", "other field missing"};

struct slope_task {
    const struct rt_cohort *cohort;
    struct rt_rows *rows;
    struct rt_sample *sample; /* value = gain, other = travel, capped */
    const char *window;
    int from;
    struct rt_row_key key;
};

static enum usable kind_of(const struct rt_audit_implant *implant)
{
    if (implant->stalled == RT_ANSWER_NO)
        return NEVER_STALLED;
    if (implant->stalled == RT_ANSWER_MISSING)
        return STALL_NOT_RECORDED;
    if (isnan(implant->final_torque_ncm))
        return NO_FINAL_TORQUE;
    bool known = !isnan(implant->stall_height_mm) && !isnan(implant->stall_torque_ncm) &&
                 !implant->stall_torque_capped && !isnan(implant->achieved_depth_mm);
    return known ? USABLE : OTHER_MISSING;
}

static bool in_window(const struct slope_task *task, const struct rt_audit_implant *implant)
{
    return implant->placed_on >= task->from && (implant->blocked & RT_BLOCKS_STABILITY) == 0;
}

static void count_kinds(struct slope_task *task)
{
    long placed = 0;
    for (size_t i = 0; i < task->cohort->count; i++)
        placed += in_window(task, &task->cohort->implants[i]);
    for (int kind = 0; kind < KINDS; kind++) {
        rt_sample_clear(task->sample);
        for (size_t i = 0; i < task->cohort->count; i++)
            if (in_window(task, &task->cohort->implants[i]) &&
                kind_of(&task->cohort->implants[i]) == (enum usable)kind)
                rt_sample_add(task->sample, task->cohort, i, 1.0);
        struct rt_row_key key = rt_key_text("window", task->window, "status", kind_names[kind]);
        rt_put_count(task->rows, "stability", "torque_slope_cases", &key, (long)task->sample->n,
                     (long)task->sample->clusters, placed);
    }
}

/* Gain on travel of the usable cases, with the capped ones or without. Returns how many are capped. */
static long take_usable(struct slope_task *task, bool with_capped)
{
    long capped = 0;
    rt_sample_clear(task->sample);
    for (size_t i = 0; i < task->cohort->count; i++) {
        const struct rt_audit_implant *implant = &task->cohort->implants[i];
        if (!in_window(task, implant) || kind_of(implant) != USABLE)
            continue;
        capped += implant->final_torque_capped;
        if (implant->final_torque_capped && !with_capped)
            continue;
        rt_sample_add(task->sample, task->cohort, i, implant->final_torque_ncm - implant->stall_torque_ncm);
        task->sample->other[task->sample->n - 1] = implant->stall_height_mm + implant->achieved_depth_mm;
        task->sample->capped[task->sample->n - 1] = implant->final_torque_capped;
    }
    return capped;
}

/* Rows 1, travel (p = 2) or travel alone (p = 1); the caller frees them. */
static double *design(const struct rt_sample *sample, size_t p)
{
    double *x = rt_new_array(sample->n + 1, p * sizeof *x);
    for (size_t i = 0; x != NULL && i < sample->n; i++) {
        x[i * p] = 1.0;
        x[i * p + p - 1] = sample->other[i];
    }
    return x;
}

static void put_slope(struct slope_task *task, const char *measure, const struct rt_estimate *slope,
                      const char *remark)
{
    struct rt_figure row = rt_row_of(task->rows, "stability", measure, &task->key);
    row.n_implants = (long)task->sample->n;
    row.n_patients = (long)task->sample->clusters;
    row.remark = remark;
    rt_set_estimate(&row, slope);
    row.p = NAN; /* the question is its size, not whether it is 0 */
    rt_apply_minimum(&row);
    rt_put_row(task->rows, &row);
}

/* Slope of gain on travel by least squares; p columns as in design(). */
static void write_linear(struct slope_task *task, const char *measure, size_t p, const char *remark)
{
    struct rt_clusters clusters = rt_sample_clusters(task->sample);
    struct rt_linear fit = {.n = 0};
    double *x = design(task->sample, p);
    if (x == NULL) {
        rt_rows_check(task->rows, rt_fail_memory(task->rows->error));
    } else if (task->sample->n == 0) {
        struct rt_estimate none = rt_undefined("no usable case");
        put_slope(task, measure, &none, remark);
    } else if (rt_rows_check(task->rows, rt_linear_fit(&fit, task->sample->value, x, task->sample->n, p,
                                                       &clusters, task->rows->error))) {
        put_slope(task, measure, &fit.robust[p - 1], remark);
    }
    rt_linear_release(&fit);
    free(x);
}

/* The slope with capped finals kept as at least what was read. */
static void write_censored(struct slope_task *task)
{
    struct rt_clusters clusters = rt_sample_clusters(task->sample);
    struct rt_limited fit = {.n = 0};
    double *x = design(task->sample, 2);
    if (x == NULL)
        rt_rows_check(task->rows, rt_fail_memory(task->rows->error));
    else if (rt_rows_check(task->rows, rt_limited_fit(&fit, task->sample->value, task->sample->capped, x,
                                                      task->sample->n, 2, &clusters, task->rows->error))) {
        struct rt_estimate slope = rt_limited_left_out(&fit, 1);
        put_slope(task, "torque_per_mm_censored", &slope, "");
    }
    rt_limited_release(&fit);
    free(x);
}

static void write_window(struct slope_task *task)
{
    char remark[64] = "";
    count_kinds(task);
    task->key = rt_key_text("window", task->window, "", "");
    long capped = take_usable(task, false);
    if (capped > 0)
        snprintf(remark, sizeof remark, "%ld with a capped final torque left out", capped);
    write_linear(task, "torque_per_mm", 2, remark);
    write_linear(task, "torque_per_mm_origin", 1, remark);
    if (capped > 0) {
        take_usable(task, true);
        write_censored(task);
    }
}

void rt_torque_slope_figures(const struct rt_cohort *cohort, struct rt_rows *rows)
{
    const char *const windows[] = {"period", "12 months", "all"};
    const int starts[] = {cohort->period.first_day, rt_year_start(&cohort->period), INT_MIN};
    struct rt_sample sample = {.n = 0};
    struct slope_task task = {.cohort = cohort, .rows = rows, .sample = &sample};
    rt_rows_check(rows, rt_sample_start(&sample, cohort, rows->error));
    for (size_t i = 0; i < 3 && rows->status == RT_OK; i++) {
        task.window = windows[i];
        task.from = starts[i];
        write_window(&task);
    }
    rt_sample_release(&sample);
}
