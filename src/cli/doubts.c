#include "ridgetally/base/file.h"
#include "ridgetally/cli/options.h"
#include "ridgetally/cli/records.h"
#include "ridgetally/store/query.h"

#include <string.h>

const char rt_doubts_help[] = "Usage: ridgetally doubts [--store FILE] [--as table|csv] [--all]\n"
                              "\n"
                              "Lists what is missing, implausible or contradictory in the records, to hand "
                              "to those who can mend it. Doubts that\n"
                              "keep a case out of a figure come first. The number of a doubt never changes.\n"
                              "  --store FILE  the store; else RIDGETALLY_STORE, else practice.db\n"
                              "  --as FORM     table (default) or csv\n"
                              "  --all         also those that are mended\n"
                              "The list holds case labels: keep it inside the practice.\n";

enum { FLUSH_BYTES = 64 * 1024, TABLE_COLUMNS = 8, WIDEST = 28 };

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
    REMEDY
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
    case 6:
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

/* Characters of UTF-8 text: bytes that are no continuation. */
static size_t width_of(const char *text)
{
    size_t width = 0;
    for (; text != NULL && *text != '\0'; text++)
        width += ((unsigned char)*text & 0xc0) != 0x80;
    return width;
}

static void add_padded(struct rt_text *text, const char *cell, size_t width)
{
    rt_text_add(text, cell);
    for (size_t used = width_of(cell); used < width; used++)
        rt_text_add_character(text, ' ');
    rt_text_add(text, "  ");
}

static const char *const headings[TABLE_COLUMNS] = {"number", "weight", "state", "where",
                                                    "case",   "field",  "value", "keeps out of"};

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
            size_t width = width_of(cell.bytes) > WIDEST ? WIDEST : width_of(cell.bytes);
            widths[i] = width > widths[i] ? width : widths[i];
            status = rt_text_status(&cell, error);
            *any = true;
        }
    }
    rt_text_release(&cell);
    return status;
}

static enum rt_status print_table(struct rt_query *query, struct rt_text *text, struct rt_error *error)
{
    size_t widths[TABLE_COLUMNS];
    struct rt_text cell = {0};
    bool any = false;
    enum rt_status status = measure(query, widths, &any, error);
    if (status == RT_OK && !any)
        rt_text_add(text, "no doubts\n");
    for (int i = 0; any && i < TABLE_COLUMNS; i++)
        add_padded(text, headings[i], widths[i]);
    rt_text_add(text, any ? "what, and what to do\n" : "");
    bool row = any;
    while (status == RT_OK && row) {
        status = rt_query_next(query, &row, error);
        if (status != RT_OK || !row)
            break;
        for (int i = 0; i < TABLE_COLUMNS; i++) {
            table_cell(query, i, &cell);
            add_padded(text, cell.bytes, widths[i]);
        }
        rt_text_format(text, "%s: %s\n", rt_column_text(query, REASON), rt_column_text(query, REMEDY));
        status = cell.failed ? rt_fail_memory(error) : flush(text, FLUSH_BYTES, error);
    }
    rt_text_release(&cell);
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

enum rt_status rt_doubts_to_csv(struct rt_store *store, struct rt_text *text, struct rt_error *error)
{
    struct rt_query *query = NULL;
    enum rt_status status = rt_query_open(store, "sql/queries/doubts.sql", &query, error);
    rt_bind_integer(query, ":all", 0);
    if (status == RT_OK)
        status = add_csv(query, false, text, error);
    rt_query_close(query);
    return status;
}

static enum rt_status print_doubts(struct rt_store *store, bool csv, bool all, struct rt_error *error)
{
    struct rt_query *query = NULL;
    struct rt_text text = {0};
    enum rt_status status = rt_query_open(store, "sql/queries/doubts.sql", &query, error);
    rt_bind_integer(query, ":all", all);
    if (status == RT_OK)
        status = csv ? add_csv(query, true, &text, error) : print_table(query, &text, error);
    if (status == RT_OK)
        status = flush(&text, 0, error);
    rt_query_close(query);
    rt_text_release(&text);
    return status;
}

enum rt_status rt_doubts_verb(int argc, char **argv, struct rt_error *error)
{
    const char *path = NULL;
    const char *as = "table";
    bool all = false;
    struct rt_store *store = NULL;
    const struct rt_option options[] = {
        {"--store", RT_OPTION_TEXT, &path}, {"--as", RT_OPTION_TEXT, &as}, {"--all", RT_OPTION_FLAG, &all}};
    enum rt_status status =
        rt_parse_options(argc, argv, options, sizeof options / sizeof options[0], 0, 0, NULL, error);
    bool csv = strcmp(as, "csv") == 0;
    if (status == RT_OK && !csv && strcmp(as, "table") != 0) {
        status = rt_fail(error, RT_USE, "--as is table or csv, not '%s'", as);
        rt_error_remedy(error, "see `ridgetally doubts --help`");
    }
    if (status == RT_OK)
        status = rt_open_chosen_store(path, RT_STORE_READ, &store, error);
    if (status == RT_OK)
        status = print_doubts(store, csv, all, error);
    rt_store_close(store);
    return status;
}
