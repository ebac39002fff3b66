#include "ridgetally/cli/quarter.h"

#include "ridgetally/audit/period.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/file.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/cli/audit.h"
#include "ridgetally/cli/figures.h"
#include "ridgetally/cli/filters.h"
#include "ridgetally/cli/fit.h"
#include "ridgetally/cli/load_options.h"
#include "ridgetally/store/query.h"

#include <stdio.h>
#include <string.h>

const char rt_quarter_help[] =
    "Usage: ridgetally quarter FILE... [--store FILE] [--period 2026Q3 | --from DATE --to DATE] [--out DIR]\n"
    "       [--strict] [the options of load] [FILTERS]\n\n"
    "The usual quarterly run: loads the files as `load` does, counts the doubts, writes the audit as "
    "`audit`\n"
    "does, and ends in three lines: what was loaded, what to mend first, where the report is.\n\n"
    "  --store FILE   default practice.db, or RIDGETALLY_STORE\n"
    "  --period Q     one quarter; default: the last one complete before the latest record\n"
    "  --from, --to   first and last day of any other period, both in\n"
    "  --out DIR      where to write; default audit-PERIOD in the working folder (audit-PERIOD-part with "
    "filters)\n"
    "  --strict       exit code 1 also when a yardstick is not met\n" RT_WITHOUT_CASES_HELP "\n"
    "How the files are loaded:\n" RT_LOAD_OPTIONS_HELP "\n" RT_FILTER_HELP
    "The audit of a part is not kept in the store.\n\n"
    "Exit code 1 when rows were refused. When a file cannot be read, no audit is written.\n";

struct choices {
    const char *store, *period, *out;
    int from, to;
    bool strict;
    struct rt_audit_filters filters;
    bool without_cases;
};

struct quarter {
    struct rt_store *store;
    struct rt_load_choices choices;
    struct rt_load_report *reports;
    size_t done;
    struct rt_written_audit written;
    struct rt_text text;
};

/* Load all files; *refused tells whether rows were refused, which does not stop the run. */
static enum rt_status load(struct quarter *quarter, const struct rt_operands *files, bool *refused,
                           struct rt_error *error)
{
    enum rt_status status = rt_choose_load_key(quarter->store, &quarter->choices, error);
    if (status != RT_OK)
        return status;
    quarter->reports = rt_new_array(files->count * RT_RECORD_KINDS, sizeof *quarter->reports);
    if (quarter->reports == NULL)
        return rt_fail_memory(error);
    status = rt_load_files(quarter->store, (const char *const *)files->items, files->count,
                           &quarter->choices.load, quarter->reports, &quarter->done, error);
    for (size_t i = 0; i < quarter->done; i++)
        rt_print_load_report(&quarter->reports[i], false, &quarter->text);
    *refused = status == RT_PARTIAL;
    return status == RT_PARTIAL ? RT_OK : status;
}

static void add_loaded(const struct quarter *quarter, struct rt_text *text)
{
    long fresh[RT_RECORD_KINDS] = {0};
    long changed = 0, refused = 0;
    for (size_t i = 0; i < quarter->done; i++) {
        fresh[quarter->reports[i].kind] += quarter->reports[i].rows_new;
        changed += quarter->reports[i].rows_changed;
        refused += quarter->reports[i].rows_refused;
    }
    rt_text_add(text, "loaded: ");
    rt_text_add_count(text, fresh[RT_IMPLANTS], "implant");
    rt_text_add(text, ", ");
    rt_text_add_count(text, fresh[RT_FOLLOWUPS], "follow-up row");
    rt_text_add(text, " and ");
    rt_text_add_count(text, fresh[RT_EVENTS], "event");
    rt_text_add(text, " new; ");
    rt_text_add_count(text, changed, "row");
    rt_text_format(text, " corrected, %ld refused\n", refused);
}

static enum rt_status add_mend_first(struct rt_store *store, struct rt_text *text, struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status = rt_query_open(store, "sql/queries/doubts-to-mend.sql", &query, error);
    if (status == RT_OK)
        status = rt_query_next(query, &row, error);
    long refused = row ? (long)rt_column_integer(query, 0, 0) : 0;
    long blocking = row ? (long)rt_column_integer(query, 1, 0) : 0;
    long waiting = row ? (long)rt_column_integer(query, 2, 0) : 0;
    rt_query_close(query);
    if (waiting == 0)
        rt_text_add(text, "mend first: nothing, no doubt waits\n");
    else {
        rt_text_add(text, "mend first: ");
        rt_text_add_count(text, refused, "refused row");
        rt_text_format(text, ", then %ld doubt%s cases out of figures; ", blocking,
                       blocking == 1 ? " that keeps" : "s that keep");
        rt_text_format(text, "`ridgetally doubts` lists all %ld in this order\n", waiting);
    }
    return status;
}

static enum rt_status audit(struct quarter *quarter, const struct choices *choices, struct rt_error *error)
{
    struct rt_period period;
    bool given = choices->period != NULL || choices->from != RT_NO_DATE || choices->to != RT_NO_DATE;
    enum rt_status status =
        given ? rt_choose_period(quarter->store, choices->period, choices->from, choices->to, &period, error)
              : rt_default_period(quarter->store, &period, error);
    if (status == RT_OK)
        status = rt_write_audit(quarter->store, &period, &choices->filters, !choices->without_cases,
                                choices->out, &quarter->written, error);
    return status;
}

static enum rt_status run(struct quarter *quarter, const struct rt_operands *files,
                          const struct choices *choices, struct rt_error *error)
{
    bool refused = false;
    enum rt_status status = load(quarter, files, &refused, error);
    if (status == RT_OK)
        status = audit(quarter, choices, error);
    if (quarter->written.page != NULL) { /* also when only the charts could not be drawn */
        add_loaded(quarter, &quarter->text);
        enum rt_status counted = add_mend_first(quarter->store, &quarter->text, error);
        status = status == RT_OK ? counted : status;
        rt_fit_lines(&quarter->text); /* the path after it stays whole */
        rt_text_format(&quarter->text, "report: %s\n", quarter->written.page);
    }
    struct rt_error printing = {0};
    enum rt_status printed = rt_text_status(&quarter->text, &printing);
    if (printed == RT_OK && quarter->text.length > 0)
        printed = rt_write_stream(stdout, quarter->text.bytes, quarter->text.length, &printing);
    if (status == RT_OK && printed != RT_OK)
        *error = printing;
    status = status == RT_OK ? printed : status;
    if (status == RT_OK && choices->strict)
        status = rt_strictly(&quarter->written, error);
    return status == RT_OK && refused ? RT_PARTIAL : status;
}

/* What is wrong with the dates is told before anything is loaded. */
static enum rt_status check_choices(const struct choices *choices, struct rt_error *error)
{
    int first_day, last_day;
    if (choices->period == NULL)
        return RT_OK;
    if (choices->from != RT_NO_DATE || choices->to != RT_NO_DATE)
        return rt_fail(error, RT_USE, "give either --period or --from and --to");
    if (rt_parse_quarter(choices->period, &first_day, &last_day))
        return RT_OK;
    rt_fail(error, RT_USE, "'%s' is not a quarter", choices->period);
    rt_error_remedy(error, "write it as 2026Q3, or give --from and --to");
    return RT_USE;
}

enum rt_status rt_quarter_verb(int argc, char **argv, struct rt_error *error)
{
    struct choices choices = {.from = RT_NO_DATE, .to = RT_NO_DATE, .filters = rt_no_filters()};
    struct quarter quarter = {.store = NULL};
    struct rt_operands files = {NULL, 0};
    const struct rt_option own[] = {{"--store", RT_OPTION_TEXT, &choices.store},
                                    {"--period", RT_OPTION_TEXT, &choices.period},
                                    {"--from", RT_OPTION_DATE, &choices.from},
                                    {"--to", RT_OPTION_DATE, &choices.to},
                                    {"--out", RT_OPTION_TEXT, &choices.out},
                                    {"--strict", RT_OPTION_FLAG, &choices.strict},
                                    {"--without-cases", RT_OPTION_FLAG, &choices.without_cases},
                                    RT_FILTER_OPTIONS(choices.filters)};
    enum { OWN = sizeof own / sizeof own[0] };
    struct rt_option options[OWN + RT_LOAD_OPTIONS];
    memcpy(options, own, sizeof own);
    rt_load_option_table(&quarter.choices, options + OWN);
    enum rt_status status =
        rt_parse_options(argc, argv, options, OWN + RT_LOAD_OPTIONS, 1, RT_MANY, &files, error);
    if (status == RT_OK)
        status = check_choices(&choices, error);
    if (status == RT_OK)
        status = rt_check_filters(&choices.filters, error);
    if (status == RT_OK)
        status = rt_read_load_choices("quarter", &quarter.choices, error);
    if (status == RT_OK)
        status = rt_open_chosen_store(choices.store, RT_STORE_WRITE, &quarter.store, error);
    if (status == RT_OK)
        status = run(&quarter, &files, &choices, error);
    for (size_t i = 0; i < files.count * RT_RECORD_KINDS && quarter.reports != NULL; i++)
        rt_release_load_report(&quarter.reports[i]);
    free(quarter.reports);
    rt_text_release(&quarter.text);
    rt_release_written_audit(&quarter.written);
    rt_store_close(quarter.store);
    return status;
}
