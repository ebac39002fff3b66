/* Section precision: how many more cases until each open question can be answered. */
#include "spread.h"

#include "ridgetally/audit/compared.h"
#include "ridgetally/audit/fate.h"
#include "ridgetally/audit/meeting.h"
#include "ridgetally/audit/rule_cases.h"
#include "ridgetally/audit/sections.h"
#include "ridgetally/base/memory.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const double POWER = 0.8;
static const char few_to_plan[] = "fewer than 10 patients to plan from";

/* One question as planning sees it. */
struct question {
    const char *name;
    const char *unit; /* of the figure */
    double wanted;    /* width of the interval, or the smallest difference that matters */
    double
        spread; /* share or standard deviation that is planned with; NaN where the interval itself is scaled */
    struct spread from; /* what it was taken from */
    double needed;      /* cases, of the scarcer group where two are compared; NaN with a reason */
    long have;          /* cases there are, of that group */
    long have_patients;
    double a_month; /* cases of that group a month in the last 12 */
    const char *reason, *remark;
};

static void put(struct rt_rows *rows, const struct question *question, const char *measure, double value,
                const char *unit)
{
    struct rt_row_key key = rt_key_text("question", question->name, "", "");
    struct rt_figure row = rt_row_of(rows, "precision", measure, &key);
    if (unit != NULL)
        row.unit = unit;
    row.n_implants = question->have;
    row.n_patients = question->have_patients;
    bool about_cases = strcmp(measure, "wanted") != 0 && strcmp(measure, "likeness") != 0 &&
                       strcmp(measure, "per_patient") != 0;
    row.remark = question->remark == NULL || !about_cases ? "" : question->remark;
    row.value = isfinite(value) ? value : NAN;
    if (isnan(row.value)) {
        row.state = RT_FIGURE_UNDEFINED;
        row.remark = question->reason == NULL ? "not known yet" : question->reason;
    }
    rt_put_row(rows, &row);
}

static bool enough_to_know(const struct spread *spread)
{
    return spread->patients >= RT_LEAST_PATIENTS;
}

static void put_question(struct rt_rows *rows, struct question *question)
{
    const double further = fmax(0.0, question->needed - (double)question->have); /* NaN is dropped by fmax */
    const bool known = !isnan(question->needed);
    put(rows, question, "wanted", question->wanted, question->unit);
    put(rows, question, "needed", question->needed, NULL);
    put(rows, question, "further", known ? further : NAN, NULL);
    const bool shown = enough_to_know(&question->from);
    put(rows, question, "likeness", shown ? question->from.icc : NAN, NULL);
    put(rows, question, "per_patient", shown ? question->from.per_patient : NAN, NULL);
    put(rows, question, "a_month", question->a_month, NULL);
    if (known && further > 0.0 && !(question->a_month > 0.0))
        question->reason = "no such case came in the last 12 months";
    put(rows, question, "months", !known ? NAN : further > 0.0 ? further / question->a_month : 0.0, NULL);
    if (!isnan(question->spread))
        put(rows, question, "spread", question->spread, question->unit);
}

static void take_answer(struct question *question, struct rt_cases_needed answer)
{
    question->needed = answer.cases;
    if (answer.reason != NULL)
        question->reason = answer.reason;
}

/* --- yardsticks ------------------------------------------------------------------------------------------- */

/* Cases until the interval is as narrow as stated. */
static void plan_width(struct question *question)
{
    struct rt_clustering clustering = clustering_of(&question->from);
    if (!enough_to_know(&question->from)) {
        question->reason = few_to_plan;
    } else if (strcmp(question->unit, "share") == 0) {
        question->spread = question->from.mean;
        take_answer(question, rt_cases_for_share(question->spread, question->wanted, &clustering));
    } else {
        question->spread = question->from.sd;
        take_answer(question, rt_cases_for_mean(question->spread, question->wanted, &clustering));
    }
}

/* Implants at risk `years` after placement, and how many of them came to that day in the last 12 months. */
static void count_followed(const struct rt_cohort *cohort, double years, struct question *question)
{
    const int days = (int)(years * RT_YEAR_DAYS), from = rt_year_start(&cohort->period);
    size_t last = (size_t)-1;
    long lately = 0;
    for (size_t i = 0; i < cohort->count; i++) {
        const struct rt_audit_implant *implant = &cohort->implants[i];
        struct rt_observation observation;
        if (!rt_is_analysed(cohort, implant) ||
            !rt_observe(cohort, implant, RT_LAST_SIGHTING, &observation) || observation.exit < days ||
            observation.entry >= days)
            continue;
        question->have++;
        question->have_patients += implant->patient != last;
        lately += implant->placed_on + days >= from;
        last = implant->patient;
    }
    question->a_month = (double)lately / 12.0;
}

/* Survival at the time asked for, or at the latest whole year before it that is known; NULL when none is. */
static const struct rt_figure *latest_known(const struct rt_figure_list *figures,
                                            const struct rt_compared *compared)
{
    for (double year = compared->at; year > 0.0; year -= 1.0) {
        const struct rt_figure key = {.section = compared->section,
                                      .measure = compared->measure,
                                      .grouping = compared->grouping,
                                      .level = compared->level,
                                      .unit_of_analysis = "implant",
                                      .at = year};
        const struct rt_figure *row = rt_find_figure(figures, &key);
        if (row != NULL && row->state == RT_FIGURE_OK)
            return row;
    }
    return NULL;
}

/* Survival: those followed that long are the cases; failures so far say how alike the implants of a patient are. */
static enum rt_status take_survival(struct rt_compared_view *view, const struct rt_compared *compared,
                                    const struct rt_figure_list *figures, struct question *question,
                                    struct rt_error *error)
{
    const struct rt_cohort *cohort = view->cohort;
    const struct rt_figure *row = latest_known(figures, compared);
    rt_sample_clear(&view->sample);
    for (size_t i = 0; i < cohort->count; i++) {
        struct rt_observation observation;
        if (rt_is_analysed(cohort, &cohort->implants[i]) &&
            rt_observe(cohort, &cohort->implants[i], RT_LAST_SIGHTING, &observation))
            rt_sample_add(&view->sample, cohort, i, observation.cause == RT_FAILURE ? 1.0 : 0.0);
    }
    enum rt_status status =
        spread_of(view->sample.value, NULL, 1, view->sample.cluster, view->sample.n, &question->from, error);
    count_followed(cohort, compared->at, question);
    if (row != NULL)
        question->from.mean = row->value;
    else
        question->from.patients = 0; /* survival that long is not known */
    return status;
}

static void ask_yardstick(struct rt_compared_view *view, const struct rt_yardstick *yardstick,
                          struct rt_rows *rows)
{
    const struct rt_compared *compared =
        rt_compared_of(yardstick->section, yardstick->measure, yardstick->level, yardstick->at);
    struct question question = {.name = yardstick->name,
                                .unit = yardstick->unit,
                                .wanted = yardstick->readable_width,
                                .spread = NAN,
                                .needed = NAN};
    enum rt_status status = RT_OK;
    if (compared == NULL || isnan(yardstick->readable_width))
        return;
    if (compared->kind == RT_COMPARED_SURVIVAL) {
        status = take_survival(view, compared, rows->list, &question, rows->error);
    } else {
        rt_take_compared(view, compared);
        question.have = (long)view->sample.n;
        question.have_patients = (long)view->sample.clusters;
        question.a_month = (double)question.have / 12.0; /* the yardstick reads 12 months */
        status = spread_of(view->sample.value, NULL, 1, view->sample.cluster, view->sample.n, &question.from,
                           rows->error);
    }
    if (!rt_rows_check(rows, status))
        return;
    plan_width(&question);
    put_question(rows, &question);
}

/* --- house rules ------------------------------------------------------------------------------------------ */

/* The cases of a rule: group 1 followed it, group 0 did not. */
struct rule_cases {
    struct rt_rule_result *results;
    double *value;
    size_t *group, *patient;
    size_t n;
    long count[2], patients[2], lately[2];
    double sum[2];
};

static enum rt_status start_cases(struct rule_cases *cases, const struct rt_cohort *cohort,
                                  struct rt_error *error)
{
    size_t room = cohort->count + 1;
    *cases = (struct rule_cases){.results = rt_new_array(room, sizeof *cases->results),
                                 .value = rt_new_array(room, sizeof(double)),
                                 .group = rt_new_array(room, sizeof(size_t)),
                                 .patient = rt_new_array(room, sizeof(size_t))};
    bool complete =
        cases->results != NULL && cases->value != NULL && cases->group != NULL && cases->patient != NULL;
    return complete ? RT_OK : rt_fail_memory(error);
}

static void release_cases(struct rule_cases *cases)
{
    free(cases->results);
    free(cases->value);
    free(cases->group);
    free(cases->patient);
}

static void take_cases(const struct rt_cohort *cohort, const struct rt_house_rule *rule, bool lz,
                       struct rule_cases *cases)
{
    const int from = rt_year_start(&cohort->period);
    size_t last[2] = {(size_t)-1, (size_t)-1};
    for (size_t i = 0; i < cohort->count; i++) {
        const struct rt_audit_implant *implant = &cohort->implants[i];
        enum rt_rule_standing standing = rt_rule_standing(rule, lz, implant);
        if (standing != RT_RULE_FOLLOWED && standing != RT_RULE_NOT_FOLLOWED)
            continue;
        size_t group = standing == RT_RULE_FOLLOWED;
        cases->lately[group] += implant->placed_on >= from;
        if (!cases->results[i].due || isnan(cases->results[i].value))
            continue;
        cases->value[cases->n] = cases->results[i].value;
        cases->group[cases->n] = group;
        cases->patient[cases->n++] = implant->patient;
        cases->count[group]++;
        cases->sum[group] += cases->results[i].value;
        cases->patients[group] += implant->patient != last[group];
        last[group] = implant->patient;
    }
}

/* The group that takes longest to reach `needed` at the pace of the last 12 months. */
static size_t scarcer(const struct rule_cases *cases, double needed)
{
    double months[2];
    for (size_t g = 0; g < 2; g++) {
        double missing = fmax(0.0, needed - (double)cases->count[g]);
        months[g] = missing > 0.0 ? missing / ((double)cases->lately[g] / 12.0) : 0.0;
    }
    if (months[0] > months[1])
        return 0;
    return months[1] > months[0] || cases->count[1] < cases->count[0] ? 1 : 0;
}

/* The share without the rule, moved by the difference in the direction the rule promises; the other way where that would leave
 * 0 to 1. */
static double difference_in_range(double share, double difference, int direction)
{
    double promised = direction < 0 ? -difference : difference;
    return share + promised >= 0.0 && share + promised <= 1.0 ? promised : -promised;
}

static void plan_rule(const struct rt_house_rule *rule, const struct rule_cases *cases,
                      struct question *question)
{
    struct rt_clustering clustering = clustering_of(&question->from);
    if (!enough_to_know(&question->from)) {
        question->reason = few_to_plan;
        return;
    }
    if (rt_outcome_is_share(rule->outcome)) {
        bool known = cases->patients[0] >= RT_LEAST_PATIENTS;
        double share = known ? cases->sum[0] / (double)cases->count[0] : question->from.mean;
        double difference = difference_in_range(share, rule->smallest_difference, rule->direction);
        question->spread = share;
        take_answer(question, rt_cases_for_share_difference(share, difference, POWER, 2, &clustering));
    } else {
        question->spread = question->from.sd;
        take_answer(question, rt_cases_for_mean_difference(question->from.sd, rule->smallest_difference,
                                                           POWER, 2, &clustering));
    }
    size_t g = scarcer(cases, question->needed);
    question->have = cases->count[g];
    question->have_patients = cases->patients[g];
    question->a_month = (double)cases->lately[g] / 12.0;
    question->remark =
        g == 1 ? "of those in whom the rule was followed" : "of those in whom it was not followed";
}

/* A rule that states a value is answered by a narrow interval, whose width shrinks with the root of the number of cases. */
static void plan_value(const struct rt_house_rule *rule, const struct rt_figure_list *figures,
                       const struct rule_cases *cases, struct question *question)
{
    const char *measure = rule->kind == RT_RULE_SUM ? "rule_knee" : "rule_slope_adjusted";
    const struct rt_figure key = {.section = "rules",
                                  .measure = measure,
                                  .grouping = "rule",
                                  .level = rule->name,
                                  .unit_of_analysis = "implant",
                                  .at = NAN};
    const struct rt_figure *row = rt_find_figure(figures, &key);
    question->wanted = rule->largest_width;
    question->a_month = (double)(cases->lately[0] + cases->lately[1]) / 12.0;
    question->have = row == NULL || row->n_implants < 0 ? 0 : row->n_implants;
    question->have_patients = row == NULL || row->n_patients < 0 ? 0 : row->n_patients;
    if (row == NULL || row->state != RT_FIGURE_OK || isnan(row->lower) || isnan(row->upper)) {
        question->reason = "there is no interval yet that could narrow";
        return;
    }
    if (rule->kind == RT_RULE_SUM && row->remark[0] != '\0') {
        question->reason = "no knee can be located yet: no formula tells how many cases that takes";
        return;
    }
    double ratio = (row->upper - row->lower) / rule->largest_width;
    question->needed = ceil((double)row->n_implants * ratio * ratio);
    question->remark = "from the width of the interval there is";
}

static void ask_rule(const struct rt_cohort *cohort, const struct rt_house_rule *rule, bool lz,
                     struct rt_rows *rows)
{
    struct rule_cases cases = {.n = 0};
    struct question question = {.name = rule->name,
                                .unit = rule->unit,
                                .wanted = rule->smallest_difference,
                                .spread = NAN,
                                .needed = NAN};
    enum rt_status status = start_cases(&cases, cohort, rows->error);
    if (status == RT_OK)
        status = rt_rule_results(cohort, rule, cases.results, rows->error);
    if (status == RT_OK) {
        take_cases(cohort, rule, lz, &cases);
        status = spread_of(cases.value, cases.group, 2, cases.patient, cases.n, &question.from, rows->error);
    }
    if (rt_rows_check(rows, status)) {
        if (rule->direction == 0)
            plan_value(rule, rows->list, &cases, &question);
        else
            plan_rule(rule, &cases, &question);
        put_question(rows, &question);
    }
    release_cases(&cases);
}

void rt_precision_figures(struct rt_store *store, const struct rt_cohort *cohort, struct rt_rows *rows)
{
    struct rt_meeting meeting = {.yardstick_count = 0};
    struct rt_house_rules rules = {.count = 0};
    struct rt_compared_view view = {.cohort = cohort};
    if (rt_rows_check(rows, rt_load_yardsticks(store, cohort->period.first_day, &meeting, rows->error)) &&
        rt_rows_check(rows, rt_load_house_rules(store, &rules, rows->error)) &&
        rt_rows_check(rows, rt_view_start(&view, cohort, rows->error))) {
        for (size_t i = 0; i < meeting.yardstick_count && rows->status == RT_OK; i++)
            ask_yardstick(&view, &meeting.yardsticks[i], rows);
        for (size_t i = 0; i < rules.count && rows->status == RT_OK; i++)
            ask_rule(cohort, &rules.of[i], rt_usual_scale(cohort, false), rows);
    }
    rt_view_release(&view);
    rt_release_meeting(&meeting);
}
