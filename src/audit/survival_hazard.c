#include "ridgetally/audit/observations.h"
#include "ridgetally/audit/sections.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/stats/hazard.h"

#include <math.h>
#include <stdio.h>

enum { PATIENTS_PER_COEFFICIENT = 10 };

/* One model: the comparable levels of a grouping against the first of them. */
struct hazard_task {
    const struct rt_cohort *cohort;
    struct rt_rows *rows;
    struct rt_observations *set;
    enum rt_censoring censoring;
    enum rt_grouping_of grouping;
    const char *comparison;
    int *level_of; /* original level of each comparable one */
    size_t levels; /* comparable */
    char remark[192];
};

/* Indicator columns of the levels but the first; the caller frees them. */
static double *indicators(const struct hazard_task *task)
{
    const size_t terms = task->levels - 1;
    double *x = rt_new_array(task->set->n * terms + 1, sizeof *x);
    for (size_t i = 0; x != NULL && i < task->set->n; i++)
        if (task->set->level[i] > 0)
            x[i * terms + task->set->level[i] - 1] = 1.0;
    return x;
}

static void count_level(const struct hazard_task *task, size_t level, struct rt_figure *row)
{
    size_t last = (size_t)-1;
    row->n_implants = row->n_patients = row->n_events = 0;
    for (size_t i = 0; i < task->set->n; i++) {
        if (task->set->level[i] != level)
            continue;
        row->n_implants++;
        row->n_events += task->set->event[i];
        row->n_patients += task->set->cluster[i] != last;
        last = task->set->cluster[i];
    }
}

static void put_ratio(struct hazard_task *task, size_t level, const struct rt_estimate *estimate,
                      const char *method)
{
    struct rt_row_key key = rt_key_of(task->cohort, "censoring", rt_censoring_name(task->censoring),
                                      task->grouping, task->level_of[level]);
    struct rt_figure row = rt_row_of(task->rows, "survival", "hazard_ratio", &key);
    struct rt_estimate ratio = *estimate;
    ratio.value = exp(ratio.value);
    ratio.lower = exp(ratio.lower);
    ratio.upper = exp(ratio.upper);
    count_level(task, level, &row);
    row.method = method;
    row.remark = task->remark;
    rt_set_estimate(&row, &ratio);
    rt_put_row(task->rows, &row);
}

static void put_proportional(struct hazard_task *task, const struct rt_estimate *test)
{
    struct rt_row_key key =
        rt_key_text("censoring", rt_censoring_name(task->censoring), "comparison", task->comparison);
    struct rt_figure row = rt_row_of(task->rows, "survival", "proportional_hazards", &key);
    row.n_implants = (long)task->set->n;
    row.n_patients = (long)task->set->clusters;
    rt_set_estimate(&row,
                    &(struct rt_estimate){test->statistic, NAN, NAN, NAN, test->p, NAN, NAN, test->reason});
    rt_put_row(task->rows, &row);
}

/* Which likelihood, and why: patients with failures beside what the ordinary one asks for. */
static void put_patients(struct hazard_task *task)
{
    struct rt_row_key key =
        rt_key_text("censoring", rt_censoring_name(task->censoring), "comparison", task->comparison);
    struct rt_figure row = rt_row_of(task->rows, "survival", "hazard_patients", &key);
    const size_t failed = rt_event_patients(task->set);
    row.n_implants = (long)task->set->n;
    row.n_patients = (long)failed;
    row.n_due = (long)(PATIENTS_PER_COEFFICIENT * (task->levels - 1));
    row.value = (double)failed;
    row.unit_of_analysis = "patient";
    row.remark = failed < RT_LEAST_EVENT_PATIENTS ? "too few for a model"
                 : (long)failed < row.n_due       ? "penalised likelihood"
                                                  : "ordinary likelihood";
    rt_put_row(task->rows, &row);
}

static void fit_cox(struct hazard_task *task, const struct rt_hazard_model *model)
{
    struct rt_hazard fit = {.terms = 0};
    struct rt_estimate global;
    if (rt_rows_check(task->rows, rt_hazard(&fit, model, task->rows->error))) {
        for (size_t j = 0; j < model->terms; j++)
            put_ratio(task, j + 1, &fit.coefficient[j], "cox_robust");
        if (rt_rows_check(task->rows,
                          rt_hazard_proportional(model, &fit, NULL, 0, NULL, &global, task->rows->error)))
            put_proportional(task, &global);
    }
    rt_hazard_release(&fit);
}

static void fit_penalised(struct hazard_task *task, const struct rt_hazard_model *model)
{
    struct rt_estimate *penalised = rt_new_array(model->terms, sizeof *penalised);
    if (penalised == NULL)
        rt_rows_check(task->rows, rt_fail_memory(task->rows->error));
    else if (rt_rows_check(task->rows, rt_hazard_penalised(model, penalised, NULL, task->rows->error)))
        for (size_t j = 0; j < model->terms; j++)
            put_ratio(task, j + 1, &penalised[j], "cox_firth");
    free(penalised);
}

static void fit(struct hazard_task *task)
{
    struct rt_hazard_model model = {
        .data = rt_follow_up_of(task->set, false), .terms = task->levels - 1, .ties = RT_TIES_EFRON};
    char reference[512];
    double *x = indicators(task);
    model.x = x;
    rt_level_name(task->cohort, task->grouping, task->level_of[0], reference, sizeof reference);
    const bool ordinary = rt_event_patients(task->set) >= PATIENTS_PER_COEFFICIENT * model.terms;
    snprintf(task->remark, sizeof task->remark, "against %.100s%s", reference,
             ordinary ? "" : "; few patients with failures: penalised likelihood");
    if (x == NULL)
        rt_rows_check(task->rows, rt_fail_memory(task->rows->error));
    else if (ordinary)
        fit_cox(task, &model);
    else
        fit_penalised(task, &model);
    free(x);
}

static void put_too_few(struct hazard_task *task)
{
    for (size_t level = 1; level < task->levels; level++) {
        struct rt_row_key key = rt_key_of(task->cohort, "censoring", rt_censoring_name(task->censoring),
                                          task->grouping, task->level_of[level]);
        struct rt_figure row = rt_row_of(task->rows, "survival", "hazard_ratio", &key);
        count_level(task, level, &row);
        rt_set_too_few(&row, "fewer than 5 patients with failures");
        rt_put_row(task->rows, &row);
    }
}

/* The levels first..last-1 of the grouping. */
static void write_ratios(struct hazard_task *task, int first, int last)
{
    task->level_of = rt_new_array((size_t)(last - first) + 1, sizeof *task->level_of);
    if (task->level_of == NULL)
        rt_rows_check(task->rows, rt_fail_memory(task->rows->error));
    rt_observe_implants(task->set, task->cohort, task->censoring, task->grouping, RT_ANY_LEVEL);
    if (task->rows->status == RT_OK &&
        rt_rows_check(task->rows,
                      rt_keep_comparable_levels(task->set, first, last, RT_LEAST_PATIENTS, task->level_of,
                                                &task->levels, task->rows->error)) &&
        task->levels >= 2) {
        put_patients(task);
        if (rt_event_patients(task->set) < RT_LEAST_EVENT_PATIENTS)
            put_too_few(task);
        else
            fit(task);
    }
    free(task->level_of);
    task->level_of = NULL;
}

void rt_hazard_figures(const struct rt_cohort *cohort, struct rt_rows *rows)
{
    static const enum rt_grouping_of groupings[] = {RT_BY_TORQUE_CLASS, RT_BY_DEPTH_CLASS,
                                                    RT_BY_OPERATOR,     RT_BY_SMOKING,
                                                    RT_BY_TISSUE_CLASS, RT_BY_IMPLANT_LINE};
    struct rt_observations set;
    struct hazard_task task = {.cohort = cohort, .rows = rows, .set = &set};
    rt_rows_check(rows, rt_observations_start(&set, cohort, rows->error));
    for (int censoring = RT_LAST_SIGHTING; censoring <= RT_RECALL; censoring++) {
        task.censoring = (enum rt_censoring)censoring;
        task.grouping = RT_BY_DENSITY_FOUND;
        for (int scale = 0; scale < 2 && rows->status == RT_OK; scale++) {
            task.comparison = scale == 0 ? "density_found=D" : "density_found=LZ";
            write_ratios(&task, scale * RT_DENSITY_CLASSES, (scale + 1) * RT_DENSITY_CLASSES);
        }
        for (size_t i = 0; i < sizeof groupings / sizeof groupings[0] && rows->status == RT_OK; i++) {
            task.grouping = groupings[i];
            task.comparison = rt_group_name(groupings[i]);
            write_ratios(&task, 0, rt_level_count(cohort, groupings[i]));
        }
    }
    rt_observations_release(&set);
}
