/* Chapter "Records and follow-up": how complete the records are that all the rest stands on. */
#include "plan.h"

#include "ridgetally/base/date.h"

#include <math.h>
#include <string.h>

const struct rt_figure *flow_row(const struct plan *plan, const char *measure)
{
    const struct rt_figure *row = find_row(plan, key_of("flow", measure, "", ""));
    return row != NULL ? row : find_row(plan, key_of("flow", measure, "window", "all"));
}

static void plan_status(const struct plan *plan, struct rt_chapter *chapter)
{
    const struct rt_figure *analysed = flow_row(plan, "analysed");
    const struct rt_figure *lost = find_row(plan, key_of("flow", "status", "status", "lost"));
    if (analysed == NULL)
        return;
    struct rt_document *document = plan->document;
    bool any = analysed->n_implants > 0;
    struct rt_block *block = rt_add_block(document, chapter, "flow-status", "heading.flow.status");
    struct rt_sentence *answer = rt_add_answer(document, block, any ? "flow.analysed" : "answer.nobody");
    rt_bind_figure(document, answer, "analysed", analysed);
    if (any && lost != NULL) {
        bool none = lost->n_implants == 0;
        struct rt_sentence *sentence = rt_add_answer(document, block, none ? "flow.lost.none" : "flow.lost");
        rt_bind_figure(document, sentence, "lost", lost);
    }
    const struct rt_figure *index = flow_row(plan, "follow_up_index");
    const struct rt_figure *median = flow_row(plan, "median_follow_up");
    if (index != NULL && index->state == RT_FIGURE_OK)
        rt_bind_figure(document, rt_add_answer(document, block, "flow.index"), "index", index);
    if (median != NULL && median->state == RT_FIGURE_OK)
        rt_bind_figure(document, rt_add_answer(document, block, "flow.median"), "median", median);
    static const struct level_column columns[] = {{"column.cases", "status", RT_PART_CASES, NULL}};
    add_level_table(plan, block, "caption.flow.status", "column.status", key_of("flow", "", "status", ""),
                    columns, 1);
    static const struct level_column excluded[] = {{"column.cases", "excluded", RT_PART_CASES, NULL}};
    add_level_table(plan, block, "caption.flow.excluded", "column.reason", key_of("flow", "", "reason", ""),
                    excluded, 1);
    method_of(plan, block, analysed);
    rt_set_caution(document, block, "caution.lost");
}

static void plan_completeness(const struct plan *plan, struct rt_chapter *chapter)
{
    struct key key = key_of("flow", "completeness", "year", "");
    size_t at = 0;
    const struct rt_figure *first = next_row(plan, key, &at);
    if (first == NULL)
        return;
    struct rt_block *block =
        rt_add_block(plan->document, chapter, "completeness", "heading.flow.completeness");
    const struct rt_figure *known = flow_row(plan, "completeness");
    if (known != NULL && known->state == RT_FIGURE_OK)
        rt_bind_figure(plan->document, rt_add_answer(plan->document, block, "flow.known"), "known", known);
    rt_add_answer(plan->document, block, "flow.completeness");
    struct rt_chart_request chart = chart_request(plan, RT_CHART_SHARE_BY_CLASS, "completeness-by-year");
    chart.section = "flow";
    chart.measures[0] = "completeness";
    chart.grouping = key.grouping;
    chart.level = key.level;
    if (any_ok(plan, key))
        rt_set_chart(plan->document, block, &chart);
    static const struct level_column columns[] = {
        {"column.cases", "completeness", RT_PART_CASES, NULL},
        {"column.flow.known", "completeness", RT_PART_SHARE, NULL},
        {"column.flow.index", "follow_up_index", RT_PART_VALUE, NULL},
    };
    add_level_table(plan, block, "caption.flow.completeness", "column.year", key, columns, 3);
    method_of(plan, block, first);
}

static void plan_fields(const struct plan *plan, struct rt_chapter *chapter)
{
    struct key key = key_of("flow", "field_recorded", "window|field", "all|");
    size_t at = 0;
    const struct rt_figure *first = next_row(plan, key, &at);
    if (first == NULL)
        return;
    struct rt_block *block = rt_add_block(plan->document, chapter, "fields", "heading.flow.fields");
    rt_add_answer(plan->document, block, "flow.fields");
    static const struct level_column columns[] = {
        {"column.flow.filled", "field_recorded", RT_PART_EVENTS_OF, NULL},
        {"column.share", "field_recorded", RT_PART_SHARE, NULL},
    };
    add_level_table(plan, block, "caption.flow.fields", "column.field", key, columns, 2);
    method_of(plan, block, first);
}

static void plan_discovery(const struct plan *plan, struct rt_chapter *chapter)
{
    const struct rt_figure *gap = NULL;
    for (size_t i = 0; i < plan->figures->count && gap == NULL; i++)
        if (strcmp(plan->figures->rows[i].measure, "discovery_gap") == 0)
            gap = &plan->figures->rows[i];
    if (gap == NULL)
        return;
    struct rt_block *block = rt_add_block(plan->document, chapter, "discovery", "heading.flow.discovery");
    const char *key = gap->state == RT_FIGURE_OK ? "flow.discovery" : "flow.discovery.few";
    rt_bind_figure(plan->document, rt_add_answer(plan->document, block, key), "gap", gap);
    method_of(plan, block, gap);
}

void plan_flow(const struct plan *plan)
{
    struct rt_document *document = plan->document;
    const struct rt_audit_info *info = plan->subject->info;
    struct rt_chapter *chapter = rt_add_chapter(document, "records", "heading.flow");
    rt_bind_words(document, rt_add_lead(document, chapter, "flow.rules"), "days",
                  rt_document_text(document, "%d", info->recall_interval_days));
    if (info->complete_since != RT_NO_DATE)
        rt_bind_words(document, rt_add_lead(document, chapter, "flow.complete-since"), "date",
                      day_words(document, info->complete_since));
    plan_status(plan, chapter);
    plan_completeness(plan, chapter);
    plan_fields(plan, chapter);
    plan_discovery(plan, chapter);
}
