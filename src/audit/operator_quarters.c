/* Quarter by quarter: outcomes and, beside them, which cases they were. */
#include "operators.h"

#include "ridgetally/audit/window_cases.h"
#include "ridgetally/base/date.h"

#include <limits.h>
#include <math.h>

/* One span of placements: a quarter, or the 12 months that end with it. */
struct span {
    struct operator_task *task;
    const struct rt_window_cases *cases; /* 12 months after placement, all records */
    bool contact;                        /* levels look like first contact */
    int first_day, last_day;
    struct rt_row_key key;
};

static bool in_span(const struct span *span, const struct rt_audit_implant *implant)
{
    return implant->operator_code == span->task->operator_code && implant->placed_on >= span->first_day &&
           implant->placed_on <= span->last_day;
}

/* --- rows ------------------------------------------------------------------------------------------------ */

/* Returns the implants placed in the span. */
static long take_span(const struct span *span, operator_ask *ask)
{
    struct rt_sample *sample = span->task->sample;
    long placed = 0;
    rt_sample_clear(sample);
    for (size_t i = 0; i < span->task->cohort->count; i++) {
        const struct rt_audit_implant *implant = &span->task->cohort->implants[i];
        if (!in_span(span, implant))
            continue;
        placed++;
        double value = ask(span->task->cohort, implant);
        if (isnan(value))
            continue;
        rt_sample_add(sample, span->task->cohort, i, value);
        sample->capped[sample->n - 1] = implant->final_torque_capped;
    }
    return placed;
}

static void write_shares(struct span *span)
{
    static const struct {
        const char *measure;
        operator_ask *ask;
    } shares[] = {{"span_soft_bone", ask_soft_bone},     {"span_current_smoker", ask_current_smoker},
                  {"span_grafted", ask_grafted},         {"span_at_back", ask_at_back},
                  {"span_within_half", ask_within_half}, {"span_low_torque", ask_low_torque}};
    for (size_t i = 0; i < sizeof shares / sizeof shares[0]; i++) {
        struct rt_figure row = rt_row_of(span->task->rows, "operators", shares[i].measure, &span->key);
        row.n_due = take_span(span, shares[i].ask);
        rt_put_share(span->task->rows, row, span->task->sample);
    }
    struct rt_figure row = rt_row_of(span->task->rows, "operators", "span_torque_median", &span->key);
    row.n_due = take_span(span, ask_final_torque);
    rt_put_capped_quantile(span->task->rows, row, span->task->sample, 0.5);
}

/* Crest change at 12 months of what was placed in the span, and whether a film was read then. */
static void write_films(struct span *span)
{
    struct rt_sample *sample = span->task->sample;
    struct rt_figure read = rt_row_of(span->task->rows, "operators", "span_film_read", &span->key);
    struct rt_figure change = rt_row_of(span->task->rows, "operators", "span_crest_change", &span->key);
    long due = 0;
    read.at = change.at = rt_windows()[RT_YEAR_WINDOW].months;
    read.baseline = change.baseline = rt_baseline_name(RT_BASELINE_PLACEMENT);
    change.site = "mean";
    for (int pass = 0; pass < 2; pass++) {
        rt_sample_clear(sample);
        due = 0;
        for (size_t i = 0; i < span->cases->count; i++) {
            const struct rt_window_case *one = &span->cases->of[i];
            if (!in_span(span, &span->task->cohort->implants[one->implant]))
                continue;
            due++;
            if (pass == 0)
                rt_sample_add(sample, span->task->cohort, one->implant, one->status == RT_WINDOW_READ);
            else if (!isnan(one->change.mean))
                rt_sample_add(sample, span->task->cohort, one->implant, one->change.mean);
        }
        if (due == 0)
            return; /* no window has closed yet */
        read.n_due = change.n_due = due;
        if (pass == 0)
            rt_put_share(span->task->rows, read, sample);
    }
    if (!span->contact) {
        rt_put_mean(span->task->rows, change, sample);
        return;
    }
    change.state = RT_FIGURE_UNDEFINED;
    change.remark = "cannot tell: the levels look as if first contact had been recorded";
    rt_put_row(span->task->rows, &change);
}

static void write_span(struct span *span)
{
    long patients = 0, placed = 0;
    size_t last = (size_t)-1;
    for (size_t i = 0; i < span->task->cohort->count; i++) {
        const struct rt_audit_implant *implant = &span->task->cohort->implants[i];
        if (!in_span(span, implant))
            continue;
        placed++;
        patients += implant->patient != last;
        last = implant->patient;
    }
    if (placed == 0)
        return;
    rt_put_count(span->task->rows, "operators", "span_implants", &span->key, placed, patients, RT_NO_COUNT);
    write_shares(span);
    write_films(span);
}

void write_operator_quarters(struct operator_task *task)
{
    struct rt_window_cases cases = {.of = NULL};
    struct span span = {.task = task, .cases = &cases, .contact = rt_levels_look_like_contact(task->cohort)};
    int first_day, last_day;
    if (rt_rows_check(task->rows, rt_window_cases_start(&cases, task->cohort, task->rows->error))) {
        rt_take_window(task->cohort, RT_BASELINE_PLACEMENT, &rt_windows()[RT_YEAR_WINDOW], INT_MIN, &cases);
        rt_quarter_of(task->cohort->period.last_day, &first_day, &last_day);
        for (int back = RT_OPERATOR_QUARTERS - 1; back >= 0 && task->rows->status == RT_OK; back--) {
            char quarter[16];
            rt_quarter_of(rt_add_months(first_day, -3 * back), &span.first_day, &span.last_day);
            quarter_name(span.first_day, quarter, sizeof quarter);
            span.key = operator_part_key(task, "quarter", quarter);
            write_span(&span);
            span.first_day = rt_add_months(span.first_day, -9);
            span.key = operator_part_key(task, "year_to", quarter);
            write_span(&span);
        }
    }
    rt_window_cases_release(&cases);
}
