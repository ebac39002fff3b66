#include "ridgetally/store/query.h"

#include "handle.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/base/resource.h"
#include "ridgetally/base/text.h"

#include <math.h>
#include <string.h>

struct rt_query {
    struct rt_store *store;
    sqlite3_stmt *statement;
    char unknown_name[48]; /* a parameter that does not exist; reported at the next step */
    int bind_result;       /* first failed bind */
};

static enum rt_status prepare(struct rt_store *store, const char *sql, const char *name,
                              struct rt_query **query, struct rt_error *error)
{
    *query = NULL;
    sqlite3_stmt *statement = NULL;
    const char *rest = NULL;
    int result = sqlite3_prepare_v3(store->db, sql, -1, SQLITE_PREPARE_PERSISTENT, &statement, &rest);
    if (result != SQLITE_OK) {
        char doing[160];
        snprintf(doing, sizeof doing, "prepare %s", name);
        return rt_fail_sqlite(store->db, store->path, result, doing, error);
    }
    struct rt_query *opened = statement == NULL ? NULL : rt_new_array(1, sizeof *opened);
    if (opened == NULL) {
        sqlite3_finalize(statement);
        return statement == NULL ? rt_fail(error, RT_USE, "%s holds no statement", name)
                                 : rt_fail_memory(error);
    }
    opened->store = store;
    opened->statement = statement;
    *query = opened;
    return RT_OK;
}

enum rt_status rt_query_open(struct rt_store *store, const char *resource_name, struct rt_query **query,
                             struct rt_error *error)
{
    *query = NULL;
    const struct rt_resource *resource = rt_find_resource(resource_name);
    if (resource == NULL)
        return rt_fail(error, RT_USE, "there is no query %s in this program", resource_name);
    return prepare(store, resource->bytes, resource_name, query, error);
}

enum rt_status rt_query_open_text(struct rt_store *store, const char *sql, struct rt_query **query,
                                  struct rt_error *error)
{
    return prepare(store, sql, "a query", query, error);
}

static int note_read(void *context, int action, const char *table, const char *column, const char *database,
                     const char *trigger)
{
    (void)column;
    (void)database;
    (void)trigger;
    struct rt_text *names = context;
    if (action != SQLITE_READ || table == NULL)
        return SQLITE_OK;
    for (size_t at = 0; at < names->length; at += strlen(names->bytes + at) + 1)
        if (strcmp(names->bytes + at, table) == 0)
            return SQLITE_OK;
    rt_text_add_bytes(names, table, strlen(table) + 1);
    return SQLITE_OK;
}

/* A common table expression is told as if it were a table, beside the tables it reads. */
static bool is_table(struct rt_store *store, const char *name)
{
    return sqlite3_table_column_metadata(store->db, NULL, name, NULL, NULL, NULL, NULL, NULL, NULL) ==
           SQLITE_OK;
}

enum rt_status rt_query_reads(struct rt_store *store, const char *sql,
                              void (*take)(void *context, const char *table), void *context,
                              struct rt_error *error)
{
    struct rt_text names = {0};
    struct rt_query *query = NULL;
    sqlite3_set_authorizer(store->db, note_read, &names);
    enum rt_status status = prepare(store, sql, "a query", &query, error);
    sqlite3_set_authorizer(store->db, NULL, NULL);
    rt_query_close(query);
    if (status == RT_OK)
        status = rt_text_status(&names, error);
    for (size_t at = 0; status == RT_OK && at < names.length; at += strlen(names.bytes + at) + 1)
        if (is_table(store, names.bytes + at))
            take(context, names.bytes + at);
    rt_text_release(&names);
    return status;
}

enum rt_status rt_run_script(struct rt_store *store, const char *sql, struct rt_error *error)
{
    return rt_run_sql(store->db, store->path, sql, "write the store", error);
}

int rt_parameter(const struct rt_query *query, const char *name)
{
    return query == NULL ? 0 : sqlite3_bind_parameter_index(query->statement, name);
}

static void note_bind(struct rt_query *query, int result)
{
    if (query->bind_result == SQLITE_OK)
        query->bind_result = result;
}

/* The position of a name; notes an unknown one so that the next step reports it. */
static int named(struct rt_query *query, const char *name)
{
    int position = rt_parameter(query, name);
    if (query != NULL && position == 0 && query->unknown_name[0] == '\0')
        snprintf(query->unknown_name, sizeof query->unknown_name, "%s", name);
    return position;
}

void rt_bind_text(struct rt_query *query, const char *name, const char *value)
{
    int position = named(query, name);
    if (position > 0)
        note_bind(query, sqlite3_bind_text(query->statement, position, value, -1, SQLITE_TRANSIENT));
}

void rt_bind_integer(struct rt_query *query, const char *name, int64_t value)
{
    rt_bind_integer_at(query, named(query, name), value);
}

void rt_bind_real(struct rt_query *query, const char *name, double value)
{
    rt_bind_real_at(query, named(query, name), value);
}

void rt_bind_date(struct rt_query *query, const char *name, int day_number)
{
    if (day_number == RT_NO_DATE)
        rt_bind_null(query, name);
    else
        rt_bind_integer(query, name, day_number);
}

void rt_bind_null(struct rt_query *query, const char *name)
{
    rt_bind_null_at(query, named(query, name));
}

void rt_bind_text_at(struct rt_query *query, int position, const char *value)
{
    if (query != NULL && position > 0)
        note_bind(query, sqlite3_bind_text(query->statement, position, value, -1, SQLITE_STATIC));
}

void rt_bind_integer_at(struct rt_query *query, int position, int64_t value)
{
    if (query != NULL && position > 0)
        note_bind(query, sqlite3_bind_int64(query->statement, position, value));
}

void rt_bind_real_at(struct rt_query *query, int position, double value)
{
    if (query != NULL && position > 0) /* SQLite itself turns NaN into NULL */
        note_bind(query, sqlite3_bind_double(query->statement, position, value));
}

void rt_bind_null_at(struct rt_query *query, int position)
{
    if (query != NULL && position > 0)
        note_bind(query, sqlite3_bind_null(query->statement, position));
}

static enum rt_status check_bindings(struct rt_query *query, struct rt_error *error)
{
    if (query == NULL)
        return rt_fail(error, RT_USE, "a query that was never opened cannot be run");
    if (query->unknown_name[0] != '\0')
        return rt_fail(error, RT_USE, "the query has no parameter %s", query->unknown_name);
    if (query->bind_result != SQLITE_OK)
        return rt_fail_sqlite(NULL, query->store->path, query->bind_result, "use a value in a query", error);
    return RT_OK;
}

enum rt_status rt_query_next(struct rt_query *query, bool *row, struct rt_error *error)
{
    *row = false;
    enum rt_status status = check_bindings(query, error);
    if (status != RT_OK)
        return status;
    int result = sqlite3_step(query->statement);
    *row = result == SQLITE_ROW;
    if (result == SQLITE_ROW)
        return RT_OK;
    bool writes = sqlite3_stmt_readonly(query->statement) == 0;
    status = rt_fail_sqlite(query->store->db, query->store->path, result,
                            writes ? "write the store" : "read the store", error);
    sqlite3_reset(query->statement);
    return status;
}

enum rt_status rt_query_run(struct rt_query *query, struct rt_error *error)
{
    bool row = true;
    enum rt_status status = RT_OK;
    while (status == RT_OK && row)
        status = rt_query_next(query, &row, error);
    return status;
}

void rt_query_reset(struct rt_query *query)
{
    if (query != NULL)
        sqlite3_reset(query->statement);
}

void rt_query_close(struct rt_query *query)
{
    if (query == NULL)
        return;
    sqlite3_finalize(query->statement);
    free(query);
}

int rt_column_count(const struct rt_query *query)
{
    return sqlite3_column_count(query->statement);
}

const char *rt_column_name(const struct rt_query *query, int column)
{
    return sqlite3_column_name(query->statement, column);
}

int rt_column(const struct rt_query *query, const char *name)
{
    int count = sqlite3_column_count(query->statement);
    for (int i = 0; i < count; i++) {
        const char *column = sqlite3_column_name(query->statement, i);
        if (column != NULL && strcmp(column, name) == 0)
            return i;
    }
    return -1;
}

bool rt_column_is_null(const struct rt_query *query, int column)
{
    return sqlite3_column_type(query->statement, column) == SQLITE_NULL;
}

const char *rt_column_text(const struct rt_query *query, int column)
{
    return (const char *)sqlite3_column_text(query->statement, column);
}

int64_t rt_column_integer(const struct rt_query *query, int column, int64_t otherwise)
{
    return rt_column_is_null(query, column) ? otherwise : sqlite3_column_int64(query->statement, column);
}

double rt_column_real(const struct rt_query *query, int column)
{
    return rt_column_is_null(query, column) ? NAN : sqlite3_column_double(query->statement, column);
}

int rt_column_date(const struct rt_query *query, int column)
{
    int64_t value = rt_column_integer(query, column, RT_NO_DATE);
    return value < -719162 || value > 2932896 ? RT_NO_DATE : (int)value;
}

int64_t rt_rows_changed(const struct rt_store *store)
{
    return sqlite3_changes64(store->db);
}

int64_t rt_last_row_id(const struct rt_store *store)
{
    return sqlite3_last_insert_rowid(store->db);
}
