/* Chapter "Depth": planned against achieved. */
#include "plan.h"

#include <math.h>

#define YEAR "12 months"

static void add_limits(const struct plan *plan, struct rt_block *block)
{
    const struct rt_figure *lower = find_row(plan, key_of("depth", "depth_limit_lower", "window", YEAR));
    const struct rt_figure *upper = find_row(plan, key_of("depth", "depth_limit_upper", "window", YEAR));
    if (lower == NULL || upper == NULL || !(lower->value < 0.0) || !(upper->value > 0.0))
        return;
    struct rt_sentence *sentence = rt_add_answer(plan->document, block, "depth.limits");
    rt_bind_figure(plan->document, sentence, "lower", lower);
    rt_bind_figure(plan->document, sentence, "upper", upper);
}

static void plan_bias(const struct plan *plan, struct rt_chapter *chapter, const struct rt_figure *bias)
{
    struct rt_block *block = rt_add_block(plan->document, chapter, "depth-bias", "heading.depth.bias");
    answer_signed(plan, block, "depth.bias", "bias", bias);
    add_limits(plan, block);
    const struct rt_figure *within = find_row(plan, key_of("depth", "depth_within_half", "window", YEAR));
    if (within != NULL && within->state == RT_FIGURE_OK)
        answer_share(plan, block, "depth.within", "within", within);
    struct rt_chart_request chart = chart_request(plan, RT_CHART_AGREEMENT, "depth-agreement");
    chart.section = "depth";
    chart.measures[0] = "depth_bias";
    chart.measures[1] = "depth_limit_lower";
    chart.measures[2] = "depth_limit_upper";
    chart.grouping = "window";
    chart.level = YEAR;
    chart.cases = find_cases(plan, "depth_agreement");
    chart.reference = 0.0;
    chart.reference_label = rt_document_words(plan->document, "chart.as-planned");
    if (bias->state == RT_FIGURE_OK && chart.cases != NULL)
        rt_set_chart(plan->document, block, &chart);
    static const struct level_column columns[] = {
        {"column.cases", "depth_bias", RT_PART_CASES, NULL},
        {"column.depth.bias", "depth_bias", RT_PART_ESTIMATE, NULL},
        {"column.patient-mean", "depth_bias", RT_PART_ESTIMATE, "patient"},
        {"column.depth.lower", "depth_limit_lower", RT_PART_ESTIMATE, NULL},
        {"column.depth.upper", "depth_limit_upper", RT_PART_ESTIMATE, NULL},
        {"column.depth.within", "depth_within_half", RT_PART_SHARE, NULL},
    };
    add_level_table(plan, block, "caption.depth.bias", "column.window", key_of("depth", "", "window", ""),
                    columns, 5);
    method_of(plan, block, bias);
}

/* The operators whose difference from the others survives adjustment; true when there was one. */
static bool name_operators(const struct plan *plan, struct rt_block *block)
{
    bool any = false;
    struct key key = key_of("depth", "depth_operator_difference", "window|operator", YEAR "|");
    size_t at = 0;
    for (const struct rt_figure *row = next_row(plan, key, &at); row != NULL;
         row = next_row(plan, key, &at)) {
        if (row->state != RT_FIGURE_OK || !(row->p_adjusted < 0.05))
            continue;
        struct rt_sentence *sentence = answer_signed(plan, block, "depth.operator", "difference", row);
        rt_bind_words(plan->document, sentence, "operator", last_level_part(plan, row->level));
        any = true;
    }
    return any;
}

static void plan_operators(const struct plan *plan, struct rt_chapter *chapter)
{
    struct key key = key_of("depth", "depth_bias", "window|operator", YEAR "|");
    size_t at = 0;
    const struct rt_figure *first = next_row(plan, key, &at);
    if (first == NULL)
        return;
    struct rt_block *block =
        rt_add_block(plan->document, chapter, "depth-operator", "heading.depth.operator");
    struct key difference = key_of("depth", "depth_operator_difference", "window|operator", YEAR "|");
    if (!any_ok(plan, difference))
        rt_add_answer(plan->document, block, "depth.operator.untested");
    else if (!name_operators(plan, block))
        rt_add_answer(plan->document, block, "depth.operator.none");
    struct rt_chart_request chart = chart_request(plan, RT_CHART_ERROR_HISTOGRAM, "depth-error");
    chart.section = "depth";
    chart.measures[0] = "depth_bias";
    chart.grouping = "window|operator";
    chart.level = YEAR "|";
    chart.cases = find_cases(plan, "depth_error");
    chart.reference = 0.0;
    chart.reference_label = rt_document_words(plan->document, "chart.as-planned");
    if (chart.cases != NULL)
        rt_set_chart(plan->document, block, &chart);
    static const struct level_column columns[] = {
        {"column.cases", "depth_bias", RT_PART_CASES, NULL},
        {"column.depth.bias", "depth_bias", RT_PART_ESTIMATE, NULL},
        {"column.depth.within", "depth_within_half", RT_PART_SHARE, NULL},
        {"column.depth.difference", "depth_operator_difference", RT_PART_ESTIMATE, NULL},
        {"column.p_adjusted", "depth_operator_difference", RT_PART_P_ADJUSTED, NULL},
    };
    add_level_table(plan, block, "caption.depth.operator", "column.operator", key, columns, 5);
    method_of(plan, block, first);
    rt_set_caution(plan->document, block, "caution.operators");
}

static void plan_places(const struct plan *plan, struct rt_chapter *chapter)
{
    struct key density = key_of("depth", "depth_bias", "window|density_found", YEAR "|");
    struct key region = key_of("depth", "depth_bias", "window|region", YEAR "|");
    size_t at = 0;
    const struct rt_figure *first = next_row(plan, density, &at);
    if (first == NULL)
        return;
    struct rt_block *block = rt_add_block(plan->document, chapter, "depth-where", "heading.depth.where");
    rt_add_answer(plan->document, block, "depth.where");
    static const struct level_column columns[] = {
        {"column.cases", "depth_bias", RT_PART_CASES, NULL},
        {"column.depth.bias", "depth_bias", RT_PART_ESTIMATE, NULL},
        {"column.depth.within", "depth_within_half", RT_PART_SHARE, NULL},
    };
    add_level_table(plan, block, "caption.depth.density", "column.density", density, columns, 3);
    add_level_table(plan, block, "caption.depth.region", "column.region", region, columns, 3);
    method_of(plan, block, first);
}

const struct rt_figure *main_bias(const struct plan *plan)
{
    return find_row(plan, key_of("depth", "depth_bias", "window", YEAR));
}

void plan_depth(const struct plan *plan)
{
    const struct rt_figure *bias = main_bias(plan);
    if (bias == NULL)
        return;
    struct rt_chapter *chapter = rt_add_chapter(plan->document, "depth", "heading.depth");
    plan_bias(plan, chapter, bias);
    plan_operators(plan, chapter);
    plan_places(plan, chapter);
}
