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

/* Parameters of audit-insert-figure.sql. Thousands of rows bind them all, so that their places are looked up once. */
enum parameter {
    AUDIT_ID,
    POSITION,
    SECTION,
    MEASURE,
    GROUPING,
    LEVEL,
    AT,
    N_IMPLANTS,
    N_PATIENTS,
    N_EVENTS,
    N_DUE,
    VALUE,
    LOWER,
    UPPER,
    P,
    P_ADJUSTED,
    UNIT,
    BASELINE,
    SITE,
    UNIT_OF_ANALYSIS,
    METHOD,
    STATE,
    REMARK,
    PARAMETERS
};

static enum rt_status find_places(const struct rt_query *query, int places[PARAMETERS],
                                  struct rt_error *error)
{
    static const char *const names[PARAMETERS] = {
        [AUDIT_ID] = ":audit_id",
        [POSITION] = ":position",
        [SECTION] = ":section",
        [MEASURE] = ":measure",
        [GROUPING] = ":grouping",
        [LEVEL] = ":level",
        [AT] = ":at",
        [N_IMPLANTS] = ":n_implants",
        [N_PATIENTS] = ":n_patients",
        [N_EVENTS] = ":n_events",
        [N_DUE] = ":n_due",
        [VALUE] = ":value",
        [LOWER] = ":lower",
        [UPPER] = ":upper",
        [P] = ":p",
        [P_ADJUSTED] = ":p_adjusted",
        [UNIT] = ":unit",
        [BASELINE] = ":baseline",
        [SITE] = ":site",
        [UNIT_OF_ANALYSIS] = ":unit_of_analysis",
        [METHOD] = ":method",
        [STATE] = ":state",
        [REMARK] = ":remark",
    };
    for (int i = 0; i < PARAMETERS; i++) {
        places[i] = rt_parameter(query, names[i]);
        if (places[i] == 0)
            return rt_fail(error, RT_USE, "the query has no parameter %s", names[i]);
    }
    return RT_OK;
}

static void bind_count(struct rt_query *query, int place, long count)
{
    if (count == RT_NO_COUNT)
        rt_bind_null_at(query, place);
    else
        rt_bind_integer_at(query, place, count);
}

/* The texts stay where they are until the row is written. */
static void bind_figure(struct rt_query *query, const int places[PARAMETERS], const struct rt_figure *row)
{
    rt_bind_text_at(query, places[SECTION], row->section);
    rt_bind_text_at(query, places[MEASURE], row->measure);
    rt_bind_text_at(query, places[GROUPING], row->grouping);
    rt_bind_text_at(query, places[LEVEL], row->level);
    rt_bind_real_at(query, places[AT], row->at);
    bind_count(query, places[N_IMPLANTS], row->n_implants);
    bind_count(query, places[N_PATIENTS], row->n_patients);
    bind_count(query, places[N_EVENTS], row->n_events);
    bind_count(query, places[N_DUE], row->n_due);
    rt_bind_real_at(query, places[VALUE], row->value);
    rt_bind_real_at(query, places[LOWER], row->lower);
    rt_bind_real_at(query, places[UPPER], row->upper);
    rt_bind_real_at(query, places[P], row->p);
    rt_bind_real_at(query, places[P_ADJUSTED], row->p_adjusted);
    rt_bind_text_at(query, places[UNIT], row->unit);
    rt_bind_text_at(query, places[BASELINE], row->baseline);
    rt_bind_text_at(query, places[SITE], row->site);
    rt_bind_text_at(query, places[UNIT_OF_ANALYSIS], row->unit_of_analysis);
    rt_bind_text_at(query, places[METHOD], row->method);
    rt_bind_text_at(query, places[STATE], rt_figure_state_name(row->state));
    rt_bind_text_at(query, places[REMARK], row->remark);
}

static enum rt_status insert_rows(struct rt_store *store, int64_t audit, const struct rt_figure_list *figures,
                                  struct rt_error *error)
{
    struct rt_query *query = NULL;
    int places[PARAMETERS];
    enum rt_status status = rt_query_open(store, "sql/queries/audit-insert-figure.sql", &query, error);
    if (status == RT_OK)
        status = find_places(query, places, error);
    for (size_t i = 0; status == RT_OK && i < figures->count; i++) {
        rt_bind_integer_at(query, places[AUDIT_ID], audit);
        rt_bind_integer_at(query, places[POSITION], (int64_t)i);
        bind_figure(query, places, &figures->rows[i]);
        status = rt_query_run(query, error);
    }
    rt_query_close(query);
    return status;
}

/* SQLite would build its lists of sections and states anew for every row: all rows are held against them afterwards, in one
 * statement. */
static enum rt_status test_rows(struct rt_store *store, int64_t audit, struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status = rt_query_open(store, "sql/queries/audit-odd-figure.sql", &query, error);
    rt_bind_integer(query, ":audit_id", audit);
    if (status == RT_OK)
        status = rt_query_next(query, &row, error);
    if (status == RT_OK && row)
        status = rt_fail(error, RT_USE, "figure row %lld cannot be recorded: section %s, state %s",
                         (long long)rt_column_integer(query, 0, 0), rt_column_text(query, 1),
                         rt_column_text(query, 2));
    rt_query_close(query);
    return status;
}

static enum rt_status insert_figures(struct rt_store *store, int64_t audit,
                                     const struct rt_figure_list *figures, struct rt_error *error)
{
    struct rt_error ignored = {0};
    enum rt_status status = rt_store_test_constraints(store, false, error);
    if (status == RT_OK)
        status = insert_rows(store, audit, figures, error);
    enum rt_status back = rt_store_test_constraints(store, true, status == RT_OK ? error : &ignored);
    if (status == RT_OK)
        status = back;
    return status == RT_OK ? test_rows(store, audit, error) : status;
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
