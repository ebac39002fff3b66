/* Quarter by quarter: outcomes and, beside them, which cases they were. */
#include "operators.h"

#include "ridgetally/audit/window_cases.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"

#include <limits.h>
#include <math.h>

/* Implants by their place in the cohort, in its order. */
struct places {
    size_t *of;
    size_t count;
};

/* One span of placements: a quarter, or the 12 months that end with it. */
struct span {
    struct operator_task *task;
    struct places placed;                /* in the span */
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
    rt_sample_clear(sample);
    for (size_t i = 0; i < span->placed.count; i++) {
        const struct rt_audit_implant *implant = &span->task->cohort->implants[span->placed.of[i]];
        double value = ask(span->task->cohort, implant);
        if (isnan(value))
            continue;
        rt_sample_add(sample, span->task->cohort, span->placed.of[i], value);
        sample->capped[sample->n - 1] = implant->final_torque_capped;
    }
    return (long)span->placed.count;
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

/* own: the operator's implants. */
static void write_span(struct span *span, const struct places *own)
{
    const struct rt_audit_implant *implants = span->task->cohort->implants;
    long patients = 0;
    size_t last = (size_t)-1;
    span->placed.count = 0;
    for (size_t i = 0; i < own->count; i++) {
        const struct rt_audit_implant *implant = &implants[own->of[i]];
        if (!in_span(span, implant))
            continue;
        span->placed.of[span->placed.count++] = own->of[i];
        patients += implant->patient != last;
        last = implant->patient;
    }
    if (span->placed.count == 0)
        return;
    rt_put_count(span->task->rows, "operators", "span_implants", &span->key, (long)span->placed.count,
                 patients, RT_NO_COUNT);
    write_shares(span);
    write_films(span);
}

static void write_spans(struct span *span, const struct places *own)
{
    int first_day, last_day;
    rt_quarter_of(span->task->cohort->period.last_day, &first_day, &last_day);
    for (int back = RT_OPERATOR_QUARTERS - 1; back >= 0 && span->task->rows->status == RT_OK; back--) {
        char quarter[16];
        rt_quarter_of(rt_add_months(first_day, -3 * back), &span->first_day, &span->last_day);
        quarter_name(span->first_day, quarter, sizeof quarter);
        span->key = operator_part_key(span->task, "quarter", quarter);
        write_span(span, own);
        span->first_day = rt_add_months(span->first_day, -9);
        span->key = operator_part_key(span->task, "year_to", quarter);
        write_span(span, own);
    }
}

/* Only the cases of the operator at hand. */
static void keep_own(const struct operator_task *task, struct rt_window_cases *cases)
{
    size_t count = 0;
    for (size_t i = 0; i < cases->count; i++)
        if (task->cohort->implants[cases->of[i].implant].operator_code == task->operator_code)
            cases->of[count++] = cases->of[i];
    cases->count = count;
}

void write_operator_quarters(struct operator_task *task)
{
    const struct rt_cohort *cohort = task->cohort;
    struct rt_window_cases cases = {.of = NULL};
    struct places own = {.of = rt_new_array(task->implants + 1, sizeof *own.of)};
    struct span span = {.task = task,
                        .placed = {.of = rt_new_array(task->implants + 1, sizeof *span.placed.of)},
                        .cases = &cases,
                        .contact = rt_levels_look_like_contact(cohort)};
    if (own.of == NULL || span.placed.of == NULL) {
        rt_rows_check(task->rows, rt_fail_memory(task->rows->error));
    } else if (rt_rows_check(task->rows, rt_window_cases_start(&cases, cohort, task->rows->error))) {
        for (size_t i = 0; i < cohort->count; i++)
            if (cohort->implants[i].operator_code == task->operator_code)
                own.of[own.count++] = i;
        rt_take_window(cohort, RT_BASELINE_PLACEMENT, &rt_windows()[RT_YEAR_WINDOW], INT_MIN, &cases);
        keep_own(task, &cases);
        write_spans(&span, &own);
    }
    rt_window_cases_release(&cases);
    free(own.of);
    free(span.placed.of);
}
