/* A rule that is followed or not: the outcome of both groups, their difference, and the difference with the confounders held
 * equal. */
#include "rules_private.h"

#include "ridgetally/audit/estimates.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/stats/limited.h"
#include "ridgetally/stats/linear.h"
#include "ridgetally/stats/mean.h"
#include "ridgetally/stats/mixed.h"
#include "ridgetally/stats/share.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { LEAST_REML_PATIENTS = 60 }; /* as in the crest models: below, its error is too small */

static bool is_share(const struct rule_task *task)
{
    return rt_outcome_is_share(task->rule->outcome);
}

/* --- outcomes of the two groups -------------------------------------------------------------------------- */

/* The rows of the sample with one code, as a sample of its own; the caller releases it. */
static bool part_of(struct rule_task *task, size_t code, struct rt_sample *part)
{
    if (!rt_rows_check(task->rows, rt_sample_start(part, task->cohort, task->rows->error)))
        return false;
    for (size_t i = 0; i < task->sample->n; i++) {
        if (task->sample->code[i] != code)
            continue;
        rt_sample_add(part, task->cohort, task->sample->implant[i], task->sample->value[i]);
        part->capped[part->n - 1] = task->sample->capped[i];
    }
    return true;
}

/* Mean from the censored normal model: column 0 of ones alone. */
static void put_capped_mean(struct rule_task *task, struct rt_figure row, const struct rt_sample *part)
{
    struct rt_clusters clusters = rt_sample_clusters(part);
    struct rt_limited fit = {.n = 0};
    struct rule_estimate mean = {.implants = (long)part->n,
                                 .patients = (long)part->clusters,
                                 .events = RT_NO_COUNT,
                                 .method = "limited_cluster"};
    double *ones = rt_new_array(part->n + 1, sizeof *ones);
    for (size_t i = 0; ones != NULL && i < part->n; i++)
        ones[i] = 1.0;
    if (ones == NULL)
        rt_rows_check(task->rows, rt_fail_memory(task->rows->error));
    else if (rt_rows_check(task->rows, rt_limited_fit(&fit, part->value, part->capped, ones, part->n, 1,
                                                      &clusters, task->rows->error))) {
        mean.estimate = rt_limited_left_out(&fit, 0);
        rule_put(task, &row, &mean, false);
    }
    rt_limited_release(&fit);
    free(ones);
}

static void put_outcome(struct rule_task *task, size_t code)
{
    struct rt_sample part = {.n = 0};
    struct rt_figure row = rule_row(task, code == 1 ? "rule_outcome_followed" : "rule_outcome_not_followed");
    const enum rt_rule_standing wanted = code == 1 ? RT_RULE_FOLLOWED : RT_RULE_NOT_FOLLOWED;
    row.unit = task->outcome_unit;
    row.n_due = 0;
    for (size_t i = 0; i < task->cohort->count; i++)
        row.n_due += task->standing[i] == wanted && task->results[i].due;
    if (part_of(task, code, &part)) {
        if (is_share(task)) {
            row.method = "share_korn_graubard";
            rt_put_share(task->rows, row, &part);
        } else if (task->capped > 0) {
            put_capped_mean(task, row, &part);
        } else {
            rt_put_mean(task->rows, row, &part);
        }
    }
    rt_sample_release(&part);
}

/* --- what a difference needs ----------------------------------------------------------------------------- */

/* Patients with at least one row whose response is above 0 (events true), or not. */
static size_t patients_with(const double *y, const size_t *cluster, size_t n, bool events)
{
    size_t patients = 0, last = (size_t)-1;
    for (size_t i = 0; i < n; i++) {
        if ((y[i] > 0.0) != events || cluster[i] == last)
            continue;
        patients++;
        last = cluster[i];
    }
    return patients;
}

/* Is there a group without an event, or with events only? */
static bool one_sided(const struct rule_model *model)
{
    for (int followed = 0; followed < 2; followed++) {
        size_t n = 0, events = 0;
        for (size_t i = 0; i < model->n; i++) {
            n += model->followed[i] == (followed == 1);
            events += model->followed[i] == (followed == 1) && model->y[i] > 0.0;
        }
        if (events == 0 || events == n)
            return true;
    }
    return false;
}

/* Why no adjusted difference can be given, or NULL. */
static const char *lacking(const struct rule_task *task, const struct rule_model *model)
{
    if (rule_model_patients(model, true) < RT_LEAST_PATIENTS)
        return "fewer than 10 patients in whom it was followed";
    if (rule_model_patients(model, false) < RT_LEAST_PATIENTS)
        return "fewer than 10 patients in whom it was not followed";
    if (!is_share(task))
        return NULL;
    if (patients_with(model->y, model->cluster, model->n, true) < RT_LEAST_EVENT_PATIENTS ||
        patients_with(model->y, model->cluster, model->n, false) < RT_LEAST_EVENT_PATIENTS)
        return "fewer than 5 patients with the outcome, or without it";
    return one_sided(model) ? "one side has no case with the outcome, or only such cases" : NULL;
}

static void lack(struct rule_estimate *result, const char *reason)
{
    result->too_few = true;
    snprintf(result->remark, sizeof result->remark, "%s", reason);
}

static void describe_counts(const struct rule_model *model, bool shares, struct rule_estimate *result)
{
    result->implants = (long)model->n;
    result->patients = (long)model->clusters;
    result->events = shares ? 0 : RT_NO_COUNT;
    for (size_t i = 0; shares && i < model->n; i++)
        result->events += model->y[i] > 0.0;
}

/* --- the crude difference -------------------------------------------------------------------------------- */

/* No confounder: every row is complete. */
static void fit_crude(struct rule_task *task, struct rule_model *model, struct rule_estimate *result)
{
    struct rt_error *error = task->rows->error;
    const struct rt_clusters clusters = {.of = model->cluster, .count = model->clusters};
    enum rt_status status;
    if (is_share(task)) {
        int *event = rt_new_array(model->n + 1, sizeof *event);
        for (size_t i = 0; event != NULL && i < model->n; i++)
            event[i] = model->y[i] > 0.0;
        status = event == NULL ? rt_fail_memory(error)
                               : rt_share_difference(event, model->followed, model->n, &clusters,
                                                     &result->estimate, error);
        free(event);
        result->method = isnan(result->estimate.standard_error) ? "difference_joined" : "difference_cr2";
    } else if (task->capped > 0) {
        struct rt_limited fit = {.n = 0};
        status = rt_limited_fit(&fit, model->y, model->capped, model->design.x, model->n, model->design.p,
                                &clusters, error);
        if (status == RT_OK)
            result->estimate = rt_limited_left_out(&fit, 1);
        result->method = "limited_cluster";
        rt_limited_release(&fit);
    } else {
        status = rt_mean_difference(model->y, model->followed, model->n, &clusters, &result->estimate, error);
        result->method = "difference_cr2";
    }
    rt_rows_check(task->rows, status);
}

static void put_crude(struct rule_task *task, const struct rt_number_column *group)
{
    struct rule_task bare = *task;
    struct rt_house_rule rule = *task->rule;
    struct rule_model model = {.n = 0};
    struct rule_estimate result = {.estimate = rt_undefined(NULL)};
    rule.confounders = 0;
    bare.rule = &rule;
    if (rt_rows_check(task->rows, rule_model_build(&model, &bare, group, 1, task->rows->error))) {
        describe_counts(&model, is_share(task), &result);
        if (rule_model_patients(&model, true) < RT_LEAST_PATIENTS ||
            rule_model_patients(&model, false) < RT_LEAST_PATIENTS)
            lack(&result, lacking(task, &model));
        else
            fit_crude(task, &model, &result);
        struct rt_figure row = rule_row(task, "rule_difference");
        row.unit = task->outcome_unit;
        rule_put(task, &row, &result, false);
    }
    rule_model_release(&model);
}

/* --- the adjusted difference ----------------------------------------------------------------------------- */

static enum rt_status fit_limited(const struct rule_model *model, const struct rt_clusters *clusters,
                                  struct rule_estimate *result, struct rt_error *error)
{
    struct rt_limited fit = {.n = 0};
    enum rt_status status = rt_limited_fit(&fit, model->y, model->capped, model->design.x, model->n,
                                           model->design.p, clusters, error);
    if (status == RT_OK)
        result->estimate = rt_limited_left_out(&fit, 1);
    result->method = "limited_cluster";
    rt_limited_release(&fit);
    return status;
}

/* Least squares; for crest change the random intercept where it can be trusted, least squares in a row beside it. */
static enum rt_status fit_linear(struct rule_task *task, const struct rule_model *model,
                                 const struct rt_clusters *clusters, struct rule_estimate *result,
                                 struct rule_estimate *beside, struct rt_error *error)
{
    struct rt_linear linear = {.n = 0};
    struct rt_mixed mixed = {.n = 0};
    const struct rt_design *design = &model->design;
    enum rt_status status =
        rt_linear_fit(&linear, model->y, design->x, design->n, design->p, clusters, error);
    if (status == RT_OK) {
        result->estimate = beside->estimate = linear.robust[1];
        result->method = beside->method = "linear_cr2";
    }
    if (status == RT_OK && task->rule->outcome == RT_OUTCOME_CREST_CHANGE)
        status = rt_mixed_fit(&mixed, model->y, design->x, design->n, design->p, clusters, NULL, error);
    if (status == RT_OK && mixed.coefficient != NULL && mixed.reason == NULL && !mixed.boundary &&
        mixed.clusters >= LEAST_REML_PATIENTS) {
        result->estimate = mixed.coefficient[1];
        result->method = "reml";
    }
    rt_mixed_release(&mixed);
    rt_linear_release(&linear);
    return status;
}

/* An error on next to no degrees of freedom is no basis for a verdict. */
static void trust(struct rule_estimate *result)
{
    if (!isnan(result->estimate.value) && isnan(result->estimate.lower))
        lack(result, result->estimate.reason != NULL ? result->estimate.reason : "no error can be computed");
    else if (result->estimate.df < RULE_LEAST_DF)
        lack(result, "too few patients decide the difference for limits to be relied on");
}

static void fit_adjusted(struct rule_task *task, const struct rule_model *model, struct rule_estimate *result,
                         struct rule_estimate *beside)
{
    const struct rt_clusters clusters = {.of = model->cluster, .count = model->clusters};
    const char *reason = lacking(task, model);
    describe_counts(model, is_share(task), result);
    rule_model_words(model, result->remark, sizeof result->remark);
    *beside = *result;
    if (reason != NULL) {
        lack(result, reason);
        lack(beside, reason);
        return;
    }
    rt_rows_check(task->rows, task->capped > 0
                                  ? fit_limited(model, &clusters, result, task->rows->error)
                                  : fit_linear(task, model, &clusters, result, beside, task->rows->error));
    trust(result);
    trust(beside);
}

/* In the direction the rule promises, in units of the smallest difference that matters. */
static void put_scaled(struct rule_task *task, const struct rule_estimate *adjusted)
{
    const double unit = task->rule->direction * task->rule->smallest_difference;
    struct rule_estimate scaled = *adjusted;
    const double a = adjusted->estimate.lower / unit, b = adjusted->estimate.upper / unit;
    scaled.estimate.value /= unit;
    scaled.estimate.lower = fmin(a, b);
    scaled.estimate.upper = fmax(a, b);
    struct rt_figure row = rule_row(task, "rule_difference_scaled");
    rule_put(task, &row, &scaled, false);
}

static void put_adjusted(struct rule_task *task, const struct rt_number_column *group,
                         struct rule_verdict *verdict)
{
    struct rule_model model = {.n = 0};
    struct rule_estimate result = {.estimate = rt_undefined("not computed")}, beside = result;
    if (rt_rows_check(task->rows, rule_model_build(&model, task, group, 1, task->rows->error))) {
        fit_adjusted(task, &model, &result, &beside);
        struct rt_figure row = rule_row(task, "rule_difference_adjusted");
        row.unit = task->outcome_unit;
        rule_put(task, &row, &result, false);
        if (task->rule->outcome == RT_OUTCOME_CREST_CHANGE) {
            row = rule_row(task, "rule_difference_cr2");
            row.unit = task->outcome_unit;
            rule_put(task, &row, &beside, false);
        }
        if (task->rule->direction != 0) {
            put_scaled(task, &result);
            rule_decide_difference(task->rule, &result, verdict);
        }
    }
    rule_model_release(&model);
}

void rule_compare(struct rule_task *task, struct rule_verdict *verdict)
{
    double *followed = rt_new_array(task->sample->n + 1, sizeof *followed);
    if (followed == NULL) {
        rt_rows_check(task->rows, rt_fail_memory(task->rows->error));
        return;
    }
    for (size_t i = 0; i < task->sample->n; i++)
        followed[i] = (double)task->sample->code[i];
    const struct rt_number_column group = {"followed", followed};
    put_outcome(task, 1);
    put_outcome(task, 0);
    put_crude(task, &group);
    put_adjusted(task, &group, verdict);
    free(followed);
}
