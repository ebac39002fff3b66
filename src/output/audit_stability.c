/* Chapter "Stability": torque and density. */
#include "plan.h"

#include <math.h>
#include <string.h>

#define YEAR "12 months"

/* Torque and density are told apart by scale: D1-D4 and Lekholm-Zarb types are never pooled. */
static void answer_density(const struct plan *plan, struct rt_block *block)
{
    struct key key = key_of("stability", "torque_density_spearman", "window|density_scale", YEAR "|");
    size_t at = 0;
    for (const struct rt_figure *row = next_row(plan, key, &at); row != NULL;
         row = next_row(plan, key, &at)) {
        if (is_void(row))
            continue;
        struct rt_sentence *sentence = answer_signed(plan, block, "stability.density", "rank", row);
        const char *scale = last_level_part(plan, row->level);
        rt_bind_words(plan->document, sentence, "scale",
                      rt_document_words(plan->document, strcmp(scale, "LZ") == 0 ? "scale.lz" : "scale.d"));
    }
}

static void plan_torque_density(const struct plan *plan, struct rt_chapter *chapter)
{
    struct key medians = key_of("stability", "torque_median", "window|density_found", YEAR "|");
    size_t at = 0;
    const struct rt_figure *first = next_row(plan, medians, &at);
    if (first == NULL)
        return;
    struct rt_block *block =
        rt_add_block(plan->document, chapter, "torque-density", "heading.stability.density");
    answer_density(plan, block);
    struct rt_chart_request chart = chart_request(plan, RT_CHART_STRIP_BY_CLASS, "torque-by-density");
    chart.section = "stability";
    chart.measures[0] = "torque_quartile_lower";
    chart.measures[1] = "torque_median";
    chart.measures[2] = "torque_quartile_upper";
    chart.grouping = "window|density_found";
    chart.level = YEAR "|";
    chart.cases = find_cases(plan, "torque_density");
    if (chart.cases != NULL)
        rt_set_chart(plan->document, block, &chart);
    static const struct level_column columns[] = {
        {"column.cases", "torque_median", RT_PART_CASES, NULL},
        {"column.torque.q1", "torque_quartile_lower", RT_PART_VALUE, NULL},
        {"column.torque.median", "torque_median", RT_PART_ESTIMATE, NULL},
        {"column.torque.q3", "torque_quartile_upper", RT_PART_VALUE, NULL},
        {"column.torque.low", "low_torque", RT_PART_SHARE, NULL},
    };
    add_level_table(plan, block, "caption.torque.density", "column.density", medians, columns, 5);
    static const struct level_column trends[] = {
        {"column.cases", "torque_density_spearman", RT_PART_CASES, NULL},
        {"column.spearman", "torque_density_spearman", RT_PART_ESTIMATE, NULL},
        {"column.tau", "torque_density_tau_b", RT_PART_ESTIMATE, NULL},
        {"column.trend", "torque_density_trend", RT_PART_ESTIMATE, NULL},
        {"column.trend.p", "torque_density_trend", RT_PART_P_ADJUSTED, NULL},
    };
    add_level_table(plan, block, "caption.torque.trend", "column.scale",
                    key_of("stability", "", "window|density_scale", YEAR "|"), trends, 5);
    method_of(plan, block, first);
    rt_set_caution(plan->document, block, "caution.density");
}

static void plan_agreement(const struct plan *plan, struct rt_chapter *chapter)
{
    struct key kappa = key_of("stability", "density_kappa", "window|density_scale", YEAR "|");
    size_t at = 0;
    const struct rt_figure *first = next_row(plan, kappa, &at);
    if (first == NULL)
        return;
    struct rt_block *block =
        rt_add_block(plan->document, chapter, "density-agreement", "heading.stability.agreement");
    struct key same = kappa;
    same.measure = "density_same";
    size_t from = 0;
    for (const struct rt_figure *row = next_row(plan, same, &from); row != NULL;
         row = next_row(plan, same, &from)) {
        if (is_void(row))
            continue;
        struct rt_sentence *sentence = answer_share(plan, block, "stability.same", "same", row);
        const char *scale = last_level_part(plan, row->level);
        rt_bind_words(plan->document, sentence, "scale",
                      rt_document_words(plan->document, strcmp(scale, "LZ") == 0 ? "scale.lz" : "scale.d"));
    }
    static const struct level_column columns[] = {
        {"column.cases", "density_kappa", RT_PART_CASES, NULL},
        {"column.density.same", "density_same", RT_PART_SHARE, NULL},
        {"column.kappa", "density_kappa", RT_PART_ESTIMATE, NULL},
        {"column.kappa.quadratic", "density_kappa_quadratic", RT_PART_ESTIMATE, NULL},
    };
    add_level_table(plan, block, "caption.density.agreement", "column.scale", kappa, columns, 4);
    method_of(plan, block, first);
}

static void plan_low_torque(const struct plan *plan, struct rt_chapter *chapter)
{
    const struct rt_figure *low = find_row(plan, key_of("stability", "low_torque", "window", YEAR));
    if (low == NULL || is_void(low))
        return;
    struct rt_block *block = rt_add_block(plan->document, chapter, "low-torque", "heading.stability.low");
    answer_share(plan, block, "stability.low", "low", low);
    static const struct level_column columns[] = {
        {"column.cases", "low_torque_outcome", RT_PART_CASES, NULL},
    };
    add_level_table(plan, block, "caption.low.outcome", "column.outcome",
                    key_of("stability", "", "window|outcome", YEAR "|"), columns, 1);
    method_of(plan, block, low);
    rt_set_caution(plan->document, block, "caution.torque");
}

static void plan_size(const struct plan *plan, struct rt_chapter *chapter)
{
    static const struct {
        const char *measure, *tau, *label;
    } sizes[] = {{"torque_diameter_spearman", "torque_diameter_tau_b", "label.diameter"},
                 {"torque_length_spearman", "torque_length_tau_b", "label.length"}};
    const struct rt_figure *first = find_row(plan, key_of("stability", sizes[0].measure, "window", YEAR));
    if (first == NULL || is_void(first))
        return;
    struct rt_document *document = plan->document;
    struct rt_block *block = rt_add_block(document, chapter, "torque-size", "heading.stability.size");
    struct rt_table *table = NULL;
    for (size_t i = 0; i < 2; i++) {
        const struct rt_figure *row = find_row(plan, key_of("stability", sizes[i].measure, "window", YEAR));
        if (row == NULL)
            continue;
        struct rt_sentence *sentence = answer_signed(plan, block, "stability.size", "rank", row);
        rt_bind_words(document, sentence, "size", rt_document_words(document, sizes[i].label));
    }
    table = rt_add_table(document, block, "caption.torque.size", "column.size");
    rt_add_column(document, table, "column.cases", RT_PART_CASES);
    rt_add_column(document, table, "column.spearman", RT_PART_ESTIMATE);
    rt_add_column(document, table, "column.tau", RT_PART_ESTIMATE);
    rt_add_column(document, table, "column.p_adjusted", RT_PART_P_ADJUSTED);
    for (size_t i = 0; i < 2; i++) {
        const struct rt_figure *row = find_row(plan, key_of("stability", sizes[i].measure, "window", YEAR));
        struct rt_table_row *line = rt_add_row(document, table, rt_document_words(document, sizes[i].label));
        rt_add_figure_cell(document, line, row);
        rt_add_figure_cell(document, line, row);
        rt_add_figure_cell(document, line, find_row(plan, key_of("stability", sizes[i].tau, "window", YEAR)));
        rt_add_figure_cell(document, line, row);
    }
    method_of(plan, block, first);
}

static const struct rt_figure *find_slope(const struct plan *plan, const char *measure)
{
    const struct rt_figure *row = find_row(plan, key_of("stability", measure, "window", "all"));
    return row != NULL ? row : find_row(plan, key_of("stability", measure, "window", YEAR));
}

/* The slope to put in words: where finals were capped the fit that counts them as limits, since leaving the
 * highest torques out flattens the line. */
static const struct rt_figure *leading_slope(const struct plan *plan)
{
    const struct rt_figure *censored = find_slope(plan, "torque_per_mm_censored");
    return censored != NULL && censored->state == RT_FIGURE_OK ? censored : find_slope(plan, "torque_per_mm");
}

static void plan_torque_per_mm(const struct plan *plan, struct rt_chapter *chapter)
{
    static const char *const measures[] = {"torque_per_mm", "torque_per_mm_origin", "torque_per_mm_censored"};
    const struct rt_figure *slope = leading_slope(plan);
    if (slope == NULL)
        return;
    struct rt_document *document = plan->document;
    struct rt_block *block = rt_add_block(document, chapter, "torque-per-mm", "heading.stability.slope");
    answer_signed(plan, block, "stability.slope", "slope", slope);
    struct rt_table *table = rt_add_table(document, block, "caption.torque.slope", "column.model");
    rt_add_column(document, table, "column.cases", RT_PART_CASES);
    rt_add_column(document, table, "column.torque.slope", RT_PART_ESTIMATE);
    for (size_t i = 0; i < sizeof measures / sizeof measures[0]; i++) {
        const struct rt_figure *row = find_slope(plan, measures[i]);
        if (row == NULL)
            continue;
        struct rt_table_row *line = rt_add_row(document, table, measure_label(row));
        rt_add_figure_cell(document, line, row);
        rt_add_figure_cell(document, line, row);
    }
    static const struct level_column columns[] = {
        {"column.cases", "torque_slope_cases", RT_PART_CASES, NULL},
    };
    add_level_table(plan, block, "caption.torque.slope.cases", "column.status",
                    key_of("stability", "", "window|status", "all|"), columns, 1);
    method_of(plan, block, slope);
    rt_set_caution(plan->document, block, "caution.torque");
}

void plan_stability(const struct plan *plan)
{
    const struct rt_figure *recorded = find_row(plan, key_of("stability", "torque_recorded", "window", YEAR));
    if (recorded == NULL)
        return;
    struct rt_chapter *chapter = rt_add_chapter(plan->document, "stability", "heading.stability");
    struct rt_sentence *lead =
        rt_add_lead(plan->document, chapter, recorded->n_due > 0 ? "stability.recorded" : "stability.none");
    rt_bind_figure(plan->document, lead, "recorded", recorded);
    plan_torque_density(plan, chapter);
    plan_agreement(plan, chapter);
    plan_low_torque(plan, chapter);
    plan_size(plan, chapter);
    plan_torque_per_mm(plan, chapter);
}
