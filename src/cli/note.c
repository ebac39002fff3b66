#include "ridgetally/audit/compared.h"
#include "ridgetally/audit/meeting.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/file.h"
#include "ridgetally/base/text.h"
#include "ridgetally/cli/figures.h"
#include "ridgetally/cli/fit.h"
#include "ridgetally/cli/meeting.h"
#include "ridgetally/cli/options.h"
#include "ridgetally/store/clock.h"

#include <stdio.h>
#include <string.h>

const char rt_note_help[] =
    "Usage: ridgetally note [--store FILE]\n"
    "       ridgetally note --decision TEXT --by WHO [--section S] [--about NAME] [--due DATE] [--on DATE]\n"
    "                       [--period 2026Q3]\n"
    "       ridgetally note --answer N --reply TEXT --by WHO [--period 2026Q4]\n"
    "\n"
    "Lists the notes on audits, records a decision taken on an audit, or tells what came of one. A note "
    "comes back in\n"
    "the audits after its own: from its due day on it stands on the first page until it is answered, with "
    "what its\n"
    "figure says by then. An answer stands in the audit of its period.\n"
    "  --decision TEXT  what was decided\n"
    "  --section S      flow, depth, stability, crest, survival, success, rules, operators, readers, "
    "yardsticks or\n"
    "                   precision\n"
    "  --about NAME     a figure to set beside the note: a yardstick, or one of those compared between "
    "periods,\n"
    "                   depth_bias, depth_within_half, low_torque, crest_change, exposure_share, "
    "early_failure,\n"
    "                   failure_rate, survival_one_year, survival_five_years, read_share\n"
    "  --due DATE       when to look again; default: at the next audit\n"
    "  --on DATE        the day of the decision; default: today\n"
    "  --answer N       the number of the note that is answered\n"
    "  --reply TEXT     what came of it\n"
    "  --by WHO         who decided or answers: initials will do\n"
    "  --period Q       the audit this belongs to; default: the latest one recorded\n"
    "  --store FILE     the store; else RIDGETALLY_STORE, else practice.db\n"
    "Notes are printed in the audit: name no patient in them.\n";

struct choices {
    const char *store, *decision, *by, *section, *about, *reply, *period;
    long answer;
    int due, on;
};

static void add_period(struct rt_text *text, int first_day, int last_day)
{
    char first[11], last[11];
    rt_text_format(text, "%s to %s", rt_format_iso_date(first_day, first),
                   rt_format_iso_date(last_day, last));
}

static void add_note(struct rt_text *text, const struct rt_note *note)
{
    char day[11];
    rt_text_format(text, "%ld: ", note->number);
    rt_text_add_plain(text, note->decision);
    rt_text_format(text, "\n  written %s by ", rt_format_iso_date(note->written_on, day));
    rt_text_add_plain(text, note->written_by);
    rt_text_add(text, " on the audit of ");
    add_period(text, note->first_day, note->last_day);
    if (note->section[0] != '\0') {
        rt_text_add(text, ", section ");
        rt_text_add_plain(text, note->section);
    }
    if (note->about[0] != '\0') {
        rt_text_add(text, ", about ");
        rt_text_add_plain(text, note->about);
    }
    if (note->answered_on != RT_NO_DATE) {
        rt_text_format(text, "\n  answered for the audit to %s by ",
                       rt_format_iso_date(note->answered_on, day));
        rt_text_add_plain(text, note->answered_by);
        rt_text_add(text, ": ");
        rt_text_add_plain(text, note->answer);
    } else if (note->re_audit_on != RT_NO_DATE) {
        rt_text_format(text, "\n  open, due %s", rt_format_iso_date(note->re_audit_on, day));
    } else {
        rt_text_add(text, "\n  open, due at the next audit");
    }
    rt_text_add(text, "\n");
}

static enum rt_status list(struct rt_store *store, struct rt_text *text, struct rt_error *error)
{
    struct rt_meeting meeting = {.note_count = 0};
    enum rt_status status = rt_load_notes(store, &meeting, error);
    for (size_t i = 0; status == RT_OK && i < meeting.note_count; i++)
        add_note(text, &meeting.notes[i]);
    if (status == RT_OK && meeting.note_count == 0)
        rt_text_add(text, "no notes\n");
    rt_release_meeting(&meeting);
    return status;
}

static enum rt_status check_choices(const struct choices *choices, struct rt_error *error)
{
    bool record = choices->decision != NULL, answer = choices->answer != 0;
    bool extra = choices->section != NULL || choices->about != NULL || choices->due != RT_NO_DATE ||
                 choices->on != RT_NO_DATE;
    const char *fault = NULL;
    if (record && answer)
        fault = "give either --decision or --answer";
    else if (!record && !answer &&
             (extra || choices->by != NULL || choices->reply != NULL || choices->period != NULL))
        fault = "give --decision TEXT to record a note, or --answer N to answer one";
    else if ((record || answer) && choices->by == NULL)
        fault = "who? give --by WHO";
    else if (answer && choices->reply == NULL)
        fault = "what came of it? give --reply TEXT";
    else if (answer && extra)
        fault = "--section, --about, --due and --on belong to --decision";
    else if (record && choices->reply != NULL)
        fault = "--reply belongs to --answer";
    if (fault == NULL)
        return RT_OK;
    rt_fail(error, RT_USE, "%s", fault);
    rt_error_remedy(error, "see `ridgetally note --help`");
    return RT_USE;
}

/* The day by the clock; a note is a thing of the day it is written on. */
static int today(void)
{
    char now[RT_CLOCK_BYTES];
    rt_clock(now)[10] = '\0';
    return rt_parse_iso_date(now);
}

static const char *or_empty(const char *text)
{
    return text == NULL ? "" : text;
}

static enum rt_status change(struct rt_store *store, const struct choices *choices, struct rt_text *text,
                             struct rt_error *error)
{
    struct rt_period period;
    long number = choices->answer;
    enum rt_status status = choices->period != NULL ? rt_choose_period(store, choices->period, RT_NO_DATE,
                                                                       RT_NO_DATE, &period, error)
                                                    : rt_noted_period(store, &period, error);
    if (status != RT_OK)
        return status;
    if (choices->decision != NULL) {
        const struct rt_note note = {.first_day = period.first_day,
                                     .last_day = period.last_day,
                                     .section = or_empty(choices->section),
                                     .about = or_empty(choices->about),
                                     .decision = choices->decision,
                                     .written_on = choices->on != RT_NO_DATE ? choices->on : today(),
                                     .written_by = choices->by,
                                     .re_audit_on = choices->due};
        status = rt_record_note(store, &note, &number, error);
    } else {
        status = rt_answer_note(store, choices->answer, &period, choices->reply, choices->by, error);
    }
    rt_text_format(text, "note %ld %s the audit of ", number,
                   choices->decision != NULL ? "on" : "answered for");
    add_period(text, period.first_day, period.last_day);
    rt_text_add(text, "\n");
    return status;
}

enum rt_status rt_note_verb(int argc, char **argv, struct rt_error *error)
{
    struct choices choices = {.due = RT_NO_DATE, .on = RT_NO_DATE};
    struct rt_store *store = NULL;
    struct rt_text text = {0};
    const struct rt_option options[] = {
        {"--store", RT_OPTION_TEXT, &choices.store}, {"--decision", RT_OPTION_TEXT, &choices.decision},
        {"--by", RT_OPTION_TEXT, &choices.by},       {"--section", RT_OPTION_TEXT, &choices.section},
        {"--about", RT_OPTION_TEXT, &choices.about}, {"--due", RT_OPTION_DATE, &choices.due},
        {"--on", RT_OPTION_DATE, &choices.on},       {"--answer", RT_OPTION_INTEGER, &choices.answer},
        {"--reply", RT_OPTION_TEXT, &choices.reply}, {"--period", RT_OPTION_TEXT, &choices.period}};
    enum rt_status status =
        rt_parse_options(argc, argv, options, sizeof options / sizeof options[0], 0, 0, NULL, error);
    if (status == RT_OK)
        status = check_choices(&choices, error);
    bool changing = choices.decision != NULL || choices.answer != 0;
    if (status == RT_OK)
        status =
            rt_open_chosen_store(choices.store, changing ? RT_STORE_WRITE : RT_STORE_READ, &store, error);
    if (status == RT_OK)
        status = changing ? change(store, &choices, &text, error) : list(store, &text, error);
    rt_fit_lines(&text);
    if (status == RT_OK)
        status = rt_text_status(&text, error);
    if (status == RT_OK && text.length > 0)
        status = rt_write_stream(stdout, text.bytes, text.length, error);
    rt_text_release(&text);
    rt_store_close(store);
    return status;
}
