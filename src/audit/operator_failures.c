/* Early failures over time: the chart that adds up what came against what was to be expected. */
#include "operators.h"

#include "ridgetally/audit/fate.h"
#include "ridgetally/audit/operator_baseline.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/stats/cusum.h"

#include <math.h>
#include <stdio.h>

#define RUN_LENGTH                                                                                           \
    370.0 /* sessions between false signals aimed at: that of single values with limits at 3 sigma */
#define CORRELATION 0.3 /* of a patient's sessions, on the normal scale: assumed */

enum { STREAMS = 4000 };

static const double odds_ratio_of[RT_RISK_DIRECTIONS] = {2.0, 0.5};

/* The watched sessions, in time. */
struct watch {
    size_t n, clusters, unadjusted, implants;
    size_t *number, *cluster;
    int *event;
    double *chance, *score, *none, *upper;
    bool *signal;
    struct rt_cusum_point *point;
    long failed;
    double expected;
};

static enum rt_status start_watch(struct watch *watch, size_t room, struct rt_error *error)
{
    size_t n = room + 1;
    *watch = (struct watch){.number = rt_new_array(2 * n, sizeof *watch->number),
                            .event = rt_new_array(n, sizeof *watch->event),
                            .chance = rt_new_array(4 * n, sizeof *watch->chance),
                            .signal = rt_new_array(n, sizeof *watch->signal),
                            .point = rt_new_array(n, sizeof *watch->point)};
    if (watch->number == NULL || watch->event == NULL || watch->chance == NULL || watch->signal == NULL ||
        watch->point == NULL)
        return rt_fail_memory(error);
    watch->cluster = watch->number + n;
    watch->score = watch->chance + n;
    watch->none = watch->score + n;
    watch->upper = watch->none + n;
    return RT_OK;
}

static void release_watch(struct watch *watch)
{
    free(watch->number);
    free(watch->event);
    free(watch->chance);
    free(watch->signal);
    free(watch->point);
}

static void take_watch(const struct operator_task *task, const struct rt_operator_risk *risk,
                       struct watch *watch)
{
    for (size_t i = 0; i < task->count; i++) {
        const struct rt_session *session = &task->sessions->of[task->first + i];
        if (!rt_is_watched(risk, session))
            continue;
        const size_t at = watch->n++;
        watch->number[at] = i + 1;
        watch->cluster[at] = session->patient;
        watch->event[at] = session->failed;
        watch->chance[at] = rt_session_risk(risk, session);
        watch->none[at] = NAN;
        watch->failed += session->failed;
        watch->expected += watch->chance[at];
        watch->implants += session->known;
        watch->unadjusted += risk->adjusted && !rt_has_risk_facts(risk, session);
        watch->clusters = session->patient >= watch->clusters ? session->patient + 1 : watch->clusters;
    }
}

/* --- rows about the baseline ----------------------------------------------------------------------------- */

/* One term; NaN writes nothing. The level ends with the day the baseline was fitted to, from which it is frozen. */
static void write_term(struct operator_task *task, const struct rt_operator_risk *risk, const char *measure,
                       const char *term, double value)
{
    char part[96], day[16];
    if (isnan(value))
        return;
    snprintf(part, sizeof part, "%s|%s", term, rt_format_iso_date(risk->fitted_to, day));
    struct rt_row_key key = operator_part_key(task, "term|fitted_to", part);
    struct rt_figure row = rt_row_of(task->rows, "operators", measure, &key);
    row.value = value;
    rt_put_row(task->rows, &row);
}

static void write_terms(struct operator_task *task, const struct rt_operator_risk *risk)
{
    if (risk->reference == RT_RISK_NONE)
        return;
    for (int term = 0; term < RT_RISK_TERMS; term++)
        write_term(task, risk, "baseline_term", rt_risk_term_name((enum rt_risk_term)term, risk->lz),
                   risk->coefficient[term]);
    if (risk->reference != RT_RISK_TARGET) {
        const size_t counts[RT_BASELINE_COUNTS] = {risk->sessions, risk->failed, risk->patients};
        write_term(task, risk, "baseline_term", rt_baseline_share_name(risk->reference), risk->share);
        for (int i = 0; i < RT_BASELINE_COUNTS; i++)
            write_term(task, risk, "baseline_count", rt_baseline_count_name(i), (double)counts[i]);
    }
    write_term(task, risk, "baseline_term", rt_baseline_level_name(), risk->level);
    for (int direction = 0; direction < RT_RISK_DIRECTIONS; direction++) {
        const struct rt_risk_chart *chart = &risk->chart[direction];
        const double parts[RT_BASELINE_CHART_TERMS] = {chart->limit, chart->run_length, chart->detection};
        for (int i = 0; i < RT_BASELINE_CHART_TERMS; i++)
            write_term(task, risk, i == 0 ? "baseline_term" : "baseline_count",
                       rt_baseline_chart_name((enum rt_risk_direction)direction, i), parts[i]);
    }
}

/* Failed sessions against those expected, and the level; too few, or why there is none. */
static bool write_expected(struct operator_task *task, const struct rt_operator_risk *risk,
                           const struct watch *watch)
{
    static const char *const levels[] = {"no baseline", "the other operators", "own first sessions",
                                         "the target"};
    struct rt_row_key key = operator_part_key(task, "reference", levels[risk->reference]);
    struct rt_figure row = rt_row_of(task->rows, "operators", "failures_expected", &key);
    bool *chosen = rt_new_array(watch->clusters + 1, sizeof *chosen);
    if (chosen == NULL) {
        rt_rows_check(task->rows, rt_fail_memory(task->rows->error));
        return false;
    }
    row.n_patients = 0;
    for (size_t i = 0; i < watch->n; i++) {
        row.n_patients += !chosen[watch->cluster[i]];
        chosen[watch->cluster[i]] = true;
    }
    free(chosen);
    row.n_implants = (long)watch->implants;
    row.n_due = (long)watch->n;
    row.n_events = watch->failed;
    row.value = watch->expected;
    row.remark = risk->adjusted ? "adjusted for density, smoking, grafting and number of implants"
                                : "not adjusted: the same chance for every session";
    if (risk->reference == RT_RISK_NONE) {
        row.value = NAN;
        row.state = RT_FIGURE_UNDEFINED;
        row.remark = risk->reason;
    } else {
        rt_apply_minimum(&row);
        if (row.state == RT_FIGURE_OK && watch->n < RT_LEAST_SESSIONS)
            rt_set_too_few(&row, "fewer than 20 sessions");
    }
    rt_put_row(task->rows, &row);
    if (risk->adjusted) {
        struct rt_row_key own = operator_key(task);
        row = rt_row_of(task->rows, "operators", "sessions_unadjusted", &own);
        row.value = (double)watch->unadjusted;
        row.n_due = (long)watch->n;
        rt_put_row(task->rows, &row);
    }
    return task->rows->status == RT_OK && risk->reference != RT_RISK_NONE &&
           task->rows->list->rows[task->rows->list->count - 1 - risk->adjusted].state == RT_FIGURE_OK;
}

/* --- limits ---------------------------------------------------------------------------------------------- */

/* Limit and run length from streams of the operator's own sessions, in control; detection from such where the odds have
 * changed. Frozen ones are kept. */
static void set_chart(struct operator_task *task, const struct watch *watch, enum rt_risk_direction direction,
                      struct rt_risk_chart *chart)
{
    struct rt_cusum_stream stream = {
        watch->chance, watch->n, {watch->cluster, watch->clusters}, CORRELATION, 1.0};
    struct rt_cusum_design design = {odds_ratio_of[direction], 0.0, false};
    const unsigned long seed = 20090101ul + 10000ul * (unsigned long)direction;
    struct rt_estimate limit, detection;
    if (!isnan(chart->limit) && !isnan(chart->run_length))
        return;
    *chart = (struct rt_risk_chart){NAN, NAN, NAN};
    if (task->cohort->without_resampling)
        return;
    if (!rt_rows_check(task->rows, rt_cusum_simulated_limit(&stream, &design, RUN_LENGTH, seed, STREAMS,
                                                            &limit, task->rows->error)) ||
        isnan(limit.value))
        return;
    chart->limit = design.limit = limit.value;
    chart->run_length = limit.statistic;
    stream.true_odds_ratio = odds_ratio_of[direction];
    if (rt_rows_check(task->rows, rt_cusum_simulated_run_length(&stream, &design, seed + 5000, STREAMS,
                                                                &detection, task->rows->error)))
        chart->detection = detection.value;
}

static void write_direction(struct operator_task *task, struct watch *watch, enum rt_risk_direction direction,
                            const struct rt_risk_chart *chart)
{
    static const char *const names[] = {"more failures", "fewer failures"};
    static const char *const paths[] = {"failure_score_more", "failure_score_fewer"};
    const struct rt_cusum_design design = {odds_ratio_of[direction], chart->limit, true};
    if (isnan(chart->limit))
        return;
    rt_cusum(watch->event, watch->chance, watch->n, &design, watch->point);
    for (size_t i = 0; i < watch->n; i++) {
        watch->score[i] = watch->point[i].cusum;
        watch->upper[i] = chart->limit;
        watch->signal[i] = watch->point[i].signal;
    }
    const struct operator_chart plotted = {.name = names[direction],
                                           .path = paths[direction],
                                           .n = watch->n,
                                           .number = watch->number,
                                           .value = watch->score,
                                           .lower = watch->none,
                                           .upper = watch->upper,
                                           .signal = watch->signal,
                                           .each_is_one = true,
                                           .run_length = chart->run_length,
                                           .remark = ""};
    write_operator_chart(task, &plotted);
    struct rt_row_key key = operator_part_key(task, "chart", names[direction]);
    struct rt_figure row = operator_row(task, "detection", &key);
    row.value = chart->detection;
    rt_put_row(task->rows, &row);
}

void write_operator_failures(struct operator_task *task)
{
    struct rt_operator_risk risk;
    struct watch watch;
    if (rt_rows_check(task->rows, start_watch(&watch, task->count, task->rows->error)) &&
        rt_rows_check(task->rows, rt_operator_risk(task->store, task->cohort, task->sessions,
                                                   task->operator_code, &risk, task->rows->error))) {
        take_watch(task, &risk, &watch);
        bool enough = write_expected(task, &risk, &watch);
        for (int direction = 0; direction < RT_RISK_DIRECTIONS && enough; direction++)
            set_chart(task, &watch, (enum rt_risk_direction)direction, &risk.chart[direction]);
        write_terms(task, &risk);
        for (int direction = 0; direction < RT_RISK_DIRECTIONS && enough; direction++)
            write_direction(task, &watch, (enum rt_risk_direction)direction, &risk.chart[direction]);
    }
    release_watch(&watch);
}
