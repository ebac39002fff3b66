#include "ridgetally/intake/forget.h"

#include "loader.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

static const char struck[] = "(forgotten)";

/* --- the label in what people wrote ----------------------------------------------------------------------- */

static bool is_word(char c)
{
    return isalnum((unsigned char)c) || (unsigned char)c >= 0x80;
}

static bool stands_alone(const char *text, const char *at, size_t length)
{
    bool before = at > text && is_word(at[-1]) && is_word(at[0]);
    return !before && !(is_word(at[length - 1]) && is_word(at[length]));
}

void rt_strike_label(const char *text, const char *label, bool comments_only, struct rt_text *out,
                     bool *found)
{
    size_t length = strlen(label);
    bool comment = false;
    *found = false;
    for (const char *at = text; *at != '\0';) {
        comment = *at != '\n' && (comment || *at == '#');
        if (length > 0 && (comment || !comments_only) && strncmp(at, label, length) == 0 &&
            stands_alone(text, at, length)) {
            rt_text_add(out, struck);
            at += length;
            *found = true;
        } else {
            rt_text_add_character(out, *at++);
        }
    }
}

/* A column of text that people wrote, with the statements that read and change it. */
struct writing {
    const char *select, *update;
    bool map;
};

static enum rt_status strike_cell(struct rt_query *update, int64_t id, const char *text, const char *label,
                                  bool map, struct rt_error *error)
{
    struct rt_text out = {0};
    bool found = false;
    enum rt_status status = RT_OK;
    if (map)
        status = strike_map(text, label, &out, &found, error);
    else
        rt_strike_label(text, label, false, &out, &found);
    if (status == RT_OK)
        status = rt_text_status(&out, error);
    if (status == RT_OK && found) {
        rt_bind_text(update, ":text", out.bytes);
        rt_bind_integer(update, ":id", id);
        status = rt_query_run(update, error);
    }
    rt_text_release(&out);
    return status;
}

static enum rt_status strike_writing(struct rt_store *store, const struct writing *writing, const char *label,
                                     struct rt_error *error)
{
    struct rt_query *select = NULL;
    struct rt_query *update = NULL;
    enum rt_status status = rt_query_open_text(store, writing->select, &select, error);
    if (status == RT_OK)
        status = rt_query_open_text(store, writing->update, &update, error);
    rt_bind_text(select, ":label", label);
    bool row = status == RT_OK;
    while (status == RT_OK && row) {
        status = rt_query_next(select, &row, error);
        if (status == RT_OK && row)
            status = strike_cell(update, rt_column_integer(select, 0, 0), rt_column_text(select, 1), label,
                                 writing->map, error);
    }
    rt_query_close(select);
    rt_query_close(update);
    return status;
}

static enum rt_status strike_all(struct rt_store *store, const char *label, struct rt_error *error)
{
    static const struct writing writings[] = {
        {"SELECT id, file_name FROM batch WHERE instr(file_name, :label) > 0",
         "UPDATE batch SET file_name = :text WHERE id = :id", false},
        {"SELECT id, map_text FROM batch WHERE instr(map_text, :label) > 0",
         "UPDATE batch SET map_text = :text WHERE id = :id", true},
        {"SELECT id, decision FROM audit_note WHERE instr(decision, :label) > 0",
         "UPDATE audit_note SET decision = :text WHERE id = :id", false},
        {"SELECT id, answer FROM audit_note WHERE instr(answer, :label) > 0",
         "UPDATE audit_note SET answer = :text WHERE id = :id", false},
        {"SELECT id, reply FROM doubt_answer WHERE instr(reply, :label) > 0",
         "UPDATE doubt_answer SET reply = :text WHERE id = :id", false},
    };
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < sizeof writings / sizeof writings[0]; i++)
        status = strike_writing(store, &writings[i], label, error);
    return status;
}

/* --- the rows ----------------------------------------------------------------------------------------------- */

static enum rt_status run_with_label(struct rt_store *store, const char *sql, const char *name,
                                     const char *value, struct rt_error *error)
{
    struct rt_query *query = NULL;
    enum rt_status status = rt_query_open_text(store, sql, &query, error);
    rt_bind_text(query, name, value);
    if (status == RT_OK)
        status = rt_query_run(query, error);
    rt_query_close(query);
    return status;
}

/* The patient, and the refused rows that hold only a hash of the label. */
static enum rt_status gather_first(struct rt_store *store, const char *label, struct rt_error *error)
{
    char *salt = NULL;
    char hash[RT_SHA256_HEX] = "";
    enum rt_status status = rt_run_script(store,
                                          "CREATE TEMP TABLE forgotten (table_name TEXT, row_id INTEGER, "
                                          "PRIMARY KEY (table_name, row_id)) WITHOUT ROWID",
                                          error);
    if (status == RT_OK)
        status = run_with_label(
            store, "INSERT INTO temp.forgotten SELECT 'patient', id FROM patient WHERE label = :label",
            ":label", label, error);
    if (status == RT_OK)
        status = rt_setting(store, "hash_salt", &salt, error);
    if (status == RT_OK) {
        hash_patient(salt, label, hash);
        status = run_with_label(store,
                                "INSERT INTO temp.forgotten SELECT 'refused_row', id FROM refused_row WHERE "
                                "patient_hash = :hash",
                                ":hash", hash, error);
    }
    free(salt);
    return status;
}

/* Writes the script that gathers every row that names a gathered row by a foreign key, also of a table made later. */
static const char collect_sql[] =
    "SELECT group_concat(printf('INSERT OR IGNORE INTO temp.forgotten SELECT ''%w'', id FROM \"%w\" WHERE "
    "\"%w\" IN (SELECT row_id FROM temp.forgotten WHERE table_name = ''%w'')', "
    "t.name, t.name, f.\"from\", f.\"table\"), ';') "
    "FROM sqlite_schema t, pragma_foreign_key_list(t.name) f WHERE t.type = 'table' "
    "AND f.\"table\" IN ('patient', 'implant', 'reading', 'event', 'doubt', 'refused_row')";

/* Doubts whose subject is a gathered row, and what history kept of gathered rows. */
static const char subjects_sql[] =
    "INSERT OR IGNORE INTO temp.forgotten SELECT 'doubt', d.id FROM doubt d JOIN temp.forgotten f ON "
    "d.subject = "
    "CASE f.table_name WHEN 'refused_row' THEN 'refused' ELSE f.table_name END || ':' || f.row_id;"
    "INSERT OR IGNORE INTO temp.forgotten SELECT 'history', h.id FROM history h "
    "JOIN temp.forgotten f ON f.table_name = h.table_name AND f.row_id = h.row_id";

/* Writes the script that deletes the gathered rows of every table. */
static const char delete_sql[] =
    "SELECT group_concat(printf('DELETE FROM \"%w\" WHERE id IN (SELECT row_id FROM temp.forgotten WHERE "
    "table_name = ''%w'')', table_name, table_name), ';') FROM (SELECT DISTINCT table_name FROM "
    "temp.forgotten)";

/* What the batches keep of the rows they held and refused: the ids may be given to other rows later. A batch that held nothing
 * else keeps a run of no row, because one without any run is taken for older than the keeping of runs. */
static const char traces_sql[] =
    "CREATE TEMP TABLE cut AS SELECT s.batch_id, s.first_id, s.last_id, f.row_id FROM seen_rows s "
    "JOIN batch b ON b.id = s.batch_id JOIN temp.forgotten f ON f.row_id BETWEEN s.first_id AND s.last_id "
    "AND f.table_name = CASE b.kind WHEN 'implants' THEN 'implant' WHEN 'followups' THEN 'reading' ELSE "
    "'event' END;"
    "DELETE FROM seen_rows WHERE (batch_id, first_id) IN (SELECT batch_id, first_id FROM temp.cut);"
    "INSERT INTO seen_rows SELECT batch_id, begins, ends FROM ("
    "SELECT batch_id, lag(row_id, 1, first_id - 1) OVER (PARTITION BY batch_id, first_id ORDER BY row_id) + "
    "1 AS begins, row_id - 1 AS ends FROM temp.cut "
    "UNION ALL SELECT batch_id, max(row_id) + 1, max(last_id) FROM temp.cut GROUP BY batch_id, first_id) "
    "WHERE begins <= ends;"
    "INSERT INTO seen_rows SELECT DISTINCT batch_id, -1, -1 FROM temp.cut WHERE batch_id NOT IN (SELECT "
    "batch_id FROM seen_rows);"
    "DROP TABLE temp.cut;"
    "CREATE TEMP TABLE cut AS SELECT batch_id, count(*) AS n FROM ("
    "SELECT r.batch_id FROM refused_row r JOIN temp.forgotten f ON f.table_name = 'refused_row' AND "
    "f.row_id = r.id UNION ALL SELECT h.batch_id FROM history h JOIN temp.forgotten f ON f.table_name = "
    "'history' AND f.row_id = h.id WHERE h.table_name = 'refused_row' AND h.new_value IS NULL) GROUP BY "
    "batch_id;"
    "UPDATE batch SET rows_read = rows_read - cut.n, rows_refused = rows_refused - cut.n FROM temp.cut "
    "WHERE cut.batch_id = batch.id;"
    "DROP TABLE temp.cut";

/* Run the script that a query writes. */
static enum rt_status run_written(struct rt_store *store, const char *sql, struct rt_error *error)
{
    struct rt_query *query = NULL;
    struct rt_text script = {0};
    bool row = false;
    enum rt_status status = rt_query_open_text(store, sql, &query, error);
    if (status == RT_OK)
        status = rt_query_next(query, &row, error);
    if (status == RT_OK && row)
        rt_text_add(&script, rt_column_text(query, 0));
    rt_query_close(query);
    if (status == RT_OK)
        status = rt_text_status(&script, error);
    if (status == RT_OK && script.length > 0)
        status = rt_run_script(store, script.bytes, error);
    rt_text_release(&script);
    return status;
}

static enum rt_status count_gathered(struct rt_store *store, struct rt_forget_report *report, long *all,
                                     struct rt_error *error)
{
    static const char *const tables[] = {"implant", "reading", "event", "doubt", "refused_row", "history"};
    long *counts[] = {&report->implants, &report->readings, &report->events,
                      &report->doubts,   &report->refused,  &report->changes};
    struct rt_query *query = NULL;
    enum rt_status status = rt_query_open_text(
        store, "SELECT table_name, count(*) FROM temp.forgotten GROUP BY table_name", &query, error);
    *all = 0;
    bool row = status == RT_OK;
    while (status == RT_OK && row) {
        status = rt_query_next(query, &row, error);
        if (status != RT_OK || !row)
            break;
        long count = (long)rt_column_integer(query, 1, 0);
        *all += count;
        for (size_t i = 0; i < sizeof tables / sizeof tables[0]; i++)
            if (strcmp(rt_column_text(query, 0), tables[i]) == 0)
                *counts[i] = count;
    }
    rt_query_close(query);
    return status;
}

/* Gather until nothing more is found: a row of a new table that names one of these is found as well. */
static enum rt_status gather(struct rt_store *store, const char *label, struct rt_forget_report *report,
                             long *all, struct rt_error *error)
{
    long before = -1;
    enum rt_status status = gather_first(store, label, error);
    if (status == RT_OK)
        status = count_gathered(store, report, all, error);
    while (status == RT_OK && *all > 0 && *all != before) {
        before = *all;
        status = run_written(store, collect_sql, error);
        if (status == RT_OK)
            status = rt_run_script(store, subjects_sql, error);
        if (status == RT_OK)
            status = count_gathered(store, report, all, error);
    }
    return status;
}

/* Doubts between this patient and others may be gone now. What the checks turn here is no batch's doing: no undo may turn it
 * back, so it leaves no history. */
static enum rt_status mend_doubts(struct rt_store *store, struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    long raised = 0;
    long mended = 0;
    enum rt_status status = rt_query_open_text(
        store, "SELECT max(id), (SELECT max(id) FROM history) FROM batch WHERE undone_at IS NULL", &query,
        error);
    if (status == RT_OK)
        status = rt_query_next(query, &row, error);
    int64_t batch = status == RT_OK && row ? rt_column_integer(query, 0, 0) : 0;
    int64_t last = status == RT_OK && row ? rt_column_integer(query, 1, 0) : 0;
    rt_query_close(query);
    if (status != RT_OK || batch == 0)
        return status;
    status = refresh_doubts(store, batch, RT_TOUCHED_ALL, &raised, &mended, error);
    if (status == RT_OK)
        status = rt_query_open_text(store, "DELETE FROM history WHERE id > :last", &query, error);
    if (status != RT_OK)
        return status;
    rt_bind_integer(query, ":last", last);
    status = rt_query_run(query, error);
    rt_query_close(query);
    return status;
}

static enum rt_status erase(struct rt_store *store, const char *label, struct rt_forget_report *report,
                            struct rt_error *error)
{
    long all = 0;
    enum rt_status status = rt_run_script(store, "PRAGMA defer_foreign_keys = ON", error);
    if (status == RT_OK)
        status = gather(store, label, report, &all, error);
    if (status == RT_OK && all > 0)
        status = rt_run_script(store, traces_sql, error);
    if (status == RT_OK && all > 0)
        status = run_written(store, delete_sql, error);
    if (status == RT_OK && all > 0)
        status = strike_all(store, label, error);
    if (status == RT_OK && all > 0)
        status = mend_doubts(store, error);
    if (status == RT_OK)
        status = rt_run_script(store, "DROP TABLE temp.forgotten", error);
    if (status == RT_OK && all == 0) {
        status = rt_fail(error, RT_USE, "nothing in the store is of a patient with this label");
        rt_error_remedy(error, "type the label as it stands in the records");
    }
    return status;
}

enum rt_status rt_forget_patient(struct rt_store *store, const char *label, struct rt_forget_report *report,
                                 struct rt_error *error)
{
    *report = (struct rt_forget_report){.implants = 0};
    enum rt_status status = rt_transaction_begin(store, error);
    if (status != RT_OK)
        return status;
    status = erase(store, label, report, error);
    if (status == RT_OK)
        status = rt_transaction_commit(store, error);
    else
        rt_transaction_rollback(store);
    if (status != RT_OK && status != RT_USE)
        return status;
    struct rt_error unwritten = {.status = RT_OK};
    enum rt_status rewritten = rt_run_script(store, "VACUUM", &unwritten);
    if (rewritten == RT_OK)
        return status;
    rt_error_clear(error);
    rt_fail(error, rewritten, "the records are erased, but the file could not be rewritten: %s",
            unwritten.message);
    rt_error_locate(error, rt_store_path(store), 0, NULL);
    rt_error_remedy(error, "traces of them may be left in it: free some space and run forget again");
    return rewritten;
}
