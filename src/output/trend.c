#include "ridgetally/output/trend.h"

#include "operators.h"

#include <string.h>

/* Is the row about the operator, alone or first of several parts? Ungrouped rows are about the practice. */
static bool belongs(const struct rt_figure *row, const char *operator_label)
{
    const size_t length = strlen(operator_label);
    if (strcmp(row->section, "operators") != 0)
        return false;
    if (strncmp(row->grouping, "operator", strlen("operator")) != 0)
        return row->grouping[0] == '\0';
    bool alone = row->grouping[strlen("operator")] == '\0';
    return strncmp(row->level, operator_label, length) == 0 && row->level[length] == (alone ? '\0' : '|');
}

enum rt_status rt_trend_figures(const struct rt_audit_subject *audit, const char *operator_label,
                                struct rt_figure_list *rows, struct rt_case_series_list *points,
                                struct rt_error *error)
{
    enum rt_status status = RT_OK;
    for (size_t i = 0; i < audit->figures->count && status == RT_OK; i++)
        if (belongs(&audit->figures->rows[i], operator_label))
            status = rt_add_figure(rows, &audit->figures->rows[i], error);
    const struct rt_case_series *all =
        audit->cases == NULL ? NULL : rt_find_case_series(audit->cases, "session_depth");
    struct rt_case_series *own =
        status == RT_OK && all != NULL ? rt_add_case_series(points, "session_depth", "operator") : NULL;
    if (status == RT_OK && all != NULL && own == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; own != NULL && i < all->count && status == RT_OK; i++)
        if (strcmp(all->points[i].group, operator_label) == 0)
            status = rt_add_case_point(points, own, &all->points[i], error);
    return status;
}

static struct rt_chapter *chapter_of(const struct plan *plan, const char *id, const char *heading)
{
    return rt_add_chapter(plan->document, id, heading);
}

enum rt_status rt_plan_trend(const struct rt_audit_subject *subject, const char *operator_label,
                             struct rt_document *document, struct rt_error *error)
{
    const struct plan plan = {document, subject, subject->figures, NULL};
    describe_page(subject, document, "page.trend.title", "page.fingerprint");
    document->title =
        rt_document_text(document, "%s %s", rt_document_words(document, "page.trend.title"), operator_label);
    plan_case_mix(&plan, chapter_of(&plan, "cases", "heading.trend.cases"));
    plan_signals(&plan, chapter_of(&plan, "signals", "heading.trend.signals"));
    struct rt_chapter *depth = chapter_of(&plan, "depth", "heading.trend.depth");
    plan_depth_over_time(&plan, depth);
    plan_within_by_quarter(&plan, depth);
    plan_learning(&plan, depth);
    plan_torque_by_quarter(&plan, chapter_of(&plan, "torque", "heading.trend.torque"));
    plan_failures_over_time(&plan, chapter_of(&plan, "failures", "heading.trend.failures"));
    plan_crest_by_quarter(&plan, chapter_of(&plan, "crest", "heading.trend.crest"));
    plan_beside_the_others(&plan, chapter_of(&plan, "beside", "heading.trend.beside"));
    plan_methods(&plan);
    plan_cautions(&plan);
    return rt_document_status(document, error);
}
