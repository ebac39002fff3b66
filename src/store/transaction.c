#include "handle.h"

enum rt_status rt_transaction_begin(struct rt_store *store, struct rt_error *error)
{
    const char *sql = "SAVEPOINT rt_step";
    if (store->depth == 0)
        sql = store->access == RT_STORE_WRITE ? "BEGIN IMMEDIATE" : "BEGIN";
    enum rt_status status = rt_run_sql(store->db, store->path, sql, "write the store", error);
    if (status == RT_OK)
        store->depth++;
    return status;
}

enum rt_status rt_transaction_commit(struct rt_store *store, struct rt_error *error)
{
    if (store->depth == 0)
        return rt_fail(error, RT_USE, "no transaction is open");
    const char *sql = store->depth == 1 ? "COMMIT" : "RELEASE rt_step";
    enum rt_status status = rt_run_sql(store->db, store->path, sql, "write the store", error);
    if (status == RT_OK)
        store->depth--;
    else
        rt_transaction_rollback(store);
    return status;
}

void rt_transaction_rollback(struct rt_store *store)
{
    if (store->depth == 0)
        return;
    store->depth--;
    if (sqlite3_get_autocommit(store->db) != 0)
        return; /* a failed write (a full disk) has already rolled everything back */
    if (store->depth == 0)
        sqlite3_exec(store->db, "ROLLBACK", NULL, NULL, NULL);
    else
        sqlite3_exec(store->db, "ROLLBACK TO rt_step; RELEASE rt_step", NULL, NULL, NULL);
}

enum rt_status rt_store_version(struct rt_store *store, int64_t *version, struct rt_error *error)
{
    long number = 0;
    enum rt_status status = rt_read_integer(store->db, store->path, "PRAGMA data_version", &number, error);
    *version = number;
    return status;
}

enum rt_status rt_store_test_constraints(struct rt_store *store, bool test, struct rt_error *error)
{
    /* not by its pragma, which does nothing inside of a transaction */
    int result = sqlite3_db_config(store->db, SQLITE_DBCONFIG_ENABLE_FKEY, test ? 1 : 0, NULL);
    enum rt_status status = rt_fail_sqlite(store->db, store->path, result, "set up the store", error);
    return status != RT_OK ? status
                           : rt_run_sql(store->db, store->path,
                                        test ? "PRAGMA ignore_check_constraints = OFF"
                                             : "PRAGMA ignore_check_constraints = ON",
                                        "set up the store", error);
}
