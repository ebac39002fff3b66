/* Reading yardsticks and notes. */
#include "ridgetally/audit/meeting.h"

#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/store/query.h"

#include <string.h>

/* Columns of yardsticks.sql. */
enum {
    NAME,
    STATEMENT,
    UNIT,
    SECTION,
    MEASURE,
    GROUPING,
    LEVEL,
    AT,
    BASELINE,
    SITE,
    READABLE_WIDTH,
    VALUE,
    DIRECTION,
    ORIGIN,
    SET_BY,
    VALID_FROM
};

/* A column's text in the meeting's own memory, "" for NULL; NULL only when memory ran out. */
static const char *text_of(struct rt_meeting *meeting, const struct rt_query *query, int column)
{
    const char *text = rt_column_text(query, column);
    return rt_arena_copy(&meeting->text, text == NULL ? "" : text);
}

static enum rt_status take_yardstick(struct rt_meeting *meeting, const struct rt_query *query,
                                     struct rt_error *error)
{
    struct rt_yardstick *grown = rt_grow_array(meeting->yardsticks, &meeting->yardstick_capacity,
                                               meeting->yardstick_count + 1, sizeof *grown);
    if (grown == NULL)
        return rt_fail_memory(error);
    meeting->yardsticks = grown;
    struct rt_yardstick *yardstick = &grown[meeting->yardstick_count++];
    const char *direction = rt_column_text(query, DIRECTION);
    *yardstick = (struct rt_yardstick){
        .name = text_of(meeting, query, NAME),
        .statement = text_of(meeting, query, STATEMENT),
        .unit = text_of(meeting, query, UNIT),
        .section = text_of(meeting, query, SECTION),
        .measure = text_of(meeting, query, MEASURE),
        .grouping = text_of(meeting, query, GROUPING),
        .level = text_of(meeting, query, LEVEL),
        .baseline = text_of(meeting, query, BASELINE),
        .site = text_of(meeting, query, SITE),
        .at = rt_column_real(query, AT),
        .readable_width = rt_column_real(query, READABLE_WIDTH),
        .target = {.set = !rt_column_is_null(query, VALUE),
                   .value = rt_column_real(query, VALUE),
                   .at_least = direction != NULL && strcmp(direction, "at_least") == 0,
                   .origin = text_of(meeting, query, ORIGIN),
                   .set_by = text_of(meeting, query, SET_BY),
                   .valid_from = rt_column_date(query, VALID_FROM)},
    };
    const char *const copies[] = {yardstick->name,          yardstick->statement,    yardstick->unit,
                                  yardstick->section,       yardstick->measure,      yardstick->grouping,
                                  yardstick->level,         yardstick->baseline,     yardstick->site,
                                  yardstick->target.origin, yardstick->target.set_by};
    for (size_t i = 0; i < sizeof copies / sizeof copies[0]; i++)
        if (copies[i] == NULL)
            return rt_fail_memory(error);
    return RT_OK;
}

enum rt_status rt_load_yardsticks(struct rt_store *store, int first_day, struct rt_meeting *meeting,
                                  struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    *meeting = (struct rt_meeting){.yardstick_count = 0};
    enum rt_status status = rt_query_open(store, "sql/queries/yardsticks.sql", &query, error);
    rt_bind_integer(query, ":day", first_day);
    while (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row)
        status = take_yardstick(meeting, query, error);
    rt_query_close(query);
    return status;
}

/* Columns of notes.sql. */
enum {
    NUMBER,
    FIRST_DAY,
    LAST_DAY,
    NOTE_SECTION,
    ABOUT,
    DECISION,
    WRITTEN_ON,
    WRITTEN_BY,
    RE_AUDIT_ON,
    ANSWERED_ON,
    ANSWER,
    ANSWERED_BY
};

static enum rt_status take_note(struct rt_meeting *meeting, const struct rt_query *query,
                                struct rt_error *error)
{
    struct rt_note *grown =
        rt_grow_array(meeting->notes, &meeting->note_capacity, meeting->note_count + 1, sizeof *grown);
    if (grown == NULL)
        return rt_fail_memory(error);
    meeting->notes = grown;
    struct rt_note *note = &grown[meeting->note_count++];
    *note = (struct rt_note){
        .number = (long)rt_column_integer(query, NUMBER, 0),
        .first_day = rt_column_date(query, FIRST_DAY),
        .last_day = rt_column_date(query, LAST_DAY),
        .section = text_of(meeting, query, NOTE_SECTION),
        .about = text_of(meeting, query, ABOUT),
        .decision = text_of(meeting, query, DECISION),
        .written_on = rt_column_date(query, WRITTEN_ON),
        .written_by = text_of(meeting, query, WRITTEN_BY),
        .re_audit_on = rt_column_date(query, RE_AUDIT_ON),
        .answered_on = rt_column_date(query, ANSWERED_ON),
        .answer = text_of(meeting, query, ANSWER),
        .answered_by = text_of(meeting, query, ANSWERED_BY),
    };
    bool complete = note->section != NULL && note->about != NULL && note->decision != NULL &&
                    note->written_by != NULL && note->answer != NULL && note->answered_by != NULL;
    return complete ? RT_OK : rt_fail_memory(error);
}

/* Notes on periods that end before last_day; RT_NO_DATE: every note. */
static enum rt_status take_notes(struct rt_store *store, int last_day, struct rt_meeting *meeting,
                                 struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status = rt_query_open(store, "sql/queries/notes.sql", &query, error);
    while (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row)
        if (last_day == RT_NO_DATE || rt_column_date(query, LAST_DAY) < last_day)
            status = take_note(meeting, query, error);
    rt_query_close(query);
    return status;
}

enum rt_status rt_load_notes(struct rt_store *store, struct rt_meeting *meeting, struct rt_error *error)
{
    *meeting = (struct rt_meeting){.yardstick_count = 0};
    return take_notes(store, RT_NO_DATE, meeting, error);
}

enum rt_status rt_load_meeting(struct rt_store *store, const struct rt_period *period,
                               struct rt_meeting *meeting, struct rt_error *error)
{
    enum rt_status status = rt_load_yardsticks(store, period->first_day, meeting, error);
    return status == RT_OK ? take_notes(store, period->last_day, meeting, error) : status;
}
