/* Tables of single cases under their labels: the list of what is due, and the chapter "Cases" of the audit. */
#include "ridgetally/output/due.h"

#include "plan.h"

#include "ridgetally/base/date.h"

#include <math.h>
#include <string.h>

/* One list: its block, and how its day is called ("" = no column). */
struct case_table {
    enum rt_case_kind kind;
    const char *id, *heading, *words, *caption, *day;
};

static size_t count_kind(const struct rt_case_list *list, enum rt_case_kind kind)
{
    size_t count = 0;
    for (size_t i = 0; i < list->count; i++)
        count += list->of[i].kind == kind;
    return count;
}

static void add_columns(struct rt_document *document, struct rt_table *table, const struct case_table *how)
{
    rt_add_column(document, table, how->day, RT_PART_TEXT);
    rt_add_column(document, table, "column.due.finding", RT_PART_TEXT);
    rt_add_column(document, table, "column.due.beside", RT_PART_TEXT);
}

/* PATIENT/IMPLANT, as `doubts --case` takes it, and the site where the implant's label does not begin with it. */
static const char *label_of(struct rt_document *document, const struct rt_case *one)
{
    if (one->implant[0] == '\0')
        return one->patient;
    const char *tooth = one->tooth < 0 ? "" : rt_document_text(document, "%d", one->tooth);
    bool told = strncmp(one->implant, tooth, strlen(tooth)) == 0;
    return told ? rt_document_text(document, "%s/%s", one->patient, one->implant)
                : rt_document_text(document, "%s/%s (%s)", one->patient, one->implant, tooth);
}

enum { ISO_LENGTH = 10 };

/* The day written as a word of its own at the start of text; RT_NO_DATE when there is none. */
static int iso_day_at(const char *text)
{
    char iso[ISO_LENGTH + 1] = "";
    strncpy(iso, text, ISO_LENGTH);
    const bool ends = strlen(iso) == ISO_LENGTH && strchr(" ,;.)", text[ISO_LENGTH]) != NULL;
    return ends ? rt_parse_iso_date(iso) : RT_NO_DATE;
}

/* What is said of a case, its days written as they are elsewhere on the page. */
static const char *with_day_words(struct rt_document *document, const char *text)
{
    const char *before = "", *rest = text;
    for (const char *at = text; *at != '\0'; at++) {
        const int day = at == text || at[-1] == ' ' ? iso_day_at(at) : RT_NO_DATE;
        if (day == RT_NO_DATE)
            continue;
        before =
            rt_document_text(document, "%s%.*s%s", before, (int)(at - rest), rest, day_words(document, day));
        rest = at + ISO_LENGTH;
        at = rest - 1;
    }
    return rt_document_text(document, "%s%s", before, rest);
}

static void add_case(struct rt_document *document, struct rt_table *table, const struct rt_case *one)
{
    struct rt_table_row *row = rt_add_row(document, table, label_of(document, one));
    if (row != NULL)
        row->named = true;
    rt_add_text_cell(document, row, day_words(document, one->day));
    rt_add_text_cell(document, row, with_day_words(document, one->finding));
    rt_add_text_cell(document, row, with_day_words(document, one->beside));
}

static void add_cases(const struct plan *plan, struct rt_block *block, const struct case_table *how)
{
    struct rt_document *document = plan->document;
    const struct rt_case_list *list = plan->subject->lists;
    if (count_kind(list, how->kind) == 0)
        return;
    struct rt_table *table = rt_add_table(document, block, how->caption, "column.due.case");
    add_columns(document, table, how);
    for (size_t i = 0; i < list->count; i++)
        if (list->of[i].kind == how->kind)
            add_case(document, table, &list->of[i]);
}

/* --- what is due ------------------------------------------------------------------------------------------------ */

static const struct case_table due_tables[] = {
    {RT_CASE_RECALL, "recall", "heading.due.recall", "due.recall", "caption.due.recall", "column.due.seen"},
    {RT_CASE_BASELINE, "baseline", "heading.due.baseline", "due.baseline", "caption.due.baseline",
     "column.due.placed"},
    {RT_CASE_LOADING, "loading", "heading.due.loading", "due.loading", "caption.due.loading",
     "column.due.placed"},
    {RT_CASE_BONE, "bone", "heading.due.bone", "due.bone", "caption.due.bone", "column.due.film"},
    {RT_CASE_TORQUE, "torque", "heading.due.torque", "due.torque", "caption.due.torque", "column.due.placed"},
    {RT_CASE_CONTRADICTION, "contradiction", "heading.due.contradiction", "due.contradiction",
     "caption.due.contradiction", "column.due.placed"},
};

static void add_bone_remarks(const struct plan *plan, struct rt_block *block)
{
    const struct rt_figure *detectable = find_row(plan, key_of("readers", "reread_detectable", "", ""));
    rt_add_remark(plan->document, block, "due.bone.definition");
    rt_add_remark(plan->document, block, "due.bone.baseline");
    if (detectable != NULL && detectable->state == RT_FIGURE_OK)
        rt_bind_figure(plan->document, rt_add_remark(plan->document, block, "due.bone.error"), "detectable",
                       detectable);
}

static void plan_due_table(const struct plan *plan, const struct case_table *how)
{
    struct rt_document *document = plan->document;
    const struct rt_figure *count =
        find_row(plan, (struct key){"flow", "due_cases", "due", rt_case_kind_name(how->kind), "", "",
                                    how->kind == RT_CASE_RECALL ? "patient" : NULL, NAN});
    if (count == NULL)
        return;
    struct rt_chapter *chapter = rt_add_chapter(document, how->id, how->heading);
    struct rt_block *block =
        rt_add_block(document, chapter, rt_document_text(document, "due-%s", how->id), NULL);
    const char *ending = count->value < 1.0                                         ? ".none"
                         : count->value < 2.0 && how->kind == RT_CASE_CONTRADICTION ? ".one"
                                                                                    : "";
    struct rt_sentence *answer =
        rt_add_answer(document, block, rt_document_text(document, "%s%s", how->words, ending));
    rt_bind_figure(document, answer, "count", count);
    rt_bind_words(document, answer, "days",
                  rt_document_text(document, "%d", plan->subject->info->recall_interval_days));
    if (how->kind == RT_CASE_BONE)
        add_bone_remarks(plan, block);
    add_cases(plan, block, how);
}

enum rt_status rt_plan_due(const struct rt_audit_subject *subject, struct rt_document *document,
                           struct rt_error *error)
{
    const struct plan plan = {document, subject, subject->figures, NULL};
    describe_page(subject, document, "page.due.title", "page.due.fingerprint");
    struct rt_chapter *chapter = rt_add_chapter(document, "before", "heading.due");
    rt_add_lead(document, chapter, "due.lead");
    rt_add_lead(document, chapter, "due.films");
    for (size_t i = 0; i < sizeof due_tables / sizeof due_tables[0]; i++)
        plan_due_table(&plan, &due_tables[i]);
    plan_cautions(&plan);
    return rt_document_status(document, error);
}

/* --- the audit's own ------------------------------------------------------------------------------------------------ */

static const struct case_table audit_tables[] = {
    {RT_CASE_FAILURE, "cases-failure", "heading.cases.failure", "cases.failure.none", "caption.cases.failure",
     "column.due.lost"},
    {RT_CASE_LOW_TORQUE, "cases-torque", "heading.cases.torque", "cases.torque.none", "caption.cases.torque",
     "column.due.placed"},
    {RT_CASE_EXCLUDED, "cases-excluded", "heading.cases.excluded", "cases.excluded.none",
     "caption.cases.excluded", "column.due.placed"},
};

void plan_cases(const struct plan *plan)
{
    struct rt_document *document = plan->document;
    if (plan->subject->lists == NULL)
        return;
    struct rt_chapter *chapter = rt_add_chapter(document, "cases", "heading.cases");
    rt_add_lead(document, chapter, "cases.lead");
    for (size_t i = 0; i < sizeof audit_tables / sizeof audit_tables[0]; i++) {
        const struct case_table *how = &audit_tables[i];
        struct rt_block *block = rt_add_block(document, chapter, how->id, how->heading);
        if (count_kind(plan->subject->lists, how->kind) == 0)
            rt_add_answer(document, block, how->words);
        add_cases(plan, block, how);
    }
}
