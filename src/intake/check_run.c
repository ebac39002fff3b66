/*
 * Running the checks of sql/checks/. A check that asks single rows, which most do, is written as
 *
 *     SELECT ...                                  SELECT ...
 *     FROM implant i                              FROM reading r
 *     WHERE condition                             JOIN implant i ON i.id = r.implant_id
 *                                                 WHERE condition
 *
 * or as several such joined by UNION ALL. The conditions of all of them are held against each row in one scan of its table;
 * the few rows that meet any are then given to each check. Any other query is run as it stands.
 */
#include "check_run.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/base/resource.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { IMPLANT_ROWS, READING_ROWS, ROW_KINDS };

struct row_kind {
    const char *from;     /* as it stands in a check */
    const char *from_odd; /* the same over the rows that meet any condition */
    const char *scan;     /* fills the table of those */
};

static const struct row_kind row_kinds[ROW_KINDS] = {
    {"\nFROM implant i\nWHERE ", "\nFROM temp.odd_implant o\nCROSS JOIN implant i ON i.id = o.id\nWHERE ",
     "INSERT INTO temp.odd_implant SELECT i.id\nFROM implant i\nWHERE "},
    {"\nFROM reading r\nJOIN implant i ON i.id = r.implant_id\nWHERE ",
     "\nFROM temp.odd_reading o\nCROSS JOIN reading r ON r.id = o.id\nJOIN implant i ON i.id = "
     "r.implant_id\nWHERE ",
     "INSERT INTO temp.odd_reading SELECT r.id\nFROM reading r\nCROSS JOIN implant i ON i.id = "
     "r.implant_id\nWHERE "},
};

/* What the checks find now, the rows that single-row checks look at, the checks that were run. */
static const char prepare_sql[] =
    "CREATE TEMP TABLE IF NOT EXISTS found (check_name TEXT, subject TEXT, column_name TEXT, value TEXT, "
    "patient_id INTEGER, implant_id INTEGER, source_batch_id INTEGER, line INTEGER, weight TEXT, blocks "
    "TEXT, reason TEXT, remedy TEXT, PRIMARY KEY (check_name, subject, column_name, value)) STRICT;"
    "CREATE TEMP TABLE IF NOT EXISTS ran (check_name TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;"
    "CREATE TEMP TABLE IF NOT EXISTS odd_implant (id INTEGER PRIMARY KEY) STRICT;"
    "CREATE TEMP TABLE IF NOT EXISTS odd_reading (id INTEGER PRIMARY KEY) STRICT;"
    "CREATE TEMP TABLE IF NOT EXISTS spread (implant_id INTEGER PRIMARY KEY, mesial REAL, distal REAL, "
    "mesial_lead REAL, "
    "distal_lead REAL) STRICT;"
    "DELETE FROM temp.found; DELETE FROM temp.ran; DELETE FROM temp.odd_implant; DELETE FROM "
    "temp.odd_reading;"
    "DELETE FROM temp.spread";

/* One SELECT of a check: of text up to its FROM clause, and the condition after it; kind ROW_KINDS: all of it. */
struct part {
    enum { PART_IMPLANTS = IMPLANT_ROWS, PART_READINGS = READING_ROWS, PART_WHOLE = ROW_KINDS } kind;
    const char *begin;
    size_t head, length; /* bytes before the FROM clause, bytes in all */
};

struct check {
    char name[64];
    const char *text;
    char *made; /* text, where it was made here */
    bool runs;
};

struct checks {
    struct check *items;
    size_t count;
};

/* --- the parts of a check ----------------------------------------------------------------------------------- */

static const char *skip_comments(const char *text)
{
    while (text[0] == '-' && text[1] == '-') {
        const char *end = strchr(text, '\n');
        if (end == NULL)
            break;
        text = end + 1;
    }
    return text;
}

static const char *find_in(const char *begin, size_t length, const char *words)
{
    return memmem(begin, length, words, strlen(words));
}

static struct part read_part(const char *begin, size_t length)
{
    struct part part = {PART_WHOLE, begin, length, length};
    for (int kind = 0; kind < ROW_KINDS; kind++) {
        const char *from = find_in(begin, length, row_kinds[kind].from);
        if (from != NULL) {
            part.kind = kind == IMPLANT_ROWS ? PART_IMPLANTS : PART_READINGS;
            part.head = (size_t)(from - begin);
        }
    }
    return part;
}

/* The next part of a text, which *at moves past. Only a plain SELECT is taken apart. */
static bool next_part(const char **at, struct part *part)
{
    static const char joiner[] = "\nUNION ALL\n";
    const char *begin = *at;
    if (*begin == '\0')
        return false;
    bool plain = strncmp(begin, "SELECT", 6) == 0;
    const char *end = plain ? strstr(begin, joiner) : NULL;
    size_t length = end == NULL ? strlen(begin) : (size_t)(end - begin);
    *at = end == NULL ? begin + length : end + sizeof joiner - 1;
    *part = plain ? read_part(begin, length) : (struct part){PART_WHOLE, begin, length, length};
    return true;
}

static void add_condition(const struct part *part, struct rt_text *sql)
{
    size_t start = part->head + strlen(row_kinds[part->kind].from);
    rt_text_add_bytes(sql, part->begin + start, part->length - start);
}

/* --- running ------------------------------------------------------------------------------------------------ */

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

static enum rt_status run_part(struct rt_store *store, const struct check *check, const struct part *part,
                               struct rt_error *error)
{
    struct rt_text sql = {0};
    /* the text is a file of this program or made of its own tables; the name is bound */
    rt_text_add(&sql,
                "INSERT OR IGNORE INTO temp.found (check_name, subject, column_name, value, patient_id, "
                "implant_id, source_batch_id, line, weight, blocks, reason, remedy) "
                "SELECT :check_name, q.* FROM (");
    rt_text_add_bytes(&sql, part->begin, part->head);
    if (part->kind != PART_WHOLE) {
        rt_text_add(&sql, row_kinds[part->kind].from_odd);
        add_condition(part, &sql);
    }
    rt_text_add(&sql, ") q");
    enum rt_status status = run_sql(store, &sql, check->name, error);
    rt_text_release(&sql);
    return status;
}

static enum rt_status run_check(struct rt_store *store, const struct check *check, struct rt_error *error)
{
    struct rt_text sql = {0};
    struct part part;
    rt_text_add(&sql, "INSERT INTO temp.ran VALUES (:check_name)");
    enum rt_status status = run_sql(store, &sql, check->name, error);
    for (const char *at = check->text; status == RT_OK && next_part(&at, &part);)
        status = run_part(store, check, &part, error);
    rt_text_release(&sql);
    return status;
}

/* The rows of a table that meet the condition of any check. */
static enum rt_status scan_rows(struct rt_store *store, const struct checks *checks, int kind,
                                struct rt_error *error)
{
    struct rt_text sql = {0};
    const char *joiner = row_kinds[kind].scan;
    for (size_t i = 0; i < checks->count; i++) {
        struct part part;
        for (const char *at = checks->items[i].text; checks->items[i].runs && next_part(&at, &part);) {
            if ((int)part.kind != kind)
                continue;
            rt_text_add(&sql, joiner);
            rt_text_add(&sql, "(");
            add_condition(&part, &sql);
            rt_text_add(&sql, ")");
            joiner = " OR ";
        }
    }
    enum rt_status status = sql.length > 0 ? run_sql(store, &sql, NULL, error) : RT_OK;
    rt_text_release(&sql);
    return status;
}

/* How far the levels of each implant lie apart, for the checks that compare visits. */
static enum rt_status note_spread(struct rt_store *store, const struct checks *checks, struct rt_error *error)
{
    bool wanted = false;
    for (size_t i = 0; i < checks->count; i++)
        wanted = wanted || (checks->items[i].runs && strstr(checks->items[i].text, "temp.spread") != NULL);
    const struct rt_resource *resource = rt_find_resource("sql/intake/spread.sql");
    return wanted && resource != NULL ? rt_run_script(store, resource->bytes, error) : RT_OK;
}

/* --- unusual values, from the soft ranges of the forms ------------------------------------------------------ */

static void add_ranges(enum rt_record_kind kind, const char *alias, const char *patient, const char *implant,
                       const char *from, struct rt_text *sql)
{
    const struct rt_form *form = rt_form(kind);
    for (size_t i = 0; i < form->count; i++) {
        const struct rt_field *field = &form->fields[i];
        if (isnan(field->soft_least))
            continue;
        rt_text_format(sql,
                       "%sSELECT '%s:' || %s.id, '%s', printf('%%.15g', %s.%s), %s, %s, %s.source_batch_id, "
                       "%s.source_line, 'implausible', '', 'unusual: outside %g to %g%s%s', "
                       "'check the unit, the sign and the decimal point; leave it if it is right'%s"
                       "%s.%s < %.9g OR %s.%s > %.9g",
                       sql->length > 0 ? "\nUNION ALL\n" : "", form->table, alias, field->name, alias,
                       field->column, patient, implant, alias, alias, field->soft_least, field->soft_most,
                       field->unit[0] == '\0' ? "" : " ", field->unit, from, alias, field->column,
                       field->soft_least, alias, field->column, field->soft_most);
    }
}

static enum rt_status make_range_check(struct check *check, struct rt_error *error)
{
    struct rt_text sql = {0};
    add_ranges(RT_IMPLANTS, "i", "i.patient_id", "i.id", row_kinds[IMPLANT_ROWS].from, &sql);
    add_ranges(RT_FOLLOWUPS, "r", "i.patient_id", "i.id", row_kinds[READING_ROWS].from, &sql);
    snprintf(check->name, sizeof check->name, "unusual-value");
    check->made = rt_text_detach(&sql);
    check->text = check->made;
    return check->made == NULL ? rt_fail_memory(error) : RT_OK;
}

/* --- which checks to run ------------------------------------------------------------------------------------ */

static enum rt_status list_checks(struct checks *checks, struct rt_error *error)
{
    static const char folder[] = "sql/checks/";
    size_t count = 0;
    const struct rt_resource *all = rt_resources(&count);
    checks->items = rt_new_array(count + 1, sizeof *checks->items);
    if (checks->items == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < count; i++) {
        if (strncmp(all[i].name, folder, sizeof folder - 1) != 0)
            continue;
        struct check *check = &checks->items[checks->count++];
        const char *base = all[i].name + sizeof folder - 1;
        snprintf(check->name, sizeof check->name, "%.*s", (int)strcspn(base, "."), base);
        check->text = skip_comments(all[i].bytes);
    }
    return make_range_check(&checks->items[checks->count++], error);
}

/* What a check found stands while the tables it reads do. Batches change with their records only; anything else (a house
 * rule) is changed outside a load. */
static void note_table(void *context, const char *table)
{
    static const struct {
        const char *name;
        unsigned bits;
    } known[] = {{"patient", RT_TOUCHED_PATIENTS}, {"implant", RT_TOUCHED_IMPLANTS},
                 {"reading", RT_TOUCHED_READINGS}, {"event", RT_TOUCHED_EVENTS},
                 {"spread", RT_TOUCHED_READINGS},  {"batch", 0}};
    unsigned *reads = context;
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        if (strcmp(table, known[i].name) == 0) {
            *reads |= known[i].bits;
            return;
        }
    }
    *reads |= RT_TOUCHED_ALL;
}

static enum rt_status choose_checks(struct rt_store *store, struct checks *checks, unsigned touched,
                                    struct rt_error *error)
{
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < checks->count; i++) {
        unsigned reads = 0;
        if (touched != RT_TOUCHED_ALL)
            status = rt_query_reads(store, checks->items[i].text, note_table, &reads, error);
        checks->items[i].runs = touched == RT_TOUCHED_ALL || (reads & touched) != 0;
    }
    return status;
}

enum rt_status run_checks(struct rt_store *store, unsigned touched, struct rt_error *error)
{
    struct checks checks = {0};
    enum rt_status status = rt_run_script(store, prepare_sql, error);
    if (status == RT_OK && touched != 0)
        status = list_checks(&checks, error);
    if (status == RT_OK)
        status = choose_checks(store, &checks, touched, error);
    if (status == RT_OK)
        status = note_spread(store, &checks, error);
    for (int kind = 0; status == RT_OK && kind < ROW_KINDS; kind++)
        status = scan_rows(store, &checks, kind, error);
    for (size_t i = 0; status == RT_OK && i < checks.count; i++)
        if (checks.items[i].runs)
            status = run_check(store, &checks.items[i], error);
    for (size_t i = 0; i < checks.count; i++)
        free(checks.items[i].made);
    free(checks.items);
    return status;
}
