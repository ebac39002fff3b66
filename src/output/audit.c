#include "ridgetally/output/audit.h"

#include "plan.h"

#include "ridgetally/base/date.h"

#include <stddef.h>

const char *day_words(struct rt_document *document, int day)
{
    static const char *const months[] = {"January",   "February", "March",    "April",
                                         "May",       "June",     "July",     "August",
                                         "September", "October",  "November", "December"};
    if (day == RT_NO_DATE)
        return "";
    struct rt_civil_date date = rt_civil_date(day);
    return rt_document_text(document, "%d %s %04d", date.day, months[date.month - 1], date.year);
}

static const char *period_words(struct rt_document *document, const struct rt_audit_info *info)
{
    const char *last = day_words(document, info->last_day);
    if (info->first_day == RT_NO_DATE)
        return rt_document_text(document, "everything to %s", last);
    if (info->first_day == info->last_day)
        return last;
    return rt_document_text(document, "%s to %s", day_words(document, info->first_day), last);
}

void describe_page(const struct rt_audit_subject *subject, struct rt_document *document, const char *title,
                   const char *fingerprint)
{
    const struct rt_audit_info *info = subject->info;
    document->title = rt_document_words(document, title);
    document->practice = rt_document_text(document, "%s", info->practice_name);
    document->period = period_words(document, info);
    document->data_date =
        day_words(document, info->latest_record < info->last_day ? info->latest_record : info->last_day);
    document->notice = info->fictional ? rt_document_words(document, "page.invented") : "";
    document->filters = rt_document_text(document, "%s", subject->filters == NULL ? "" : subject->filters);
    document->without_charts = "";
    document->footer = rt_document_text(document, "%s ridgetally " RT_VERSION ". %s %.16s.",
                                        rt_document_words(document, "page.footer"),
                                        rt_document_words(document, fingerprint), info->data_hash);
}

enum rt_status rt_plan_audit(const struct rt_audit_subject *subject, struct rt_document *document,
                             struct rt_error *error)
{
    struct row_index index;
    const enum rt_status status = make_row_index(&index, subject->figures, error);
    if (status != RT_OK)
        return status;
    const struct plan plan = {document, subject, subject->figures, &index};
    describe_page(subject, document, "page.audit.title", "page.fingerprint");
    plan_front(&plan);
    plan_yardsticks(&plan);
    plan_depth(&plan);
    plan_stability(&plan);
    plan_crest(&plan);
    plan_survival(&plan);
    plan_early_failure(&plan);
    plan_success(&plan);
    plan_rules(&plan);
    plan_operators_and_time(&plan);
    plan_readers(&plan);
    plan_flow(&plan);
    plan_precision(&plan);
    plan_cases(&plan);
    plan_methods(&plan);
    plan_coverage(&plan);
    plan_cautions(&plan);
    release_row_index(&index);
    return rt_document_status(document, error);
}
