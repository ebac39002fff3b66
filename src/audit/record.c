#include "ridgetally/audit/audit.h"

#include "ridgetally/audit/operator_baseline.h"
#include "ridgetally/store/query.h"

static void bind_audit(struct rt_query *query, const struct rt_audit_info *info)
{
    rt_bind_integer(query, ":first_day", info->first_day);
    rt_bind_integer(query, ":last_day", info->last_day);
    rt_bind_text(query, ":data_hash", info->data_hash);
    rt_bind_text(query, ":program", RT_VERSION);
}

/* Run one statement about the audit. */
static enum rt_status run(struct rt_store *store, const char *resource, const struct rt_audit_info *info,
                          const char *recorded_at, struct rt_error *error)
{
    struct rt_query *query = NULL;
    enum rt_status status = rt_query_open(store, resource, &query, error);
    bind_audit(query, info);
    if (recorded_at != NULL)
        rt_bind_text(query, ":recorded_at", recorded_at);
    if (status == RT_OK)
        status = rt_query_run(query, error);
    rt_query_close(query);
    return status;
}

static void bind_count(struct rt_query *query, const char *name, long count)
{
    if (count == RT_NO_COUNT)
        rt_bind_null(query, name);
    else
        rt_bind_integer(query, name, count);
}

static void bind_figure(struct rt_query *query, const struct rt_figure *row)
{
    rt_bind_text(query, ":section", row->section);
    rt_bind_text(query, ":measure", row->measure);
    rt_bind_text(query, ":grouping", row->grouping);
    rt_bind_text(query, ":level", row->level);
    rt_bind_real(query, ":at", row->at);
    bind_count(query, ":n_implants", row->n_implants);
    bind_count(query, ":n_patients", row->n_patients);
    bind_count(query, ":n_events", row->n_events);
    bind_count(query, ":n_due", row->n_due);
    rt_bind_real(query, ":value", row->value);
    rt_bind_real(query, ":lower", row->lower);
    rt_bind_real(query, ":upper", row->upper);
    rt_bind_real(query, ":p", row->p);
    rt_bind_real(query, ":p_adjusted", row->p_adjusted);
    rt_bind_text(query, ":unit", row->unit);
    rt_bind_text(query, ":baseline", row->baseline);
    rt_bind_text(query, ":site", row->site);
    rt_bind_text(query, ":unit_of_analysis", row->unit_of_analysis);
    rt_bind_text(query, ":method", row->method);
    rt_bind_text(query, ":state", rt_figure_state_name(row->state));
    rt_bind_text(query, ":remark", row->remark);
}

static enum rt_status insert_figures(struct rt_store *store, int64_t audit,
                                     const struct rt_figure_list *figures, struct rt_error *error)
{
    struct rt_query *query = NULL;
    enum rt_status status = rt_query_open(store, "sql/queries/audit-insert-figure.sql", &query, error);
    rt_bind_integer(query, ":audit_id", audit);
    for (size_t i = 0; status == RT_OK && i < figures->count; i++) {
        rt_bind_integer(query, ":position", (int64_t)i);
        bind_figure(query, &figures->rows[i]);
        status = rt_query_run(query, error);
    }
    rt_query_close(query);
    return status;
}

enum rt_status rt_record_audit(struct rt_store *store, const struct rt_audit_info *info,
                               const struct rt_figure_list *figures, const char *recorded_at,
                               struct rt_error *error)
{
    enum rt_status status = rt_transaction_begin(store, error);
    if (status != RT_OK)
        return status;
    status = run(store, "sql/queries/audit-delete-figures.sql", info, NULL, error);
    if (status == RT_OK)
        status = run(store, "sql/queries/audit-delete.sql", info, NULL, error);
    if (status == RT_OK)
        status = run(store, "sql/queries/audit-insert.sql", info, recorded_at, error);
    if (status == RT_OK)
        status = insert_figures(store, rt_last_row_id(store), figures, error);
    if (status == RT_OK)
        status = rt_freeze_operator_baselines(store, figures, recorded_at, error);
    if (status == RT_OK)
        return rt_transaction_commit(store, error);
    rt_transaction_rollback(store);
    return status;
}
