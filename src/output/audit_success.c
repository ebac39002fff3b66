/* Chapter "Success": published sets of criteria side by side, how many could be judged, and where they disagree. */
#include "plan.h"

#include <math.h>
#include <string.h>

#define ALL "all"

/* The rows of a success measure; `at` NaN stands for the latest visit, which rows say by having no time. */
static const struct rt_figure *next_at(const struct plan *plan, struct key key, size_t *at)
{
    const struct rt_figure *row;
    while ((row = next_row(plan, key, at)) != NULL)
        if (!isnan(key.at) || isnan(row->at))
            return row;
    return NULL;
}

static struct key success_key(const char *measure, const char *grouping, const char *level)
{
    return key_of("success", measure, grouping, level);
}

static const char *set_of(const struct plan *plan, const struct rt_figure *row)
{
    return level_part(plan, row->level, 1);
}

/* The row of one set at the latest visit. */
static const struct rt_figure *of_set(const struct plan *plan, const char *measure, const char *set)
{
    return find_row(
        plan, success_key(measure, "window|criteria", rt_document_text(plan->document, ALL "|%s", set)));
}

static const struct rt_figure *bound_row(const struct plan *plan, const char *set, const char *bound)
{
    return find_row(plan, success_key("success_bound", "window|criteria|bound",
                                      rt_document_text(plan->document, ALL "|%s|%s", set, bound)));
}

/* Lowest and highest share among the sets at the latest visit. */
static void add_range(const struct plan *plan, struct rt_block *block)
{
    struct rt_document *document = plan->document;
    const struct rt_figure *low = NULL, *high = NULL;
    struct key key = success_key("success_share", "window|criteria", ALL "|");
    size_t at = 0;
    for (const struct rt_figure *row = next_at(plan, key, &at); row != NULL; row = next_at(plan, key, &at)) {
        if (row->state != RT_FIGURE_OK)
            continue;
        low = low == NULL || row->value < low->value ? row : low;
        high = high == NULL || row->value > high->value ? row : high;
    }
    if (low == NULL) {
        rt_add_answer(document, block, "success.few");
        return;
    }
    const struct rt_figure *worst = bound_row(plan, set_of(plan, low), "worst case");
    const struct rt_figure *best = bound_row(plan, set_of(plan, low), "best case");
    struct rt_sentence *answer = rt_add_answer(document, block, "success.range");
    rt_bind_figure(document, answer, "low", low);
    rt_bind_words(document, answer, "low-set", set_of(plan, low));
    rt_bind_figure(document, answer, "high", high);
    rt_bind_words(document, answer, "high-set", set_of(plan, high));
    if (worst == NULL || best == NULL)
        return;
    answer = rt_add_answer(document, block, "success.bounds");
    rt_bind_figure(document, answer, "low", low);
    rt_bind_figure(document, answer, "worst", worst);
    rt_bind_figure(document, answer, "best", best);
    rt_bind_words(document, answer, "low-set", set_of(plan, low));
}

static void add_share_table(const struct plan *plan, struct rt_block *block)
{
    struct rt_document *document = plan->document;
    struct rt_table *table = rt_add_table(document, block, "caption.success.share", "column.criteria");
    rt_add_column(document, table, "column.due", RT_PART_N);
    rt_add_column(document, table, "column.success.judged", RT_PART_CASES);
    rt_add_column(document, table, "column.success.share", RT_PART_SHARE);
    rt_add_column(document, table, "column.success.patients", RT_PART_ESTIMATE);
    rt_add_column(document, table, "column.success.worst", RT_PART_ESTIMATE);
    rt_add_column(document, table, "column.success.best", RT_PART_ESTIMATE);
    struct key key = success_key("success_share", "window|criteria", ALL "|");
    size_t at = 0;
    for (const struct rt_figure *row = next_at(plan, key, &at); row != NULL; row = next_at(plan, key, &at)) {
        const char *set = set_of(plan, row);
        struct key patients = success_key("success_share", "window|criteria", row->level);
        patients.unit = "patient";
        struct rt_table_row *line = rt_add_row(document, table, set);
        rt_add_figure_cell(document, line, of_set(plan, "success_judged", set));
        rt_add_figure_cell(document, line, row);
        rt_add_figure_cell(document, line, row);
        rt_add_figure_cell(document, line, find_row(plan, patients));
        rt_add_figure_cell(document, line, bound_row(plan, set, "worst case"));
        rt_add_figure_cell(document, line, bound_row(plan, set, "best case"));
    }
}

static void plan_share(const struct plan *plan, struct rt_chapter *chapter, const struct rt_figure *first)
{
    struct rt_document *document = plan->document;
    struct rt_block *block = rt_add_block(document, chapter, "success-sets", "heading.success.sets");
    add_range(plan, block);
    rt_add_remark(document, block, "success.leans");
    struct rt_chart_request chart = chart_request(plan, RT_CHART_SHARE_BOUNDS, "success-by-set");
    chart.section = "success";
    chart.measures[0] = "success_share";
    chart.measures[1] = "success_bound";
    chart.grouping = "window|criteria";
    chart.level = ALL "|";
    rt_set_chart(document, block, &chart);
    add_share_table(plan, block);
    method_of(plan, block, first);
    rt_set_caution(document, block, "caution.success");
}

/* --- over time ------------------------------------------------------------------------------------------- */

static void plan_times(const struct plan *plan, struct rt_chapter *chapter, const struct rt_figure *first)
{
    static const double months[] = {12, 36, 60, NAN};
    enum { TIMES = sizeof months / sizeof months[0] };
    static const char *const headings[TIMES] = {"column.success.year", "column.success.three",
                                                "column.success.five", "column.success.latest"};
    struct rt_document *document = plan->document;
    struct rt_block *block = rt_add_block(document, chapter, "success-time", "heading.success.time");
    rt_add_answer(document, block, "success.time");
    struct rt_table *table = rt_add_table(document, block, "caption.success.time", "column.criteria");
    for (size_t i = 0; i < TIMES; i++)
        rt_add_column(document, table, headings[i], RT_PART_SHARE);
    struct key key = success_key("success_share", "window|criteria", ALL "|");
    size_t at = 0;
    for (const struct rt_figure *row = next_at(plan, key, &at); row != NULL; row = next_at(plan, key, &at)) {
        struct rt_table_row *line = rt_add_row(document, table, set_of(plan, row));
        for (size_t i = 0; i < TIMES; i++) {
            struct key then = success_key("success_share", "window|criteria", row->level);
            then.at = months[i];
            then.baseline = isnan(months[i]) ? NULL : "placement";
            rt_add_figure_cell(document, line, find_row(plan, then));
        }
    }
    method_of(plan, block, first);
}

/* --- what each set requires, and what the records say of it ---------------------------------------------- */

static const struct rt_figure *limit_row(const struct plan *plan, const char *set, const char *requirement)
{
    return find_row(plan, success_key("success_limit", "criteria|requirement",
                                      rt_document_text(plan->document, "%s|%s", set, requirement)));
}

/* Every requirement of a list of sets, in the order of the catalogue's rows for the latest visit. */
static void plan_requirements(const struct plan *plan, struct rt_chapter *chapter,
                              const struct rt_figure *first)
{
    struct rt_document *document = plan->document;
    struct rt_block *block =
        rt_add_block(document, chapter, "success-requirements", "heading.success.requirements");
    rt_add_answer(document, block, "success.requirements");
    rt_add_remark(document, block, "success.not-recorded");
    struct rt_table *table =
        rt_add_table(document, block, "caption.success.requirements", "column.requirement");
    struct key sets = success_key("success_share", "window|criteria", ALL "|");
    size_t of_sets = 0;
    for (const struct rt_figure *set = next_at(plan, sets, &of_sets); set != NULL;
         set = next_at(plan, sets, &of_sets))
        rt_add_column(document, table,
                      rt_document_text(document, "column.criteria.%s", level_part(plan, set->level, 1)),
                      RT_PART_VALUE);
    rt_add_column(document, table, "column.requirement.known", RT_PART_N);
    rt_add_column(document, table, "column.requirement.met", RT_PART_VALUE);
    struct key key = success_key("success_requirement", "window|requirement", ALL "|");
    size_t at = 0;
    for (const struct rt_figure *row = next_at(plan, key, &at); row != NULL; row = next_at(plan, key, &at)) {
        const char *name = last_level_part(plan, row->level);
        struct rt_table_row *line = rt_add_row(
            document, table, rt_document_words(document, rt_document_text(document, "requirement.%s", name)));
        of_sets = 0;
        for (const struct rt_figure *set = next_at(plan, sets, &of_sets); set != NULL;
             set = next_at(plan, sets, &of_sets)) {
            const struct rt_figure *limit = limit_row(plan, set_of(plan, set), name);
            if (limit == NULL)
                rt_add_text_cell(document, line, "");
            else if (isnan(limit->value))
                rt_add_text_cell(document, line, rt_document_words(document, "success.asked"));
            else
                rt_add_figure_cell(document, line, limit);
        }
        rt_add_figure_cell(document, line, row);
        rt_add_figure_cell(document, line, row);
    }
    method_of(plan, block, first);
}

/* --- why not, and where they disagree -------------------------------------------------------------------- */

static void plan_unjudged(const struct plan *plan, struct rt_chapter *chapter)
{
    struct rt_document *document = plan->document;
    struct key key = success_key("success_unjudged", "window|criteria|reason", ALL "|");
    size_t at = 0;
    const struct rt_figure *first = next_at(plan, key, &at);
    if (first == NULL)
        return;
    struct rt_block *block = rt_add_block(document, chapter, "success-unjudged", "heading.success.unjudged");
    rt_add_answer(document, block, "success.unjudged");
    struct rt_table *table =
        rt_add_table(document, block, "caption.success.unjudged", "column.success.reason");
    rt_add_column(document, table, "column.cases", RT_PART_CASES);
    rt_add_column(document, table, "column.due", RT_PART_DUE);
    for (const struct rt_figure *row = first; row != NULL; row = next_at(plan, key, &at)) {
        struct rt_table_row *line = rt_add_row(
            document, table,
            rt_document_text(document, "%s: %s", set_of(plan, row), last_level_part(plan, row->level)));
        rt_add_figure_cell(document, line, row);
        rt_add_figure_cell(document, line, row);
    }
    method_of(plan, block, first);
    rt_set_caution(document, block, "caution.films");
}

static void plan_disagreement(const struct plan *plan, struct rt_chapter *chapter)
{
    struct rt_document *document = plan->document;
    struct key sets = success_key("success_share", "window|criteria", ALL "|");
    struct key any = success_key("success_disagreement", "window|criteria|not_criteria", ALL "|");
    size_t at = 0, of_rows = 0;
    const struct rt_figure *first = next_at(plan, any, &at);
    if (first == NULL)
        return;
    struct rt_block *block = rt_add_block(document, chapter, "success-disagree", "heading.success.disagree");
    rt_add_answer(document, block, "success.disagree");
    struct rt_table *table =
        rt_add_table(document, block, "caption.success.disagree", "column.success.meets");
    size_t of_columns = 0;
    for (const struct rt_figure *set = next_at(plan, sets, &of_columns); set != NULL;
         set = next_at(plan, sets, &of_columns))
        rt_add_column(document, table, rt_document_text(document, "column.criteria.%s", set_of(plan, set)),
                      RT_PART_EVENTS_OF);
    for (const struct rt_figure *set = next_at(plan, sets, &of_rows); set != NULL;
         set = next_at(plan, sets, &of_rows)) {
        const char *name = set_of(plan, set);
        struct rt_table_row *line = rt_add_row(document, table, name);
        of_columns = 0;
        for (const struct rt_figure *other = next_at(plan, sets, &of_columns); other != NULL;
             other = next_at(plan, sets, &of_columns)) {
            struct key pair = any;
            pair.level = rt_document_text(document, ALL "|%s|%s", name, set_of(plan, other));
            rt_add_figure_cell(document, line, find_row(plan, pair));
        }
    }
    method_of(plan, block, first);
}

static void plan_fields(const struct plan *plan, struct rt_chapter *chapter)
{
    static const char *const fields[] = {"success", "survival", "unaccounted for", "failure"};
    static const char *const headings[] = {"column.field.success", "column.field.survival",
                                           "column.field.unaccounted", "column.field.failure"};
    struct rt_document *document = plan->document;
    struct key sets = success_key("success_share", "window|criteria", ALL "|");
    struct rt_block *block = rt_add_block(document, chapter, "success-fields", "heading.success.fields");
    rt_add_answer(document, block, "success.fields");
    struct rt_table *table = rt_add_table(document, block, "caption.success.fields", "column.criteria");
    for (size_t i = 0; i < 4; i++)
        rt_add_column(document, table, headings[i], RT_PART_CASES);
    size_t at = 0;
    const struct rt_figure *shown = NULL;
    for (const struct rt_figure *set = next_at(plan, sets, &at); set != NULL;
         set = next_at(plan, sets, &at)) {
        struct rt_table_row *line = rt_add_row(document, table, set_of(plan, set));
        for (size_t i = 0; i < 4; i++) {
            shown = find_row(
                plan, success_key("success_class", "window|criteria|class",
                                  rt_document_text(document, ALL "|%s|%s", set_of(plan, set), fields[i])));
            rt_add_figure_cell(document, line, shown);
        }
    }
    if (shown != NULL)
        method_of(plan, block, shown);
}

void plan_success(const struct plan *plan)
{
    struct key key = success_key("success_share", "window|criteria", ALL "|");
    size_t at = 0;
    const struct rt_figure *first = next_at(plan, key, &at);
    if (first == NULL)
        return;
    struct rt_chapter *chapter = rt_add_chapter(plan->document, "success", "heading.success");
    rt_add_lead(plan->document, chapter, "success.lead");
    plan_share(plan, chapter, first);
    plan_times(plan, chapter, first);
    plan_requirements(plan, chapter, first);
    plan_unjudged(plan, chapter);
    plan_disagreement(plan, chapter);
    plan_fields(plan, chapter);
}
