/* House rules on trial: each rule in turn, then the verdicts with their p adjusted over all rules. */
#include "rules_private.h"

#include "ridgetally/audit/estimates.h"
#include "ridgetally/audit/sections.h"
#include "ridgetally/audit/window_cases.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/stats/adjust.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

struct rt_figure rule_row(struct rule_task *task, const char *measure)
{
    return rt_row_of(task->rows, "rules", measure, &task->key);
}

void rule_put(struct rule_task *task, struct rt_figure *row, const struct rule_estimate *estimate,
              bool with_p)
{
    row->n_implants = estimate->implants;
    row->n_patients = estimate->patients;
    row->n_events = estimate->events;
    if (estimate->method != NULL)
        row->method = estimate->method;
    row->remark = estimate->remark;
    rt_set_estimate(row, &estimate->estimate);
    if (!with_p)
        row->p = NAN;
    if (estimate->too_few)
        rt_set_too_few(row, estimate->remark[0] != '\0' ? estimate->remark : row->remark);
    else if (estimate->patients < RT_LEAST_PATIENTS)
        rt_set_too_few(row, "fewer than 10 patients");
    rt_put_row(task->rows, row);
}

/* --- how often it was followed --------------------------------------------------------------------------- */

static void count_standing(struct rule_task *task)
{
    size_t last = (size_t)-1;
    task->concerned = task->judged = task->followed = task->judged_patients = 0;
    for (size_t i = 0; i < task->cohort->count; i++) {
        const struct rt_audit_implant *implant = &task->cohort->implants[i];
        const enum rt_rule_standing standing = rt_rule_standing(task->rule, task->lz_found, implant);
        const bool judged = standing == RT_RULE_FOLLOWED || standing == RT_RULE_NOT_FOLLOWED;
        task->standing[i] = standing;
        task->concerned += standing != RT_RULE_NOT_CONCERNED;
        task->judged += judged;
        task->followed += standing == RT_RULE_FOLLOWED;
        task->judged_patients += judged && implant->patient != last;
        last = judged ? implant->patient : last;
    }
}

static void put_followed(struct rule_task *task)
{
    struct rt_figure row = rule_row(task, "rule_followed");
    rt_sample_clear(task->sample);
    for (size_t i = 0; i < task->cohort->count; i++)
        if (task->standing[i] == RT_RULE_FOLLOWED || task->standing[i] == RT_RULE_NOT_FOLLOWED)
            rt_sample_add(task->sample, task->cohort, i, task->standing[i] == RT_RULE_FOLLOWED);
    row.n_due = task->concerned;
    rt_put_share(task->rows, row, task->sample);
}

/* Failures before the rule was settled by loading, of all implants whose clock had started or ended by then. */
static void put_lost_before(struct rule_task *task)
{
    struct rt_figure row = rule_row(task, "rule_lost_before");
    rt_sample_clear(task->sample);
    row.n_due = 0;
    for (size_t i = 0; i < task->cohort->count; i++) {
        const struct rt_audit_implant *implant = &task->cohort->implants[i];
        const bool lost = implant->removed_on != RT_NO_DATE &&
                          (implant->loaded_on == RT_NO_DATE || implant->removed_on < implant->loaded_on);
        if ((implant->blocked & RT_BLOCKS_SURVIVAL) != 0)
            continue;
        row.n_due++;
        if (lost || implant->loaded_on != RT_NO_DATE)
            rt_sample_add(task->sample, task->cohort, i, lost);
    }
    rt_put_share(task->rows, row, task->sample);
}

/* --- the sample of a comparison -------------------------------------------------------------------------- */

void rule_take_sample(struct rule_task *task)
{
    const bool shares_error = task->rule->kind == RT_RULE_SUM; /* change and depth share the baseline film */
    long source[2] = {0, 0};
    rt_sample_clear(task->sample);
    task->capped = task->other_depth_source = 0;
    for (size_t i = 0; shares_error && i < task->cohort->count; i++)
        source[task->cohort->implants[i].depth_at_surgery == RT_ANSWER_YES] +=
            task->standing[i] >= RT_RULE_NOT_FOLLOWED && !isnan(task->results[i].value);
    task->depth_shares_error = shares_error && source[0] > source[1];
    for (size_t i = 0; i < task->cohort->count; i++) {
        const struct rt_audit_implant *implant = &task->cohort->implants[i];
        if (task->standing[i] < RT_RULE_NOT_FOLLOWED || !task->results[i].due ||
            isnan(task->results[i].value))
            continue;
        if (shares_error && (implant->depth_at_surgery == RT_ANSWER_YES) == task->depth_shares_error) {
            task->other_depth_source++;
            continue;
        }
        rt_sample_add(task->sample, task->cohort, i, task->results[i].value);
        const size_t row = task->sample->n - 1;
        task->sample->code[row] = task->standing[i] == RT_RULE_FOLLOWED;
        task->sample->other[row] = rt_rule_dose(task->rule, implant);
        task->sample->capped[row] = task->results[i].capped;
        task->capped += task->results[i].capped;
    }
}

/* --- one rule -------------------------------------------------------------------------------------------- */

static const char *unit_of(enum rt_rule_outcome_kind outcome)
{
    if (rt_outcome_is_share(outcome))
        return "share";
    return outcome == RT_OUTCOME_CREST_CHANGE ? "mm" : "Ncm";
}

/* What the rule states or promises, as figures, so that a page can show them. */
static void put_terms(struct rule_task *task)
{
    const struct rt_house_rule *rule = task->rule;
    const struct {
        const char *measure;
        double value;
        const char *unit;
    } terms[] = {{"rule_smallest_difference", rule->smallest_difference, rule->unit},
                 {"rule_stated_value", rule->stated_value, rule->unit},
                 {"rule_largest_width", rule->largest_width, rule->unit}};
    for (size_t i = 0; i < sizeof terms / sizeof terms[0]; i++) {
        struct rt_figure row = rule_row(task, terms[i].measure);
        row.value = terms[i].value;
        row.unit = terms[i].unit;
        row.unit_of_analysis = "";
        if (!isnan(row.value))
            rt_put_row(task->rows, &row);
    }
    for (size_t i = 0; i < rule->parameter_count; i++) {
        struct rt_row_key key = rt_key_text("rule", rule->name, "parameter", rule->parameters[i].name);
        struct rt_figure row = rt_row_of(task->rows, "rules", "rule_parameter", &key);
        row.value = rule->parameters[i].value;
        row.unit = rule->parameters[i].unit;
        row.unit_of_analysis = "";
        rt_put_row(task->rows, &row);
    }
    struct rt_figure edited = rule_row(task, "rule_edited");
    edited.value = rule->edited;
    edited.unit_of_analysis = "";
    rt_put_row(task->rows, &edited);
}

static void start_verdict(const struct rule_task *task, struct rule_verdict *verdict)
{
    *verdict = (struct rule_verdict){
        .state = RT_FIGURE_TOO_FEW, .p = NAN, .implants = task->judged, .patients = task->judged_patients};
    snprintf(verdict->remark, sizeof verdict->remark, "no implant yet that the rule is for");
}

/* Rules that are judged on fields nobody filled in. */
static bool is_recorded(const struct rule_task *task, struct rule_verdict *verdict)
{
    long known = 0;
    for (size_t i = 0; i < task->cohort->count; i++)
        known += !isnan(task->results[i].value);
    const bool followed = task->judged > 0 || task->concerned == 0;
    const bool outcome = known > 0 || task->judged == 0;
    if (followed && outcome)
        return true;
    verdict->state = RT_FIGURE_UNDEFINED;
    verdict->implants = task->concerned;
    verdict->patients = RT_NO_COUNT;
    snprintf(verdict->remark, sizeof verdict->remark, "%s",
             followed ? "not recorded: what became of the implants"
                      : "not recorded: whether the rule was followed");
    return false;
}

static void judge_rule(struct rule_task *task, struct rule_verdict *verdict)
{
    const bool contact =
        task->rule->outcome == RT_OUTCOME_CREST_CHANGE && rt_levels_look_like_contact(task->cohort);
    count_standing(task);
    put_terms(task);
    put_followed(task);
    if (task->rule->kind == RT_RULE_WAIT)
        put_lost_before(task);
    start_verdict(task, verdict);
    if (!rt_rows_check(task->rows,
                       rt_rule_results(task->cohort, task->rule, task->results, task->rows->error)) ||
        !is_recorded(task, verdict))
        return;
    if (contact) {
        verdict->state = RT_FIGURE_UNDEFINED;
        snprintf(verdict->remark, sizeof verdict->remark,
                 "cannot tell: the levels look as if first contact had been recorded");
        return;
    }
    rule_take_sample(task);
    if (task->rule->kind == RT_RULE_TORQUE) {
        rule_judge_slope(task, verdict);
    } else {
        rule_compare(task, verdict);
        if (task->rule->kind == RT_RULE_SUM)
            rule_judge_knee(task, verdict);
    }
    if (rt_rule_has_dose(task->rule))
        rule_dose_response(task);
}

/* --- all rules ------------------------------------------------------------------------------------------- */

static void put_verdicts(struct rt_rows *rows, const struct rt_house_rules *rules,
                         const struct rule_verdict *verdicts)
{
    double p[RT_RULE_KINDS], adjusted[RT_RULE_KINDS];
    long screened = 0;
    for (size_t i = 0; i < rules->count; i++) {
        p[i] = verdicts[i].state == RT_FIGURE_OK ? verdicts[i].p : NAN;
        screened += !isnan(p[i]);
    }
    if (!rt_rows_check(rows, rt_adjust_holm(p, rules->count, adjusted, rows->error)))
        return;
    for (size_t i = 0; i < rules->count; i++) {
        struct rt_row_key key = rt_key_text("rule", rules->of[i].name, "", "");
        struct rt_figure row = rt_row_of(rows, "rules", "rule_verdict", &key);
        row.state = verdicts[i].state;
        row.value = verdicts[i].state == RT_FIGURE_OK ? (double)verdicts[i].value : NAN;
        row.p = p[i];
        row.p_adjusted = adjusted[i];
        row.n_implants = verdicts[i].implants;
        row.n_patients = verdicts[i].patients;
        row.remark = verdicts[i].remark;
        rt_put_row(rows, &row);
    }
    struct rt_figure row = rt_row_of(rows, "rules", "rules_screened", NULL);
    row.value = (double)screened;
    row.unit_of_analysis = "";
    rt_put_row(rows, &row);
}

void rt_rule_figures(const struct rt_house_rules *rules, const struct rt_cohort *cohort, struct rt_rows *rows)
{
    struct rule_verdict verdicts[RT_RULE_KINDS];
    struct rt_sample sample = {.n = 0};
    struct rule_task task = {.cohort = cohort,
                             .rows = rows,
                             .lz_found = rt_usual_scale(cohort, false),
                             .lz_planned = rt_usual_scale(cohort, true),
                             .standing = rt_new_array(cohort->count + 1, sizeof *task.standing),
                             .results = rt_new_array(cohort->count + 1, sizeof *task.results),
                             .sample = &sample};
    if (task.standing == NULL || task.results == NULL)
        rt_rows_check(rows, rt_fail_memory(rows->error));
    else if (rt_rows_check(rows, rt_sample_start(&sample, cohort, rows->error)))
        for (size_t i = 0; i < rules->count && rows->status == RT_OK; i++) {
            task.rule = &rules->of[i];
            task.key = rt_key_text("rule", task.rule->name, "", "");
            task.outcome_unit = unit_of(task.rule->outcome);
            judge_rule(&task, &verdicts[i]);
        }
    if (rows->status == RT_OK)
        put_verdicts(rows, rules, verdicts);
    rt_sample_release(&sample);
    free(task.standing);
    free(task.results);
}
