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

static enum rt_status restore_all(struct rt_store *store, int64_t batch, bool latest, struct rt_error *error)
{
    static const char *const tables[] = {"implant", "reading", "event", "refused_row", "doubt"};
    size_t count =
        sizeof tables / sizeof tables[0] - (latest ? 0 : 1); /* else the checks settle the doubts */
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < count; i++)
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

static enum rt_status run_steps(struct rt_store *store, const char *const *steps, size_t count, int64_t batch,
                                struct rt_error *error)
{
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < count; i++)
        status = run_for_batch(store, steps[i], batch, error);
    return status;
}

/* Doubts about rows the batch brought go with them, because the ids of these rows may be used again. */
static const char leaving_sql[] =
    "INSERT OR IGNORE INTO temp.leaving SELECT id FROM doubt WHERE subject IN ("
    "SELECT 'patient:' || id FROM patient WHERE batch_id = :batch "
    "UNION ALL SELECT 'implant:' || id FROM implant WHERE batch_id = :batch "
    "UNION ALL SELECT 'reading:' || id FROM reading WHERE batch_id = :batch "
    "UNION ALL SELECT 'event:' || id FROM event WHERE batch_id = :batch "
    "UNION ALL SELECT 'refused:' || id FROM refused_row WHERE batch_id = :batch) "
    "OR implant_id IN (SELECT id FROM implant WHERE batch_id = :batch) "
    "OR patient_id IN (SELECT id FROM patient WHERE batch_id = :batch)";

static const char leave_sql[] =
    "DELETE FROM doubt_answer WHERE doubt_id IN (SELECT id FROM temp.leaving);"
    "DELETE FROM history WHERE table_name = 'doubt' AND row_id IN (SELECT id FROM temp.leaving);"
    "DELETE FROM doubt WHERE id IN (SELECT id FROM temp.leaving);"
    "DELETE FROM temp.leaving";

/* Of the latest batch all doubts it raised go; of another only those above, the checks settle the rest. */
static enum rt_status remove_doubts(struct rt_store *store, int64_t batch, bool latest,
                                    struct rt_error *error)
{
    enum rt_status status = rt_run_script(
        store, "CREATE TEMP TABLE IF NOT EXISTS leaving (id INTEGER PRIMARY KEY) STRICT", error);
    if (status == RT_OK)
        status = run_for_batch(store, leaving_sql, batch, error);
    if (status == RT_OK && latest)
        status = run_for_batch(
            store, "INSERT OR IGNORE INTO temp.leaving SELECT id FROM doubt WHERE batch_id = :batch", batch,
            error);
    return status == RT_OK ? rt_run_script(store, leave_sql, error) : status;
}

static enum rt_status remove_rows(struct rt_store *store, int64_t batch, struct rt_error *error)
{
    static const char *const steps[] = {
        "DELETE FROM seen_rows WHERE batch_id = :batch", "DELETE FROM refused_row WHERE batch_id = :batch",
        "DELETE FROM event WHERE batch_id = :batch",     "DELETE FROM reading WHERE batch_id = :batch",
        "DELETE FROM implant WHERE batch_id = :batch",   "DELETE FROM patient WHERE batch_id = :batch",
        "DELETE FROM history WHERE batch_id = :batch",
    };
    return run_steps(store, steps, sizeof steps / sizeof steps[0], batch, error);
}

/* The first row of a query about the batch: two numbers, `otherwise` where there is none. */
static enum rt_status read_two(struct rt_store *store, const char *sql, int64_t batch, int64_t otherwise,
                               int64_t numbers[2], struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status = rt_query_open_text(store, sql, &query, error);
    rt_bind_integer(query, ":batch", batch);
    if (status == RT_OK)
        status = rt_query_next(query, &row, error);
    for (int i = 0; i < 2; i++)
        numbers[i] = status == RT_OK && row ? rt_column_integer(query, i, otherwise) : otherwise;
    rt_query_close(query);
    return status;
}

/* Doubts follow from the records, so the checks bring them up to date; what they turn here is no batch's doing and leaves
 * no history. Doubts raised by an undone batch that stand no more go, the others pass to a batch in force. */
static enum rt_status settle_doubts(struct rt_store *store, int64_t batch, struct rt_error *error)
{
    static const char *const steps[] = {
        "INSERT OR IGNORE INTO temp.leaving SELECT id FROM doubt WHERE batch_id = :batch AND state = "
        "'mended'",
        "UPDATE doubt SET batch_id = (SELECT coalesce(min(CASE WHEN id > :batch THEN id END), max(id)) FROM "
        "batch WHERE undone_at IS NULL) WHERE batch_id = :batch AND state <> 'mended'",
        "UPDATE doubt SET mended_batch_id = (SELECT max(id) FROM batch WHERE undone_at IS NULL) WHERE "
        "mended_batch_id IN (SELECT id FROM batch WHERE undone_at IS NOT NULL AND :batch > 0)",
    };
    int64_t now[2]; /* the latest batch in force, the last entry of history */
    long raised = 0;
    long mended = 0;
    enum rt_status status =
        read_two(store,
                 "SELECT max(id), (SELECT max(id) FROM history) FROM batch WHERE undone_at IS "
                 "NULL AND :batch > 0",
                 batch, 0, now, error);
    if (status != RT_OK || now[0] == 0)
        return status;
    status = refresh_doubts(store, now[0], RT_TOUCHED_ALL, &raised, &mended, error);
    if (status == RT_OK)
        status = run_for_batch(store, "DELETE FROM history WHERE id > :batch", now[1], error);
    if (status == RT_OK)
        status = run_steps(store, steps, sizeof steps / sizeof steps[0], batch, error);
    return status == RT_OK ? rt_run_script(store, leave_sql, error) : status;
}

/* --- what stands in the way -------------------------------------------------------------------------------- */

/* The batches that touch its rows, "batch 4 (12), batch 5 (1)". */
static enum rt_status list_later(struct rt_store *store, int64_t batch, struct rt_text *list, int64_t *last,
                                 struct rt_error *error)
{
    struct rt_query *query = NULL;
    enum rt_status status = rt_query_open(store, "sql/intake/later-batches-on-rows.sql", &query, error);
    rt_bind_integer(query, ":batch", batch);
    bool row = status == RT_OK;
    while (status == RT_OK && row) {
        status = rt_query_next(query, &row, error);
        if (status != RT_OK || !row)
            break;
        *last = rt_column_integer(query, 0, 0);
        rt_text_format(list, "%sbatch %lld (%lld)", list->length > 0 ? ", " : "", (long long)*last,
                       (long long)rt_column_integer(query, 1, 0));
    }
    rt_query_close(query);
    return status == RT_OK ? rt_text_status(list, error) : status;
}

static enum rt_status check_later(struct rt_store *store, int64_t batch, struct rt_error *error)
{
    struct rt_text list = {0};
    int64_t last = 0;
    enum rt_status status = list_later(store, batch, &list, &last, error);
    if (status == RT_OK && last > 0) {
        status = rt_fail(error, RT_USE, "later batches touch rows of batch %lld: %s", (long long)batch,
                         list.bytes);
        rt_error_remedy(error, "undo batch %lld first", (long long)last);
    }
    rt_text_release(&list);
    return status;
}

/* Whether it is in force, and whether it is the latest. */
static enum rt_status find_batch(struct rt_store *store, int64_t batch, bool *latest, struct rt_error *error)
{
    int64_t found[2];
    enum rt_status status =
        read_two(store,
                 "SELECT undone_at IS NOT NULL, id = (SELECT max(id) FROM batch WHERE undone_at "
                 "IS NULL) FROM batch WHERE id = :batch",
                 batch, -1, found, error);
    *latest = found[1] == 1;
    if (status == RT_OK && found[0] < 0) {
        status = rt_fail(error, RT_USE, "there is no batch %lld", (long long)batch);
        rt_error_remedy(error, "`ridgetally load` prints the number of each batch");
    } else if (status == RT_OK && found[0] > 0) {
        status = rt_fail(error, RT_USE, "batch %lld is undone already", (long long)batch);
        rt_error_remedy(error, "there is nothing to do");
    }
    return status;
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

/* The audits recorded since it was loaded rest on records that are no more as they were. */
static enum rt_status mark_undone(struct rt_store *store, int64_t batch, struct rt_error *error)
{
    static const char *const marks[] = {"UPDATE batch SET undone_at = :now WHERE id = :batch",
                                        "UPDATE audit SET restated_at = :now WHERE restated_at IS NULL AND "
                                        "recorded_at >= (SELECT loaded_at FROM "
                                        "batch WHERE id = :batch)"};
    char now[RT_CLOCK_BYTES];
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < 2; i++) {
        struct rt_query *query = NULL;
        status = rt_query_open_text(store, marks[i], &query, error);
        rt_bind_text(query, ":now", rt_clock(now));
        rt_bind_integer(query, ":batch", batch);
        if (status == RT_OK)
            status = rt_query_run(query, error);
        rt_query_close(query);
    }
    return status;
}

/* The history restores the doubts as the batch found them; the checks settle what other undone batches and forgotten patients
 * have changed since. */
static enum rt_status take_out(struct rt_store *store, int64_t batch, bool latest, struct rt_error *error)
{
    enum rt_status status = restore_all(store, batch, latest, error);
    if (status == RT_OK)
        status = recalibrate(store, batch, error); /* reads the history, so before it goes */
    if (status == RT_OK)
        status = remove_doubts(store, batch, latest, error);
    if (status == RT_OK)
        status = remove_rows(store, batch, error);
    if (status == RT_OK)
        status = mark_undone(store, batch, error);
    return status == RT_OK ? settle_doubts(store, batch, error) : status;
}

enum rt_status rt_undo_batch(struct rt_store *store, int64_t batch, struct rt_error *error)
{
    bool latest = false;
    enum rt_status status = rt_transaction_begin(store, error);
    if (status != RT_OK)
        return status;
    status = find_batch(store, batch, &latest, error);
    if (status == RT_OK)
        status = check_answers(store, batch, error);
    if (status == RT_OK && !latest)
        status = check_later(store, batch, error);
    if (status == RT_OK)
        status = take_out(store, batch, latest, error);
    if (status == RT_OK)
        return rt_transaction_commit(store, error);
    rt_transaction_rollback(store);
    return status;
}
