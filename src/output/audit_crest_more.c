/* Within chapter "Crest": what a change is worth beside the error of reading, the model drawn over depth and tissue, the two
 * models of depth side by side, the yearly rate. */
#include "plan.h"

#include <math.h>
#include <string.h>

#define YEAR "12 months"
#define ALL  "all"

static const double months[] = {3, 6, 12, 24, 36, 60};
enum { WINDOWS = sizeof months / sizeof months[0], MAIN_MONTH = 12 };

static struct key more_key(const char *measure, const char *grouping, const char *level, double at)
{
    struct key key = key_of("crest", measure, grouping, level);
    key.baseline = "placement";
    key.site = "mean";
    key.at = at;
    return key;
}

const struct rt_figure *reading_error_row(const struct plan *plan)
{
    const struct rt_figure *row = find_row(plan, key_of("readers", "reread_detectable", "", ""));
    return row != NULL && row->state == RT_FIGURE_OK ? row : NULL;
}

/* --- beside the error of reading ------------------------------------------------------------------------- */

static const struct rt_figure *beyond(const struct plan *plan, const char *records, const char *side,
                                      double at)
{
    return find_row(plan, more_key("crest_beyond_error", "window|beyond",
                                   rt_document_text(plan->document, "%s|%s", records, side), at));
}

static void add_beyond_answer(const struct plan *plan, struct rt_block *block)
{
    const struct rt_figure *lost = beyond(plan, ALL, "lost", MAIN_MONTH);
    const struct rt_figure *gained = beyond(plan, ALL, "gained", MAIN_MONTH);
    const struct rt_figure *within = beyond(plan, ALL, "within", MAIN_MONTH);
    const struct rt_figure *error = reading_error_row(plan);
    struct rt_document *document = plan->document;
    if (error != NULL)
        rt_bind_figure(document, rt_add_answer(document, block, "crest.error"), "error", error);
    if (lost == NULL || gained == NULL || within == NULL || lost->state != RT_FIGURE_OK) {
        const bool undefined = lost != NULL && lost->state == RT_FIGURE_UNDEFINED;
        struct rt_sentence *answer =
            rt_add_answer(document, block, undefined ? "answer.undefined" : "crest.error.few");
        if (lost != NULL)
            bind_row(plan, answer, "row", lost);
        return;
    }
    struct rt_sentence *answer = rt_add_answer(document, block, "crest.error.beyond");
    rt_bind_figure(document, answer, "lost", lost);
    rt_bind_figure(document, answer, "gained", gained);
    rt_bind_figure(document, answer, "within", within);
}

static void add_beyond_table(const struct plan *plan, struct rt_block *block)
{
    static const char *const sides[] = {"lost", "within", "gained"};
    static const char *const headings[] = {"column.error.lost", "column.error.within", "column.error.gained"};
    struct rt_document *document = plan->document;
    struct rt_table *table = rt_add_table(document, block, "caption.crest.error", "column.months");
    rt_add_column(document, table, "column.cases", RT_PART_CASES);
    for (size_t i = 0; i < 3; i++)
        rt_add_column(document, table, headings[i], RT_PART_SHARE);
    for (size_t m = 0; m < WINDOWS; m++) {
        const struct rt_figure *first = beyond(plan, ALL, sides[0], months[m]);
        if (first == NULL || is_void(first))
            continue;
        struct rt_table_row *line = rt_add_row(document, table, time_words(plan, first));
        rt_add_figure_cell(document, line, first);
        for (size_t i = 0; i < 3; i++)
            rt_add_figure_cell(document, line, beyond(plan, ALL, sides[i], months[m]));
    }
}

/* Changes between films of one reader, beside all, and those between films of two readers. */
static void add_reader_table(const struct plan *plan, struct rt_block *block)
{
    static const char *const groups[] = {"same reader", "different readers"};
    struct rt_document *document = plan->document;
    struct rt_table *table = NULL;
    for (size_t m = 0; m < WINDOWS; m++) {
        const struct rt_figure *all = find_row(plan, more_key("crest_change", "window", ALL, months[m]));
        const struct rt_figure *parts[2];
        for (size_t i = 0; i < 2; i++)
            parts[i] = find_row(plan, more_key("crest_change", "window|readers",
                                               rt_document_text(document, ALL "|%s", groups[i]), months[m]));
        if (all == NULL || is_void(all) || parts[0] == NULL || parts[1] == NULL)
            continue;
        if (table == NULL) {
            table = rt_add_table(document, block, "caption.crest.readers", "column.months");
            rt_add_column(document, table, "column.crest.every", RT_PART_ESTIMATE);
            rt_add_column(document, table, "column.crest.two", RT_PART_CASES);
            rt_add_column(document, table, "column.crest.two.mean", RT_PART_ESTIMATE);
            rt_add_column(document, table, "column.crest.one", RT_PART_CASES);
            rt_add_column(document, table, "column.crest.one.mean", RT_PART_ESTIMATE);
        }
        struct rt_table_row *line = rt_add_row(document, table, time_words(plan, all));
        rt_add_figure_cell(document, line, all);
        rt_add_figure_cell(document, line, parts[1]);
        rt_add_figure_cell(document, line, parts[1]);
        rt_add_figure_cell(document, line, parts[0]);
        rt_add_figure_cell(document, line, parts[0]);
    }
}

void plan_crest_error(const struct plan *plan, struct rt_chapter *chapter)
{
    const struct rt_figure *first = beyond(plan, ALL, "lost", MAIN_MONTH);
    if (first == NULL)
        return;
    struct rt_block *block = rt_add_block(plan->document, chapter, "crest-error", "heading.crest.error");
    add_beyond_answer(plan, block);
    rt_add_remark(plan->document, block, "crest.error.readers");
    if (first->state != RT_FIGURE_UNDEFINED)
        add_beyond_table(plan, block);
    add_reader_table(plan, block);
    method_of(plan, block, first);
    rt_set_caution(plan->document, block, "caution.reading");
}

/* --- the model drawn ------------------------------------------------------------------------------------- */

void plan_crest_predicted(const struct plan *plan, struct rt_chapter *chapter)
{
    struct rt_document *document = plan->document;
    struct key key = more_key("crest_predicted", "window|tissue_class", ALL "|", NAN);
    size_t at = 0;
    const struct rt_figure *first = next_row(plan, key, &at);
    if (first == NULL)
        return;
    struct rt_block *block = rt_add_block(document, chapter, "crest-predicted", "heading.crest.predicted");
    const struct rt_figure *product = NULL;
    struct key term =
        more_key("crest_model", "window|term", ALL "|achieved_depth_mm x tissue_mm", MAIN_MONTH);
    product = find_row(plan, term);
    if (product != NULL)
        answer_signed(plan, block, "crest.product", "product", product);
    if (any_ok(plan, key)) {
        const struct rt_figure *error = reading_error_row(plan);
        struct rt_chart_request chart = chart_request(plan, RT_CHART_CURVE_PANELS, "crest-predicted");
        chart.section = "crest";
        chart.measures[0] = "crest_predicted";
        chart.grouping = key.grouping;
        chart.level = key.level;
        chart.baseline = "placement";
        chart.site = "mean";
        chart.cases = find_cases(plan, "crest_change_all");
        chart.reference = 0.0;
        chart.reference_label = rt_document_words(document, "chart.no-change");
        chart.panel_before = rt_document_words(document, "chart.tissue");
        chart.error_band = error == NULL ? NAN : error->value;
        rt_set_chart(document, block, &chart);
    }
    static const struct level_column columns[] = {
        {"column.cases", "crest_predicted", RT_PART_CASES, NULL},
        {"column.crest.predicted", "crest_predicted", RT_PART_ESTIMATE, NULL}};
    add_matrix_table(plan, block, "caption.crest.predicted", "column.depth", key, 1, "column.class-depth",
                     columns, 2);
    method_of(plan, block, first);
    rt_set_caution(document, block, "caution.crest");
}

/* --- two models of depth, and operators ------------------------------------------------------------------ */

static const struct rt_figure *term_row(const struct plan *plan, const char *measure, const char *term)
{
    return find_row(plan, more_key(measure, "window|term", rt_document_text(plan->document, ALL "|%s", term),
                                   MAIN_MONTH));
}

void plan_crest_shared(const struct plan *plan, struct rt_chapter *chapter)
{
    struct rt_document *document = plan->document;
    const struct rt_figure *change = term_row(plan, "crest_model", "achieved_depth_mm");
    const struct rt_figure *level = term_row(plan, "level_model", "achieved_depth_mm");
    if (change == NULL || level == NULL)
        return;
    struct rt_block *block = rt_add_block(document, chapter, "crest-shared", "heading.crest.shared");
    struct rt_sentence *answer = NULL;
    if (change->state == RT_FIGURE_OK && level->state == RT_FIGURE_OK) {
        answer = rt_add_answer(document, block, "crest.shared.both");
        rt_bind_figure(document, answer, "change", change);
        rt_bind_figure(document, answer, "level", level);
    } else {
        rt_add_answer(document, block, "crest.shared.few");
    }
    rt_add_remark(document, block, "crest.shared.why");
    const struct rt_figure *reliability =
        find_row(plan, more_key("depth_reliability", "window", ALL, MAIN_MONTH));
    if (reliability != NULL && reliability->state == RT_FIGURE_OK)
        rt_bind_figure(document, rt_add_remark(document, block, "crest.shared.reliability"), "reliability",
                       reliability);
    struct rt_table *table = rt_add_table(document, block, "caption.crest.shared", "column.model");
    rt_add_column(document, table, "column.cases", RT_PART_CASES);
    rt_add_column(document, table, "column.crest.slope", RT_PART_ESTIMATE);
    rt_add_column(document, table, "column.p_adjusted", RT_PART_P_ADJUSTED);
    const struct rt_figure *const rows[] = {change, level};
    static const char *const labels[] = {"level.model.change", "level.model.level"};
    for (size_t i = 0; i < 2; i++) {
        struct rt_table_row *line = rt_add_row(document, table, rt_document_words(document, labels[i]));
        for (int column = 0; column < 3; column++)
            rt_add_figure_cell(document, line, rows[i]);
    }
    method_of(plan, block, change);
    rt_set_caution(document, block, "caution.crest");
}

void plan_crest_operator(const struct plan *plan, struct rt_chapter *chapter)
{
    struct rt_document *document = plan->document;
    struct key key = more_key("crest_model_operator", "window|term", ALL "|", MAIN_MONTH);
    size_t at = 0;
    const struct rt_figure *row = next_row(plan, key, &at);
    if (row == NULL)
        return;
    const struct rt_figure *first = row;
    const struct rt_figure *with = term_row(plan, "crest_model_operator", "achieved_depth_mm");
    const struct rt_figure *without = term_row(plan, "crest_model", "achieved_depth_mm");
    struct rt_block *block = rt_add_block(document, chapter, "crest-operator", "heading.crest.operator");
    if (with != NULL && without != NULL && with->state == RT_FIGURE_OK && without->state == RT_FIGURE_OK) {
        struct rt_sentence *answer = rt_add_answer(document, block, "crest.operator");
        rt_bind_figure(document, answer, "with", with);
        rt_bind_figure(document, answer, "without", without);
    } else {
        rt_add_answer(document, block, "crest.operator.few");
    }
    struct rt_table *table = rt_add_table(document, block, "caption.crest.operator", "column.term");
    rt_add_column(document, table, "column.crest.without", RT_PART_ESTIMATE);
    rt_add_column(document, table, "column.crest.with", RT_PART_ESTIMATE);
    rt_add_column(document, table, "column.p_adjusted", RT_PART_P_ADJUSTED);
    for (; row != NULL; row = next_row(plan, key, &at)) {
        struct rt_table_row *line = rt_add_row(document, table, last_words(plan, row));
        rt_add_figure_cell(document, line, term_row(plan, "crest_model", last_level_part(plan, row->level)));
        rt_add_figure_cell(document, line, row);
        rt_add_figure_cell(document, line, row);
    }
    method_of(plan, block, first);
    rt_set_caution(document, block, "caution.operators");
}

/* --- the yearly rate ------------------------------------------------------------------------------------- */

void plan_crest_yearly(const struct plan *plan, struct rt_chapter *chapter)
{
    struct rt_document *document = plan->document;
    const struct rt_figure *rate = find_row(plan, more_key("crest_yearly", "window", ALL, NAN));
    const struct rt_figure *detectable =
        find_row(plan, more_key("crest_yearly_detectable", "window", ALL, NAN));
    const struct rt_figure *judgeable =
        find_row(plan, more_key("crest_yearly_judgeable", "window", ALL, NAN));
    if (rate == NULL || detectable == NULL || judgeable == NULL)
        return;
    struct rt_block *block = rt_add_block(document, chapter, "crest-yearly", "heading.crest.yearly");
    answer_signed(plan, block, "crest.yearly", "rate", rate);
    if (detectable->state == RT_FIGURE_OK && judgeable->state == RT_FIGURE_OK) {
        struct rt_sentence *answer = rt_add_answer(document, block, "crest.yearly.detectable");
        rt_bind_figure(document, answer, "detectable", detectable);
        rt_bind_figure(document, answer, "judgeable", judgeable);
    }
    struct key patients = more_key("crest_yearly", "window", ALL, NAN);
    patients.unit = "patient";
    struct rt_table *table = rt_add_table(document, block, "caption.crest.yearly", "column.window");
    rt_add_column(document, table, "column.cases", RT_PART_CASES);
    rt_add_column(document, table, "column.due", RT_PART_DUE);
    rt_add_column(document, table, "column.crest.yearly", RT_PART_ESTIMATE);
    rt_add_column(document, table, "column.patient-mean", RT_PART_ESTIMATE);
    rt_add_column(document, table, "column.crest.detectable", RT_PART_ESTIMATE);
    rt_add_column(document, table, "column.crest.judgeable", RT_PART_EVENTS_OF);
    const struct rt_figure *const cells[] = {rate,       rate,     rate, find_row(plan, patients),
                                             detectable, judgeable};
    struct rt_table_row *line = rt_add_row(document, table, row_words(plan, rate));
    for (size_t i = 0; i < sizeof cells / sizeof cells[0]; i++)
        rt_add_figure_cell(document, line, cells[i]);
    method_of(plan, block, rate);
    rt_set_caution(document, block, "caution.reading");
}
