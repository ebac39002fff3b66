#include "ridgetally/store/narrow.h"

#include "handle.h"

#include "ridgetally/base/resource.h"
#include "ridgetally/store/query.h"

static enum rt_status run_resource(struct rt_store *store, const char *name, struct rt_error *error)
{
    const struct rt_resource *resource = rt_find_resource(name);
    if (resource == NULL)
        return rt_fail(error, RT_USE, "%s is not in the program", name);
    return rt_run_sql(store->db, store->path, resource->bytes, "choose records", error);
}

/* A store open for reading refuses every change, also to what only this connection sees. */
static enum rt_status permit_changes(struct rt_store *store, bool permitted, struct rt_error *error)
{
    if (store->access != RT_STORE_READ)
        return RT_OK;
    return rt_run_sql(store->db, store->path,
                      permitted ? "PRAGMA query_only = OFF" : "PRAGMA query_only = ON", "choose records",
                      error);
}

static enum rt_status choose(struct rt_store *store, const int64_t *implants, size_t count,
                             struct rt_error *error)
{
    struct rt_query *query = NULL;
    enum rt_status status = rt_query_open(store, "sql/narrow/choose-implant.sql", &query, error);
    for (size_t i = 0; status == RT_OK && i < count; i++) {
        rt_bind_integer(query, ":id", implants[i]);
        status = rt_query_run(query, error);
    }
    rt_query_close(query);
    if (status != RT_OK)
        return status;
    status = rt_query_open(store, "sql/narrow/choose-patients.sql", &query, error);
    if (status == RT_OK)
        status = rt_query_run(query, error);
    rt_query_close(query);
    return status;
}

enum rt_status rt_narrow_store(struct rt_store *store, const int64_t *implants, size_t count,
                               struct rt_error *error)
{
    if (store->narrowed)
        return rt_fail(error, RT_USE, "the records are chosen already");
    enum rt_status status = permit_changes(store, true, error);
    if (status == RT_OK) {
        store->narrowed = true;
        status = run_resource(store, "sql/narrow/narrow.sql", error);
    }
    if (status == RT_OK)
        status = choose(store, implants, count, error);
    if (status == RT_OK)
        status = permit_changes(store, false, error);
    if (status != RT_OK)
        rt_widen_store(store, NULL);
    return status;
}

enum rt_status rt_widen_store(struct rt_store *store, struct rt_error *error)
{
    if (!store->narrowed)
        return RT_OK;
    enum rt_status status = permit_changes(store, true, error);
    if (status == RT_OK)
        status = run_resource(store, "sql/narrow/widen.sql", error);
    enum rt_status closed = permit_changes(store, false, error);
    store->narrowed = status != RT_OK;
    return status == RT_OK ? closed : status;
}
