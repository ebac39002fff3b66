#include "operators.h"

#include "ridgetally/audit/sections.h"
#include "ridgetally/base/date.h"

#include <math.h>
#include <stdio.h>

/* --- keys ------------------------------------------------------------------------------------------------ */

struct rt_row_key operator_key(const struct operator_task *task)
{
    return rt_key_text("operator", task->cohort->operators[task->operator_code], "", "");
}

struct rt_row_key operator_part_key(const struct operator_task *task, const char *part,
                                    const char *part_level)
{
    return rt_key_text("operator", task->cohort->operators[task->operator_code], part, part_level);
}

struct rt_figure operator_row(struct operator_task *task, const char *measure, const struct rt_row_key *key)
{
    struct rt_figure row = rt_row_of(task->rows, "operators", measure, key);
    row.n_implants = (long)task->implants;
    row.n_patients = (long)task->patients;
    return row;
}

const char *quarter_name(int day, char *text, size_t size)
{
    struct rt_civil_date date = rt_civil_date(day);
    snprintf(text, size, "%04dQ%d", date.year, (date.month + 2) / 3);
    return text;
}

/* --- signals --------------------------------------------------------------------------------------------- */

static bool begins_signal(const struct operator_chart *chart, size_t i)
{
    return chart->signal[i] && (chart->each_is_one || i == 0 || !chart->signal[i - 1]);
}

static void write_signal(struct operator_task *task, const struct operator_chart *chart, size_t i,
                         bool recent)
{
    char quarter[16], part[96];
    const size_t number = chart->number[i];
    quarter_name(task->sessions->of[task->first + number - 1].placed_on, quarter, sizeof quarter);
    snprintf(part, sizeof part, "%s|%s", chart->name, quarter);
    struct rt_row_key key = operator_part_key(task, "chart|quarter", part);
    struct rt_figure row = operator_row(task, "signal", &key);
    row.at = (double)number;
    row.value = chart->value[i];
    row.lower = chart->lower[i];
    row.upper = chart->upper[i];
    row.remark = recent ? "in the last 12 months" : "earlier";
    rt_put_row(task->rows, &row);
}

static void write_path(struct operator_task *task, const struct operator_chart *chart)
{
    struct rt_row_key key = operator_key(task);
    for (size_t i = 0; i < chart->n && chart->path != NULL && task->rows->status == RT_OK; i++) {
        struct rt_figure row = operator_row(task, chart->path, &key);
        row.at = (double)chart->number[i];
        row.value = chart->value[i];
        row.lower = chart->lower[i];
        row.upper = chart->upper[i];
        rt_put_row(task->rows, &row);
    }
}

static void write_run_length(struct operator_task *task, const struct operator_chart *chart,
                             const struct rt_row_key *key)
{
    struct rt_figure row = operator_row(task, "run_length", key);
    row.value = chart->run_length;
    rt_put_row(task->rows, &row);
    row = operator_row(task, "run_length_years", key);
    row.value = chart->run_length / task->sessions_a_year;
    if (!(task->sessions_a_year > 0.0)) {
        row.value = NAN;
        row.state = RT_FIGURE_UNDEFINED;
        row.remark = "no session in the 12 months to the end of the period";
    }
    rt_put_row(task->rows, &row);
}

void write_operator_chart(struct operator_task *task, const struct operator_chart *chart)
{
    const int year = rt_year_start(&task->cohort->period);
    struct rt_row_key key = operator_part_key(task, "chart", chart->name);
    long signals = 0, recent = 0;
    write_path(task, chart);
    for (size_t i = 0; i < chart->n && task->rows->status == RT_OK; i++) {
        if (!begins_signal(chart, i))
            continue;
        bool new_one = task->sessions->of[task->first + chart->number[i] - 1].placed_on >= year;
        signals++;
        recent += new_one;
        write_signal(task, chart, i, new_one);
    }
    struct rt_figure row = operator_row(task, "signals", &key);
    row.value = (double)signals;
    row.n_due = (long)chart->n;
    row.remark = chart->remark;
    rt_put_row(task->rows, &row);
    row = operator_row(task, "signals_year", &key);
    row.value = (double)recent;
    rt_put_row(task->rows, &row);
    write_run_length(task, chart, &key);
    task->charts++;
    task->false_signals += task->sessions_a_year / chart->run_length;
}

/* --- counts of sessions ---------------------------------------------------------------------------------- */

static bool is_open(const struct rt_session *session)
{
    return session->state == RT_SESSION_OPEN;
}

static bool is_unknown(const struct rt_session *session)
{
    return session->state == RT_SESSION_UNKNOWN;
}

static void write_session_count(struct operator_task *task, const char *measure,
                                bool (*chosen)(const struct rt_session *))
{
    struct rt_row_key key = operator_key(task);
    struct rt_figure row = rt_row_of(task->rows, "operators", measure, &key);
    size_t patients = 0;
    row.value = 0.0;
    row.n_implants = 0;
    for (size_t i = task->first; i < task->first + task->count; i++) {
        const struct rt_session *session = &task->sessions->of[i];
        if (chosen != NULL && !chosen(session))
            continue;
        row.value++;
        row.n_implants += (long)session->count;
    }
    if (!rt_rows_check(task->rows, rt_count_session_patients(task->sessions, task->first, task->count, false,
                                                             chosen, &patients, task->rows->error)))
        return;
    row.n_patients = (long)patients;
    row.n_due = (long)task->count;
    rt_put_row(task->rows, &row);
}

static void write_sessions(struct operator_task *task)
{
    const int year = rt_year_start(&task->cohort->period);
    struct rt_row_key key = operator_key(task);
    write_session_count(task, "sessions", NULL);
    write_session_count(task, "sessions_open", is_open);
    write_session_count(task, "sessions_unknown", is_unknown);
    task->sessions_a_year = 0.0;
    for (size_t i = task->first; i < task->first + task->count; i++)
        task->sessions_a_year += task->sessions->of[i].placed_on >= year;
    struct rt_figure row = operator_row(task, "sessions_a_year", &key);
    row.value = task->sessions_a_year;
    rt_put_row(task->rows, &row);
}

/* --- all operators --------------------------------------------------------------------------------------- */

static void write_operator(struct operator_task *task)
{
    const double before = task->false_signals;
    const long charts = task->charts;
    task->first = 0;
    task->count = rt_sessions_of(task->sessions, task->operator_code, &task->first);
    if (task->count == 0 ||
        !rt_rows_check(task->rows, rt_count_session_patients(task->sessions, task->first, task->count, false,
                                                             NULL, &task->patients, task->rows->error)))
        return;
    task->implants = 0;
    for (size_t i = task->first; i < task->first + task->count; i++)
        task->implants += task->sessions->of[i].count;
    write_sessions(task);
    write_operator_depth(task);
    write_operator_failures(task);
    write_operator_quarters(task);
    write_operator_learning(task);
    struct rt_row_key key = operator_key(task);
    struct rt_figure row = operator_row(task, "false_signals_a_year", &key);
    row.value = task->false_signals - before;
    if (task->charts == charts)
        rt_set_too_few(&row, "no chart with limits yet");
    rt_put_row(task->rows, &row);
}

static void write_totals(struct operator_task *task)
{
    struct rt_figure row = rt_row_of(task->rows, "operators", "charts_watched", NULL);
    row.value = (double)task->charts;
    rt_put_row(task->rows, &row);
    row = rt_row_of(task->rows, "operators", "false_signals_a_year", NULL);
    row.value = task->false_signals;
    if (task->charts == 0)
        rt_set_too_few(&row, "no chart with limits yet");
    rt_put_row(task->rows, &row);
}

void rt_operator_figures(struct rt_store *store, const struct rt_cohort *cohort, struct rt_rows *rows)
{
    struct rt_sessions sessions = {.count = 0};
    struct rt_sample sample = {.n = 0};
    struct operator_task task = {.store = store,
                                 .cohort = cohort,
                                 .rows = rows,
                                 .sessions = &sessions,
                                 .sample = &sample,
                                 .single_run_length = NAN,
                                 .average_run_length = NAN};
    if (rt_rows_check(rows, rt_take_sessions(cohort, &sessions, rows->error)) &&
        rt_rows_check(rows, rt_sample_start(&sample, cohort, rows->error))) {
        for (task.operator_code = 0; task.operator_code < (int)cohort->operator_count; task.operator_code++)
            write_operator(&task);
        write_totals(&task);
        write_operator_differences(&task);
        write_operator_funnel(&task);
    }
    rt_sample_release(&sample);
    rt_release_sessions(&sessions);
}
