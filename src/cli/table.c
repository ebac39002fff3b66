#include "ridgetally/cli/table.h"

#include "ridgetally/base/memory.h"

#include <csv.h>
#include <errno.h>
#include <string.h>
#include <sys/stat.h>

enum { CHUNK_BYTES = 1 << 16, SHOWN_NAMES = 12 };

struct reader {
    struct rt_table *table;
    struct rt_error *error;
    enum rt_status status;
    size_t cells_in_row;
    long line;     /* the line being read, 1-based */
    long row_line; /* the line on which the current row began */
    int last_end;  /* what ended the last row: CR, LF or -1 */
    bool have_header;
};

static void refuse(struct reader *reader, long line, const char *what, const char *remedy)
{
    if (reader->status != RT_OK)
        return;
    reader->status = rt_fail(reader->error, RT_INPUT, "%s", what);
    rt_error_locate(reader->error, reader->table->file, line, NULL);
    rt_error_remedy(reader->error, "%s", remedy);
}

static void take_cell(void *bytes, size_t length, void *data)
{
    struct reader *reader = data;
    struct rt_table *table = reader->table;
    if (reader->status != RT_OK)
        return;
    if (length > 0 && memchr(bytes, '\0', length) != NULL) {
        refuse(reader, reader->line, "holds a NUL byte: not a CSV file",
               "export the table as CSV (UTF-8) and read that");
        return;
    }
    if (table->bytes.length + length + 1 > UINT32_MAX) {
        refuse(reader, reader->line, "more than 4 GB of text", "split the file");
        return;
    }
    uint32_t *cells =
        rt_grow_array(table->cells, &table->cell_capacity, table->cell_count + 1, sizeof *cells);
    if (cells == NULL) {
        reader->status = rt_fail_memory(reader->error);
        return;
    }
    if (reader->cells_in_row == 0)
        reader->row_line = reader->line;
    table->cells = cells;
    cells[table->cell_count++] = (uint32_t)table->bytes.length;
    reader->cells_in_row++;
    for (const char *at = bytes; at < (const char *)bytes + length; at++)
        reader->line += *at == '\n'; /* line ends inside quotes */
    if (length > 0)
        rt_text_add_bytes(&table->bytes, bytes, length);
    rt_text_add_bytes(&table->bytes, "", 1);
    if (table->bytes.failed)
        reader->status = rt_fail_memory(reader->error);
}

static void close_row(struct reader *reader)
{
    struct rt_table *table = reader->table;
    if (!reader->have_header) {
        reader->have_header = true;
        table->column_count = reader->cells_in_row;
        table->header_line = reader->row_line;
        return;
    }
    if (reader->cells_in_row != table->column_count) {
        struct rt_text what = {0};
        rt_text_format(&what, "%zu cells where the header has %zu", reader->cells_in_row,
                       table->column_count);
        refuse(reader, reader->row_line, what.failed ? "wrong number of cells" : what.bytes,
               "give every row one cell per column, and put quotes round a cell that holds a comma");
        rt_text_release(&what);
        return;
    }
    uint32_t *lines = rt_grow_array(table->lines, &table->line_capacity, table->row_count + 1, sizeof *lines);
    if (lines == NULL) {
        reader->status = rt_fail_memory(reader->error);
        return;
    }
    table->lines = lines;
    lines[table->row_count++] = (uint32_t)reader->row_line;
}

/* Called at every line end outside quotes, blank lines included (CSV_REPALL_NL), and at the end with -1. */
static void take_row(int end, void *data)
{
    struct reader *reader = data;
    if (reader->status != RT_OK)
        return;
    bool second_half = reader->cells_in_row == 0 && end == '\n' && reader->last_end == '\r';
    if (reader->cells_in_row > 0)
        close_row(reader);
    reader->cells_in_row = 0;
    reader->last_end = second_half ? 0 : end;
    reader->line += second_half ? 0 : 1;
}

static enum rt_status fail_reading(struct rt_table *table, enum rt_status status, int reason,
                                   struct rt_error *error)
{
    rt_fail(error, status, "cannot read: %s", strerror(reason));
    rt_error_locate(error, table->file, 0, NULL);
    rt_error_remedy(error, "check the name and its permissions");
    return status;
}

static enum rt_status parse_stream(struct reader *reader, struct csv_parser *parser, FILE *stream)
{
    static const char mark[] = "\xef\xbb\xbf";
    char chunk[CHUNK_BYTES];
    bool first = true;
    size_t got = 0;
    while (reader->status == RT_OK && (got = fread(chunk, 1, sizeof chunk, stream)) > 0) {
        size_t skip = first && got >= 3 && memcmp(chunk, mark, 3) == 0 ? 3 : 0;
        first = false;
        if (csv_parse(parser, chunk + skip, got - skip, take_cell, take_row, reader) == got - skip)
            continue;
        if (csv_error(parser) == CSV_ENOMEM)
            return rt_fail_memory(reader->error);
        refuse(reader, reader->line,
               "a quote stands inside a cell that is not quoted, or text follows a closing quote",
               "double the quotes inside a quoted cell");
    }
    if (ferror(stream))
        return fail_reading(reader->table, RT_SYSTEM, errno, reader->error);
    if (reader->status == RT_OK && csv_fini(parser, take_cell, take_row, reader) != 0)
        refuse(reader, reader->line, "a quoted cell is never closed", "add the missing quote");
    return reader->status;
}

struct named {
    const char *name;
    size_t column;
};

static int by_name(const void *a, const void *b)
{
    const struct named *x = a;
    const struct named *y = b;
    int order = strcmp(x->name, y->name);
    return order != 0 ? order : (x->column > y->column) - (x->column < y->column);
}

/* No name may stand twice. A column without a name (spreadsheets leave them at the end) cannot be asked for, and does
 * no harm. */
static enum rt_status check_names(struct rt_table *table, struct rt_error *error)
{
    struct named *names = rt_new_array(table->column_count, sizeof *names);
    if (names == NULL)
        return rt_fail_memory(error);
    for (size_t column = 0; column < table->column_count; column++)
        names[column] = (struct named){rt_table_name(table, column), column};
    qsort(names, table->column_count, sizeof *names, by_name);
    enum rt_status status = RT_OK;
    for (size_t i = 1; status == RT_OK && i < table->column_count; i++) {
        if (names[i].name[0] == '\0' || strcmp(names[i].name, names[i - 1].name) != 0)
            continue;
        status = rt_fail(error, RT_INPUT, "the column name '%.60s' stands in columns %zu and %zu",
                         names[i].name, names[i - 1].column + 1, names[i].column + 1);
        rt_error_locate(error, table->file, table->header_line, NULL);
        rt_error_remedy(error, "rename one of them");
    }
    free(names);
    return status;
}

static enum rt_status read_stream(struct rt_table *table, FILE *stream, struct rt_error *error)
{
    struct csv_parser parser;
    if (csv_init(&parser, CSV_STRICT | CSV_STRICT_FINI | CSV_REPALL_NL) != 0)
        return rt_fail_memory(error);
    struct reader reader = {.table = table, .error = error, .line = 1, .row_line = 1};
    enum rt_status status = parse_stream(&reader, &parser, stream);
    csv_free(&parser);
    if (status == RT_OK && !reader.have_header) {
        status = rt_fail(error, RT_INPUT, "the file is empty");
        rt_error_locate(error, table->file, 0, NULL);
        rt_error_remedy(error, "the first row must name the columns");
    }
    return status;
}

enum rt_status rt_read_table(struct rt_table *table, const char *path, struct rt_error *error)
{
    *table = (struct rt_table){.file = rt_copy_text(path)};
    if (table->file == NULL)
        return rt_fail_memory(error);
    struct rt_error local = {0};
    error = error == NULL ? &local : error;
    struct stat information;
    bool piped = strcmp(path, "-") == 0;
    FILE *stream = piped ? stdin : fopen(path, "rbe");
    enum rt_status status = RT_OK;
    if (stream == NULL)
        status = fail_reading(table, RT_INPUT, errno, error);
    else if (fstat(fileno(stream), &information) == 0 && S_ISDIR(information.st_mode))
        status = fail_reading(table, RT_INPUT, EISDIR, error);
    else
        status = read_stream(table, stream, error);
    if (stream != NULL && !piped)
        fclose(stream);
    return status == RT_OK ? check_names(table, error) : status;
}

const char *rt_table_name(const struct rt_table *table, size_t column)
{
    return table->bytes.bytes + table->cells[column];
}

const char *rt_table_cell(const struct rt_table *table, size_t row, size_t column)
{
    return table->bytes.bytes + table->cells[(row + 1) * table->column_count + column];
}

long rt_table_line(const struct rt_table *table, size_t row)
{
    return (long)table->lines[row];
}

enum rt_status rt_find_column(const struct rt_table *table, const char *name, size_t *column,
                              struct rt_error *error)
{
    for (*column = 0; *column < table->column_count; (*column)++)
        if (name[0] != '\0' && strcmp(rt_table_name(table, *column), name) == 0)
            return RT_OK;
    struct rt_text names = {0};
    size_t shown = 0;
    for (size_t i = 0; i < table->column_count && shown < SHOWN_NAMES; i++)
        if (rt_table_name(table, i)[0] != '\0')
            rt_text_format(&names, "%s%.40s", shown++ == 0 ? "" : ", ", rt_table_name(table, i));
    if (shown == SHOWN_NAMES)
        rt_text_add(&names, ", ...");
    rt_fail(error, RT_INPUT, "there is no column '%.60s'", name);
    rt_error_locate(error, table->file, table->header_line, NULL);
    rt_error_remedy(error, "the columns are %s", names.failed || shown == 0 ? "without names" : names.bytes);
    rt_text_release(&names);
    return RT_INPUT;
}

void rt_release_table(struct rt_table *table)
{
    free(table->file);
    free(table->cells);
    free(table->lines);
    rt_text_release(&table->bytes);
    *table = (struct rt_table){0};
}
