/* Within chapter "Survival": how far the figures hang on choices. */
#include "plan.h"

#include <math.h>
#include <string.h>

#define SEEN "last sighting"

static struct key at_year(const char *measure, const char *grouping, const char *level, double years)
{
    struct key key = key_of("survival", measure, grouping, level);
    key.at = years;
    return key;
}

static const struct rt_figure *ok_or_null(const struct rt_figure *row)
{
    return row != NULL && row->state == RT_FIGURE_OK ? row : NULL;
}

/* The latest year at which the row of `measure` is there, not after that of the main figure. */
static const struct rt_figure *latest_ok(const struct plan *plan, struct key key)
{
    const struct rt_figure *latest = NULL, *limit = main_survival(plan);
    size_t at = 0;
    for (const struct rt_figure *row = next_row(plan, key, &at); row != NULL; row = next_row(plan, key, &at))
        if (row->state == RT_FIGURE_OK && !isnan(row->lower) && (limit == NULL || row->at <= limit->at) &&
            (latest == NULL || row->at > latest->at))
            latest = row;
    return latest;
}

static const struct rt_figure *patients_at(const struct plan *plan, double years)
{
    struct key key = at_year("survival", "censoring", SEEN, years);
    key.unit = "patient";
    return find_row(plan, key);
}

static void plan_one_each(const struct plan *plan, struct rt_chapter *chapter)
{
    struct rt_document *document = plan->document;
    struct key key = at_year("survival_one_implant", "censoring", SEEN, NAN);
    size_t at = 0;
    const struct rt_figure *first = next_row(plan, key, &at);
    if (first == NULL)
        return;
    struct rt_block *block = rt_add_block(document, chapter, "survival-one", "heading.survival.one");
    const struct rt_figure *one = latest_ok(plan, key);
    const struct rt_figure *all =
        one == NULL ? NULL : ok_or_null(find_row(plan, at_year("survival", "censoring", SEEN, one->at)));
    const struct rt_figure *free_of = one == NULL ? NULL : ok_or_null(patients_at(plan, one->at));
    if (all != NULL && free_of != NULL) {
        struct rt_sentence *answer = rt_add_answer(document, block, "survival.one");
        rt_bind_figure(document, answer, "one", one);
        rt_bind_figure(document, answer, "all", all);
        rt_bind_figure(document, answer, "free", free_of);
        rt_bind_words(document, answer, "time", time_words(plan, one));
        rt_add_remark(document, block, "survival.one.why");
    } else {
        rt_add_answer(document, block, "survival.one.few");
    }
    struct rt_table *table = rt_add_table(document, block, "caption.survival.one", "column.years");
    rt_add_column(document, table, "column.one.all", RT_PART_ESTIMATE);
    rt_add_column(document, table, "column.one.drawn", RT_PART_ESTIMATE);
    rt_add_column(document, table, "column.one.free", RT_PART_ESTIMATE);
    for (const struct rt_figure *row = first; row != NULL; row = next_row(plan, key, &at)) {
        struct rt_table_row *line = rt_add_row(document, table, time_words(plan, row));
        rt_add_figure_cell(document, line, find_row(plan, at_year("survival", "censoring", SEEN, row->at)));
        rt_add_figure_cell(document, line, row);
        rt_add_figure_cell(document, line, patients_at(plan, row->at));
    }
    method_of(plan, block, first);
}

static const char *const words[] = {"best case", "as recorded", "worst case"};

static const struct rt_figure *with_left_out(const struct plan *plan, const char *word, double years)
{
    return find_row(plan, at_year("survival_left_out", "censoring|bound",
                                  rt_document_text(plan->document, SEEN "|%s", word), years));
}

static struct rt_table *left_out_table(const struct plan *plan, struct rt_block *block, const char *caption,
                                       const char *row_heading, enum rt_slot_part part)
{
    struct rt_document *document = plan->document;
    struct rt_table *table = rt_add_table(document, block, caption, row_heading);
    rt_add_column(document, table, "column.left-out.without", part);
    rt_add_column(document, table, "column.left-out.best", part);
    rt_add_column(document, table, "column.left-out.word", part);
    rt_add_column(document, table, "column.left-out.worst", part);
    return table;
}

static void add_early_left_out(const struct plan *plan, struct rt_block *block)
{
    static const char *const windows[] = {"12 months", "all"};
    struct rt_document *document = plan->document;
    struct rt_table *table =
        left_out_table(plan, block, "caption.early.left-out", "column.window", RT_PART_SHARE);
    for (size_t i = 0; i < 2; i++) {
        const struct rt_figure *without =
            find_row(plan, key_of("survival", "early_failure", "window", windows[i]));
        if (without == NULL)
            continue;
        struct rt_table_row *line = rt_add_row(document, table, row_words(plan, without));
        rt_add_figure_cell(document, line, without);
        for (size_t k = 0; k < 3; k++)
            rt_add_figure_cell(
                document, line,
                find_row(plan, key_of("survival", "early_failure_left_out", "window|bound",
                                      rt_document_text(document, "%s|%s", windows[i], words[k]))));
    }
}

static void plan_left_out(const struct plan *plan, struct rt_chapter *chapter)
{
    struct rt_document *document = plan->document;
    const struct rt_figure *out = find_row(plan, key_of("survival", "left_out", "", ""));
    if (out == NULL || out->n_implants <= 0)
        return;
    struct rt_block *block =
        rt_add_block(document, chapter, "survival-left-out", "heading.survival.left-out");
    rt_bind_figure(document, rt_add_answer(document, block, "survival.left-out"), "out", out);
    const struct rt_figure *without = main_survival(plan);
    const struct rt_figure *rows[3] = {NULL, NULL, NULL};
    bool known = without != NULL;
    for (size_t i = 0; i < 3 && known; i++)
        known = (rows[i] = ok_or_null(with_left_out(plan, words[i], without->at))) != NULL;
    if (known) {
        struct rt_sentence *answer = rt_add_answer(document, block, "survival.left-out.at");
        rt_bind_figure(document, answer, "best", rows[0]);
        rt_bind_figure(document, answer, "word", rows[1]);
        rt_bind_figure(document, answer, "worst", rows[2]);
        rt_bind_figure(document, answer, "without", without);
        rt_bind_words(document, answer, "time", time_words(plan, without));
    }
    struct rt_table *table =
        left_out_table(plan, block, "caption.survival.left-out", "column.years", RT_PART_ESTIMATE);
    struct key key = at_year("survival", "censoring", SEEN, NAN);
    size_t at = 0;
    for (const struct rt_figure *row = next_row(plan, key, &at); row != NULL;
         row = next_row(plan, key, &at)) {
        struct rt_table_row *line = rt_add_row(document, table, time_words(plan, row));
        rt_add_figure_cell(document, line, row);
        for (size_t i = 0; i < 3; i++)
            rt_add_figure_cell(document, line, with_left_out(plan, words[i], row->at));
    }
    add_early_left_out(plan, block);
    method_of(plan, block, out);
}

static void plan_late(const struct plan *plan, struct rt_chapter *chapter)
{
    struct rt_document *document = plan->document;
    const struct rt_figure *early = find_row(plan, key_of("survival", "failures", "when", "within 180 days"));
    const struct rt_figure *late = find_row(plan, key_of("survival", "failures", "when", "later"));
    struct key key = at_year("late_failure", "censoring", SEEN, NAN);
    size_t at = 0;
    const struct rt_figure *first = next_row(plan, key, &at);
    if (early == NULL || late == NULL || first == NULL)
        return;
    struct rt_block *block = rt_add_block(document, chapter, "survival-late", "heading.survival.late");
    struct rt_sentence *answer = rt_add_answer(document, block, "survival.late");
    rt_bind_figure(document, answer, "early", early);
    rt_bind_figure(document, answer, "late", late);
    const struct rt_figure *row = latest_ok(plan, key);
    if (row != NULL) {
        answer = rt_add_answer(document, block, "survival.late.at");
        rt_bind_figure(document, answer, "row", row);
        rt_bind_words(document, answer, "time", time_words(plan, row));
    }
    static const struct level_column columns[] = {
        {"column.survival.risk", "late_failure", RT_PART_CASES, NULL},
        {"column.survival.failed", "late_failure", RT_PART_EVENTS, NULL},
        {"column.late", "late_failure", RT_PART_ESTIMATE, NULL},
    };
    add_level_table(plan, block, "caption.survival.late", "column.years", key, columns, 3);
    method_of(plan, block, first);
}

void plan_survival_checks(const struct plan *plan, struct rt_chapter *chapter)
{
    plan_late(plan, chapter);
    plan_one_each(plan, chapter);
    plan_left_out(plan, chapter);
}
