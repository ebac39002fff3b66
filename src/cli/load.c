#include "ridgetally/base/file.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/cli/fit.h"
#include "ridgetally/cli/load_options.h"
#include "ridgetally/cli/records.h"
#include "ridgetally/store/query.h"

#include <string.h>

const char rt_load_help[] =
    "Usage: ridgetally load FILE... [--store FILE] [--kind implants|followups|events] [--map MAP]\n"
    "                       [--whole] [--dry-run] [--pseudonym] [--key FILE] [--text] [--sheet NAME]\n"
    "                       [--encoding ENCODING] [--separator SEPARATOR] [--decimal MARK] [--header-line "
    "N]\n"
    "\n"
    "Loads records from CSV files and .xlsx workbooks; - is standard input. The kind of a file is told by "
    "its\n"
    "header. Files are taken in the order implants, followups, events; each is one batch, in whole or not "
    "at\n"
    "all. Rows already in the store change nothing; a known row with other values is a correction. Rows "
    "that\n"
    "cannot enter are refused, wait among the doubts, and are tried again when what they need arrives.\n"
    "  --store FILE  the store; else RIDGETALLY_STORE, else practice.db\n"
    "  --dry-run     report what would happen, and write nothing\n" RT_LOAD_OPTIONS_HELP
    "Exit code 1 when rows were refused.\n";

/* Lines, each after some words; control characters were made plain when the lines were written. */
static void print_lines(const struct rt_text *lines, const char *before, struct rt_text *text)
{
    for (const char *line = lines->bytes; line != NULL && *line != '\0';) {
        size_t length = strcspn(line, "\n");
        rt_text_add(text, before);
        rt_text_add_bytes(text, line, length);
        rt_text_add(text, "\n");
        line += length + (line[length] == '\n');
    }
}

/* A line, when there is something to count. */
static void print_count(long count, const char *noun, const char *what, struct rt_text *text)
{
    if (count == 0)
        return;
    rt_text_add(text, "  ");
    rt_text_add_count(text, count, noun);
    rt_text_format(text, " %s\n", what);
}

static void print_unknown_columns(const struct rt_load_report *report, struct rt_text *text)
{
    if (report->unknown_columns.length == 0)
        return;
    rt_text_add(text, "  columns that no one knows, left out: ");
    rt_text_add_plain(text, report->unknown_columns.bytes);
    rt_text_add(text, "\n");
}

void rt_print_load_report(const struct rt_load_report *report, bool dry_run, struct rt_text *text)
{
    rt_text_format(text, "%sbatch %lld: %s from %s\n", dry_run ? "would be " : "", (long long)report->batch,
                   rt_form(report->kind)->name, report->path);
    rt_text_add(text, "  read as ");
    rt_add_dialect(text, &report->dialect);
    if (report->map_batch > 0)
        rt_text_format(text, ", through the map of batch %lld", (long long)report->map_batch);
    else if (report->map != NULL)
        rt_text_add(text, ", through the map, which is kept for sheets with this header");
    rt_text_add(text, "\n");
    rt_text_add(text, "  ");
    rt_text_add_count(text, report->rows_read, "row");
    rt_text_format(text, ": %ld new, %ld changed, %ld unchanged, %ld refused\n", report->rows_new,
                   report->rows_changed, report->rows_unchanged, report->rows_refused);
    print_count(report->rows_gone, "record", "gone from this sheet, kept, and among the doubts", text);
    print_count(report->rows_back, "record", "back that went earlier", text);
    print_count(report->rows_mended, "row", "settled that had been refused", text);
    rt_text_add(text, "  ");
    rt_text_add_count(text, report->doubts_raised, "doubt");
    rt_text_format(text, " raised, %ld mended\n", report->doubts_mended);
    if (report->rows_new + report->rows_changed + report->rows_mended + report->rows_gone +
            report->doubts_raised ==
        0)
        rt_text_add(text, "  nothing new: the store holds all of this already\n");
    if (report->same_as_batch > 0)
        rt_text_format(text, "  the same file was loaded as batch %lld\n", (long long)report->same_as_batch);
    print_unknown_columns(report, text);
    if (report->text_left_out > 0) {
        rt_text_add(text, "  left out ");
        rt_text_add_count(text, report->text_left_out, "cell");
        rt_text_format(
            text, " of free text, for it may name people: type short codes, or take the text with --text%s\n",
            report->map != NULL ? " or `text` in the map" : "");
    }
    print_lines(&report->warnings, "  warning: ", text);
    print_lines(&report->words, "  ", text);
    if (report->details > RT_MOST_DETAILS)
        rt_text_format(text, "  and %ld more like these\n", report->details - RT_MOST_DETAILS);
}

enum rt_status rt_count_doubts(struct rt_store *store, long *count, struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status = rt_query_open_text(
        store, "SELECT count(*) FROM doubt WHERE state IN ('waiting', 'replied')", &query, error);
    if (status == RT_OK)
        status = rt_query_next(query, &row, error);
    *count = status == RT_OK && row ? (long)rt_column_integer(query, 0, 0) : 0;
    rt_query_close(query);
    return status;
}

/* What was done is told even when a later file failed. */
static enum rt_status print_all(struct rt_store *store, const struct rt_load_report *reports, size_t done,
                                bool dry_run, struct rt_error *error)
{
    struct rt_text text = {0};
    long doubts = 0;
    enum rt_status status = dry_run ? RT_OK : rt_count_doubts(store, &doubts, error);
    for (size_t i = 0; i < done; i++)
        rt_print_load_report(&reports[i], dry_run, &text);
    if (dry_run)
        rt_text_add(&text, "dry run: nothing was written\n");
    else if (doubts > 0)
        rt_text_format(&text, "%ld doubt%s; `ridgetally doubts` lists %s\n", doubts,
                       doubts == 1 ? " waits" : "s wait", doubts == 1 ? "it" : "them");
    rt_fit_lines(&text);
    if (status == RT_OK)
        status = rt_text_status(&text, error);
    if (status == RT_OK && done > 0)
        status = rt_write_stream(stdout, text.bytes, text.length, error);
    rt_text_release(&text);
    return status;
}

static enum rt_status load_all(struct rt_store *store, const struct rt_operands *files,
                               const struct rt_load_options *load, struct rt_error *error)
{
    size_t done = 0;
    struct rt_load_report *reports = rt_new_array(files->count * RT_RECORD_KINDS, sizeof *reports);
    if (reports == NULL)
        return rt_fail_memory(error);
    enum rt_status status =
        rt_load_files(store, (const char *const *)files->items, files->count, load, reports, &done, error);
    struct rt_error print_error = {0};
    enum rt_status printed = print_all(store, reports, done, load->dry_run, &print_error);
    if (printed != RT_OK && (status == RT_OK || status == RT_PARTIAL)) {
        status = printed;
        *error = print_error;
    }
    for (size_t i = 0; i < files->count * RT_RECORD_KINDS; i++)
        rt_release_load_report(&reports[i]);
    free(reports);
    return status;
}

enum rt_status rt_load_verb(int argc, char **argv, struct rt_error *error)
{
    const char *path = NULL;
    struct rt_load_choices choices = {.pseudonym = false};
    struct rt_operands files = {NULL, 0};
    struct rt_store *store = NULL;
    struct rt_option options[2 + RT_LOAD_OPTIONS] = {{"--store", RT_OPTION_TEXT, &path},
                                                     {"--dry-run", RT_OPTION_FLAG, &choices.load.dry_run}};
    rt_load_option_table(&choices, options + 2);
    enum rt_status status =
        rt_parse_options(argc, argv, options, sizeof options / sizeof options[0], 1, RT_MANY, &files, error);
    if (status == RT_OK)
        status = rt_read_load_choices("load", &choices, error);
    if (status == RT_OK)
        status = rt_open_chosen_store(path, RT_STORE_WRITE, &store, error);
    if (status == RT_OK)
        status = rt_choose_load_key(store, &choices, error);
    if (status == RT_OK)
        status = load_all(store, &files, &choices.load, error);
    rt_store_close(store);
    return status;
}
