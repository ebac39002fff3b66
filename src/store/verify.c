#include "ridgetally/base/resource.h"
#include "ridgetally/store/query.h"

#include "handle.h"
#include "seal.h"

#include <stdlib.h>
#include <string.h>

struct faults {
    long count;
    char first[256];
};

static void add_fault(struct faults *faults, const char *words)
{
    if (faults->count++ == 0)
        snprintf(faults->first, sizeof faults->first, "%s", words);
}

/* Pages that could not be had for want of memory are no damage; the integrity check lists them as if they were. */
static bool lacks_memory(const char *words)
{
    return strstr(words, "error code=7") != NULL || strcmp(words, "out of memory") == 0;
}

/* Every row of the query is a fault in words, except the word that means none. */
static enum rt_status collect(struct rt_store *store, const char *sql, const char *none,
                              struct faults *faults, struct rt_error *error)
{
    struct rt_query *query = NULL;
    enum rt_status status = rt_query_open_text(store, sql, &query, error);
    bool row = status == RT_OK;
    while (status == RT_OK && row) {
        status = rt_query_next(query, &row, error);
        const char *words = status == RT_OK && row ? rt_column_text(query, 0) : NULL;
        if (words != NULL && lacks_memory(words))
            status = rt_fail_memory(error);
        else if (words != NULL && (none == NULL || strcmp(words, none) != 0))
            add_fault(faults, words);
    }
    rt_query_close(query);
    return status;
}

static enum rt_status collect_invariants(struct rt_store *store, struct faults *faults,
                                         struct rt_error *error)
{
    static const char folder[] = "sql/verify/";
    size_t count = 0;
    enum rt_status status = RT_OK;
    const struct rt_resource *all = rt_resources(&count);
    for (size_t i = 0; status == RT_OK && i < count; i++)
        if (strncmp(all[i].name, folder, sizeof folder - 1) == 0)
            status = collect(store, all[i].bytes, NULL, faults, error);
    return status;
}

/* Names of tables, indexes and views, to be compared with those of a store made fresh by this program. */
static enum rt_status list_objects(sqlite3 *db, const char *path, char **list, struct rt_error *error)
{
    sqlite3_stmt *statement = NULL;
    *list = NULL;
    int result =
        sqlite3_prepare_v2(db,
                           "SELECT group_concat(type || ' ' || name || ' ' || coalesce(sql, ''), char(10)) "
                           "FROM (SELECT * FROM sqlite_schema ORDER BY type, name)",
                           -1, &statement, NULL);
    if (result == SQLITE_OK)
        result = sqlite3_step(statement);
    if (result == SQLITE_ROW)
        *list = sqlite3_mprintf("%s", sqlite3_column_text(statement, 0));
    enum rt_status status = rt_fail_sqlite(db, path, result, "read the store", error);
    if (status == RT_OK && *list == NULL)
        status = rt_fail_memory(error);
    sqlite3_finalize(statement);
    return status;
}

static enum rt_status compare_schema(struct rt_store *store, struct faults *faults, struct rt_error *error)
{
    struct rt_migration *steps = NULL;
    size_t count = 0;
    sqlite3 *fresh = NULL;
    char *expected = NULL;
    char *found = NULL;
    enum rt_status status = rt_embedded_steps(&steps, &count, error);
    if (status == RT_OK)
        status = rt_fail_sqlite(NULL, NULL, sqlite3_open(":memory:", &fresh), "check the schema", error);
    if (status == RT_OK)
        status = rt_apply_steps(fresh, NULL, steps, count, error);
    if (status == RT_OK)
        status = list_objects(fresh, NULL, &expected, error);
    if (status == RT_OK)
        status = list_objects(store->db, store->path, &found, error);
    if (status == RT_OK && strcmp(expected, found) != 0)
        add_fault(faults, "its tables differ from those this program makes");
    sqlite3_free(expected);
    sqlite3_free(found);
    sqlite3_close(fresh);
    free(steps);
    return status;
}

static enum rt_status collect_broken_pages(struct rt_store *store, struct faults *faults,
                                           struct rt_error *error)
{
    struct rt_seal_count count;
    enum rt_status status = rt_count_seals(store->db, store->path, &count, error);
    if (status == RT_OK && !count.sealed)
        add_fault(faults, "its pages bear no seals");
    if (status == RT_OK && count.broken > 0) {
        char words[128];
        snprintf(words, sizeof words, "%ld of %ld pages are not as they were written, the first is page %ld",
                 count.broken, count.pages, count.first_broken);
        add_fault(faults, words);
    }
    return status;
}

static enum rt_status collect_all(struct rt_store *store, struct faults *faults, struct rt_error *error)
{
    enum rt_status status = collect(store, "PRAGMA integrity_check(100)", "ok", faults, error);
    if (status == RT_OK)
        status = collect_broken_pages(store, faults, error);
    if (status == RT_OK)
        status =
            collect(store,
                    "SELECT 'a row of ' || \"table\" || ' names a row of ' || parent || ' that is not there' "
                    "FROM pragma_foreign_key_check",
                    NULL, faults, error);
    if (status == RT_OK && faults->count == 0)
        status = compare_schema(store, faults, error);
    if (status == RT_OK && faults->count == 0)
        status = collect_invariants(store, faults, error);
    return status;
}

/* In one transaction, so that what is compared is one state of the store. */
enum rt_status rt_store_verify(struct rt_store *store, struct rt_error *error)
{
    struct faults faults = {0};
    rt_refuse_broken_pages(store->db, false);
    enum rt_status status = rt_transaction_begin(store, error);
    if (status == RT_OK) {
        status = collect_all(store, &faults, error);
        rt_transaction_rollback(store);
    }
    rt_refuse_broken_pages(store->db, true);
    if (status == RT_OK && faults.count > 0) {
        status = rt_fail(error, RT_STORE, "the store is damaged, %ld faults, the first: %s", faults.count,
                         faults.first);
        rt_error_remedy(error, "go back to your latest backup");
    }
    rt_error_locate(status == RT_OK ? NULL : error, store->path, 0, NULL);
    return status;
}
