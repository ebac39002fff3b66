/* What the practice writes down about an audit. */
#include "ridgetally/audit/meeting.h"

#include "ridgetally/audit/compared.h"
#include "ridgetally/base/date.h"
#include "ridgetally/store/query.h"

#include <string.h>

enum { LONGEST_TEXT = 2000 };

enum rt_status rt_noted_period(struct rt_store *store, struct rt_period *period, struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status = rt_query_open(store, "sql/queries/audit-latest.sql", &query, error);
    if (status == RT_OK)
        status = rt_query_next(query, &row, error);
    if (status == RT_OK && row)
        *period = (struct rt_period){rt_column_date(query, 0), rt_column_date(query, 1)};
    rt_query_close(query);
    return status == RT_OK && !row ? rt_default_period(store, period, error) : status;
}

static enum rt_status check_section(const char *section, struct rt_error *error)
{
    static const char *const sections[] = {"",          "flow",     "depth",      "stability",
                                           "crest",     "survival", "success",    "rules",
                                           "operators", "readers",  "yardsticks", "precision"};
    for (size_t i = 0; i < sizeof sections / sizeof sections[0]; i++)
        if (strcmp(sections[i], section) == 0)
            return RT_OK;
    rt_fail(error, RT_USE, "there is no section '%.40s'", section);
    rt_error_remedy(
        error, "sections are flow, depth, stability, crest, survival, success, rules, operators, readers, "
               "yardsticks and precision");
    return RT_USE;
}

static enum rt_status check_about(struct rt_store *store, const char *about, struct rt_error *error)
{
    struct rt_meeting meeting = {.yardstick_count = 0};
    if (about[0] == '\0' || rt_find_compared(about) != NULL)
        return RT_OK;
    enum rt_status status = rt_load_yardsticks(store, 0, &meeting, error);
    if (status == RT_OK && rt_find_yardstick(&meeting, about) == NULL) {
        status =
            rt_fail(error, RT_USE,
                    "'%.80s' is neither a yardstick nor a figure that is compared between periods", about);
        rt_error_remedy(error, "`ridgetally yardstick` and `ridgetally note --help` list them");
    }
    rt_release_meeting(&meeting);
    return status;
}

static enum rt_status check_words(const char *text, const char *what, struct rt_error *error)
{
    if (text[0] == '\0')
        return rt_fail(error, RT_USE, "a note needs %s", what);
    if (strlen(text) > LONGEST_TEXT)
        return rt_fail(error, RT_USE, "%s may have up to %d bytes", what, (int)LONGEST_TEXT);
    return RT_OK;
}

static enum rt_status check_note(struct rt_store *store, const struct rt_note *note, struct rt_error *error)
{
    enum rt_status status = check_words(note->decision, "a decision in words", error);
    if (status == RT_OK)
        status = check_words(note->written_by, "the name or initials of who writes it", error);
    if (status == RT_OK)
        status = check_section(note->section, error);
    if (status == RT_OK)
        status = check_about(store, note->about, error);
    if (status == RT_OK && note->re_audit_on != RT_NO_DATE && note->re_audit_on <= note->last_day) {
        char last[11];
        status = rt_fail(error, RT_USE,
                         "the day of the re-audit must come after the period the note is about, which "
                         "ends on %s",
                         rt_format_iso_date(note->last_day, last));
    }
    return status;
}

enum rt_status rt_record_note(struct rt_store *store, const struct rt_note *note, long *number,
                              struct rt_error *error)
{
    struct rt_query *query = NULL;
    enum rt_status status = check_note(store, note, error);
    if (status != RT_OK)
        return status;
    status = rt_query_open(store, "sql/queries/note-insert.sql", &query, error);
    rt_bind_date(query, ":first_day", note->first_day);
    rt_bind_date(query, ":last_day", note->last_day);
    rt_bind_text(query, ":section", note->section);
    rt_bind_text(query, ":about", note->about);
    rt_bind_text(query, ":decision", note->decision);
    rt_bind_date(query, ":written_on", note->written_on);
    rt_bind_text(query, ":written_by", note->written_by);
    rt_bind_date(query, ":re_audit_on", note->re_audit_on);
    if (status == RT_OK)
        status = rt_query_run(query, error);
    if (status == RT_OK)
        *number = (long)rt_last_row_id(store);
    rt_query_close(query);
    return status;
}

/* The note of that number belongs to a period that ends before last_day. */
static enum rt_status check_number(struct rt_store *store, long number, int last_day, struct rt_error *error)
{
    struct rt_meeting meeting = {.yardstick_count = 0};
    enum rt_status status = rt_load_notes(store, &meeting, error);
    const struct rt_note *note = NULL;
    for (size_t i = 0; i < meeting.note_count; i++)
        if (meeting.notes[i].number == number)
            note = &meeting.notes[i];
    if (status == RT_OK && note == NULL) {
        status = rt_fail(error, RT_USE, "there is no note %ld", number);
        rt_error_remedy(error, "`ridgetally note` lists them");
    } else if (status == RT_OK && note->last_day >= last_day) {
        status = rt_fail(error, RT_USE, "note %ld is about this period itself", number);
        rt_error_remedy(error, "answer it for a later one with --period");
    }
    rt_release_meeting(&meeting);
    return status;
}

enum rt_status rt_answer_note(struct rt_store *store, long number, const struct rt_period *period,
                              const char *answer, const char *answered_by, struct rt_error *error)
{
    struct rt_query *query = NULL;
    enum rt_status status = check_words(answer, "an answer in words", error);
    if (status == RT_OK)
        status = check_words(answered_by, "the name or initials of who answers it", error);
    if (status == RT_OK)
        status = check_number(store, number, period->last_day, error);
    if (status != RT_OK)
        return status;
    status = rt_query_open(store, "sql/queries/note-answer.sql", &query, error);
    rt_bind_integer(query, ":id", number);
    rt_bind_date(query, ":answered_on", period->last_day);
    rt_bind_text(query, ":answer", answer);
    rt_bind_text(query, ":answered_by", answered_by);
    if (status == RT_OK)
        status = rt_query_run(query, error);
    rt_query_close(query);
    return status;
}
