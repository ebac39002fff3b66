#include "ridgetally/audit/criteria.h"
#include "ridgetally/audit/estimates.h"
#include "ridgetally/audit/reliability.h"
#include "ridgetally/audit/sections.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"

#include <limits.h>
#include <math.h>
#include <stdio.h>

/* What the sets say of one implant that is due. */
struct judged {
    size_t implant;
    struct rt_success_facts facts;
    unsigned char of[RT_CRITERIA];   /* enum rt_judgement */
    const char *reason[RT_CRITERIA]; /* where it cannot be judged */
};

struct success_task {
    const struct rt_cohort *cohort;
    struct rt_rows *rows;
    struct rt_sample *sample;
    double error_mm; /* of one reading of the two-site mean */
    struct judged *due;
    size_t count;
    const char *records;            /* `12 months` or `all` */
    const struct rt_window *window; /* NULL: at the latest visit */
};

/* --- who is due, and what is known of them --------------------------------------------------------------- */

static void judge_implant(struct success_task *task, size_t index, int first_day, int last_day,
                          double wanted_day)
{
    struct judged *one = &task->due[task->count++];
    one->implant = index;
    one->facts = rt_success_facts(task->cohort, &task->cohort->implants[index], first_day, last_day,
                                  wanted_day, task->error_mm);
    for (int set = 0; set < RT_CRITERIA; set++) {
        one->reason[set] = NULL;
        one->of[set] = (unsigned char)rt_judge(&one->facts, &rt_criteria_sets()[set], &one->reason[set]);
    }
}

static void take_due(struct success_task *task, int first_closing_day)
{
    const struct rt_cohort *cohort = task->cohort;
    const int cut = cohort->period.last_day;
    task->count = 0;
    for (size_t i = 0; i < cohort->count; i++) {
        const int placed_on = cohort->implants[i].placed_on;
        if (task->window != NULL) {
            const int closes = rt_window_last_day(task->window, placed_on);
            if (closes >= first_closing_day && closes <= cut)
                judge_implant(task, i, rt_window_first_day(task->window, placed_on), closes,
                              placed_on + task->window->months * RT_MONTH_DAYS);
        } else if (rt_window_first_day(&rt_windows()[RT_YEAR_WINDOW], placed_on) <= cut) {
            judge_implant(task, i, cut - cohort->recall_days, cut, cut);
        }
    }
}

/* --- rows ------------------------------------------------------------------------------------------------ */

static struct rt_figure success_row(struct success_task *task, const char *measure,
                                    const struct rt_row_key *key)
{
    struct rt_figure row = rt_row_of(task->rows, "success", measure, key);
    row.at = task->window != NULL ? (double)task->window->months : (double)NAN;
    row.baseline = task->window != NULL ? rt_baseline_name(RT_BASELINE_PLACEMENT) : "";
    row.n_due = (long)task->count;
    return row;
}

static struct rt_row_key key_with(const char *grouping, const struct success_task *task, int set,
                                  const char *level)
{
    struct rt_row_key key;
    snprintf(key.grouping, sizeof key.grouping, "window|criteria%s%s", grouping[0] != '\0' ? "|" : "",
             grouping);
    snprintf(key.level, sizeof key.level, "%s|%s%s%s", task->records, rt_criteria_sets()[set].name,
             grouping[0] != '\0' ? "|" : "", level);
    return key;
}

/* The implants due as 1 (meets the set) or 0; those that cannot be judged as `unknown`, or left out where that is NaN. */
static void take_set(struct success_task *task, int set, double unknown)
{
    rt_sample_clear(task->sample);
    for (size_t i = 0; i < task->count; i++) {
        const struct judged *one = &task->due[i];
        const double value = one->of[set] == RT_CANNOT_JUDGE ? unknown : (double)one->of[set];
        if (!isnan(value))
            rt_sample_add(task->sample, task->cohort, one->implant, value);
    }
}

static void write_bound(struct success_task *task, int set, const char *bound, double unknown)
{
    struct rt_row_key key = key_with("bound", task, set, bound);
    take_set(task, set, unknown);
    rt_put_share(task->rows, success_row(task, "success_bound", &key), task->sample);
}

static void write_share(struct success_task *task, int set)
{
    struct rt_row_key key = key_with("", task, set, "");
    take_set(task, set, NAN);
    rt_put_share(task->rows, success_row(task, "success_share", &key), task->sample);
    rt_put_patient_mean(task->rows, success_row(task, "success_share", &key), task->sample);
    const long judged = (long)task->sample->n;
    take_set(task, set, 0.0);
    struct rt_figure row = success_row(task, "success_judged", &key);
    row.n_implants = (long)task->sample->n;
    row.n_patients = (long)task->sample->clusters;
    row.n_events = judged;
    row.value = row.n_implants > 0 ? (double)judged / (double)row.n_implants : NAN;
    if (row.n_implants < RT_LEAST_SHARE_IMPLANTS)
        rt_set_too_few(&row, "fewer than 20 implants due");
    rt_put_row(task->rows, &row);
    write_bound(task, set, "worst case", 0.0);
    write_bound(task, set, "best case", 1.0);
}

/* A count of the implants for which chosen[] is true; the sample holds all due. */
static void put_chosen(struct success_task *task, const char *measure, const struct rt_row_key *key)
{
    struct rt_figure row = success_row(task, measure, key);
    row.n_implants = 0;
    for (size_t i = 0; i < task->sample->n; i++)
        row.n_implants += task->sample->capped[i];
    row.n_patients = (long)rt_sample_patients(task->sample, task->sample->capped);
    row.value = (double)row.n_implants;
    rt_put_row(task->rows, &row);
}

/* One row for each reason that occurs, in order of first occurrence. */
static void write_reasons(struct success_task *task, int set)
{
    take_set(task, set, 2.0);
    for (size_t i = 0; i < task->count; i++) {
        const char *reason = task->due[i].reason[set];
        bool new_reason = reason != NULL && task->due[i].of[set] == RT_CANNOT_JUDGE;
        for (size_t k = 0; k < i && new_reason; k++)
            new_reason = task->due[k].of[set] != RT_CANNOT_JUDGE || task->due[k].reason[set] != reason;
        if (!new_reason)
            continue;
        for (size_t k = 0; k < task->count; k++)
            task->sample->capped[k] =
                task->due[k].of[set] == RT_CANNOT_JUDGE && task->due[k].reason[set] == reason;
        struct rt_row_key key = key_with("reason", task, set, reason);
        put_chosen(task, "success_unjudged", &key);
    }
}

enum field { SUCCESS, SURVIVAL, UNACCOUNTED, FAILURE, FIELDS };

static enum field field_of(const struct judged *one, int set)
{
    if (one->facts.failed)
        return FAILURE;
    if (one->facts.unknown != NULL)
        return UNACCOUNTED;
    return one->of[set] == RT_MET ? SUCCESS : SURVIVAL;
}

static void write_fields(struct success_task *task, int set)
{
    static const char *const names[FIELDS] = {"success", "survival", "unaccounted for", "failure"};
    take_set(task, set, 2.0);
    for (int field = 0; field < FIELDS; field++) {
        for (size_t i = 0; i < task->count; i++)
            task->sample->capped[i] = field_of(&task->due[i], set) == (enum field)field;
        struct rt_row_key key = key_with("class", task, set, names[field]);
        put_chosen(task, "success_class", &key);
    }
}

static void write_disagreement(struct success_task *task, int set, int other)
{
    struct rt_sample *sample = task->sample;
    struct rt_row_key key = key_with("not_criteria", task, set, rt_criteria_sets()[other].name);
    struct rt_figure row = success_row(task, "success_disagreement", &key);
    long apart = 0;
    rt_sample_clear(sample);
    for (size_t i = 0; i < task->count; i++) {
        const struct judged *one = &task->due[i];
        if (one->of[set] == RT_CANNOT_JUDGE || one->of[other] == RT_CANNOT_JUDGE)
            continue;
        rt_sample_add(sample, task->cohort, one->implant, 0.0);
        apart += one->of[set] == RT_MET && one->of[other] == RT_NOT_MET;
    }
    row.n_implants = (long)sample->n;
    row.n_patients = (long)sample->clusters;
    row.n_events = apart;
    row.value = (double)apart;
    rt_put_row(task->rows, &row);
}

/* --- single requirements --------------------------------------------------------------------------------- */

/* The first demand for a requirement among the sets, NULL when none makes it. */
static const struct rt_demand *first_demand(enum rt_requirement requirement)
{
    for (int set = 0; set < RT_CRITERIA; set++)
        for (int i = 0; i < rt_criteria_sets()[set].count; i++)
            if (rt_criteria_sets()[set].demands[i].requirement == requirement)
                return &rt_criteria_sets()[set].demands[i];
    return NULL;
}

static void write_requirement(struct success_task *task, enum rt_requirement requirement)
{
    const struct rt_demand *demand = first_demand(requirement);
    struct rt_row_key key =
        rt_key_text("window", task->records, "requirement", rt_requirement_name(requirement));
    struct rt_figure row = success_row(task, "success_requirement", &key);
    row.n_due = row.n_events = 0;
    rt_sample_clear(task->sample);
    for (size_t i = 0; i < task->count && demand != NULL; i++) {
        const char *reason = NULL;
        const struct judged *one = &task->due[i];
        if (one->facts.failed || one->facts.unknown != NULL)
            continue;
        row.n_due++;
        const enum rt_judgement judgement = rt_judge_demand(&one->facts, demand, &reason);
        if (judgement == RT_CANNOT_JUDGE)
            continue;
        row.n_events += judgement == RT_MET;
        rt_sample_add(task->sample, task->cohort, one->implant, 0.0);
    }
    row.n_implants = (long)task->sample->n;
    row.n_patients = (long)task->sample->clusters;
    row.value = row.n_implants > 0 ? (double)row.n_events / (double)row.n_implants : NAN;
    if (row.n_implants < RT_LEAST_SHARE_IMPLANTS)
        rt_set_too_few(&row, "fewer than 20 implants");
    rt_put_row(task->rows, &row);
}

static void write_limits(struct success_task *task)
{
    for (int set = 0; set < RT_CRITERIA; set++) {
        for (int i = 0; i < rt_criteria_sets()[set].count; i++) {
            const struct rt_demand *demand = &rt_criteria_sets()[set].demands[i];
            struct rt_row_key key = rt_key_text("criteria", rt_criteria_sets()[set].name, "requirement",
                                                rt_requirement_name(demand->requirement));
            struct rt_figure row = rt_row_of(task->rows, "success", "success_limit", &key);
            row.value = demand->limit_mm;
            row.remark = demand->limit_allowed ? "at most" : "less than";
            if (isnan(demand->limit_mm)) {
                row.state = RT_FIGURE_UNDEFINED;
                row.remark = "a yes or no";
            }
            row.unit_of_analysis = "";
            rt_put_row(task->rows, &row);
        }
    }
}

/* Where the sets disagree is told at the latest visit and after the first year. */
static bool shows_disagreement(const struct success_task *task)
{
    return task->window == NULL || task->window == &rt_windows()[RT_YEAR_WINDOW];
}

static void write_time(struct success_task *task, int first_closing_day)
{
    take_due(task, first_closing_day);
    for (int set = 0; set < RT_CRITERIA && task->rows->status == RT_OK; set++) {
        write_share(task, set);
        write_reasons(task, set);
        write_fields(task, set);
        for (int other = 0; other < RT_CRITERIA && shows_disagreement(task); other++)
            if (other != set)
                write_disagreement(task, set, other);
    }
    for (int requirement = 0; requirement < RT_REQUIREMENTS; requirement++)
        write_requirement(task, (enum rt_requirement)requirement);
}

void rt_success_figures(const struct rt_reading_errors *errors, const struct rt_cohort *cohort,
                        struct rt_rows *rows)
{
    static const int windows[] = {RT_YEAR_WINDOW, RT_YEAR_WINDOW + 2, RT_YEAR_WINDOW + 3};
    struct rt_sample sample = {.n = 0};
    struct success_task task = {.cohort = cohort, .rows = rows, .sample = &sample, .records = "all"};
    task.due = rt_new_array(cohort->count + 1, sizeof *task.due);
    if (task.due == NULL)
        rt_rows_check(rows, rt_fail_memory(rows->error));
    if (rt_rows_check(rows, rt_sample_start(&sample, cohort, rows->error))) {
        task.error_mm = sqrt(errors->all_films.variance);
        write_limits(&task);
        write_time(&task, INT_MIN);
        for (size_t i = 0; i < sizeof windows / sizeof windows[0]; i++) {
            task.window = &rt_windows()[windows[i]];
            task.records = "12 months";
            write_time(&task, rt_closing_start(&cohort->period));
            task.records = "all";
            write_time(&task, INT_MIN);
        }
    }
    rt_sample_release(&sample);
    free(task.due);
}
