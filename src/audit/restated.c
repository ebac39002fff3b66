/* What recorded audits printed: for figures that are no longer so, and beside the notes. */
#include "yardsticks.h"

#include "ridgetally/audit/compared.h"
#include "ridgetally/audit/info.h"
#include "ridgetally/base/date.h"
#include "ridgetally/figure/catalogue.h"
#include "ridgetally/store/query.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* A recorded audit; id 0: none. */
struct printed {
    int64_t id;
    char day[11]; /* the records were those of this day */
};

/* hash: an audit of these records is left out; "" leaves out none. */
static enum rt_status find_printed(struct rt_store *store, const struct rt_period *period, const char *hash,
                                   struct printed *printed, struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    *printed = (struct printed){.id = 0};
    enum rt_status status = rt_query_open(store, "sql/queries/audit-printed.sql", &query, error);
    rt_bind_integer(query, ":first_day", period->first_day);
    rt_bind_integer(query, ":last_day", period->last_day);
    rt_bind_text(query, ":data_hash", hash);
    if (status == RT_OK)
        status = rt_query_next(query, &row, error);
    if (status == RT_OK && row) {
        printed->id = rt_column_integer(query, 0, 0);
        snprintf(printed->day, sizeof printed->day, "%s", rt_column_text(query, 1));
    }
    rt_query_close(query);
    return status;
}

enum rt_status is_recorded(struct rt_store *store, const struct rt_period *period, bool *recorded,
                           struct rt_error *error)
{
    struct printed printed;
    enum rt_status status = find_printed(store, period, "", &printed, error);
    *recorded = printed.id != 0;
    return status;
}

static enum rt_figure_state state_of(const char *name)
{
    for (int state = RT_FIGURE_OK; state <= RT_FIGURE_WITHHELD; state++)
        if (strcmp(rt_figure_state_name((enum rt_figure_state)state), name) == 0)
            return (enum rt_figure_state)state;
    return RT_FIGURE_UNDEFINED;
}

/* Fill counts, numbers, state and method of row from the recorded figure; remark has room for remark_size bytes. *there tells
 * whether there was one. Method keys of an older program that the catalogue does not have any more are left out. */
static enum rt_status read_printed(struct rt_store *store, const struct printed *printed,
                                   const struct rt_compared *compared, struct rt_figure *row, char *remark,
                                   size_t remark_size, bool *there, struct rt_error *error)
{
    struct rt_query *query = NULL;
    *there = false;
    enum rt_status status = rt_query_open(store, "sql/queries/audit-printed-figure.sql", &query, error);
    rt_bind_integer(query, ":audit_id", printed->id);
    rt_bind_text(query, ":section", compared->section);
    rt_bind_text(query, ":measure", compared->measure);
    rt_bind_text(query, ":grouping", compared->grouping);
    rt_bind_text(query, ":level", compared->level);
    rt_bind_real(query, ":at", compared->at);
    rt_bind_text(query, ":baseline", compared->baseline);
    rt_bind_text(query, ":site", compared->site);
    if (status == RT_OK)
        status = rt_query_next(query, there, error);
    if (status == RT_OK && *there) {
        row->n_implants = (long)rt_column_integer(query, 0, RT_NO_COUNT);
        row->n_patients = (long)rt_column_integer(query, 1, RT_NO_COUNT);
        row->n_events = (long)rt_column_integer(query, 2, RT_NO_COUNT);
        row->n_due = (long)rt_column_integer(query, 3, RT_NO_COUNT);
        row->value = rt_column_real(query, 4);
        row->lower = rt_column_real(query, 5);
        row->upper = rt_column_real(query, 6);
        row->state = state_of(rt_column_text(query, 7));
        snprintf(remark, remark_size, "%s", rt_column_text(query, 8));
        const struct rt_method *method = rt_find_method(rt_column_text(query, 9));
        row->method = method == NULL ? row->method : method->key;
        row->remark = remark;
    }
    rt_query_close(query);
    return status;
}

/* The row of a compared figure in its own section, or as NAME_then; NULL when there is none. */
static const struct rt_figure *current(const struct rt_figure_list *figures,
                                       const struct rt_compared *compared, const char *level, bool now)
{
    char measure[64];
    snprintf(measure, sizeof measure, "%s_then", compared->name);
    struct rt_figure key = {.section = now ? compared->section : "yardsticks",
                            .measure = now ? compared->measure : measure,
                            .grouping = now ? compared->grouping : "change",
                            .level = now ? compared->level : level,
                            .baseline = compared->baseline,
                            .site = compared->site,
                            .unit_of_analysis = "implant",
                            .at = compared->at};
    return rt_find_figure(figures, &key);
}

static bool numbers_differ(double a, double b)
{
    if (isnan(a) || isnan(b))
        return isnan(a) != isnan(b);
    return fabs(a - b) > 1e-9 * fmax(fabs(a), fabs(b));
}

static bool differs(const struct rt_figure *printed, const struct rt_figure *row)
{
    return printed->state != row->state || printed->n_implants != row->n_implants ||
           printed->n_patients != row->n_patients || printed->n_events != row->n_events ||
           numbers_differ(printed->value, row->value) || numbers_differ(printed->lower, row->lower) ||
           numbers_differ(printed->upper, row->upper);
}

static struct rt_figure copy_row(struct rt_rows *rows, const char *measure, const struct rt_row_key *key,
                                 const struct rt_compared *compared)
{
    const struct rt_measure *entry = rt_find_measure(compared->section, compared->measure);
    struct rt_figure row = rt_row_of(rows, "yardsticks", measure, key);
    row.unit = entry == NULL ? "" : entry->unit;
    return row;
}

/* Put the row as it was printed where it differs; returns whether it does. */
static bool put_if_restated(struct rt_store *store, const struct printed *printed,
                            const struct rt_compared *compared, const char *level, bool now,
                            struct rt_rows *rows)
{
    char remark[256];
    bool there = false;
    struct rt_row_key key = rt_key_text("figure", compared->name, "change", level);
    struct rt_figure row = copy_row(rows, "as_printed", &key, compared);
    if (!rt_rows_check(
            rows, read_printed(store, printed, compared, &row, remark, sizeof remark, &there, rows->error)))
        return false;
    const struct rt_figure *today = current(rows->list, compared, level, now);
    if (!there || today == NULL || !differs(&row, today))
        return false;
    rt_put_row(rows, &row);
    return true;
}

void write_restated(struct rt_store *store, const struct rt_period *period, const char *data_hash,
                    const char *level, bool now, struct rt_rows *rows)
{
    size_t count = 0;
    long restated = 0;
    struct printed printed;
    const struct rt_compared *figures = rt_compared_figures(&count);
    if (!rt_rows_check(rows, find_printed(store, period, data_hash, &printed, rows->error)) ||
        printed.id == 0)
        return;
    for (size_t i = 0; i < count && rows->status == RT_OK; i++)
        restated += put_if_restated(store, &printed, &figures[i], level, now, rows);
    struct rt_row_key key = rt_key_text("change", level, "", "");
    struct rt_figure row = rt_row_of(rows, "yardsticks", "restated", &key);
    row.unit_of_analysis = "";
    row.unit = "figures";
    row.value = (double)restated;
    rt_put_row(rows, &row);
}

/* --- notes ------------------------------------------------------------------------------------------------ */

static void write_note_counts(const struct rt_cohort *cohort, const struct rt_meeting *meeting,
                              struct rt_rows *rows)
{
    for (int state = RT_NOTE_OPEN; state <= RT_NOTE_ANSWERED; state++) {
        struct rt_row_key key = rt_key_text("status", rt_note_state_name((enum rt_note_state)state), "", "");
        struct rt_figure row = rt_row_of(rows, "yardsticks", "notes", &key);
        row.unit_of_analysis = "";
        row.value = 0.0;
        for (size_t i = 0; i < meeting->note_count; i++)
            row.value +=
                rt_note_state(&meeting->notes[i], cohort->period.last_day) == (enum rt_note_state)state;
        rt_put_row(rows, &row);
    }
}

/* The compared figure that a note's `about` names, by its own name or that of a yardstick; NULL when none. */
static const struct rt_compared *about_of(const struct rt_meeting *meeting, const struct rt_note *note)
{
    const struct rt_yardstick *yardstick = rt_find_yardstick(meeting, note->about);
    if (yardstick == NULL)
        return rt_find_compared(note->about);
    return rt_compared_of(yardstick->section, yardstick->measure, yardstick->level, yardstick->at);
}

static void write_note_now(const struct rt_row_key *key, const struct rt_compared *compared,
                           struct rt_rows *rows)
{
    const struct rt_figure *today = current(rows->list, compared, "", true);
    if (today == NULL)
        return;
    struct rt_figure row = *today; /* numbers, counts, method, state and remark */
    struct rt_figure empty = copy_row(rows, "note_now", key, compared);
    row.section = empty.section;
    row.measure = empty.measure;
    row.grouping = key->grouping;
    row.level = key->level;
    row.at = NAN;
    row.baseline = row.site = "";
    row.p = row.p_adjusted = NAN;
    rt_put_row(rows, &row);
}

void write_notes(struct rt_store *store, const struct rt_cohort *cohort, const struct rt_meeting *meeting,
                 bool filtered, struct rt_rows *rows)
{
    write_note_counts(cohort, meeting, rows);
    for (size_t i = 0; i < meeting->note_count && rows->status == RT_OK; i++) {
        const struct rt_note *note = &meeting->notes[i];
        const struct rt_compared *compared = about_of(meeting, note);
        const struct rt_period period = {note->first_day, note->last_day};
        char number[24], remark[256];
        bool there = false;
        struct printed printed;
        if (compared == NULL || !rt_note_is_told(note, cohort->period.first_day, cohort->period.last_day))
            continue;
        snprintf(number, sizeof number, "%ld", note->number);
        struct rt_row_key key = rt_key_text("note", number, "", "");
        write_note_now(&key, compared, rows);
        if (filtered || !rt_rows_check(rows, find_printed(store, &period, "", &printed, rows->error)) ||
            printed.id == 0)
            continue;
        struct rt_figure row = copy_row(rows, "note_then", &key, compared);
        if (rt_rows_check(rows, read_printed(store, &printed, compared, &row, remark, sizeof remark, &there,
                                             rows->error)) &&
            there)
            rt_put_row(rows, &row);
    }
}
