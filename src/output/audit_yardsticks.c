/* Chapter "Yardsticks": targets and how they stand, what changed since earlier periods, notes on earlier audits. */
#include "plan.h"

#include "ridgetally/base/date.h"
#include "ridgetally/figure/catalogue.h"
#include "ridgetally/figure/wording.h"

#include <math.h>
#include <string.h>

const char *state_words(const struct plan *plan, const struct rt_figure *row)
{
    if (row == NULL)
        return "";
    const char *key = row->state != RT_FIGURE_OK ? "yardstick.state.none"
                      : row->value > 0.0         ? "yardstick.state.met"
                      : row->value < 0.0         ? "yardstick.state.missed"
                                                 : "yardstick.state.open";
    return rt_document_words(plan->document, key);
}

static const struct rt_figure *row_of(const struct plan *plan, const char *measure, const char *name)
{
    return find_row(plan, key_of("yardsticks", measure, "yardstick", name));
}

static const struct rt_figure *before(const struct plan *plan, const char *name, const char *when)
{
    return find_row(plan, key_of("yardsticks", "yardstick_before", "yardstick|change",
                                 rt_document_text(plan->document, "%s|%s", name, when)));
}

static void add_yardstick_table(const struct plan *plan, struct rt_block *block)
{
    struct rt_document *document = plan->document;
    const struct rt_meeting *meeting = plan->subject->meeting;
    struct rt_table *table = rt_add_table(document, block, "table.yardsticks", "label.yardstick");
    rt_add_column(document, table, "column.state", RT_PART_TEXT);
    rt_add_column(document, table, "column.value", RT_PART_ESTIMATE);
    rt_add_column(document, table, "column.cases", RT_PART_CASES);
    rt_add_column(document, table, "column.direction", RT_PART_TEXT);
    rt_add_column(document, table, "column.target", RT_PART_VALUE);
    rt_add_column(document, table, "column.origin", RT_PART_TEXT);
    rt_add_column(document, table, "column.last-period", RT_PART_TEXT);
    rt_add_column(document, table, "column.year-ago", RT_PART_TEXT);
    for (size_t i = 0; i < meeting->yardstick_count; i++) {
        const struct rt_yardstick *yardstick = &meeting->yardsticks[i];
        const struct rt_figure *value = row_of(plan, "yardstick_value", yardstick->name);
        const struct rt_figure *target = row_of(plan, "yardstick_target", yardstick->name);
        bool set = yardstick->target.set;
        struct rt_table_row *line = rt_add_row(document, table, yardstick->statement);
        rt_add_text_cell(document, line, state_words(plan, row_of(plan, "yardstick_state", yardstick->name)));
        rt_add_figure_cell(document, line, value);
        rt_add_figure_cell(document, line, value);
        rt_add_text_cell(document, line,
                         !set ? ""
                              : rt_document_words(document, yardstick->target.at_least ? "yardstick.least"
                                                                                       : "yardstick.most"));
        rt_add_figure_cell(document, line, set ? target : NULL);
        rt_add_text_cell(document, line,
                         set ? rt_document_text(document, "%s (%s, from %s)", yardstick->target.origin,
                                                yardstick->target.set_by,
                                                day_words(document, yardstick->target.valid_from))
                             : "");
        rt_add_text_cell(document, line, state_words(plan, before(plan, yardstick->name, "last period")));
        rt_add_text_cell(document, line, state_words(plan, before(plan, yardstick->name, "a year ago")));
    }
}

/* Why a yardstick with a target cannot be told. */
static void add_open_reasons(const struct plan *plan, struct rt_block *block)
{
    const struct rt_meeting *meeting = plan->subject->meeting;
    for (size_t i = 0; i < meeting->yardstick_count; i++) {
        const struct rt_figure *state = row_of(plan, "yardstick_state", meeting->yardsticks[i].name);
        if (state == NULL || state->state != RT_FIGURE_OK || state->value < 0.0 || state->value > 0.0)
            continue;
        struct rt_sentence *remark = rt_add_remark(plan->document, block, "yardstick.open");
        rt_bind_words(plan->document, remark, "statement", meeting->yardsticks[i].statement);
        rt_bind_words(plan->document, remark, "why", state->remark);
    }
}

static void add_judged(const struct plan *plan, struct rt_chapter *chapter)
{
    struct rt_document *document = plan->document;
    struct rt_block *block =
        rt_add_block(document, chapter, "yardsticks-judged", "heading.yardsticks.judged");
    struct key key = key_of("yardsticks", "yardstick_target", "yardstick", "");
    bool any = any_ok(plan, key);
    struct rt_sentence *answer =
        rt_add_answer(document, block, any ? "glance.yardsticks" : "glance.yardsticks.none");
    static const char *const slots[][2] = {
        {"met", "met"}, {"missed", "not met"}, {"open", "cannot tell"}, {"none", "no target set"}};
    for (size_t i = 0; i < sizeof slots / sizeof slots[0]; i++) {
        const struct rt_figure *row =
            find_row(plan, key_of("yardsticks", "yardsticks_standing", "status", slots[i][1]));
        if (row != NULL)
            rt_bind_figure(document, answer, slots[i][0], row);
    }
    add_open_reasons(plan, block);
    struct rt_chart_request chart = chart_request(plan, RT_CHART_YARDSTICKS, "yardsticks");
    chart.section = "yardsticks";
    chart.measures[0] = "yardstick_value";
    chart.measures[1] = "yardstick_target";
    chart.measures[2] = "yardstick_state";
    chart.grouping = "yardstick";
    rt_set_chart(document, block, &chart);
    add_yardstick_table(plan, block);
    const struct rt_figure *state =
        row_of(plan, "yardstick_state", plan->subject->meeting->yardsticks[0].name);
    if (state != NULL)
        method_of(plan, block, state);
    rt_set_caution(document, block, "yardstick.caution");
}

/* --- changes ---------------------------------------------------------------------------------------------- */

/* The compared figures in the order of their rows: rows NAME_then of the last period, without the second censoring. */
static const char *name_of(const struct plan *plan, const struct rt_figure *row)
{
    return rt_document_text(plan->document, "%.*s", (int)(strlen(row->measure) - strlen("_then")),
                            row->measure);
}

static bool is_then(const struct rt_figure *row)
{
    size_t length = strlen(row->measure);
    return strcmp(row->section, "yardsticks") == 0 && length > 5 &&
           strcmp(row->measure + length - 5, "_then") == 0 && strcmp(row->grouping, "change") == 0 &&
           strcmp(row->level, "last period") == 0;
}

static const struct rt_figure *changed(const struct plan *plan, const struct rt_figure *then,
                                       const char *ending, const char *level)
{
    struct key key =
        key_of("yardsticks", rt_document_text(plan->document, "%s_%s", name_of(plan, then), ending), "change",
               level);
    key.at = then->at;
    key.baseline = then->baseline;
    key.site = then->site;
    return find_row(plan, key);
}

/* The label of the figure without "then". */
static const char *changed_label(const struct plan *plan, const struct rt_figure *then)
{
    const char *label = measure_label(then), *end = strstr(label, ", then");
    return rt_document_text(plan->document, "%.*s", (int)(end == NULL ? (long)strlen(label) : end - label),
                            label);
}

/* The figure of this period that NAME_then belongs to, in its own section. */
static const struct rt_figure *now_of(const struct plan *plan, const struct rt_figure *then)
{
    const char *name = name_of(plan, then);
    const char *measure = strncmp(name, "survival_", strlen("survival_")) == 0 ? "survival" : name;
    for (size_t i = 0; i < plan->figures->count; i++) {
        const struct rt_figure *row = &plan->figures->rows[i];
        bool window = strcmp(row->grouping, "window") == 0 && strcmp(row->level, "12 months") == 0;
        bool seen = strcmp(row->grouping, "censoring") == 0 && strcmp(row->level, "last sighting") == 0;
        bool time = isnan(then->at) ? isnan(row->at) : row->at == then->at;
        if ((window || seen) && time && strcmp(row->measure, measure) == 0 &&
            strcmp(row->baseline, then->baseline) == 0 && strcmp(row->site, then->site) == 0 &&
            strcmp(row->unit_of_analysis, "implant") == 0)
            return row;
    }
    return NULL;
}

static size_t add_change_table(const struct plan *plan, struct rt_block *block)
{
    struct rt_document *document = plan->document;
    struct rt_table *table = rt_add_table(document, block, "table.changes", "label.figure");
    size_t clear = 0;
    rt_add_column(document, table, "column.value", RT_PART_ESTIMATE);
    rt_add_column(document, table, "column.last-period", RT_PART_ESTIMATE);
    rt_add_column(document, table, "column.change-last", RT_PART_ESTIMATE);
    rt_add_column(document, table, "column.year-ago", RT_PART_ESTIMATE);
    rt_add_column(document, table, "column.change-year", RT_PART_ESTIMATE);
    for (size_t i = 0; i < plan->figures->count; i++) {
        const struct rt_figure *row = &plan->figures->rows[i];
        if (!is_then(row))
            continue;
        struct rt_table_row *line = rt_add_row(document, table, changed_label(plan, row));
        const struct rt_figure *last = changed(plan, row, "change", "last period");
        const struct rt_figure *year = changed(plan, row, "change", "a year ago");
        const struct rt_figure *now = now_of(plan, row);
        if (now != NULL)
            rt_add_figure_cell(document, line, now);
        else /* a curve that ends before */
            rt_add_text_cell(document, line, rt_document_words(document, "changes.not-reached"));
        rt_add_figure_cell(document, line, row);
        rt_add_figure_cell(document, line, last);
        rt_add_figure_cell(document, line, changed(plan, row, "then", "a year ago"));
        rt_add_figure_cell(document, line, year);
        clear += last != NULL && last->p_adjusted < 0.05;
        clear += year != NULL && year->p_adjusted < 0.05;
    }
    return clear;
}

/* The row NAME_then of the last period by the figure's name: it knows label, time, baseline and site. */
static const struct rt_figure *then_of(const struct plan *plan, const char *name)
{
    for (size_t i = 0; i < plan->figures->count; i++)
        if (is_then(&plan->figures->rows[i]) && strcmp(name_of(plan, &plan->figures->rows[i]), name) == 0)
            return &plan->figures->rows[i];
    return NULL;
}

/* What an earlier audit printed otherwise: as printed, and today. */
static void add_restated(const struct plan *plan, struct rt_block *block)
{
    struct rt_document *document = plan->document;
    struct rt_table *table = NULL;
    size_t at = 0;
    struct key key = key_of("yardsticks", "as_printed", "figure|change", "");
    for (const struct rt_figure *row = next_row(plan, key, &at); row != NULL;
         row = next_row(plan, key, &at)) {
        const char *when = level_part(plan, row->level, 1);
        const struct rt_figure *then = then_of(plan, level_part(plan, row->level, 0));
        if (then == NULL)
            continue;
        if (table == NULL) {
            rt_add_remark(document, block, "change.restated");
            table = rt_add_table(document, block, "table.restated", "label.figure");
            rt_add_column(document, table, "column.printed", RT_PART_ESTIMATE);
            rt_add_column(document, table, "column.printed-cases", RT_PART_CASES);
            rt_add_column(document, table, "column.today", RT_PART_ESTIMATE);
            rt_add_column(document, table, "column.today-cases", RT_PART_CASES);
        }
        const struct rt_figure *today =
            strcmp(when, "this period") == 0 ? now_of(plan, then) : changed(plan, then, "then", when);
        struct rt_table_row *line = rt_add_row(
            document, table, rt_document_text(document, "%s, %s", changed_label(plan, then), when));
        rt_add_figure_cell(document, line, row);
        rt_add_figure_cell(document, line, row);
        rt_add_figure_cell(document, line, today);
        rt_add_figure_cell(document, line, today);
    }
}

static void add_changes(const struct plan *plan, struct rt_chapter *chapter)
{
    struct rt_document *document = plan->document;
    struct rt_block *block = rt_add_block(document, chapter, "changes", "heading.changes");
    size_t clear = add_change_table(plan, block);
    rt_add_answer(document, block, clear > 0 ? "change.some" : "change.none");
    rt_add_remark(document, block, "change.how");
    add_restated(plan, block);
    const struct rt_figure *row =
        find_row(plan, key_of("yardsticks", "depth_within_half_change", "change", "last period"));
    if (row != NULL)
        method_of(plan, block, row);
    rt_set_caution(document, block, "change.caution");
}

/* --- notes ------------------------------------------------------------------------------------------------ */

static const char *note_state_words(struct rt_document *document, enum rt_note_state state)
{
    return rt_document_words(document, state == RT_NOTE_DUE        ? "notes.state.due"
                                       : state == RT_NOTE_ANSWERED ? "notes.state.answered"
                                                                   : "notes.state.open");
}

static void add_note_row(const struct plan *plan, struct rt_table *table, const struct rt_note *note)
{
    struct rt_document *document = plan->document;
    const char *number = rt_document_text(document, "%ld", note->number);
    struct rt_table_row *line =
        rt_add_row(document, table, rt_document_text(document, "%s: %s", number, note->decision));
    if (line != NULL)
        line->named = true;
    rt_add_text_cell(
        document, line,
        rt_document_text(document, "%s, %s", note->written_by, day_words(document, note->written_on)));
    rt_add_text_cell(document, line,
                     note_state_words(document, rt_note_state(note, plan->subject->info->last_day)));
    rt_add_figure_cell(document, line, find_row(plan, key_of("yardsticks", "note_then", "note", number)));
    rt_add_figure_cell(document, line, find_row(plan, key_of("yardsticks", "note_now", "note", number)));
    rt_add_text_cell(document, line,
                     rt_note_state(note, plan->subject->info->last_day) == RT_NOTE_ANSWERED
                         ? rt_document_text(document, "%s (%s)", note->answer, note->answered_by)
                         : "");
}

static void add_notes(const struct plan *plan, struct rt_chapter *chapter)
{
    struct rt_document *document = plan->document;
    const struct rt_meeting *meeting = plan->subject->meeting;
    struct rt_block *block = rt_add_block(document, chapter, "notes", "heading.notes");
    static const char *const states[] = {"open", "due", "answered"};
    struct rt_sentence *answer =
        rt_add_answer(document, block, meeting->note_count == 0 ? "notes.none" : "notes.some");
    for (size_t i = 0; i < sizeof states / sizeof states[0]; i++) {
        const struct rt_figure *row = find_row(plan, key_of("yardsticks", "notes", "status", states[i]));
        if (row != NULL)
            rt_bind_figure(document, answer, states[i], row);
    }
    struct rt_table *table = NULL;
    for (size_t i = 0; i < meeting->note_count; i++) {
        const struct rt_note *note = &meeting->notes[i];
        if (!rt_note_is_told(note, plan->subject->info->first_day, plan->subject->info->last_day))
            continue;
        if (table == NULL) {
            table = rt_add_table(document, block, "table.notes", "label.note");
            rt_add_column(document, table, "column.who", RT_PART_TEXT);
            rt_add_column(document, table, "column.state", RT_PART_TEXT);
            rt_add_column(document, table, "column.then", RT_PART_ESTIMATE);
            rt_add_column(document, table, "column.now", RT_PART_ESTIMATE);
            rt_add_column(document, table, "column.answer", RT_PART_TEXT);
        }
        add_note_row(plan, table, note);
    }
}

void plan_yardsticks(const struct plan *plan)
{
    const struct rt_meeting *meeting = plan->subject->meeting;
    if (meeting == NULL || meeting->yardstick_count == 0)
        return;
    struct rt_chapter *chapter = rt_add_chapter(plan->document, "yardsticks", "heading.yardsticks");
    add_judged(plan, chapter);
    add_changes(plan, chapter);
    add_notes(plan, chapter);
}

/* --- how many more ---------------------------------------------------------------------------------------- */

static const struct rt_figure *asked(const struct plan *plan, const char *measure, const char *name)
{
    return find_row(plan, key_of("precision", measure, "question", name));
}

static const char *question_words(const struct plan *plan, const char *name)
{
    const struct rt_meeting *meeting = plan->subject->meeting;
    const struct rt_yardstick *yardstick = meeting == NULL ? NULL : rt_find_yardstick(meeting, name);
    if (yardstick != NULL)
        return yardstick->statement;
    const char *key = rt_document_text(plan->document, "rules.%s.name", name);
    return rt_document_text(plan->document, "%s %s", rt_document_words(plan->document, "precision.rule"),
                            rt_has_wording(key) ? rt_document_words(plan->document, key) : name);
}

void plan_precision(const struct plan *plan)
{
    struct rt_document *document = plan->document;
    struct key key = key_of("precision", "needed", "question", "");
    size_t at = 0;
    const struct rt_figure *row = next_row(plan, key, &at);
    if (row == NULL)
        return;
    static const struct {
        const char *heading, *measure;
        enum rt_slot_part part;
    } columns[] = {
        {"column.wanted", "wanted", RT_PART_AMOUNT},    {"column.have", "needed", RT_PART_CASES},
        {"column.needed", "needed", RT_PART_VALUE},     {"column.further", "further", RT_PART_VALUE},
        {"column.a-month", "a_month", RT_PART_VALUE},   {"column.months-left", "months", RT_PART_VALUE},
        {"column.likeness", "likeness", RT_PART_VALUE}, {"column.spread", "spread", RT_PART_VALUE}};
    enum { COLUMNS = sizeof columns / sizeof columns[0] };
    struct rt_chapter *chapter = rt_add_chapter(document, "how-many-more", "heading.precision");
    struct rt_block *block = rt_add_block(document, chapter, "how-many-more-cases", NULL);
    rt_add_answer(document, block, "precision.answer");
    struct rt_table *table = rt_add_table(document, block, "table.precision", "label.question");
    for (size_t i = 0; i < COLUMNS; i++)
        rt_add_column(document, table, columns[i].heading, columns[i].part);
    method_of(plan, block, row);
    for (; row != NULL; row = next_row(plan, key, &at)) {
        struct rt_table_row *line = rt_add_row(document, table, question_words(plan, row->level));
        for (size_t i = 0; i < COLUMNS; i++)
            rt_add_figure_cell(document, line, asked(plan, columns[i].measure, row->level));
    }
    rt_set_caution(document, block, "precision.caution");
}
