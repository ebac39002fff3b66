#include "ridgetally/audit/info.h"

#include "ridgetally/base/date.h"
#include "ridgetally/store/query.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static enum rt_status copy_setting(struct rt_store *store, const char *name, char *text, size_t size,
                                   struct rt_error *error)
{
    char *value = NULL;
    enum rt_status status = rt_setting(store, name, &value, error);
    if (status == RT_OK)
        snprintf(text, size, "%s", value);
    free(value);
    return status;
}

enum rt_status rt_data_hash(struct rt_store *store, int last_day, const char *filter_words,
                            char hex[RT_SHA256_HEX], struct rt_error *error)
{
    struct rt_query *query = NULL;
    struct rt_sha256 hash;
    bool row = false;
    rt_sha256_start(&hash);
    if (filter_words[0] != '\0')
        rt_sha256_add(&hash, filter_words, strlen(filter_words) + 1);
    enum rt_status status = rt_query_open(store, "sql/queries/audit-data.sql", &query, error);
    rt_bind_integer(query, ":last_day", last_day);
    while (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row) {
        const char *text = rt_column_text(query, 0);
        rt_sha256_add(&hash, text, strlen(text) + 1);
    }
    rt_query_close(query);
    rt_sha256_finish_hex(&hash, hex);
    return status;
}

/* Were the class cuts changed since the first audit? */
static enum rt_status compare_cuts(struct rt_store *store, const struct rt_class_cuts *cuts, bool *edited,
                                   struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    *edited = false;
    enum rt_status status = rt_query_open(store, "sql/queries/audit-first.sql", &query, error);
    if (status == RT_OK && (status = rt_query_next(query, &row, error)) == RT_OK && row &&
        !rt_column_is_null(query, 0)) {
        int first = rt_column_date(query, 0);
        *edited = cuts->depth.valid_from > first || cuts->tissue.valid_from > first ||
                  cuts->torque.valid_from > first;
    }
    rt_query_close(query);
    return status;
}

static enum rt_status find_restated(struct rt_store *store, struct rt_audit_info *info,
                                    struct rt_error *error)
{
    struct rt_query *query = NULL;
    bool row = false;
    enum rt_status status = rt_query_open(store, "sql/queries/audit-restated.sql", &query, error);
    rt_bind_integer(query, ":first_day", info->first_day);
    rt_bind_integer(query, ":last_day", info->last_day);
    if (status == RT_OK)
        status = rt_query_next(query, &row, error);
    info->restated = status == RT_OK && row && rt_column_integer(query, 0, 0) != 0;
    rt_query_close(query);
    return status;
}

static void name_period(const struct rt_period *period, char *text, size_t size)
{
    int first_day, last_day;
    rt_quarter_of(period->first_day, &first_day, &last_day);
    text[0] = '\0';
    if (first_day == period->first_day && last_day == period->last_day) {
        struct rt_civil_date date = rt_civil_date(first_day);
        snprintf(text, size, "%dQ%d", date.year, (date.month + 2) / 3);
    }
}

static void count_cohort(const struct rt_cohort *cohort, struct rt_audit_info *info)
{
    size_t last = (size_t)-1;
    info->implants_recorded = (long)cohort->count;
    info->patients_recorded = (long)cohort->patients;
    for (size_t i = 0; i < cohort->count; i++) {
        if (cohort->implants[i].placed_on < cohort->period.first_day)
            continue;
        info->implants_in_period++;
        info->patients_in_period += cohort->implants[i].patient != last;
        last = cohort->implants[i].patient;
    }
}

enum rt_status rt_audit_info(struct rt_store *store, const struct rt_cohort *cohort, const char *filter_words,
                             struct rt_audit_info *info, struct rt_error *error)
{
    int earliest;
    char fictional[8] = "";
    *info = (struct rt_audit_info){.first_day = cohort->period.first_day,
                                   .last_day = cohort->period.last_day,
                                   .complete_since = cohort->complete_since,
                                   .recall_interval_days = cohort->recall_days};
    name_period(&cohort->period, info->period_name, sizeof info->period_name);
    count_cohort(cohort, info);
    enum rt_status status =
        copy_setting(store, "practice_name", info->practice_name, sizeof info->practice_name, error);
    if (status == RT_OK)
        status = copy_setting(store, "fictional", fictional, sizeof fictional, error);
    if (status == RT_OK)
        status = rt_record_span(store, &earliest, &info->latest_record, error);
    if (status == RT_OK)
        status = rt_data_hash(store, cohort->period.last_day, filter_words, info->data_hash, error);
    if (status == RT_OK)
        status = compare_cuts(store, &cohort->cuts, &info->cuts_edited, error);
    if (status == RT_OK)
        status = find_restated(store, info, error);
    info->fictional = strcmp(fictional, "1") == 0;
    return status;
}
