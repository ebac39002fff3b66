/* Which rows a file held, and which records are gone from a sheet that is all of them. */
#include "loader.h"

#include <string.h>

/* Rows that a refused row of a whole sheet may stand for: they are not called gone while it waits. */
static const char prepare_sql[] = "CREATE TEMP TABLE IF NOT EXISTS spared (id INTEGER PRIMARY KEY) STRICT;"
                                  "DELETE FROM temp.spared";

static const char *const spare_sql[RT_RECORD_KINDS] = {
    [RT_IMPLANTS] = "INSERT OR IGNORE INTO temp.spared SELECT i.id FROM patient p JOIN implant i ON "
                    "i.patient_id = p.id WHERE p.label = :patient AND i.label = :implant",
    [RT_FOLLOWUPS] = "INSERT OR IGNORE INTO temp.spared SELECT r.id FROM patient p JOIN implant i ON "
                     "i.patient_id = p.id JOIN reading r ON r.implant_id = i.id WHERE p.label = :patient AND "
                     "i.label = :implant",
    [RT_EVENTS] = "INSERT OR IGNORE INTO temp.spared SELECT e.id FROM patient p JOIN event e ON "
                  "e.patient_id = p.id LEFT JOIN implant i ON i.id = e.implant_id WHERE p.label = :patient "
                  "AND coalesce(i.label, '') = :implant",
};

/* What turns for the rows of a table: those a whole sheet lacks, and those gone earlier that any sheet has again. */
#define SEEN(row)                                                                                            \
    "EXISTS (SELECT 1 FROM seen_rows s WHERE s.batch_id = :batch AND s.first_id = (SELECT "                  \
    "max(first_id) FROM seen_rows WHERE batch_id = :batch AND first_id <= " row ".id) AND "                  \
    "s.last_id >= " row ".id)"

static enum rt_status run_step(struct loader *loader, const char *format, long *changed,
                               struct rt_error *error)
{
    struct rt_text sql = {0};
    struct rt_query *query = NULL;
    const char *table = rt_form(loader->kind)->table; /* a name of this program */
    for (const char *at = format; *at != '\0'; at++) {
        if (*at == '@')
            rt_text_add(&sql, table);
        else
            rt_text_add_character(&sql, *at);
    }
    enum rt_status status = rt_text_status(&sql, error);
    if (status == RT_OK)
        status = rt_query_open_text(loader->store, sql.bytes, &query, error);
    rt_bind_integer(query, ":batch", loader->batch);
    if (status == RT_OK)
        status = rt_query_run(query, error);
    if (status == RT_OK && changed != NULL)
        *changed = (long)rt_rows_changed(loader->store);
    rt_query_close(query);
    rt_text_release(&sql);
    return status;
}

enum rt_status open_whole(struct loader *loader, struct rt_error *error)
{
    if (!loader->report->whole)
        return RT_OK;
    enum rt_status status = rt_run_script(loader->store, prepare_sql, error);
    return status == RT_OK ? rt_query_open_text(loader->store, spare_sql[loader->kind], &loader->spare, error)
                           : status;
}

enum rt_status spare_refused(struct loader *loader, const struct record *record, struct rt_error *error)
{
    if (loader->spare == NULL)
        return RT_OK;
    rt_bind_text(loader->spare, ":patient", record->patient);
    rt_bind_text(loader->spare, ":implant", record->implant);
    return rt_query_run(loader->spare, error);
}

static enum rt_status keep_runs(struct loader *loader, struct rt_error *error)
{
    const struct id_set *seen = &loader->writers[loader->kind].seen;
    struct rt_query *query = NULL;
    int64_t end = (int64_t)seen->capacity * 8;
    enum rt_status status = rt_query_open_text(
        loader->store, "INSERT INTO seen_rows VALUES (:batch, :first, :last)", &query, error);
    rt_bind_integer(query, ":batch", loader->batch);
    for (int64_t id = 0; status == RT_OK && id < end; id++) {
        if (!id_set_has(seen, id))
            continue;
        rt_bind_integer(query, ":first", id);
        while (id + 1 < end && id_set_has(seen, id + 1))
            id++;
        rt_bind_integer(query, ":last", id);
        status = rt_query_run(query, error);
    }
    rt_query_close(query);
    return status;
}

enum rt_status settle_gone(struct loader *loader, struct rt_error *error)
{
    static const char note[] =
        "INSERT INTO history (batch_id, table_name, row_id, column_name, old_value, new_value) "
        "SELECT :batch, '@', id, 'gone_batch_id', gone_batch_id, ";
    static const char back[] =
        "FROM @ WHERE gone_batch_id IS NOT NULL AND gone_batch_id <> :batch AND " SEEN("@");
    static const char gone[] =
        "FROM @ WHERE gone_batch_id IS NULL AND NOT " SEEN("@") " AND id NOT IN (SELECT id FROM temp.spared)";
    struct rt_load_report *report = loader->report;
    const struct {
        const char *start, *rest;
        bool whole_only;
        long *count;
    } steps[] = {
        {note, "NULL ", false, NULL},
        {"UPDATE @ SET gone_batch_id = NULL WHERE id IN (SELECT id ", "", false, &report->rows_back},
        {note, ":batch ", true, NULL},
        {"UPDATE @ SET gone_batch_id = :batch WHERE id IN (SELECT id ", "", true, &report->rows_gone},
    };
    enum rt_status status = keep_runs(loader, error);
    for (size_t i = 0; status == RT_OK && i < sizeof steps / sizeof steps[0]; i++) {
        struct rt_text sql = {0};
        if (steps[i].whole_only && !report->whole)
            break;
        rt_text_format(&sql, "%s%s%s%s", steps[i].start, steps[i].rest, steps[i].whole_only ? gone : back,
                       steps[i].count != NULL ? ")" : "");
        status = rt_text_status(&sql, error);
        if (status == RT_OK)
            status = run_step(loader, sql.bytes, steps[i].count, error);
        rt_text_release(&sql);
    }
    return status;
}
