/* The rule that states a slope: torque gained per millimetre of travel after a stall. Where finals were capped a normal model
 * counts them as limits, since leaving the highest torques out flattens the line. */
#include "rules_private.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/limited.h"
#include "ridgetally/stats/linear.h"
#include "ridgetally/stats/student.h"

#include <math.h>
#include <stdio.h>

/* The rows: stalled, travel and gain known. */
static void take_rows(struct rule_task *task)
{
    struct rt_sample *sample = task->sample;
    rt_sample_clear(sample);
    task->capped = 0;
    for (size_t i = 0; i < task->cohort->count; i++) {
        const struct rt_audit_implant *implant = &task->cohort->implants[i];
        const double travel = rt_rule_dose(task->rule, implant);
        if (!task->results[i].due || isnan(task->results[i].value) || isnan(travel))
            continue;
        rt_sample_add(sample, task->cohort, i, task->results[i].value);
        sample->other[sample->n - 1] = travel;
        sample->capped[sample->n - 1] = task->results[i].capped;
        sample->code[sample->n - 1] = task->standing[i] == RT_RULE_FOLLOWED;
        task->capped += task->results[i].capped;
    }
}

static void fit(struct rule_task *task, struct rule_model *model, struct rule_estimate *result)
{
    struct rt_error *error = task->rows->error;
    const struct rt_clusters clusters = {.of = model->cluster, .count = model->clusters};
    const struct rt_design *design = &model->design;
    if (task->capped > 0) {
        struct rt_limited limited = {.n = 0};
        result->method = "limited_cluster";
        if (rt_rows_check(task->rows, rt_limited_fit(&limited, model->y, model->capped, design->x, design->n,
                                                     design->p, &clusters, error)))
            result->estimate = rt_limited_left_out(&limited, 1);
        rt_limited_release(&limited);
    } else {
        struct rt_linear linear = {.n = 0};
        result->method = "linear_cr2";
        if (rt_rows_check(task->rows, rt_linear_fit(&linear, model->y, design->x, design->n, design->p,
                                                    &clusters, error)))
            result->estimate = linear.robust[1];
        rt_linear_release(&linear);
    }
    if (!isnan(result->estimate.standard_error)) /* the question is the stated value, not 0 */
        rt_student_inference(&result->estimate, task->rule->stated_value);
}

static void put_slope(struct rule_task *task, const char *measure, unsigned confounders,
                      struct rule_estimate *result)
{
    struct rule_task own = *task;
    struct rt_house_rule rule = *task->rule;
    struct rule_model model = {.n = 0};
    const struct rt_number_column travel = {"travel", task->sample->other};
    *result = (struct rule_estimate){.estimate = rt_undefined("not computed"), .events = RT_NO_COUNT};
    rule.confounders = confounders;
    own.rule = &rule;
    if (rt_rows_check(task->rows, rule_model_build(&model, &own, &travel, 1, task->rows->error))) {
        result->implants = (long)model.n;
        result->patients = (long)model.clusters;
        if (model.clusters < RT_LEAST_PATIENTS) {
            result->too_few = true;
            snprintf(result->remark, sizeof result->remark, "fewer than 10 patients with a stall");
        } else {
            rule_model_words(&model, result->remark, sizeof result->remark);
            fit(task, &model, result);
            if (result->estimate.df < RULE_LEAST_DF) {
                result->too_few = true;
                snprintf(result->remark, sizeof result->remark,
                         "too few patients decide the slope for limits to be relied on");
            }
        }
        struct rt_figure row = rule_row(task, measure);
        rule_put(task, &row, result, false);
    }
    rule_model_release(&model);
}

void rule_judge_slope(struct rule_task *task, struct rule_verdict *verdict)
{
    struct rule_estimate crude, adjusted;
    take_rows(task);
    put_slope(task, "rule_slope", 0, &crude);
    put_slope(task, "rule_slope_adjusted", task->rule->confounders, &adjusted);
    rule_decide_value(task->rule, &adjusted, verdict);
}
