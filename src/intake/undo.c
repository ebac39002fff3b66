#include "loader.h"

#include "ridgetally/store/clock.h"

#include <string.h>

/* The name of a column that history may restore, as text of this program; NULL when it is none of them. Column names
 * in the store are data: they never become SQL. */
static const char *known_column(const char *table, const char *column)
{
    static const char *const others[] = {"source_batch_id", "source_line",   "mended_batch_id",
                                         "state",           "gone_batch_id", "reason"};
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++)
        if (strcmp(others[i], column) == 0)
            return others[i];
    for (size_t k = 0; k < RT_RECORD_KINDS; k++) {
        const struct rt_form *form = rt_form((enum rt_record_kind)k);
        for (size_t i = 0; strcmp(form->table, table) == 0 && i < form->count; i++) {
            const struct rt_field *field = &form->fields[i];
            if (field->column != NULL && strcmp(field->column, column) == 0)
                return field->column;
            if (field->second_column != NULL && strcmp(field->second_column, column) == 0)
                return field->second_column;
        }
    }
    return NULL;
}

/* The columns of a table that the batch changed, as names of this program. */
static enum rt_status list_changed(struct rt_store *store, int64_t batch, const char *table,
                                   const char *columns[RT_MOST_COLUMNS], size_t *count,
                                   struct rt_error *error)
{
    struct rt_query *query = NULL;
    enum rt_status status =
        rt_query_open_text(store,
                           "SELECT DISTINCT column_name FROM history WHERE batch_id = :batch AND "
                           "table_name = :table ORDER BY column_name",
                           &query, error);
    rt_bind_integer(query, ":batch", batch);
    rt_bind_text(query, ":table", table);
    bool row = status == RT_OK;
    while (status == RT_OK && row) {
        status = rt_query_next(query, &row, error);
        const char *column = status == RT_OK && row ? known_column(table, rt_column_text(query, 0)) : NULL;
        if (column != NULL && *count < RT_MOST_COLUMNS)
            columns[(*count)++] = column;
        else if (status == RT_OK && row)
            status = rt_fail(error, RT_STORE, "the history of this batch names a column that does not exist");
    }
    rt_query_close(query);
    return status;
}

/* One statement for all columns, because constraints hold between them: each row gets the oldest old value that the
 * batch kept of each column, and keeps the others. */
static void add_restore(const char *table, const char *const *columns, size_t count, struct rt_text *sql)
{
    rt_text_format(sql, "UPDATE %s SET ", table);
    for (size_t i = 0; i < count; i++)
        rt_text_format(sql, "%s%s = CASE WHEN h.has_%s THEN h.%s ELSE %s.%s END", i > 0 ? ", " : "",
                       columns[i], columns[i], columns[i], table, columns[i]);
    rt_text_add(sql, " FROM (SELECT row_id");
    for (size_t i = 0; i < count; i++)
        rt_text_format(
            sql,
            ", max(column_name = '%s') AS has_%s, max(CASE WHEN column_name = '%s' THEN old_value END) AS %s",
            columns[i], columns[i], columns[i], columns[i]);
    rt_text_format(sql,
                   " FROM history WHERE id IN (SELECT min(id) FROM history WHERE batch_id = :batch AND "
                   "table_name = :table "
                   "GROUP BY row_id, column_name) GROUP BY row_id) h WHERE h.row_id = %s.id",
                   table);
}

static enum rt_status restore_table(struct rt_store *store, int64_t batch, const char *table,
                                    struct rt_error *error)
{
    const char *columns[RT_MOST_COLUMNS];
    size_t count = 0;
    struct rt_text sql = {0};
    struct rt_query *query = NULL;
    enum rt_status status = list_changed(store, batch, table, columns, &count, error);
    if (status != RT_OK || count == 0)
        return status;
    add_restore(table, columns, count, &sql);
    status = rt_text_status(&sql, error);
    if (status == RT_OK)
        status = rt_query_open_text(store, sql.bytes, &query, error);
    rt_bind_integer(query, ":batch", batch);
    rt_bind_text(query, ":table", table);
    if (status == RT_OK)
        status = rt_query_run(query, error);
    rt_query_close(query);
    rt_text_release(&sql);
    return status;
}

static enum rt_status restore_all(struct rt_store *store, int64_t batch, struct rt_error *error)
{
    static const char *const tables[] = {"implant", "reading", "event", "doubt", "refused_row"};
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < sizeof tables / sizeof tables[0]; i++)
        status = restore_table(store, batch, tables[i], error);
    return status;
}

static enum rt_status run_for_batch(struct rt_store *store, const char *sql, int64_t batch,
                                    struct rt_error *error)
{
    struct rt_query *query = NULL;
    enum rt_status status = rt_query_open_text(store, sql, &query, error);
    rt_bind_integer(query, ":batch", batch);
    if (status == RT_OK)
        status = rt_query_run(query, error);
    rt_query_close(query);
    return status;
}

static enum rt_status remove_rows(struct rt_store *store, int64_t batch, struct rt_error *error)
{
    static const char *const steps[] = {
        "DELETE FROM doubt_answer WHERE doubt_id IN (SELECT id FROM doubt WHERE batch_id = :batch)",
        "DELETE FROM seen_rows WHERE batch_id = :batch",
        "DELETE FROM doubt WHERE batch_id = :batch",
        "DELETE FROM refused_row WHERE batch_id = :batch",
        "DELETE FROM event WHERE batch_id = :batch",
        "DELETE FROM reading WHERE batch_id = :batch",
        "DELETE FROM implant WHERE batch_id = :batch",
        "DELETE FROM patient WHERE batch_id = :batch",
    };
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < sizeof steps / sizeof steps[0]; i++)
        status = run_for_batch(store, steps[i], batch, error);
    return status;
}

static enum rt_status check_latest(struct rt_store *store, int64_t batch, struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status = rt_query_open_text(store,
                                               "SELECT (SELECT max(id) FROM batch WHERE undone_at IS NULL), "
                                               "(SELECT undone_at IS NOT NULL FROM batch WHERE id = :batch)",
                                               &query, error);
    rt_bind_integer(query, ":batch", batch);
    if (status == RT_OK)
        status = rt_query_next(query, &row, error);
    int64_t latest = status == RT_OK && row ? rt_column_integer(query, 0, 0) : 0;
    int64_t undone = status == RT_OK && row ? rt_column_integer(query, 1, -1) : -1;
    rt_query_close(query);
    if (status != RT_OK || (undone == 0 && latest == batch))
        return status;
    if (undone < 0) {
        rt_fail(error, RT_USE, "there is no batch %lld", (long long)batch);
        rt_error_remedy(error, "`ridgetally load` prints the number of each batch");
    } else if (undone > 0) {
        rt_fail(error, RT_USE, "batch %lld is undone already", (long long)batch);
        rt_error_remedy(error, "there is nothing to do");
    } else {
        rt_fail(error, RT_USE, "batch %lld is not the latest: later batches may build on it",
                (long long)batch);
        rt_error_remedy(error, "undo batch %lld first", (long long)latest);
    }
    return RT_USE;
}

/* Answers are the practice's words: they are never taken away with the doubt they were given to. */
static enum rt_status check_answers(struct rt_store *store, int64_t batch, struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status = rt_query_open(store, "sql/intake/answers-after-batch.sql", &query, error);
    rt_bind_integer(query, ":batch", batch);
    if (status == RT_OK)
        status = rt_query_next(query, &row, error);
    int64_t answered = status == RT_OK && row ? rt_column_integer(query, 0, 0) : 0;
    rt_query_close(query);
    if (status != RT_OK || answered == 0)
        return status;
    rt_fail(error, RT_USE, "batch %lld raised or mended %lld doubts that were answered since",
            (long long)batch, (long long)answered);
    rt_error_remedy(error, "leave the batch in, or first take those answers back: `waiting` as answer, "
                           "`ridgetally doubts --answers FILE`");
    return RT_USE;
}

static enum rt_status mark_undone(struct rt_store *store, int64_t batch, struct rt_error *error)
{
    char now[RT_CLOCK_BYTES];
    struct rt_query *query = NULL;
    enum rt_status status =
        rt_query_open_text(store, "UPDATE batch SET undone_at = :now WHERE id = :batch", &query, error);
    rt_bind_text(query, ":now", rt_clock(now));
    rt_bind_integer(query, ":batch", batch);
    if (status == RT_OK)
        status = rt_query_run(query, error);
    rt_query_close(query);
    return status;
}

enum rt_status rt_undo_batch(struct rt_store *store, int64_t batch, struct rt_error *error)
{
    enum rt_status status = rt_transaction_begin(store, error);
    if (status != RT_OK)
        return status;
    status = check_latest(store, batch, error);
    if (status == RT_OK)
        status = check_answers(store, batch, error);
    if (status == RT_OK)
        status = restore_all(store, batch, error);
    if (status == RT_OK)
        status = recalibrate(store, batch, error); /* reads the history, so before it goes */
    if (status == RT_OK)
        status = remove_rows(store, batch, error);
    if (status == RT_OK)
        status = run_for_batch(store, "DELETE FROM history WHERE batch_id = :batch", batch, error);
    if (status == RT_OK)
        status = mark_undone(store, batch, error);
    if (status == RT_OK)
        return rt_transaction_commit(store, error);
    rt_transaction_rollback(store);
    return status;
}
