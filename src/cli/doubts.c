#include "ridgetally/base/file.h"
#include "ridgetally/cli/fit.h"
#include "ridgetally/cli/options.h"
#include "ridgetally/cli/records.h"
#include "ridgetally/intake/answer.h"
#include "ridgetally/store/query.h"

#include <string.h>

const char rt_doubts_help[] =
    "Usage: ridgetally doubts [--store FILE] [--as table|csv] [--all | --waiting] [--case LABEL] [--first "
    "N]\n"
    "       ridgetally doubts --answers FILE [--store FILE]\n"
    "\n"
    "Lists what is missing, implausible or contradictory in the records, to hand to those who can mend it. "
    "Doubts that\n"
    "keep a case out of a figure come first. The number of a doubt never changes.\n"
    "  --store FILE    the store; else RIDGETALLY_STORE, else practice.db\n"
    "  --as FORM       table (default) or csv\n"
    "  --all           also those that are mended or left as is\n"
    "  --waiting       only those nobody has answered\n"
    "  --case LABEL    only those of one patient, or of one implant as PATIENT/IMPLANT\n"
    "  --first N       only the first N\n"
    "The list holds case labels: keep it inside the practice.\n"
    "\n"
    "Answers go into the last three columns of the CSV list, and the list comes back with --answers:\n"
    "  answer       replied, left as is, or waiting (takes an earlier answer back)\n"
    "  answered_by  who; needed for left as is\n"
    "  reply        what was found out, or why it is left as it is\n"
    "Rows without an answer change nothing, nor does the same list again. A changed number, patient, "
    "implant, "
    "field or\n"
    "value is refused, with line and column, and nothing is taken: records are corrected in their sheet. A "
    "doubt left as\n"
    "is goes off the list; a contradiction left as is still keeps its case out of the figures it names.\n";

enum {
    FLUSH_BYTES = 64 * 1024,
    TABLE_COLUMNS = 8,
    WIDEST = 28,
    VALUE_CELL = 6,
    MEND_FIRST = 20,
    GAP = 2,
    READABLE = 30
};

/* Columns of sql/queries/doubts.sql. */
enum column {
    NUMBER,
    WEIGHT,
    STATE,
    FILE_NAME,
    LINE,
    PATIENT,
    IMPLANT,
    FIELD,
    VALUE,
    BLOCKS,
    REASON,
    REMEDY,
    ANSWER,
    ANSWERED_BY,
    REPLY
};

/* Which doubts are listed. */
struct choice {
    bool all, waiting;
    const char *case_label; /* NULL = any */
    long most;              /* below 0 = no limit */
};

static enum rt_status flush(struct rt_text *text, size_t least, struct rt_error *error)
{
    enum rt_status status = rt_text_status(text, error);
    if (status == RT_OK && text->length > least) {
        status = rt_write_stream(stdout, text->bytes, text->length, error);
        rt_text_clear(text);
    }
    return status;
}

/* The cells of the table before the reason, each on one line and free of control characters. */
static void table_cell(const struct rt_query *query, int cell, struct rt_text *text)
{
    const char *implant = rt_column_text(query, IMPLANT);
    rt_text_clear(text);
    switch (cell) {
    case 3:
        rt_text_add_plain(text, rt_column_text(query, FILE_NAME));
        if (rt_column_integer(query, LINE, 0) > 0)
            rt_text_format(text, ":%lld", (long long)rt_column_integer(query, LINE, 0));
        break;
    case 4:
        rt_text_add_plain(text, rt_column_text(query, PATIENT));
        if (implant[0] != '\0')
            rt_text_add(text, "/");
        rt_text_add_plain(text, implant);
        break;
    case 5:
        rt_text_add_plain(text, rt_column_text(query, FIELD));
        break;
    case VALUE_CELL:
        rt_text_add_plain(text, rt_column_text(query, VALUE));
        break;
    case 7:
        rt_text_add_plain(text, rt_column_text(query, BLOCKS));
        break;
    default: /* number, weight, state */
        rt_text_add_plain(text, rt_column_text(query, cell));
        break;
    }
}

static void add_padded(struct rt_text *text, const char *cell, size_t width)
{
    rt_text_add(text, cell);
    for (size_t used = rt_columns_of(cell); used < width; used++)
        rt_text_add_character(text, ' ');
    rt_text_add(text, "  ");
}

static const char *const headings[TABLE_COLUMNS] = {"number", "weight", "state", "where",
                                                    "case",   "field",  "value", "keeps out of"};

/* How the table stands on the terminal. */
struct layout {
    size_t widths[TABLE_COLUMNS]; /* of the cells */
    int width;                    /* of the terminal; 0 where lines stay whole */
    int columns; /* so many cells stand side by side, the others below them with their headings */
    int hang;    /* where broken words go on: below the words, or below the second column */
    bool beside; /* the words stand beside the cells */
};

/* Where the words do not fit beside all the cells in a readable width, they go below as many cells as fit. */
static void lay_out(struct layout *layout)
{
    size_t used = 0, width = (size_t)layout->width;
    for (int i = 0; i < TABLE_COLUMNS; i++)
        used += layout->widths[i] + GAP;
    layout->columns = TABLE_COLUMNS;
    layout->hang = (int)used;
    layout->beside = width == 0 || used + READABLE <= width;
    if (layout->beside)
        return;
    used = 0;
    for (layout->columns = 0; layout->columns < TABLE_COLUMNS; layout->columns++) {
        size_t more = layout->widths[layout->columns];
        if (used + more > width && layout->columns > 0)
            break;
        used += more + GAP;
    }
    if (layout->columns == VALUE_CELL)
        layout->columns--; /* a value is read beside its field */
    layout->hang = (int)(layout->widths[0] + GAP);
}

static enum rt_status measure(struct rt_query *query, size_t widths[TABLE_COLUMNS], bool *any,
                              struct rt_error *error)
{
    struct rt_text cell = {0};
    bool row = true;
    enum rt_status status = RT_OK;
    *any = false;
    for (int i = 0; i < TABLE_COLUMNS; i++)
        widths[i] = strlen(headings[i]);
    while (status == RT_OK && row) {
        status = rt_query_next(query, &row, error);
        for (int i = 0; status == RT_OK && row && i < TABLE_COLUMNS; i++) {
            table_cell(query, i, &cell);
            size_t width = rt_columns_of(cell.bytes) > WIDEST ? WIDEST : rt_columns_of(cell.bytes);
            widths[i] = width > widths[i] ? width : widths[i];
            status = rt_text_status(&cell, error);
            *any = true;
        }
    }
    rt_text_release(&cell);
    return status;
}

/* Whether the doubt keeps a case out of a figure. */
static bool is_blocking(const struct rt_query *query)
{
    return strcmp(rt_column_text(query, WEIGHT), "refused") == 0 || rt_column_text(query, BLOCKS)[0] != '\0';
}

static void add_words(const struct rt_query *query, struct rt_text *text)
{
    rt_text_format(text, "%s: %s", rt_column_text(query, REASON), rt_column_text(query, REMEDY));
    if (rt_column_text(query, ANSWER)[0] != '\0') {
        rt_text_format(text, " [%s ", rt_column_text(query, ANSWER));
        rt_text_add_plain(text, rt_column_text(query, ANSWERED_BY));
        rt_text_add(text, ": ");
        rt_text_add_plain(text, rt_column_text(query, REPLY));
        rt_text_add(text, "]");
    }
}

/* Broken where the terminal needs it. */
static void add_line(const struct layout *layout, const struct rt_text *line, struct rt_text *text)
{
    text->failed = text->failed || line->failed;
    if (layout->width > 0 && line->length > 0)
        rt_add_broken(text, line->bytes, line->length, layout->width, layout->hang);
    else if (line->length > 0)
        rt_text_format(text, "%s\n", line->bytes);
}

/* The first doubts keep cases out of figures; a line under at most MEND_FIRST of them says so when others follow. */
static void add_mark(const struct layout *layout, const struct rt_query *query, long before, bool *marked,
                     struct rt_text *text)
{
    struct rt_text line = {0};
    if (*marked || (is_blocking(query) && before < MEND_FIRST))
        return;
    *marked = true;
    if (before > 0)
        rt_text_format(&line, "-- mend the %ld above first: they keep cases out of figures --", before);
    add_line(layout, &line, text);
    rt_text_release(&line);
}

static void add_headings(const struct layout *layout, struct rt_text *text)
{
    struct rt_text line = {0};
    for (int i = 0; i < layout->columns; i++)
        add_padded(&line, headings[i], layout->widths[i]);
    if (layout->beside)
        rt_text_add(&line, "what, and what to do");
    add_line(layout, &line, text);
    rt_text_release(&line);
}

/* The cells that do not fit side by side, as "field tooth; value 19"; empty ones are left out. */
static void add_cells_below(const struct layout *layout, const struct rt_query *query, struct rt_text *text)
{
    struct rt_text line = {0}, cell = {0};
    bool any = false;
    for (int used = 0; used < layout->hang; used++)
        rt_text_add_character(&line, ' ');
    for (int i = layout->columns; i < TABLE_COLUMNS; i++) {
        table_cell(query, i, &cell);
        if (cell.length > 0)
            rt_text_format(&line, "%s%s %s", any ? "; " : "", headings[i], cell.bytes);
        any = any || cell.length > 0;
        line.failed = line.failed || cell.failed;
    }
    if (any)
        add_line(layout, &line, text);
    text->failed = text->failed || line.failed;
    rt_text_release(&line);
    rt_text_release(&cell);
}

static void add_row(const struct layout *layout, const struct rt_query *query, struct rt_text *text)
{
    struct rt_text line = {0}, cell = {0};
    for (int i = 0; i < layout->columns; i++) {
        table_cell(query, i, &cell);
        add_padded(&line, cell.bytes, layout->widths[i]);
        line.failed = line.failed || cell.failed;
    }
    if (!layout->beside) {
        add_line(layout, &line, text);
        add_cells_below(layout, query, text);
        text->failed = text->failed || line.failed;
        rt_text_clear(&line);
        for (int used = 0; used < layout->hang; used++)
            rt_text_add_character(&line, ' ');
    }
    add_words(query, &line);
    add_line(layout, &line, text);
    rt_text_release(&line);
    rt_text_release(&cell);
}

static enum rt_status print_table(struct rt_query *query, struct rt_text *text, struct rt_error *error)
{
    struct layout layout = {.width = rt_output_width()};
    bool any = false;
    bool marked = false;
    long listed = 0;
    enum rt_status status = measure(query, layout.widths, &any, error);
    lay_out(&layout);
    if (status == RT_OK && !any)
        rt_text_add(text, "no doubts\n");
    if (any)
        add_headings(&layout, text);
    bool row = any;
    while (status == RT_OK && row) {
        status = rt_query_next(query, &row, error);
        if (status != RT_OK || !row)
            break;
        add_mark(&layout, query, listed++, &marked, text);
        add_row(&layout, query, text);
        status = flush(text, FLUSH_BYTES, error);
    }
    return status;
}

static void add_csv_header(const struct rt_query *query, struct rt_text *text)
{
    for (int i = 0; i < rt_column_count(query); i++)
        rt_text_format(text, "%s%s", i > 0 ? "," : "", rt_column_name(query, i));
    rt_text_add_character(text, '\n');
}

static void add_csv_row(const struct rt_query *query, struct rt_text *text)
{
    for (int i = 0; i < rt_column_count(query); i++) {
        bool number = i == NUMBER || i == LINE;
        rt_text_add(text, i > 0 ? "," : "");
        rt_text_add_csv_cell(text, rt_column_text(query, i), !number);
    }
    rt_text_add_character(text, '\n');
}

/* All rows as CSV; where stream is set, what has gathered is written to stdout now and then */
static enum rt_status add_csv(struct rt_query *query, bool stream, struct rt_text *text,
                              struct rt_error *error)
{
    bool row = true;
    enum rt_status status = RT_OK;
    add_csv_header(query, text);
    while (status == RT_OK && row) {
        status = rt_query_next(query, &row, error);
        if (status != RT_OK || !row)
            break;
        add_csv_row(query, text);
        status = stream ? flush(text, FLUSH_BYTES, error) : rt_text_status(text, error);
    }
    return status;
}

static enum rt_status open_list(struct rt_store *store, const struct choice *choice, struct rt_query **query,
                                struct rt_error *error)
{
    enum rt_status status = rt_query_open(store, "sql/queries/doubts.sql", query, error);
    rt_bind_integer(*query, ":all", choice->all);
    rt_bind_integer(*query, ":waiting", choice->waiting);
    rt_bind_text(*query, ":case_label", choice->case_label);
    rt_bind_integer(*query, ":most", choice->most);
    return status;
}

enum rt_status rt_doubts_to_csv(struct rt_store *store, struct rt_text *text, struct rt_error *error)
{
    static const struct choice to_do = {.most = -1};
    struct rt_query *query = NULL;
    enum rt_status status = open_list(store, &to_do, &query, error);
    if (status == RT_OK)
        status = add_csv(query, false, text, error);
    rt_query_close(query);
    return status;
}

static enum rt_status print_doubts(struct rt_store *store, bool csv, const struct choice *choice,
                                   struct rt_error *error)
{
    struct rt_query *query = NULL;
    struct rt_text text = {0};
    enum rt_status status = open_list(store, choice, &query, error);
    if (status == RT_OK)
        status = csv ? add_csv(query, true, &text, error) : print_table(query, &text, error);
    if (status == RT_OK)
        status = flush(&text, 0, error);
    rt_query_close(query);
    rt_text_release(&text);
    return status;
}

static void add_answered(const struct rt_answer_report *report, struct rt_text *text)
{
    rt_text_add_count(text, report->rows_read, "row");
    rt_text_format(text, ": %ld replied, %ld left as is, %ld taken back, ", report->replied, report->left,
                   report->withdrawn);
    rt_text_add_count(text, report->unchanged, "answer");
    rt_text_add(text, " known already\n");
}

static enum rt_status take_answers(struct rt_store *store, const char *path, struct rt_error *error)
{
    struct rt_answer_report report = {0};
    struct rt_text text = {0};
    enum rt_status status = rt_answer_doubts(store, path, &report, error);
    if (status == RT_OK)
        add_answered(&report, &text);
    else if (status == RT_INPUT && report.faults > 0) {
        rt_text_add(&text, "nothing was taken: ");
        rt_text_add_count(&text, report.faults, "cell");
        rt_text_format(&text, " cannot be\n%s", report.words.bytes == NULL ? "" : report.words.bytes);
    }
    struct rt_error print_error = {0};
    enum rt_status printed = flush(&text, 0, &print_error);
    if (status == RT_OK && printed != RT_OK) {
        status = printed;
        *error = print_error;
    }
    rt_text_release(&text);
    rt_release_answer_report(&report);
    return status;
}

static enum rt_status check_choice(const struct choice *choice, const char *as, const char *answers,
                                   struct rt_error *error)
{
    enum rt_status status = RT_OK;
    bool narrowed = choice->all || choice->waiting || choice->case_label != NULL || choice->most >= 0;
    if (strcmp(as, "csv") != 0 && strcmp(as, "table") != 0)
        status = rt_fail(error, RT_USE, "--as is table or csv, not '%s'", as);
    else if (choice->all && choice->waiting)
        status = rt_fail(error, RT_USE, "--all and --waiting cannot both be meant");
    else if (choice->most == 0 || choice->most < -1)
        status = rt_fail(error, RT_USE, "--first is a number of doubts, 1 or more");
    else if (answers != NULL && (narrowed || strcmp(as, "csv") == 0))
        status = rt_fail(error, RT_USE, "--answers takes a list back and prints none");
    if (status != RT_OK)
        rt_error_remedy(error, "see `ridgetally doubts --help`");
    return status;
}

enum rt_status rt_doubts_verb(int argc, char **argv, struct rt_error *error)
{
    const char *path = NULL;
    const char *as = "table";
    const char *answers = NULL;
    struct choice choice = {.most = -1};
    struct rt_store *store = NULL;
    const struct rt_option options[] = {{"--store", RT_OPTION_TEXT, &path},
                                        {"--as", RT_OPTION_TEXT, &as},
                                        {"--all", RT_OPTION_FLAG, &choice.all},
                                        {"--waiting", RT_OPTION_FLAG, &choice.waiting},
                                        {"--case", RT_OPTION_TEXT, &choice.case_label},
                                        {"--first", RT_OPTION_INTEGER, &choice.most},
                                        {"--answers", RT_OPTION_TEXT, &answers}};
    enum rt_status status =
        rt_parse_options(argc, argv, options, sizeof options / sizeof options[0], 0, 0, NULL, error);
    if (status == RT_OK)
        status = check_choice(&choice, as, answers, error);
    if (status == RT_OK)
        status = rt_open_chosen_store(path, answers == NULL ? RT_STORE_READ : RT_STORE_WRITE, &store, error);
    if (status == RT_OK)
        status = answers == NULL ? print_doubts(store, strcmp(as, "csv") == 0, &choice, error)
                                 : take_answers(store, answers, error);
    rt_store_close(store);
    return status;
}
