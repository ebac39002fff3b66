#include "loader.h"

#include "ridgetally/base/resource.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* What the checks find now, and the doubts whose state turns with it. */
static const char prepare_sql[] =
    "CREATE TEMP TABLE IF NOT EXISTS found (check_name TEXT, subject TEXT, column_name TEXT, value TEXT, "
    "patient_id INTEGER, implant_id INTEGER, source_batch_id INTEGER, line INTEGER, weight TEXT, blocks "
    "TEXT, "
    "reason TEXT, remedy TEXT, PRIMARY KEY (check_name, subject, column_name, value)) STRICT;"
    "CREATE TEMP TABLE IF NOT EXISTS turned (id INTEGER PRIMARY KEY, state TEXT) STRICT;"
    "DELETE FROM temp.found; DELETE FROM temp.turned";

static enum rt_status run_check(struct rt_store *store, const char *name, const char *select,
                                struct rt_error *error)
{
    struct rt_text sql = {0};
    struct rt_query *query = NULL;
    /* select is a file of this program or made of its own tables; the name is bound */
    rt_text_format(
        &sql,
        "INSERT OR IGNORE INTO temp.found (check_name, subject, column_name, value, patient_id, implant_id, "
        "source_batch_id, line, weight, blocks, reason, remedy) SELECT :check_name, q.* FROM (%s) q",
        select);
    enum rt_status status = rt_text_status(&sql, error);
    if (status == RT_OK)
        status = rt_query_open_text(store, sql.bytes, &query, error);
    rt_bind_text(query, ":check_name", name);
    if (status == RT_OK)
        status = rt_query_run(query, error);
    rt_query_close(query);
    rt_text_release(&sql);
    return status;
}

static enum rt_status run_embedded_checks(struct rt_store *store, struct rt_error *error)
{
    static const char folder[] = "sql/checks/";
    size_t count = 0;
    enum rt_status status = RT_OK;
    const struct rt_resource *all = rt_resources(&count);
    for (size_t i = 0; status == RT_OK && i < count; i++) {
        if (strncmp(all[i].name, folder, sizeof folder - 1) != 0)
            continue;
        char name[64];
        const char *base = all[i].name + sizeof folder - 1;
        snprintf(name, sizeof name, "%.*s", (int)strcspn(base, "."), base);
        status = run_check(store, name, all[i].bytes, error);
    }
    return status;
}

/* --- unusual values, from the soft ranges of the forms
 * ------------------------------------------------------- */

static bool has_soft_range(const struct rt_field *field)
{
    return !isnan(field->soft_least);
}

static void add_one_range(const struct rt_form *form, const struct rt_field *field, struct rt_text *sql)
{
    rt_text_format(
        sql,
        "SELECT '%s:' || id, '%s', printf('%%.15g', %s), patient_id, implant_id, source_batch_id, "
        "source_line, 'implausible', '', printf('unusual: outside %g to %g%s%s'), 'check the unit, the sign "
        "and the decimal point; leave it if it is right' FROM odd WHERE %s < %.9g OR %s > %.9g",
        form->table, field->name, field->column, field->soft_least, field->soft_most,
        field->unit[0] == '\0' ? "" : " ", field->unit, field->column, field->soft_least, field->column,
        field->soft_most);
}

/* One scan of the table finds the rows with anything unusual; the few are then taken apart field by field. */
static void add_range_query(const struct rt_form *form, const char *source, struct rt_text *sql)
{
    const char *joiner = "";
    rt_text_format(sql, "WITH odd AS MATERIALIZED (SELECT * FROM (%s) WHERE ", source);
    for (size_t i = 0; i < form->count; i++) {
        const struct rt_field *field = &form->fields[i];
        if (!has_soft_range(field))
            continue;
        rt_text_format(sql, "%s%s < %.9g OR %s > %.9g", joiner, field->column, field->soft_least,
                       field->column, field->soft_most);
        joiner = " OR ";
    }
    rt_text_add(sql, ") ");
    joiner = "";
    for (size_t i = 0; i < form->count; i++) {
        if (!has_soft_range(&form->fields[i]))
            continue;
        rt_text_add(sql, joiner);
        add_one_range(form, &form->fields[i], sql);
        joiner = " UNION ALL ";
    }
}

static enum rt_status run_range_checks(struct rt_store *store, struct rt_error *error)
{
    static const struct {
        enum rt_record_kind kind;
        const char *source;
    } sources[] = {
        {RT_IMPLANTS, "SELECT *, id AS implant_id FROM implant"},
        {RT_FOLLOWUPS, "SELECT r.*, i.patient_id FROM reading r JOIN implant i ON i.id = r.implant_id"},
    };
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < sizeof sources / sizeof sources[0]; i++) {
        struct rt_text sql = {0};
        add_range_query(rt_form(sources[i].kind), sources[i].source, &sql);
        status = rt_text_status(&sql, error);
        if (status == RT_OK)
            status = run_check(store, "unusual-value", sql.bytes, error);
        rt_text_release(&sql);
    }
    return status;
}

/* --- bringing the doubts up to date
 * -------------------------------------------------------------------------- */

/* A doubt about a refused row stands while the row waits; any other while its check finds it. One that stands again has
 * the state of the last answer to it. Where no record changed
 * the checks were not run, and only the former are looked at. */
static const char turned_sql[] =
    "INSERT INTO temp.turned (id, state) "
    "SELECT id, CASE WHEN stands THEN coalesce((SELECT a.state FROM doubt_answer a WHERE a.doubt_id = s.id "
    "ORDER BY a.id DESC LIMIT 1), 'waiting') ELSE 'mended' END "
    "FROM (SELECT d.id, d.state, CASE WHEN d.check_name = 'refused' THEN "
    "          EXISTS (SELECT 1 FROM refused_row r WHERE r.id = CAST(substr(d.subject, 9) AS INTEGER) "
    "                  AND r.mended_batch_id IS NULL) "
    "        ELSE EXISTS (SELECT 1 FROM temp.found f WHERE f.check_name = d.check_name AND f.subject = "
    "d.subject "
    "                     AND f.column_name = d.column_name AND f.value = d.value) END AS stands "
    "      FROM doubt d WHERE :records_changed = 1 OR d.check_name = 'refused') s "
    "WHERE stands = (state = 'mended')";

#define REWORDED                                                                                             \
    "f.check_name = d.check_name AND f.subject = d.subject AND f.column_name = d.column_name "               \
    "AND f.value = d.value AND f.reason <> d.reason"

#define KEEP_HISTORY                                                                                         \
    "INSERT INTO history (batch_id, table_name, row_id, column_name, old_value, new_value) SELECT :batch, "  \
    "'doubt', "

enum step { STEP_OTHER, STEP_RAISES, STEP_MENDS };

struct refresh_step {
    enum step step; /* what the number of its rows counts as */
    const char *sql;
};

static const struct refresh_step refresh_steps[] = {
    {STEP_OTHER, turned_sql},
    {STEP_OTHER,
     KEEP_HISTORY "d.id, 'state', d.state, t.state FROM temp.turned t JOIN doubt d ON d.id = t.id"},
    {STEP_OTHER,
     KEEP_HISTORY "d.id, 'mended_batch_id', d.mended_batch_id, CASE t.state WHEN 'mended' THEN :batch END "
                  "FROM temp.turned t JOIN doubt d ON d.id = t.id"},
    {STEP_MENDS, "UPDATE doubt SET state = 'mended', mended_batch_id = :batch "
                 "WHERE id IN (SELECT id FROM temp.turned WHERE state = 'mended')"},
    {STEP_RAISES, "UPDATE doubt AS d SET state = t.state, mended_batch_id = NULL FROM temp.turned t "
                  "WHERE t.id = d.id AND t.state <> 'mended'"},
    {STEP_OTHER,
     KEEP_HISTORY "d.id, 'reason', d.reason, f.reason FROM doubt d JOIN temp.found f ON " REWORDED},
    {STEP_OTHER, "UPDATE doubt AS d SET reason = f.reason FROM temp.found f WHERE " REWORDED},
    {STEP_RAISES,
     "INSERT INTO doubt (batch_id, check_name, subject, source_batch_id, line, column_name, value, "
     "patient_id, implant_id, weight, blocks, reason, remedy) SELECT :batch, check_name, subject, "
     "source_batch_id, line, column_name, value, patient_id, implant_id, weight, blocks, reason, remedy "
     "FROM temp.found f WHERE NOT EXISTS (SELECT 1 FROM doubt d WHERE d.check_name = f.check_name AND "
     "d.subject = f.subject AND d.column_name = f.column_name AND d.value = f.value) "
     "ORDER BY check_name, source_batch_id, line, column_name, rowid"},
};

static enum rt_status run_step(struct rt_store *store, const struct refresh_step *step, int64_t batch,
                               bool records_changed, long *raised, long *mended, struct rt_error *error)
{
    struct rt_query *query = NULL;
    enum rt_status status = rt_query_open_text(store, step->sql, &query, error);
    /* not every step names both */
    rt_bind_integer_at(query, rt_parameter(query, ":batch"), batch);
    rt_bind_integer_at(query, rt_parameter(query, ":records_changed"), records_changed);
    if (status == RT_OK)
        status = rt_query_run(query, error);
    rt_query_close(query);
    if (status == RT_OK && step->step == STEP_RAISES)
        *raised += (long)rt_rows_changed(store);
    if (status == RT_OK && step->step == STEP_MENDS)
        *mended += (long)rt_rows_changed(store);
    return status;
}

enum rt_status refresh_doubts(struct rt_store *store, int64_t batch, bool records_changed, long *raised,
                              long *mended, struct rt_error *error)
{
    enum rt_status status = rt_run_script(store, prepare_sql, error);
    if (status == RT_OK && records_changed)
        status = run_embedded_checks(store, error);
    if (status == RT_OK && records_changed)
        status = run_range_checks(store, error);
    for (size_t i = 0; status == RT_OK && i < sizeof refresh_steps / sizeof refresh_steps[0]; i++)
        status = run_step(store, &refresh_steps[i], batch, records_changed, raised, mended, error);
    return status;
}
