/* The cells of issued decks, in the store. */
#include "deck_parts.h"

#include "ridgetally/store/clock.h"
#include "ridgetally/store/query.h"

enum rt_status load_issued_cells(struct rt_store *store, struct rt_deck_rows *rows, struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status = rt_query_open(store, "sql/queries/issued-deck-cells.sql", &query, error);
    while (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row) {
        bool shown = rt_column_integer(query, 3, 0) != 0;
        long deck = (long)rt_column_integer(query, 7, 0);
        status =
            rt_add_issued_cell(rows, deck, rt_column_text(query, 0), (long)rt_column_integer(query, 1, 0),
                               (long)rt_column_real(query, 2), shown, error);
        if (status == RT_OK && !rt_column_is_null(query, 4))
            status =
                rt_add_issued_cell(rows, deck, rt_column_text(query, 4), (long)rt_column_integer(query, 5, 0),
                                   (long)rt_column_real(query, 6), shown, error);
    }
    rt_query_close(query);
    return status;
}

enum rt_status load_deck_letters(struct rt_store *store, struct rt_deck_rows *rows, struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status = rt_query_open(store, "sql/queries/deck-letters.sql", &query, error);
    while (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row)
        status = rt_add_deck_letter(rows, rt_column_text(query, 0), rt_column_text(query, 1),
                                    (size_t)rt_column_integer(query, 2, 0), error);
    rt_query_close(query);
    return status;
}

static enum rt_status record_letter(void *context, const char *kind, const char *label_hash, size_t place,
                                    struct rt_error *error)
{
    struct rt_query *query = context;
    rt_bind_text(query, ":kind", kind);
    rt_bind_text(query, ":label_hash", label_hash);
    rt_bind_integer(query, ":place", (int64_t)place);
    return rt_query_run(query, error);
}

static enum rt_status record_letters(struct rt_store *store, const struct rt_deck_rows *rows,
                                     struct rt_error *error)
{
    struct rt_query *query = NULL;
    enum rt_status status = rt_query_open(store, "sql/queries/deck-letter-insert.sql", &query, error);
    if (status == RT_OK)
        status = rt_write_deck_letters(rows, record_letter, query, error);
    rt_query_close(query);
    return status;
}

struct recording {
    struct rt_query *query;
    int64_t deck;
};

static enum rt_status record_cell(void *context, const char *key, long patients, long count, bool shown,
                                  struct rt_error *error)
{
    const struct recording *recording = context;
    rt_bind_integer(recording->query, ":deck", recording->deck);
    rt_bind_text(recording->query, ":cell", key);
    rt_bind_integer(recording->query, ":patients", patients);
    rt_bind_real(recording->query, ":count", (double)count);
    rt_bind_integer(recording->query, ":shown", shown);
    return rt_query_run(recording->query, error);
}

static enum rt_status record_deck(struct rt_store *store, const struct rt_audit_info *info,
                                  struct recording *recording, struct rt_error *error)
{
    char now[RT_CLOCK_BYTES];
    struct rt_query *query = NULL;
    enum rt_status status = rt_query_open(store, "sql/queries/issued-deck-insert.sql", &query, error);
    rt_bind_integer(query, ":first_day", info->first_day);
    rt_bind_integer(query, ":last_day", info->last_day);
    rt_bind_integer(query, ":threshold", RT_DECK_THRESHOLD);
    rt_bind_text(query, ":data_hash", info->data_hash);
    rt_bind_text(query, ":issued_at", rt_clock(now));
    if (status == RT_OK)
        status = rt_query_run(query, error);
    recording->deck = rt_last_row_id(store);
    rt_query_close(query);
    return status;
}

enum rt_status record_issued_deck(struct rt_store *store, const struct rt_audit_info *info,
                                  const struct rt_deck_rows *rows, struct rt_error *error)
{
    struct recording recording = {NULL, 0};
    enum rt_status status = rt_transaction_begin(store, error);
    if (status != RT_OK)
        return status;
    status = record_deck(store, info, &recording, error);
    if (status == RT_OK)
        status = rt_query_open(store, "sql/queries/issued-deck-cell-insert.sql", &recording.query, error);
    if (status == RT_OK)
        status = rt_write_issued_cells(rows, record_cell, &recording, error);
    rt_query_close(recording.query);
    if (status == RT_OK)
        status = record_letters(store, rows, error);
    if (status == RT_OK)
        status = rt_transaction_commit(store, error);
    else
        rt_transaction_rollback(store);
    return status;
}
