/*
 * Running the checks of sql/checks/. The conditions of all checks of single rows are held against each row in one scan of its
 * table; the few rows that meet any are marked with which, and then given to each check.
 */
#include "check_run.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/base/resource.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* What stands in the place of a check's FROM clause: up to the marks that a part looks for, and after them; and the scan that
 * fills the table of marked rows, up to the marks and after them. */
static const struct {
    const char *from_marked, *list_marks;
    const char *scan, *scan_from;
} row_kinds[ROW_KINDS] = {
    {"\nFROM temp.odd_implant o\nCROSS JOIN implant i ON i.id = o.id\nWHERE o.marks & ",
     "SELECT DISTINCT marks FROM temp.odd_implant", "INSERT INTO temp.odd_implant SELECT i.id, ",
     "\nFROM implant i\nWHERE "},
    {"\nFROM temp.odd_reading o\nCROSS JOIN reading r ON r.id = o.id\nJOIN implant i ON i.id = "
     "r.implant_id\nWHERE "
     "o.marks & ",
     "SELECT DISTINCT marks FROM temp.odd_reading", "INSERT INTO temp.odd_reading SELECT r.id, ",
     "\nFROM reading r\nCROSS JOIN implant i ON i.id = r.implant_id\nWHERE "},
};

/* What the checks find now, the rows that single-row checks look at, the checks that were run. */
static const char prepare_sql[] =
    "CREATE TEMP TABLE IF NOT EXISTS found (check_name TEXT, subject TEXT, column_name TEXT, value TEXT, "
    "patient_id INTEGER, implant_id INTEGER, source_batch_id INTEGER, line INTEGER, weight TEXT, blocks "
    "TEXT, reason TEXT, remedy TEXT, PRIMARY KEY (check_name, subject, column_name, value)) STRICT;"
    "CREATE TEMP TABLE IF NOT EXISTS ran (check_name TEXT PRIMARY KEY, implants_spared INTEGER, "
    "readings_spared INTEGER) STRICT, WITHOUT ROWID;"
    "CREATE TEMP TABLE IF NOT EXISTS odd_implant (id INTEGER PRIMARY KEY, marks INTEGER) STRICT;"
    "CREATE TEMP TABLE IF NOT EXISTS odd_reading (id INTEGER PRIMARY KEY, marks INTEGER) STRICT;"
    "CREATE TEMP TABLE IF NOT EXISTS spread (implant_id INTEGER PRIMARY KEY, mesial REAL, distal REAL, "
    "mesial_lead REAL, distal_lead REAL, repeats INTEGER) STRICT;"
    "DELETE FROM temp.found; DELETE FROM temp.ran; DELETE FROM temp.odd_implant; DELETE FROM "
    "temp.odd_reading;"
    "DELETE FROM temp.spread";

static void add_condition(const struct part *part, struct rt_text *sql)
{
    size_t start = part->head + part->from;
    rt_text_add(sql, "(");
    rt_text_add_bytes(sql, part->begin + start, part->length - start);
    rt_text_add(sql, ")");
}

static enum rt_status run_sql(struct rt_store *store, const struct rt_text *sql, const char *name,
                              struct rt_error *error)
{
    struct rt_query *query = NULL;
    enum rt_status status = rt_text_status(sql, error);
    if (status == RT_OK)
        status = rt_query_open_text(store, sql->bytes, &query, error);
    if (status == RT_OK && name != NULL)
        rt_bind_text(query, ":check_name", name);
    if (status == RT_OK)
        status = rt_query_run(query, error);
    rt_query_close(query);
    return status;
}

static enum rt_status run_part(struct rt_store *store, const struct part *part, struct rt_error *error)
{
    struct rt_text sql = {0};
    /* the text is a file of this program or made of its own tables; the name is bound */
    rt_text_add(&sql,
                "INSERT OR IGNORE INTO temp.found (check_name, subject, column_name, value, patient_id, "
                "implant_id, source_batch_id, line, weight, blocks, reason, remedy) "
                "SELECT :check_name, q.* FROM (");
    rt_text_add_bytes(&sql, part->begin, part->head);
    if (part->kind != ROW_KINDS) {
        rt_text_format(&sql, "%s%lld AND ", row_kinds[part->kind].from_marked, (long long)part->mark);
        add_condition(part, &sql);
    }
    rt_text_add(&sql, ") q");
    enum rt_status status = run_sql(store, &sql, part->check->name, error);
    rt_text_release(&sql);
    return status;
}

/* --- single rows -------------------------------------------------------------------------------------------- */

/* Mark the rows of a table that meet the condition of any part. */
static enum rt_status scan_rows(struct rt_store *store, const struct check_plan *plan, int kind,
                                struct rt_error *error)
{
    struct rt_text sql = {0};
    struct rt_text any = {0};
    const char *joiner = row_kinds[kind].scan;
    for (size_t i = 0; i < plan->part_count; i++) {
        const struct part *part = &plan->parts[i];
        if (!part->runs || (int)part->kind != kind)
            continue;
        rt_text_format(&sql, "%sCASE WHEN ", joiner);
        add_condition(part, &sql);
        rt_text_format(&sql, " THEN %lld ELSE 0 END", (long long)part->mark);
        rt_text_add(&any, any.length > 0 ? " OR " : row_kinds[kind].scan_from);
        add_condition(part, &any);
        joiner = " | ";
    }
    rt_text_add(&sql, any.bytes); /* NULL, and nothing to run, where no part runs */
    enum rt_status status = rt_text_status(&any, error);
    if (status == RT_OK && sql.length > 0)
        status = run_sql(store, &sql, NULL, error);
    rt_text_release(&sql);
    rt_text_release(&any);
    return status;
}

/* The marks that any row bears: the other parts find nothing. */
static enum rt_status list_marks(struct rt_store *store, int kind, int64_t *marks, struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = true;
    *marks = 0;
    enum rt_status status = rt_query_open_text(store, row_kinds[kind].list_marks, &query, error);
    while (status == RT_OK && row) {
        status = rt_query_next(query, &row, error);
        if (status == RT_OK && row)
            *marks |= rt_column_integer(query, 0, 0);
    }
    rt_query_close(query);
    return status;
}

/* How far the levels of each implant lie apart, if any check that runs asks. */
static enum rt_status prepare_spread(struct rt_store *store, const struct check_plan *plan,
                                     struct rt_error *error)
{
    static const char table[] = "temp.spread";
    bool wanted = false;
    for (size_t i = 0; i < plan->part_count; i++)
        wanted = wanted || (plan->parts[i].runs && memmem(plan->parts[i].begin, plan->parts[i].length, table,
                                                          sizeof table - 1) != NULL);
    return wanted ? note_spread(store, error) : RT_OK;
}

/* --- all of them -------------------------------------------------------------------------------------------- */

/* Which checks ran, and of which single rows what they found stands. */
static enum rt_status note_run(struct rt_store *store, const struct check_plan *plan, struct rt_error *error)
{
    struct rt_query *query = NULL;
    enum rt_status status = rt_query_open_text(
        store, "INSERT INTO temp.ran VALUES (:check_name, :implants_spared, :readings_spared)", &query,
        error);
    for (size_t i = 0; status == RT_OK && i < plan->count; i++) {
        bool spared[ROW_KINDS + 1] = {false};
        bool runs = false;
        for (size_t j = 0; j < plan->part_count; j++) {
            const struct part *part = &plan->parts[j];
            if (part->check == &plan->checks[i]) {
                runs = runs || part->runs;
                spared[part->kind] = spared[part->kind] || !part->runs;
            }
        }
        if (!runs)
            continue;
        rt_bind_text(query, ":check_name", plan->checks[i].name);
        rt_bind_integer(query, ":implants_spared", spared[IMPLANT_ROWS]);
        rt_bind_integer(query, ":readings_spared", spared[READING_ROWS]);
        status = rt_query_run(query, error);
    }
    rt_query_close(query);
    return status;
}

enum rt_status run_checks(struct rt_store *store, unsigned touched, struct rt_error *error)
{
    struct check_plan plan = {0};
    int64_t marks[ROW_KINDS + 1] = {[ROW_KINDS] = -1};
    enum rt_status status = rt_run_script(store, prepare_sql, error);
    if (status == RT_OK && touched != 0)
        status = plan_checks(touched, &plan, error);
    if (status == RT_OK)
        status = note_run(store, &plan, error);
    if (status == RT_OK)
        status = prepare_spread(store, &plan, error);
    for (int kind = 0; status == RT_OK && kind < ROW_KINDS; kind++) {
        status = scan_rows(store, &plan, kind, error);
        if (status == RT_OK)
            status = list_marks(store, kind, &marks[kind], error);
    }
    for (size_t i = 0; status == RT_OK && i < plan.part_count; i++)
        if (plan.parts[i].runs && (plan.parts[i].mark & marks[plan.parts[i].kind]) != 0)
            status = run_part(store, &plan.parts[i], error);
    release_check_plan(&plan);
    return status;
}
