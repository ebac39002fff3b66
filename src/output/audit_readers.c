/* Chapter "Readers of the films": the error of reading, within and between readers. */
#include "plan.h"

#include <math.h>
#include <string.h>

#define PAIR "reader|other_reader"

static const struct rt_figure *all_readers(const struct plan *plan, const char *measure)
{
    return find_row(plan, key_of("readers", measure, "", ""));
}

/* A row of the table for all readers, then the table's other rows by reader. */
static void add_reader_table(const struct plan *plan, struct rt_block *block, const char *caption,
                             const struct level_column *columns, size_t count)
{
    struct rt_document *document = plan->document;
    struct key key = key_of("readers", columns[0].measure, "reader", "");
    const struct rt_figure *all = all_readers(plan, columns[0].measure);
    size_t at = 0;
    if (all == NULL || all->value < 1.0)
        return;
    struct rt_table *table = rt_add_table(document, block, caption, "column.readers");
    for (size_t i = 0; i < count; i++)
        rt_add_column(document, table, columns[i].heading, columns[i].part);
    struct rt_table_row *line = rt_add_row(document, table, rt_document_words(document, "readers.row.all"));
    for (size_t i = 0; i < count; i++)
        rt_add_figure_cell(document, line, all_readers(plan, columns[i].measure));
    for (const struct rt_figure *row = next_row(plan, key, &at); row != NULL;
         row = next_row(plan, key, &at)) {
        line = rt_add_row(document, table, row->level);
        for (size_t i = 0; i < count; i++)
            rt_add_figure_cell(document, line,
                               find_row(plan, key_of("readers", columns[i].measure, "reader", row->level)));
    }
}

static void answer_error(const struct plan *plan, struct rt_block *block, const struct rt_figure *films,
                         const struct rt_figure *error)
{
    struct rt_document *document = plan->document;
    const struct rt_figure *detectable = all_readers(plan, "reread_detectable");
    const struct rt_figure *bias = all_readers(plan, "reread_bias");
    const char *key = films->value < 1.0                    ? "readers.error.none"
                      : error->state == RT_FIGURE_TOO_FEW   ? "readers.error.few"
                      : error->state == RT_FIGURE_UNDEFINED ? "readers.error.undefined"
                                                            : "readers.error";
    struct rt_sentence *sentence = rt_add_answer(document, block, key);
    rt_bind_figure(document, sentence, "films", films);
    bind_row(plan, sentence, "error", error);
    if (error->state != RT_FIGURE_OK)
        return;
    if (detectable != NULL && detectable->state == RT_FIGURE_OK)
        bind_row(plan, rt_add_answer(document, block, "readers.detectable"), "detectable", detectable);
    if (bias != NULL && bias->state == RT_FIGURE_OK && (bias->lower > 0.0 || bias->upper < 0.0))
        bind_row(plan, rt_add_answer(document, block, signed_key(plan, "readers.reread", bias)), "bias",
                 bias);
    rt_add_remark(document, block, "readers.same-film");
    rt_add_remark(document, block, "readers.icc");
}

static struct rt_chart_request agreement_chart(const struct plan *plan, const char *id, const char *cases,
                                               const char *const measures[3])
{
    struct rt_chart_request chart = chart_request(plan, RT_CHART_AGREEMENT, id);
    chart.section = "readers";
    for (size_t i = 0; i < 3; i++)
        chart.measures[i] = measures[i];
    chart.cases = find_cases(plan, cases);
    chart.reference = 0.0;
    chart.reference_label = rt_document_words(plan->document, "chart.readers-same.zero");
    return chart;
}

static void plan_same(const struct plan *plan, struct rt_chapter *chapter)
{
    static const char *const measures[] = {"reread_bias", "reread_limit_lower", "reread_limit_upper"};
    static const struct level_column columns[] = {
        {"column.readers.films", "films_reread", RT_PART_VALUE, NULL},
        {"column.cases", "films_reread", RT_PART_CASES, NULL},
        {"column.readers.error", "reread_error", RT_PART_ESTIMATE, NULL},
        {"column.readers.dahlberg", "reread_dahlberg", RT_PART_VALUE, NULL},
        {"column.readers.detectable", "reread_detectable", RT_PART_ESTIMATE, NULL},
        {"column.readers.icc", "reread_icc", RT_PART_ESTIMATE, NULL},
    };
    static const struct level_column limits[] = {
        {"column.readers.films", "films_reread", RT_PART_VALUE, NULL},
        {"column.readers.bias", "reread_bias", RT_PART_ESTIMATE, NULL},
        {"column.readers.lower", "reread_limit_lower", RT_PART_ESTIMATE, NULL},
        {"column.readers.upper", "reread_limit_upper", RT_PART_ESTIMATE, NULL},
    };
    const struct rt_figure *films = all_readers(plan, "films_reread"),
                           *error = all_readers(plan, "reread_error");
    const struct rt_figure *bias = all_readers(plan, "reread_bias");
    if (films == NULL || error == NULL)
        return;
    struct rt_block *block = rt_add_block(plan->document, chapter, "readers-same", "heading.readers.same");
    answer_error(plan, block, films, error);
    struct rt_chart_request chart = agreement_chart(plan, "readers-same", "reread", measures);
    if (bias != NULL && bias->state == RT_FIGURE_OK && chart.cases != NULL && chart.cases->count > 0)
        rt_set_chart(plan->document, block, &chart);
    add_reader_table(plan, block, "caption.readers.same", columns, sizeof columns / sizeof columns[0]);
    add_reader_table(plan, block, "caption.readers.limits", limits, sizeof limits / sizeof limits[0]);
    method_of(plan, block, error);
}

/* The pair with most films; of equal numbers the first. */
static const struct rt_figure *main_pair(const struct plan *plan)
{
    const struct rt_figure *most = NULL;
    struct key key = key_of("readers", "films_two_readers", PAIR, "");
    size_t at = 0;
    for (const struct rt_figure *row = next_row(plan, key, &at); row != NULL; row = next_row(plan, key, &at))
        if (most == NULL || row->value > most->value)
            most = row;
    return most;
}

static void answer_pair(const struct plan *plan, struct rt_block *block, const struct rt_figure *films,
                        const struct rt_figure *bias)
{
    struct rt_sentence *sentence = answer_signed(plan, block, "readers.two", "bias", bias);
    rt_bind_figure(plan->document, sentence, "films", films);
    rt_bind_words(plan->document, sentence, "reader", level_part(plan, films->level, 0));
    rt_bind_words(plan->document, sentence, "other", last_level_part(plan, films->level));
}

static void plan_two(const struct plan *plan, struct rt_chapter *chapter)
{
    static const char *const measures[] = {"between_bias", "between_limit_lower", "between_limit_upper"};
    static const struct level_column columns[] = {
        {"column.readers.films", "films_two_readers", RT_PART_VALUE, NULL},
        {"column.readers.bias", "between_bias", RT_PART_ESTIMATE, NULL},
        {"column.readers.lower", "between_limit_lower", RT_PART_ESTIMATE, NULL},
        {"column.readers.upper", "between_limit_upper", RT_PART_ESTIMATE, NULL},
        {"column.readers.p", "between_bias", RT_PART_P_ADJUSTED, NULL},
    };
    static const struct level_column errors[] = {
        {"column.cases", "films_two_readers", RT_PART_CASES, NULL},
        {"column.readers.error", "between_error", RT_PART_ESTIMATE, NULL},
        {"column.readers.detectable", "between_detectable", RT_PART_ESTIMATE, NULL},
        {"column.readers.icc", "between_icc", RT_PART_ESTIMATE, NULL},
    };
    struct rt_document *document = plan->document;
    struct key pairs = key_of("readers", "", PAIR, "");
    const struct rt_figure *films = main_pair(plan);
    const struct rt_figure *error = all_readers(plan, "between_error");
    const struct rt_figure *detectable = all_readers(plan, "between_detectable");
    struct rt_block *block = rt_add_block(document, chapter, "readers-two", "heading.readers.two");
    const struct rt_figure *bias =
        films == NULL ? NULL : find_row(plan, key_of("readers", "between_bias", PAIR, films->level));
    if (bias == NULL) {
        rt_add_answer(document, block, "readers.two.none");
        return;
    }
    answer_pair(plan, block, films, bias);
    if (error != NULL && error->state == RT_FIGURE_OK && detectable != NULL) {
        struct rt_sentence *sentence = rt_add_answer(document, block, "readers.between");
        rt_bind_figure(document, sentence, "error", error);
        rt_bind_figure(document, sentence, "detectable", detectable);
    }
    struct rt_chart_request chart = agreement_chart(plan, "readers-two", "two_readers", measures);
    chart.grouping = PAIR;
    chart.level = films->level;
    if (bias->state == RT_FIGURE_OK && chart.cases != NULL && chart.cases->count > 0)
        rt_set_chart(document, block, &chart);
    add_level_table(plan, block, "caption.readers.two", "column.readers.pair", pairs, columns,
                    sizeof columns / sizeof columns[0]);
    add_level_table(plan, block, "caption.readers.two-error", "column.readers.pair", pairs, errors,
                    sizeof errors / sizeof errors[0]);
    method_of(plan, block, bias);
}

static void plan_changes(const struct plan *plan, struct rt_chapter *chapter)
{
    struct rt_document *document = plan->document;
    struct key key = key_of("readers", "changes_two_readers", "window", "all");
    key.baseline = "placement";
    key.at = 12.0;
    const struct rt_figure *count = find_row(plan, key);
    key.measure = "change_one_reader";
    key.site = "mean";
    const struct rt_figure *one = find_row(plan, key);
    key.section = "crest";
    key.measure = "crest_change";
    const struct rt_figure *all = find_row(plan, key);
    if (count == NULL || one == NULL || all == NULL || count->n_due < 1)
        return;
    struct rt_block *block = rt_add_block(document, chapter, "readers-changes", "heading.readers.changes");
    const char *words = count->value > 0.0 ? "readers.changes" : "readers.changes.none";
    rt_bind_figure(document, rt_add_answer(document, block, words), "count", count);
    struct rt_table *table =
        rt_add_table(document, block, "caption.readers.changes", "column.readers.changes");
    rt_add_column(document, table, "column.cases", RT_PART_CASES);
    rt_add_column(document, table, "column.readers.change", RT_PART_ESTIMATE);
    const struct rt_figure *const rows[] = {all, one};
    static const char *const labels[] = {"readers.row.changes", "readers.row.one"};
    for (size_t i = 0; i < 2; i++) {
        struct rt_table_row *line = rt_add_row(document, table, rt_document_words(document, labels[i]));
        rt_add_figure_cell(document, line, rows[i]);
        rt_add_figure_cell(document, line, rows[i]);
    }
    method_of(plan, block, one);
}

void plan_readers(const struct plan *plan)
{
    const struct rt_figure *films = all_readers(plan, "films_read");
    if (films == NULL || films->value < 1.0)
        return;
    struct rt_chapter *chapter = rt_add_chapter(plan->document, "readers", "heading.readers");
    rt_add_lead(plan->document, chapter, "readers.lead");
    plan_same(plan, chapter);
    plan_two(plan, chapter);
    plan_changes(plan, chapter);
}
