#include "loader.h"

#include <stdlib.h>

void add_detail(struct rt_load_report *report, long line, const char *column, const char *words,
                const char *remedy)
{
    if (report->details++ >= RT_MOST_DETAILS)
        return;
    rt_text_format(&report->words, "line %ld: %s: ", line, column);
    rt_text_add_plain(&report->words, words);
    if (remedy != NULL)
        rt_text_format(&report->words, ": %s", remedy);
    rt_text_add_character(&report->words, '\n');
}

enum rt_status add_warnings(struct rt_store *store, struct rt_load_report *report, struct rt_error *error)
{
    struct rt_query *query = NULL;
    enum rt_status status = rt_query_open_text(
        store,
        "SELECT reason || ': ' || remedy FROM doubt WHERE batch_id = :batch AND "
        "subject GLOB '*:all' AND state = 'waiting' AND check_name <> 'not-recorded' ORDER BY id",
        &query, error);
    rt_bind_integer(query, ":batch", report->batch);
    bool row = status == RT_OK;
    while (status == RT_OK && row) {
        status = rt_query_next(query, &row, error);
        if (status == RT_OK && row) {
            rt_text_add_plain(&report->warnings, rt_column_text(query, 0));
            rt_text_add(&report->warnings, "\n");
        }
    }
    rt_query_close(query);
    return status == RT_OK ? rt_text_status(&report->warnings, error) : status;
}

void rt_release_load_report(struct rt_load_report *report)
{
    rt_text_release(&report->words);
    rt_text_release(&report->warnings);
    rt_text_release(&report->unknown_columns);
    if (report->map != NULL)
        rt_release_map(report->map);
    free(report->map);
    free(report->map_text);
}
