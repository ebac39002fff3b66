/* This period against the last and against the one a year ago, all on today's records. */
#include "change.h"
#include "yardsticks.h"

#include "ridgetally/audit/estimates.h"
#include "ridgetally/audit/judged.h"
#include "ridgetally/audit/meeting.h"
#include "ridgetally/audit/sections.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/figure/catalogue.h"
#include "ridgetally/stats/mean.h"
#include "ridgetally/stats/share.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* --- patients of two cohorts ------------------------------------------------------------------------------ */

/* Both lists of patients are in the order of their keys: give the same patient the same code. */
static enum rt_status join_patients(struct change *change, struct rt_error *error)
{
    const struct rt_cohort *now = change->now.cohort, *then = change->then.cohort;
    size_t i = 0, j = 0;
    change->code_now = rt_new_array(now->patients + 1, sizeof *change->code_now);
    change->code_then = rt_new_array(then->patients + 1, sizeof *change->code_then);
    if (change->code_now == NULL || change->code_then == NULL)
        return rt_fail_memory(error);
    while (i < now->patients || j < then->patients) {
        bool take_now =
            j == then->patients || (i < now->patients && now->patient_keys[i] <= then->patient_keys[j]);
        bool take_then =
            i == now->patients || (j < then->patients && then->patient_keys[j] <= now->patient_keys[i]);
        if (take_now)
            change->code_now[i++] = change->codes;
        if (take_then)
            change->code_then[j++] = change->codes;
        change->codes++;
    }
    return RT_OK;
}

/* --- means and shares ------------------------------------------------------------------------------------- */

/* The rows of both periods one after another, those of now second. */
struct stacked {
    size_t n;
    double *value;
    int *event;
    bool *is_now;
    size_t *cluster;
};

static enum rt_status stack(const struct change *change, struct stacked *stacked, struct rt_error *error)
{
    const struct rt_compared_view *const views[] = {&change->then, &change->now};
    const size_t *const codes[] = {change->code_then, change->code_now};
    size_t room = change->now.sample.n + change->then.sample.n + 1;
    *stacked = (struct stacked){.value = rt_new_array(room, sizeof(double)),
                                .event = rt_new_array(room, sizeof(int)),
                                .is_now = rt_new_array(room, sizeof(bool)),
                                .cluster = rt_new_array(room, sizeof(size_t))};
    if (stacked->value == NULL || stacked->event == NULL || stacked->is_now == NULL ||
        stacked->cluster == NULL)
        return rt_fail_memory(error);
    for (size_t which = 0; which < 2; which++) {
        const struct rt_sample *sample = &views[which]->sample;
        for (size_t i = 0; i < sample->n; i++, stacked->n++) {
            stacked->value[stacked->n] = sample->value[i];
            stacked->event[stacked->n] = sample->value[i] > 0.0;
            stacked->is_now[stacked->n] = which == 1;
            stacked->cluster[stacked->n] =
                codes[which][views[which]->cohort->implants[sample->implant[i]].patient];
        }
    }
    return RT_OK;
}

static void release_stacked(struct stacked *stacked)
{
    free(stacked->value);
    free(stacked->event);
    free(stacked->is_now);
    free(stacked->cluster);
}

struct rt_figure change_row(struct change *change, const struct rt_compared *compared, const char *ending,
                            const struct rt_row_key *key)
{
    char measure[64];
    snprintf(measure, sizeof measure, "%s_%s", compared->name, ending);
    const struct rt_measure *entry = rt_find_measure("yardsticks", measure);
    struct rt_figure row =
        rt_row_of(change->rows, "yardsticks", entry == NULL ? compared->name : entry->name, key);
    row.at = compared->at;
    row.baseline = compared->baseline;
    row.site = compared->site;
    return row;
}

static void remark_cannot_tell(struct rt_figure *row, const struct rt_compared_view *view)
{
    row->state = RT_FIGURE_UNDEFINED;
    row->n_implants = (long)view->sample.n;
    row->n_patients = (long)view->sample.clusters;
    row->remark = "cannot tell: the levels look as if first contact had been recorded";
}

static void write_then(struct change *change, const struct rt_compared *compared, long due)
{
    struct rt_row_key key = rt_key_text("change", change->level, "", "");
    struct rt_figure row = change_row(change, compared, "then", &key);
    row.n_due = due;
    if (strcmp(compared->name, "crest_change") == 0 && change->then.cannot_tell) {
        remark_cannot_tell(&row, &change->then);
        rt_put_row(change->rows, &row);
    } else if (compared->kind == RT_COMPARED_SHARE) {
        rt_put_share(change->rows, row, &change->then.sample);
    } else {
        rt_put_mean(change->rows, row, &change->then.sample);
    }
}

size_t count_apart(const double *now, const double *then, size_t codes)
{
    size_t apart = 0;
    for (size_t c = 0; c < codes; c++)
        apart += now[c] != then[c];
    return apart;
}

const char too_few_apart[] = "fewer than 5 patients with an event that counts in one of the two periods only";

/* Patients whose events of the rarer kind (or whose non-events, where those are rarer) are not the same in both periods. */
static bool differ_enough(const struct stacked *stacked, size_t codes, bool *enough)
{
    double *count[2] = {rt_new_array(codes + 1, sizeof(double)), rt_new_array(codes + 1, sizeof(double))};
    size_t events = 0;
    bool complete = count[0] != NULL && count[1] != NULL;
    for (size_t i = 0; i < stacked->n; i++)
        events += stacked->event[i] == 1;
    const int rarer = 2 * events <= stacked->n;
    for (size_t i = 0; complete && i < stacked->n; i++)
        count[stacked->is_now[i]][stacked->cluster[i]] += stacked->event[i] == rarer;
    *enough = complete && count_apart(count[1], count[0], codes) >= RT_LEAST_EVENT_PATIENTS;
    free(count[0]);
    free(count[1]);
    return complete;
}

/* Too few in either period, or too little that differs between them: no change can be told. */
static void apply_both_minima(struct rt_figure *row, const struct change *change,
                              const struct stacked *stacked)
{
    const struct rt_sample *then = &change->then.sample;
    bool share = strcmp(row->unit, "share") == 0, enough = true;
    if (share && !differ_enough(stacked, change->codes, &enough))
        rt_rows_check(change->rows, rt_fail_memory(change->rows->error));
    rt_apply_minimum(row);
    if (row->state == RT_FIGURE_TOO_FEW)
        return;
    if (then->clusters < RT_LEAST_PATIENTS)
        rt_set_too_few(row, "fewer than 10 patients then");
    else if (share && then->n < RT_LEAST_SHARE_IMPLANTS)
        rt_set_too_few(row, "fewer than 20 implants then");
    else if (!enough)
        rt_set_too_few(row, too_few_apart);
}

static void write_difference(struct change *change, const struct rt_compared *compared)
{
    struct rt_rows *rows = change->rows;
    struct rt_row_key key = rt_key_text("change", change->level, "", "");
    struct rt_figure row = change_row(change, compared, "change", &key);
    struct stacked stacked = {.n = 0};
    struct rt_estimate difference = rt_undefined(NULL);
    row.n_implants = (long)change->now.sample.n;
    row.n_patients = (long)change->now.sample.clusters;
    if (rt_rows_check(rows, stack(change, &stacked, rows->error))) {
        struct rt_clusters clusters = {stacked.cluster, change->codes};
        rt_rows_check(rows, compared->kind == RT_COMPARED_SHARE
                                ? rt_share_difference(stacked.event, stacked.is_now, stacked.n, &clusters,
                                                      &difference, rows->error)
                                : rt_mean_difference(stacked.value, stacked.is_now, stacked.n, &clusters,
                                                     &difference, rows->error));
        rt_set_estimate(&row, &difference);
        apply_both_minima(&row, change, &stacked);
        if (strcmp(compared->name, "crest_change") == 0 &&
            (change->now.cannot_tell || change->then.cannot_tell)) {
            row.value = row.lower = row.upper = row.p = NAN;
            remark_cannot_tell(&row, &change->now);
        }
        rt_put_row(rows, &row);
    }
    release_stacked(&stacked);
}

static void write_compared(struct change *change, const struct rt_compared *compared)
{
    if (compared->kind == RT_COMPARED_SURVIVAL) {
        write_survival_change(change, compared);
    } else if (compared->kind == RT_COMPARED_RATE) {
        write_rate_change(change, compared);
    } else {
        rt_take_compared(&change->now, compared);
        write_then(change, compared, rt_take_compared(&change->then, compared));
        write_difference(change, compared);
    }
}

void write_changes(const struct rt_cohort *now, const struct rt_cohort *then, const char *level,
                   struct rt_rows *rows)
{
    struct change change = {.rows = rows, .level = level};
    size_t count = 0;
    const struct rt_compared *figures = rt_compared_figures(&count);
    if (rt_rows_check(rows, rt_view_start(&change.now, now, rows->error)) &&
        rt_rows_check(rows, rt_view_start(&change.then, then, rows->error)) &&
        rt_rows_check(rows, join_patients(&change, rows->error)))
        for (size_t i = 0; i < count && rows->status == RT_OK; i++)
            write_compared(&change, &figures[i]);
    free(change.code_now);
    free(change.code_then);
    rt_view_release(&change.now);
    rt_view_release(&change.then);
}
