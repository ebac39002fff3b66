#include "ridgetally/base/memory.h"
#include "ridgetally/store/query.h"

enum rt_status rt_setting(struct rt_store *store, const char *name, char **value, struct rt_error *error)
{
    *value = NULL;
    struct rt_query *query = NULL;
    enum rt_status status =
        rt_query_open_text(store, "SELECT value FROM setting WHERE name = :name", &query, error);
    rt_bind_text(query, ":name", name);
    bool row = false;
    if (status == RT_OK)
        status = rt_query_next(query, &row, error);
    if (status == RT_OK) {
        *value = rt_copy_text(row ? rt_column_text(query, 0) : "");
        if (*value == NULL)
            status = rt_fail_memory(error);
    }
    rt_query_close(query);
    return status;
}

enum rt_status rt_set_setting(struct rt_store *store, const char *name, const char *value,
                              struct rt_error *error)
{
    struct rt_query *query = NULL;
    enum rt_status status = rt_query_open_text(store,
                                               "INSERT INTO setting (name, value) VALUES (:name, :value) "
                                               "ON CONFLICT (name) DO UPDATE SET value = excluded.value",
                                               &query, error);
    rt_bind_text(query, ":name", name);
    rt_bind_text(query, ":value", value);
    if (status == RT_OK)
        status = rt_query_run(query, error);
    rt_query_close(query);
    return status;
}
