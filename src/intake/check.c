/* Bringing the doubts up to date with what the checks find. */
#include "check_run.h"

static const char prepare_sql[] = "CREATE TEMP TABLE IF NOT EXISTS turned (id INTEGER PRIMARY KEY, state "
                                  "TEXT) STRICT; DELETE FROM temp.turned";

/* A doubt about a refused row stands while the row waits; any other while its check finds it. One that stands again has
 * the state of the last answer to it. The doubts of checks that were not run stay as they are; after all were, those of
 * checks that are no more are mended. */
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
    "      FROM doubt d WHERE :all = 1 OR d.check_name = 'refused' OR "
    "EXISTS (SELECT 1 FROM temp.ran n WHERE n.check_name = d.check_name AND NOT (n.implants_spared AND "
    "d.subject LIKE "
    "'implant:%') AND NOT (n.readings_spared AND d.subject LIKE 'reading:%'))) s "
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
                               bool all, long *raised, long *mended, struct rt_error *error)
{
    struct rt_query *query = NULL;
    enum rt_status status = rt_query_open_text(store, step->sql, &query, error);
    /* not every step names both */
    rt_bind_integer_at(query, rt_parameter(query, ":batch"), batch);
    rt_bind_integer_at(query, rt_parameter(query, ":all"), all);
    if (status == RT_OK)
        status = rt_query_run(query, error);
    rt_query_close(query);
    if (status == RT_OK && step->step == STEP_RAISES)
        *raised += (long)rt_rows_changed(store);
    if (status == RT_OK && step->step == STEP_MENDS)
        *mended += (long)rt_rows_changed(store);
    return status;
}

/* A program of another version may have other checks: then all of them run. */
static enum rt_status widen(struct rt_store *store, int64_t batch, unsigned *touched, struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status = rt_query_open_text(store,
                                               "SELECT program = :program FROM batch WHERE id <> :batch AND "
                                               "rows_new + rows_changed + rows_mended > 0 "
                                               "ORDER BY id DESC LIMIT 1",
                                               &query, error);
    rt_bind_text(query, ":program", RT_VERSION);
    rt_bind_integer(query, ":batch", batch);
    if (status == RT_OK)
        status = rt_query_next(query, &row, error);
    if (status == RT_OK && row && rt_column_integer(query, 0, 0) == 0)
        *touched = RT_TOUCHED_ALL;
    rt_query_close(query);
    return status;
}

enum rt_status refresh_doubts(struct rt_store *store, int64_t batch, unsigned touched, long *raised,
                              long *mended, struct rt_error *error)
{
    enum rt_status status = touched != 0 ? widen(store, batch, &touched, error) : RT_OK;
    if (status == RT_OK)
        status = rt_run_script(store, prepare_sql, error);
    if (status == RT_OK)
        status = run_checks(store, touched, error);
    for (size_t i = 0; status == RT_OK && i < sizeof refresh_steps / sizeof refresh_steps[0]; i++)
        status = run_step(store, &refresh_steps[i], batch, touched == RT_TOUCHED_ALL, raised, mended, error);
    return status;
}
