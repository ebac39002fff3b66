#include "ridgetally/cli/next.h"

#include "ridgetally/audit/info.h"
#include "ridgetally/audit/period.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/file.h"
#include "ridgetally/base/text.h"
#include "ridgetally/cli/fit.h"
#include "ridgetally/cli/options.h"
#include "ridgetally/store/clock.h"
#include "ridgetally/store/query.h"

#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

enum { MOST_NUMBERS = 3 };

static void add_step(struct rt_text *text, const char *command, const char *why)
{
    rt_text_format(text, "  ridgetally %-24s  %s\n", command, why);
}

static void add_without_store(struct rt_text *text, const char *path)
{
    rt_text_add(text, "There is no store at ");
    rt_text_add_plain(text, path);
    rt_text_add(text, ".\n");
    add_step(text, "demo", "look around: an invented practice, from its records to the report");
    add_step(text, "new --sheets sheets", "begin: an empty store, and sheets to type into");
    rt_text_add(text, "A store that is elsewhere is named in RIDGETALLY_STORE, or with --store.\n");
}

static void add_empty(struct rt_text *text, const char *path)
{
    rt_text_add_plain(text, path);
    rt_text_add(text, " has no records yet.\n");
    add_step(text, "load FILE...",
             "load the sheets `ridgetally new --sheets` writes, once they are filled in");
    add_step(text, "match FILE --out MAP", "draft a map for a sheet of your own, to load it through");
}

/* The integers in the only row of a query, which is closed. */
static enum rt_status read_row(struct rt_query *query, enum rt_status status, int count,
                               long numbers[MOST_NUMBERS], struct rt_error *error)
{
    bool row = false;
    if (status == RT_OK)
        status = rt_query_next(query, &row, error);
    for (int i = 0; i < count; i++)
        numbers[i] = status == RT_OK && row ? (long)rt_column_integer(query, i, 0) : 0;
    rt_query_close(query);
    return status;
}

static enum rt_status add_doubts(struct rt_store *store, struct rt_text *text, struct rt_error *error)
{
    struct rt_query *query = NULL;
    struct rt_text why = {0};
    long numbers[MOST_NUMBERS]; /* refused, blocking, waiting */
    enum rt_status status = rt_query_open(store, "sql/queries/doubts-to-mend.sql", &query, error);
    status = read_row(query, status, 3, numbers, error);
    rt_text_format(&why, "%ld doubt%s: ", numbers[2], numbers[2] == 1 ? " waits" : "s wait");
    rt_text_add_count(&why, numbers[0], "refused row");
    rt_text_format(&why, ", %ld that keep%s cases out of figures", numbers[1], numbers[1] == 1 ? "s" : "");
    if (status == RT_OK)
        status = rt_text_status(&why, error);
    if (status == RT_OK && numbers[2] > 0)
        add_step(text, "doubts", why.bytes);
    rt_text_release(&why);
    return status;
}

/* A quarter as 2026Q2. */
static void name_quarter(const struct rt_period *period, struct rt_text *text)
{
    struct rt_civil_date date = rt_civil_date(period->first_day);
    rt_text_format(text, "%dQ%d", (int)date.year, ((int)date.month + 2) / 3);
}

static enum rt_status add_audit(struct rt_store *store, struct rt_text *text, struct rt_error *error)
{
    struct rt_query *query = NULL;
    struct rt_period period;
    struct rt_text why = {0};
    char hash[RT_SHA256_HEX];
    long numbers[MOST_NUMBERS] = {0}; /* recorded, as the records are now */
    enum rt_status status = rt_default_period(store, &period, error);
    if (status == RT_OK)
        status = rt_data_hash(store, period.last_day, "", hash, error);
    if (status == RT_OK) {
        status = rt_query_open(store, "sql/queries/audit-recorded.sql", &query, error);
        rt_bind_integer(query, ":first_day", period.first_day);
        rt_bind_integer(query, ":last_day", period.last_day);
        rt_bind_text(query, ":data_hash", hash);
        status = read_row(query, status, 2, numbers, error);
    }
    if (status == RT_OK && numbers[1] == 0) {
        name_quarter(&period, &why);
        rt_text_add(&why, numbers[0] == 0 ? " is complete and has not been audited"
                                          : " was audited, but its records have changed since");
        status = rt_text_status(&why, error);
    }
    if (status == RT_OK && numbers[1] == 0)
        add_step(text, "audit", why.bytes);
    rt_text_release(&why);
    return status;
}

static enum rt_status add_notes(struct rt_store *store, struct rt_text *text, struct rt_error *error)
{
    struct rt_query *query = NULL;
    struct rt_text why = {0};
    char now[RT_CLOCK_BYTES];
    long numbers[MOST_NUMBERS];
    rt_clock(now);
    now[strlen("YYYY-MM-DD")] = '\0';
    enum rt_status status = rt_query_open(store, "sql/queries/notes-due.sql", &query, error);
    rt_bind_integer(query, ":today", rt_parse_iso_date(now));
    status = read_row(query, status, 1, numbers, error);
    rt_text_format(&why, "%ld decision%s due for an answer", numbers[0], numbers[0] == 1 ? " is" : "s are");
    if (status == RT_OK)
        status = rt_text_status(&why, error);
    if (status == RT_OK && numbers[0] > 0)
        add_step(text, "note", why.bytes);
    rt_text_release(&why);
    return status;
}

/* A trend is of one operator, so it is offered only where the records name one. */
static enum rt_status add_showing(struct rt_store *store, struct rt_text *text, struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool named = false;
    enum rt_status status = rt_query_open(store, "sql/queries/audit-operators.sql", &query, error);
    if (status == RT_OK)
        status = rt_query_next(query, &named, error);
    rt_query_close(query);
    add_step(text, "deck", "slides for a study club, small groups kept back");
    if (status == RT_OK && named)
        add_step(text, "trend --operator LABEL", "one operator over time");
    return status;
}

static enum rt_status add_steps(struct rt_store *store, struct rt_text *text, struct rt_error *error)
{
    int earliest, latest;
    char first[11], last[11];
    enum rt_status status = rt_record_span(store, &earliest, &latest, error);
    if (status != RT_OK)
        return status;
    if (latest == RT_NO_DATE) {
        add_empty(text, rt_store_path(store));
        return add_doubts(store, text, error); /* every row of a sheet may have been refused */
    }
    rt_text_add_plain(text, rt_store_path(store));
    rt_text_format(text, ": records from %s to %s. Next:\n", rt_format_iso_date(earliest, first),
                   rt_format_iso_date(latest, last));
    status = add_doubts(store, text, error);
    if (status == RT_OK)
        status = add_audit(store, text, error);
    if (status == RT_OK)
        status = add_notes(store, text, error);
    add_step(text, "due", "recalls overdue, and cases to look at");
    add_step(text, "quarter FILE...", "load the sheets of the next quarter, and audit it");
    return status == RT_OK ? add_showing(store, text, error) : status;
}

enum rt_status rt_say_next(struct rt_error *error)
{
    struct rt_text text = {0};
    struct rt_store *store = NULL;
    const char *path = rt_store_choice(NULL);
    enum rt_status status = RT_OK;
    if (access(path, F_OK) != 0 && errno == ENOENT)
        add_without_store(&text, path);
    else {
        status = rt_open_chosen_store(NULL, RT_STORE_READ, &store, error);
        if (status == RT_OK)
            status = add_steps(store, &text, error);
        rt_store_close(store);
    }
    rt_text_add(
        &text, "All verbs: `ridgetally --help`; one of them: `ridgetally VERB --help`; all there is to know: "
               "`man ridgetally`\n");
    rt_fit_columns(&text);
    if (status == RT_OK)
        status = rt_text_status(&text, error);
    if (status == RT_OK)
        status = rt_write_stream(stdout, text.bytes, text.length, error);
    rt_text_release(&text);
    return status;
}
