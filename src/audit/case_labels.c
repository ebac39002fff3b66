#include "ridgetally/audit/case_labels.h"

#include "ridgetally/base/date.h"
#include "ridgetally/store/query.h"

#include <stdio.h>

void rt_write_case(struct rt_case_writer *writer, enum rt_case_kind kind, size_t index, bool whole_patient,
                   int day, const char *finding, const char *beside)
{
    const struct rt_audit_implant *implant = &writer->cohort->implants[index];
    struct rt_query *query = NULL;
    bool row = false;
    if (writer->status != RT_OK)
        return;
    writer->status = rt_query_open(writer->store, "sql/queries/case-labels.sql", &query, writer->error);
    rt_bind_integer(query, ":id", implant->record);
    if (writer->status == RT_OK)
        writer->status = rt_query_next(query, &row, writer->error);
    if (writer->status == RT_OK && row) {
        const struct rt_case one = {.kind = kind,
                                    .patient = rt_column_text(query, 0),
                                    .implant = whole_patient ? "" : rt_column_text(query, 1),
                                    .tooth = whole_patient ? -1 : implant->tooth,
                                    .day = day,
                                    .finding = finding,
                                    .beside = beside};
        writer->status = rt_add_case(writer->list, &one, writer->error);
    }
    rt_query_close(query);
}

/* Columns of due-contradictions.sql. */
enum { PATIENT, IMPLANT, TOOTH, PLACED_ON, NUMBER, REASON, BLOCKS };

void rt_write_contradictions(struct rt_case_writer *writer, enum rt_case_kind kind)
{
    struct rt_query *query = NULL;
    bool row = false;
    if (writer->status != RT_OK)
        return;
    writer->status =
        rt_query_open(writer->store, "sql/queries/due-contradictions.sql", &query, writer->error);
    rt_bind_integer(query, ":all", kind == RT_CASE_EXCLUDED);
    rt_bind_integer(query, ":blocking", kind == RT_CASE_EXCLUDED);
    rt_bind_integer(query, ":last_day", writer->cohort->period.last_day);
    while (writer->status == RT_OK && (writer->status = rt_query_next(query, &row, writer->error)) == RT_OK &&
           row) {
        char beside[320];
        const char *blocks = rt_column_text(query, BLOCKS);
        snprintf(beside, sizeof beside, "doubt %lld%s%s", (long long)rt_column_integer(query, NUMBER, 0),
                 blocks[0] == '\0' ? "" : "; keeps it out of: ", blocks);
        const struct rt_case one = {.kind = kind,
                                    .patient = rt_column_text(query, PATIENT),
                                    .implant = rt_column_text(query, IMPLANT),
                                    .tooth = (int)rt_column_integer(query, TOOTH, -1),
                                    .day = rt_column_date(query, PLACED_ON),
                                    .finding = rt_column_text(query, REASON),
                                    .beside = beside};
        writer->status = rt_add_case(writer->list, &one, writer->error);
    }
    rt_query_close(query);
}
