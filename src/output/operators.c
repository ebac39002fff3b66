#include "operators.h"

#include "ridgetally/figure/catalogue.h"

#include <math.h>
#include <string.h>

/* Label of the operator: the level without its last `parts` parts. An operator's own bars stay. */
static const char *operator_of(const struct plan *plan, const char *level, int parts)
{
    size_t length = strlen(level);
    for (; parts > 0 && length > 0; parts--)
        while (length > 0 && level[--length] != '|')
            ;
    return rt_document_text(plan->document, "%.*s", (int)length, level);
}

static struct key operators_key(const char *measure, const char *grouping)
{
    return key_of("operators", measure, grouping, "");
}

static const struct rt_figure *first_row(const struct plan *plan, const char *measure, const char *grouping)
{
    size_t at = 0;
    return next_row(plan, operators_key(measure, grouping), &at);
}

static struct rt_chart_request operators_chart(const struct plan *plan, enum rt_chart_kind kind,
                                               const char *id, const char *measure, const char *grouping)
{
    struct rt_chart_request chart = chart_request(plan, kind, id);
    chart.section = "operators";
    chart.measures[0] = measure;
    chart.grouping = grouping;
    return chart;
}

/* --- signals --------------------------------------------------------------------------------------------- */

/* The wording of a signal of that chart. */
static const char *signal_key(const struct plan *plan, const char *chart)
{
    static const char *const keys[][2] = {{"single sessions", "operators.signal.single"},
                                          {"moving average", "operators.signal.average"},
                                          {"more failures", "operators.signal.more"},
                                          {"fewer failures", "operators.signal.fewer"}};
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++)
        if (strcmp(keys[i][0], chart) == 0)
            return keys[i][1];
    return rt_document_text(plan->document, "operators.signal.single");
}

static void name_signal(const struct plan *plan, struct rt_block *block, const struct rt_figure *row)
{
    const char *chart_level = operator_of(plan, row->level, 1); /* operator|chart */
    const char *chart = last_level_part(plan, chart_level);
    const struct rt_figure *length =
        find_row(plan, key_of("operators", "run_length", "operator|chart", chart_level));
    struct rt_sentence *sentence = rt_add_answer(plan->document, block, signal_key(plan, chart));
    bind_row(plan, sentence, "signal", row);
    rt_bind_words(plan->document, sentence, "operator", operator_of(plan, row->level, 2));
    rt_bind_words(plan->document, sentence, "quarter", last_level_part(plan, row->level));
    if (length != NULL)
        rt_bind_figure(plan->document, sentence, "length", length);
}

/* Signals of the last 12 months in words; the others only counted in the table. */
static bool name_signals(const struct plan *plan, struct rt_block *block)
{
    bool any = false;
    size_t at = 0;
    struct key key = operators_key("signal", "operator|chart|quarter");
    for (const struct rt_figure *row = next_row(plan, key, &at); row != NULL; row = next_row(plan, key, &at))
        if (strcmp(row->remark, "in the last 12 months") == 0) {
            name_signal(plan, block, row);
            any = true;
        }
    return any;
}

void plan_signals(const struct plan *plan, struct rt_chapter *chapter)
{
    const struct rt_figure *charts = find_row(plan, key_of("operators", "charts_watched", "", ""));
    const struct rt_figure *by_chance = find_row(plan, key_of("operators", "false_signals_a_year", "", ""));
    size_t at = 0;
    const struct rt_figure *own = next_row(plan, operators_key("false_signals_a_year", "operator"), &at);
    const bool of_one =
        own != NULL && next_row(plan, operators_key("false_signals_a_year", "operator"), &at) == NULL;
    if (charts == NULL || by_chance == NULL)
        return;
    struct rt_block *block =
        rt_add_block(plan->document, chapter, "operators-signals", "heading.operators.signals");
    if (by_chance->state != RT_FIGURE_OK) {
        rt_add_answer(plan->document, block, "operators.signals.few");
        return;
    }
    if (!name_signals(plan, block))
        rt_add_answer(plan->document, block, "operators.signals.none");
    struct rt_sentence *chance = rt_add_answer(plan->document, block, "operators.signals.chance");
    rt_bind_figure(plan->document, chance, "charts", charts);
    rt_bind_figure(plan->document, chance, "false", by_chance);
    if (of_one && own->state == RT_FIGURE_OK) {
        struct rt_sentence *page = rt_add_answer(plan->document, block, "operators.signals.page");
        rt_bind_figure(plan->document, page, "false", own);
    }
    static const struct level_column columns[] = {
        {"column.signals", "signals", RT_PART_VALUE, NULL},
        {"column.signals.year", "signals_year", RT_PART_VALUE, NULL},
        {"column.run-length", "run_length", RT_PART_VALUE, NULL},
        {"column.run-length.years", "run_length_years", RT_PART_VALUE, NULL},
        {"column.detection", "detection", RT_PART_VALUE, NULL},
    };
    add_level_table(plan, block, "caption.operators.signals", "column.operator.chart",
                    operators_key("signals", "operator|chart"), columns, 5);
    method_of(plan, block, by_chance);
    rt_set_caution(plan->document, block, "caution.operators");
}

/* --- by quarter ------------------------------------------------------------------------------------------ */

enum {
    MOST_PRINTED_QUARTERS = 48,
    LATEST_QUARTERS = 4
}; /* rows of a table; quarters of each operator in a longer one */

/* The quarter a row is about: the last part of the level, which compares like text. */
static const char *quarter_of(const struct rt_table_row *row)
{
    if (row->cells == NULL || row->cells->figure == NULL)
        return "";
    const char *level = row->cells->figure->level, *bar = strrchr(level, '|');
    return bar == NULL ? level : bar + 1;
}

/* The latest quarter of the table before another (NULL: of all); "" when there is none. */
static const char *quarter_before(const struct rt_table *table, const char *other)
{
    const char *latest = "";
    for (const struct rt_table_row *row = table->rows; row != NULL; row = row->next)
        if (strcmp(quarter_of(row), latest) > 0 && (other == NULL || strcmp(quarter_of(row), other) < 0))
            latest = quarter_of(row);
    return latest;
}

/* A table of many operators and quarters is printed for the latest quarters only. */
static void print_latest(const struct plan *plan, struct rt_block *block)
{
    struct rt_table *table = block == NULL ? NULL : block->last_table;
    if (table == NULL || table->row_count <= MOST_PRINTED_QUARTERS)
        return;
    const char *first = NULL;
    for (int i = 0; i < LATEST_QUARTERS; i++)
        first = quarter_before(table, first);
    table->print_note = rt_document_words(plan->document, "operators.print-latest");
    for (struct rt_table_row *row = table->rows; row != NULL; row = row->next)
        row->screen_only = strcmp(quarter_of(row), first) < 0;
}

/* --- cases ----------------------------------------------------------------------------------------------- */

static const struct level_column mix_columns[] = {
    {"column.cases", "span_implants", RT_PART_CASES, NULL},
    {"column.soft-bone", "span_soft_bone", RT_PART_SHARE, NULL},
    {"column.current-smoker", "span_current_smoker", RT_PART_SHARE, NULL},
    {"column.grafted", "span_grafted", RT_PART_SHARE, NULL},
    {"column.at-back", "span_at_back", RT_PART_SHARE, NULL},
};

void plan_case_mix(const struct plan *plan, struct rt_chapter *chapter)
{
    const struct rt_figure *first = first_row(plan, "span_soft_bone", "operator|year_to");
    if (first == NULL)
        return;
    struct rt_block *block =
        rt_add_block(plan->document, chapter, "operators-cases", "heading.operators.cases");
    rt_add_answer(plan->document, block, "operators.cases");
    struct rt_chart_request chart = operators_chart(plan, RT_CHART_BY_QUARTER, "operators-soft-bone",
                                                    "span_soft_bone", "operator|year_to");
    rt_set_chart(plan->document, block, &chart);
    add_level_table(plan, block, "caption.operators.cases.year", "column.operator.year-to",
                    operators_key("span_implants", "operator|year_to"), mix_columns, 5);
    print_latest(plan, block);
    add_level_table(plan, block, "caption.operators.cases.quarter", "column.operator.quarter",
                    operators_key("span_implants", "operator|quarter"), mix_columns, 5);
    print_latest(plan, block);
    method_of(plan, block, first);
}

/* --- depth ----------------------------------------------------------------------------------------------- */

void plan_depth_over_time(const struct plan *plan, struct rt_chapter *chapter)
{
    const struct rt_figure *first = first_row(plan, "depth_centre", "operator");
    if (first == NULL)
        return;
    struct rt_block *block =
        rt_add_block(plan->document, chapter, "operators-depth", "heading.operators.depth");
    bool any = any_ok(plan, operators_key("depth_centre", "operator"));
    rt_add_answer(plan->document, block, any ? "operators.depth" : "operators.depth.few");
    struct rt_chart_request chart =
        operators_chart(plan, RT_CHART_CONTROL, "operators-depth-chart", "depth_moving_average", "operator");
    chart.measures[1] = "depth_centre";
    chart.cases = find_cases(plan, "session_depth");
    if (any)
        rt_set_chart(plan->document, block, &chart);
    static const struct level_column columns[] = {
        {"column.sessions", "depth_centre", RT_PART_DUE, NULL},
        {"column.sessions.baseline", "depth_baseline_sessions", RT_PART_VALUE, NULL},
        {"column.depth.centre", "depth_centre", RT_PART_VALUE, NULL},
        {"column.depth.limits", "depth_centre", RT_PART_INTERVAL, NULL},
        {"column.moving-range", "depth_moving_range", RT_PART_VALUE, NULL},
    };
    add_level_table(plan, block, "caption.operators.depth", "column.operator",
                    operators_key("depth_centre", "operator"), columns, 5);
    method_of(plan, block, first);
}

void plan_within_by_quarter(const struct plan *plan, struct rt_chapter *chapter)
{
    const struct rt_figure *first = first_row(plan, "span_within_half", "operator|year_to");
    if (first == NULL)
        return;
    struct rt_block *block =
        rt_add_block(plan->document, chapter, "operators-within", "heading.operators.within");
    rt_add_answer(plan->document, block, "operators.by-quarter");
    struct rt_chart_request chart = operators_chart(plan, RT_CHART_BY_QUARTER, "operators-within-chart",
                                                    "span_within_half", "operator|year_to");
    rt_set_chart(plan->document, block, &chart);
    static const struct level_column columns[] = {
        {"column.cases", "span_within_half", RT_PART_CASES, NULL},
        {"column.depth.within", "span_within_half", RT_PART_SHARE, NULL},
    };
    add_matrix_table(plan, block, "caption.operators.within.year", "column.year-to",
                     operators_key("span_within_half", "operator|year_to"), 0, "column.operator.year-to",
                     columns, 2);
    print_latest(plan, block);
    add_matrix_table(plan, block, "caption.operators.within.quarter", "column.quarter",
                     operators_key("span_within_half", "operator|quarter"), 0, "column.operator.quarter",
                     columns, 2);
    print_latest(plan, block);
    method_of(plan, block, first);
}

/* --- failures -------------------------------------------------------------------------------------------- */

static void tell_expected(const struct plan *plan, struct rt_block *block)
{
    struct key key = operators_key("failures_expected", "operator|reference");
    size_t at = 0;
    for (const struct rt_figure *row = next_row(plan, key, &at); row != NULL;
         row = next_row(plan, key, &at)) {
        const char *wording = row->state == RT_FIGURE_OK          ? "operators.failures"
                              : row->state == RT_FIGURE_UNDEFINED ? "operators.failures.none"
                                                                  : "operators.failures.few";
        struct rt_sentence *sentence = rt_add_answer(plan->document, block, wording);
        bind_row(plan, sentence, "expected", row);
        rt_bind_words(plan->document, sentence, "operator", operator_of(plan, row->level, 1));
        rt_bind_words(plan->document, sentence, "reference", last_level_part(plan, row->level));
    }
}

void plan_failures_over_time(const struct plan *plan, struct rt_chapter *chapter)
{
    const struct rt_figure *first = first_row(plan, "failures_expected", "operator|reference");
    if (first == NULL)
        return;
    struct rt_block *block =
        rt_add_block(plan->document, chapter, "operators-failures", "heading.operators.failures");
    tell_expected(plan, block);
    struct rt_chart_request chart =
        operators_chart(plan, RT_CHART_SUMS, "operators-failures-chart", "failure_score_more", "operator");
    chart.measures[1] = "failure_score_fewer";
    if (first_row(plan, "failure_score_more", "operator") != NULL)
        rt_set_chart(plan->document, block, &chart);
    static const struct level_column counts[] = {
        {"column.sessions", "sessions", RT_PART_VALUE, NULL},
        {"column.sessions.open", "sessions_open", RT_PART_VALUE, NULL},
        {"column.sessions.unknown", "sessions_unknown", RT_PART_VALUE, NULL},
        {"column.sessions.unadjusted", "sessions_unadjusted", RT_PART_VALUE, NULL},
    };
    add_level_table(plan, block, "caption.operators.sessions", "column.operator",
                    operators_key("sessions", "operator"), counts, 4);
    static const struct level_column terms[] = {
        {"column.operators.term", "baseline_term", RT_PART_VALUE, NULL}};
    add_matrix_table(plan, block, "caption.operators.terms", "column.term.fitted",
                     operators_key("baseline_term", "operator|term|fitted_to"), 0, "column.operator.term",
                     terms, 1);
    static const struct level_column basis[] = {
        {"column.operators.term", "baseline_count", RT_PART_VALUE, NULL}};
    add_matrix_table(plan, block, "caption.operators.basis", "column.term.fitted",
                     operators_key("baseline_count", "operator|term|fitted_to"), 0, "column.operator.term",
                     basis, 1);
    method_of(plan, block, first);
    rt_set_caution(plan->document, block, "caution.operators.failures");
}

/* --- beside the others ----------------------------------------------------------------------------------- */

static const char *const differences[] = {"difference_depth_error",   "difference_depth_distance",
                                          "difference_within_half",   "difference_low_torque",
                                          "difference_early_failure", "difference_crest_change"};
enum { DIFFERENCES = sizeof differences / sizeof differences[0] };

static void name_differences(const struct plan *plan, struct rt_block *block)
{
    bool any = false;
    for (size_t i = 0; i < DIFFERENCES; i++) {
        struct key key = operators_key(differences[i], "operator");
        size_t at = 0;
        for (const struct rt_figure *row = next_row(plan, key, &at); row != NULL;
             row = next_row(plan, key, &at)) {
            if (row->state != RT_FIGURE_OK || !(row->p_adjusted < 0.05))
                continue;
            struct rt_sentence *sentence = rt_add_answer(plan->document, block, "operators.apart");
            bind_row(plan, sentence, "difference", row);
            rt_bind_words(plan->document, sentence, "operator", row->level);
            const char *label =
                strchr(measure_label(row), ','); /* `operator minus the others, depth error` */
            rt_bind_words(plan->document, sentence, "measure",
                          label == NULL ? measure_label(row) : label + 2);
            rt_bind_words(plan->document, sentence, "unit", strcmp(row->unit, "share") == 0 ? "" : " mm");
            any = true;
        }
    }
    if (!any)
        rt_add_answer(plan->document, block, "operators.apart.none");
}

static void plan_funnel(const struct plan *plan, struct rt_chapter *chapter)
{
    struct key centre_key = key_of("operators", "funnel_centre", "", "");
    centre_key.unit = "patient";
    const struct rt_figure *centre = find_row(plan, centre_key);
    if (centre == NULL)
        return;
    struct rt_block *block =
        rt_add_block(plan->document, chapter, "operators-funnel", "heading.operators.funnel");
    if (centre->state != RT_FIGURE_OK) {
        struct rt_sentence *few = rt_add_answer(plan->document, block, "operators.funnel.few");
        bind_row(plan, few, "all", centre);
        return;
    }
    struct key key = operators_key("funnel_share", "operator");
    key.unit = "patient";
    size_t at = 0, outside = 0;
    for (const struct rt_figure *row = next_row(plan, key, &at); row != NULL;
         row = next_row(plan, key, &at)) {
        if (row->state != RT_FIGURE_OK || strcmp(row->remark, "inside") == 0)
            continue;
        struct rt_sentence *sentence = rt_add_answer(plan->document, block, "operators.funnel.outside");
        bind_row(plan, sentence, "share", row);
        rt_bind_words(plan->document, sentence, "operator", row->level);
        outside++;
    }
    struct rt_sentence *all = rt_add_answer(
        plan->document, block, outside == 0 ? "operators.funnel.inside" : "operators.funnel.centre");
    bind_row(plan, all, "all", centre);
    struct rt_chart_request chart =
        operators_chart(plan, RT_CHART_FUNNEL, "operators-funnel-chart", "funnel_share", "operator");
    chart.measures[1] = "funnel_curve_95";
    chart.measures[2] = "funnel_curve_998";
    rt_set_chart(plan->document, block, &chart);
    static const struct level_column columns[] = {
        {"column.patients", "funnel_share", RT_PART_PATIENTS, NULL},
        {"column.patients.failed", "funnel_share", RT_PART_EVENTS, NULL},
        {"column.share", "funnel_share", RT_PART_ESTIMATE, NULL},
        {"column.funnel.95", "funnel_limits_95", RT_PART_INTERVAL, NULL},
        {"column.funnel.998", "funnel_limits_998", RT_PART_INTERVAL, NULL},
    };
    add_level_table(plan, block, "caption.operators.funnel", "column.operator", key, columns, 5);
    method_of(plan, block, centre);
}

void plan_beside_the_others(const struct plan *plan, struct rt_chapter *chapter)
{
    const struct rt_figure *first = first_row(plan, differences[0], "operator");
    if (first == NULL)
        return;
    struct rt_block *block =
        rt_add_block(plan->document, chapter, "operators-differences", "heading.operators.differences");
    name_differences(plan, block);
    static const struct level_column columns[] = {
        {"column.cases", "difference_depth_error", RT_PART_CASES, NULL},
        {"column.difference.depth", "difference_depth_error", RT_PART_ESTIMATE, NULL},
        {"column.difference.distance", "difference_depth_distance", RT_PART_ESTIMATE, NULL},
        {"column.difference.within", "difference_within_half", RT_PART_ESTIMATE, NULL},
    };
    add_level_table(plan, block, "caption.operators.differences", "column.operator",
                    operators_key("difference_depth_error", "operator"), columns, 4);
    static const struct level_column later[] = {
        {"column.cases", "difference_early_failure", RT_PART_CASES, NULL},
        {"column.difference.torque", "difference_low_torque", RT_PART_ESTIMATE, NULL},
        {"column.difference.failure", "difference_early_failure", RT_PART_ESTIMATE, NULL},
        {"column.difference.crest", "difference_crest_change", RT_PART_ESTIMATE, NULL},
    };
    add_level_table(plan, block, "caption.operators.differences.later", "column.operator",
                    operators_key("difference_early_failure", "operator"), later, 4);
    static const struct level_column drawn[] = {
        {"column.cases", "shrunken_depth_error", RT_PART_CASES, NULL},
        {"column.shrunken.depth", "shrunken_depth_error", RT_PART_ESTIMATE, NULL},
        {"column.shrunken.distance", "shrunken_depth_distance", RT_PART_ESTIMATE, NULL},
        {"column.shrunken.within", "shrunken_within_half", RT_PART_ESTIMATE, NULL},
        {"column.shrunken.torque", "shrunken_low_torque", RT_PART_ESTIMATE, NULL},
        {"column.shrunken.failure", "shrunken_early_failure", RT_PART_ESTIMATE, NULL},
        {"column.shrunken.crest", "shrunken_crest_change", RT_PART_ESTIMATE, NULL},
    };
    add_level_table(plan, block, "caption.operators.shrunken", "column.operator",
                    operators_key("shrunken_depth_error", "operator"), drawn, 7);
    method_of(plan, block, first);
    rt_set_caution(plan->document, block, "caution.operators");
    plan_funnel(plan, chapter);
}

/* --- one operator ---------------------------------------------------------------------------------------- */

void plan_torque_by_quarter(const struct plan *plan, struct rt_chapter *chapter)
{
    const struct rt_figure *first = first_row(plan, "span_low_torque", "operator|year_to");
    if (first == NULL)
        return;
    struct rt_block *block =
        rt_add_block(plan->document, chapter, "operators-torque", "heading.operators.torque");
    rt_add_answer(plan->document, block, "operators.by-quarter");
    struct rt_chart_request chart = operators_chart(plan, RT_CHART_BY_QUARTER, "operators-torque-chart",
                                                    "span_low_torque", "operator|year_to");
    rt_set_chart(plan->document, block, &chart);
    static const struct level_column columns[] = {
        {"column.cases", "span_torque_median", RT_PART_CASES, NULL},
        {"column.torque.median", "span_torque_median", RT_PART_ESTIMATE, NULL},
        {"column.torque.low", "span_low_torque", RT_PART_SHARE, NULL},
    };
    add_level_table(plan, block, "caption.operators.torque.year", "column.operator.year-to",
                    operators_key("span_torque_median", "operator|year_to"), columns, 3);
    print_latest(plan, block);
    add_level_table(plan, block, "caption.operators.torque.quarter", "column.operator.quarter",
                    operators_key("span_torque_median", "operator|quarter"), columns, 3);
    print_latest(plan, block);
    method_of(plan, block, first);
}

void plan_crest_by_quarter(const struct plan *plan, struct rt_chapter *chapter)
{
    struct key year = operators_key("span_film_read", "operator|year_to");
    year.baseline = "placement";
    struct key quarter = year;
    quarter.grouping = "operator|quarter";
    size_t at = 0;
    const struct rt_figure *first = next_row(plan, year, &at);
    if (first == NULL)
        return;
    struct rt_block *block =
        rt_add_block(plan->document, chapter, "operators-crest", "heading.operators.crest");
    rt_add_answer(plan->document, block, "operators.crest");
    struct rt_chart_request chart = operators_chart(plan, RT_CHART_BY_QUARTER, "operators-crest-chart",
                                                    "span_crest_change", "operator|year_to");
    chart.reference = 0.0;
    chart.reference_label = rt_document_words(plan->document, "chart.operators-crest-chart.none");
    rt_set_chart(plan->document, block, &chart);
    static const struct level_column read[] = {
        {"column.operators.films-due", "span_film_read", RT_PART_DUE, NULL},
        {"column.operators.films-read", "span_film_read", RT_PART_SHARE, NULL},
    };
    static const struct level_column change[] = {
        {"column.cases", "span_crest_change", RT_PART_CASES, NULL},
        {"column.crest.change", "span_crest_change", RT_PART_ESTIMATE, NULL},
    };
    add_level_table(plan, block, "caption.operators.films.year", "column.operator.year-to", year, read, 2);
    print_latest(plan, block);
    add_level_table(plan, block, "caption.operators.films.quarter", "column.operator.quarter", quarter, read,
                    2);
    print_latest(plan, block);
    year.site = quarter.site = "mean";
    add_level_table(plan, block, "caption.operators.crest.year", "column.operator.year-to", year, change, 2);
    print_latest(plan, block);
    add_level_table(plan, block, "caption.operators.crest.quarter", "column.operator.quarter", quarter,
                    change, 2);
    print_latest(plan, block);
    method_of(plan, block, first);
}

void plan_learning(const struct plan *plan, struct rt_chapter *chapter)
{
    const struct rt_figure *first = first_row(plan, "learning_curve", "operator");
    if (first == NULL)
        return;
    struct rt_block *block =
        rt_add_block(plan->document, chapter, "operators-learning", "heading.operators.learning");
    bool any = any_ok(plan, operators_key("learning_curve", "operator"));
    struct rt_sentence *answer =
        rt_add_answer(plan->document, block, any ? "operators.learning" : "operators.learning.few");
    bind_row(plan, answer, "curve", first);
    struct rt_chart_request chart = operators_chart(plan, RT_CHART_DOSE_RESPONSE, "operators-learning-chart",
                                                    "learning_curve", "operator");
    if (any)
        rt_set_chart(plan->document, block, &chart);
    static const struct level_column columns[] = {
        {"column.learning", "learning_curve", RT_PART_ESTIMATE, NULL},
    };
    add_level_table(plan, block, "caption.operators.learning", "column.operator.number",
                    operators_key("learning_curve", "operator"), columns, 1);
    method_of(plan, block, first);
}
