#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/base/number.h"
#include "ridgetally/store/query.h"

#include <string.h>

enum kind { KIND_TEXT, KIND_DATE, KIND_COUNT };

/* What a value must be; the schema's constraints say the same. */
struct rule {
    enum kind kind;
    long least, most;
};

static const struct rt_setting_entry entries[] = {
    {"practice_name", "the name printed on every page"},
    {"complete_since", "from this day on every placement is in the records; survival counts from here"},
    {"recall_interval_months", "how long a patient may stay away before counting as lost"},
    {"primary_reader", "the reader whose first readings are analysed"},
    {"deck_threshold", "cells of fewer patients than this are withheld from a deck"},
};
enum { ENTRIES = sizeof entries / sizeof entries[0] };

static const struct rule rules[ENTRIES] = {
    {KIND_TEXT, 0, 0}, {KIND_DATE, 0, 0}, {KIND_COUNT, 1, 120}, {KIND_TEXT, 0, 0}, {KIND_COUNT, 2, 100}};

const struct rt_setting_entry *rt_settings(size_t *count)
{
    *count = ENTRIES;
    return entries;
}

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

static enum rt_status check_value(const char *name, const struct rule *rule, const char *value,
                                  struct rt_error *error)
{
    long number = 0;
    if (rule->kind == KIND_DATE && value[0] != '\0' && rt_parse_iso_date(value) == RT_NO_DATE) {
        rt_fail(error, RT_USE, "%s is a date, not '%s'", name, value);
        rt_error_remedy(error, "write it as YYYY-MM-DD, or '' for none");
        return RT_USE;
    }
    bool counts =
        rt_parse_integer(value, &number) && value[0] != '+' && number >= rule->least && number <= rule->most;
    if (rule->kind == KIND_COUNT && !counts) {
        rt_fail(error, RT_USE, "%s is a whole number from %ld to %ld, not '%s'", name, rule->least,
                rule->most, value);
        return RT_USE;
    }
    return RT_OK;
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

enum rt_status rt_change_setting(struct rt_store *store, const char *name, const char *value,
                                 struct rt_error *error)
{
    for (size_t i = 0; i < ENTRIES; i++) {
        if (strcmp(entries[i].name, name) == 0) {
            enum rt_status status = check_value(name, &rules[i], value, error);
            return status == RT_OK ? rt_set_setting(store, name, value, error) : status;
        }
    }
    rt_fail(error, RT_USE, "there is no setting '%s'", name);
    rt_error_remedy(error, "`ridgetally setting` lists them");
    return RT_USE;
}
