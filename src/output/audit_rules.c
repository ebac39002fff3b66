/* Chapter "House rules on trial": all verdicts side by side, then a block for each rule. */
#include "plan.h"

#include "ridgetally/figure/catalogue.h"
#include "ridgetally/figure/wording.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* How a rule is judged, and what its chart and table read. Names are those of the store. */
struct rule_page {
    const char *name, *outcome; /* keys of wordings */
    int promised;               /* +1 higher, -1 lower, 0 a stated value */
    const char *cases;          /* case series of its chart, or NULL */
    const char *marks[2];       /* parameters drawn as lines; NULL: the stated value, where dose is set */
    bool dose;
};

static const struct rule_page pages[] = {
    {"depth-below-crest", "exposure_share", -1, NULL, {"lower", "upper"}, true},
    {"tissue-plus-depth", "crest_change", 0, "rule_sum", {NULL, NULL}, true},
    {"torque-per-millimetre", "torque", 0, "rule_travel", {NULL, NULL}, true},
    {"never-stalled", "early_failure", -1, NULL, {NULL, NULL}, false},
    {"bone-all-round", "crest_change", 1, "rule_wall", {"wall", NULL}, true},
    {"density-by-drill", "final_torque", 1, NULL, {NULL, NULL}, false},
    {"dense-bone-drilling", "depth_within_half", 1, NULL, {NULL, NULL}, false},
    {"size-in-reserve", "low_torque", -1, NULL, {NULL, NULL}, false},
    {"wait-twelve-weeks", "failure_after_loading", -1, NULL, {"wait", NULL}, true},
};
enum { PAGES = sizeof pages / sizeof pages[0] };

static const struct rt_figure *rule_row(const struct plan *plan, const char *measure, const char *name)
{
    return find_row(plan, key_of("rules", measure, "rule", name));
}

static const struct rt_figure *parameter_row(const struct plan *plan, const char *name, const char *parameter)
{
    return find_row(plan, key_of("rules", "rule_parameter", "rule|parameter",
                                 rt_document_text(plan->document, "%s|%s", name, parameter)));
}

static const char *rule_key(const struct plan *plan, const char *name, const char *part)
{
    return rt_document_text(plan->document, "rules.%s.%s", name, part);
}

static const char *unit_words(const struct rt_figure *row)
{
    return row == NULL || strcmp(row->unit, "share") == 0 ? ""
           : strcmp(row->unit, "mm") == 0                 ? " mm"
                                                          : " Ncm";
}

/* Every row that a sentence about the rule may show. */
static void bind_rule(const struct plan *plan, struct rt_sentence *sentence, const struct rule_page *page)
{
    static const char *const rows[][2] = {
        {"followed", "rule_followed"},
        {"yes", "rule_outcome_followed"},
        {"no", "rule_outcome_not_followed"},
        {"crude", "rule_difference"},
        {"adjusted", "rule_difference_adjusted"},
        {"smallest", "rule_smallest_difference"},
        {"stated", "rule_stated_value"},
        {"width", "rule_largest_width"},
        {"slope", "rule_slope_adjusted"},
        {"knee", "rule_knee"},
        {"lost", "rule_lost_before"},
        {"verdict", "rule_verdict"},
    };
    static const char *const parameters[] = {"lower",       "upper", "within", "wall",
                                             "dense_up_to", "wait",  "watch"};
    struct rt_document *document = plan->document;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct rt_figure *row = rule_row(plan, rows[i][1], page->name);
        if (row != NULL)
            rt_bind_figure(document, sentence, rows[i][0], row);
    }
    for (size_t i = 0; i < sizeof parameters / sizeof parameters[0]; i++) {
        const struct rt_figure *row = parameter_row(plan, page->name, parameters[i]);
        if (row != NULL)
            rt_bind_figure(document, sentence, parameters[i], row);
    }
    const struct rt_figure *verdict = rule_row(plan, "rule_verdict", page->name);
    const struct rt_figure *adjusted = rule_row(plan, "rule_difference_adjusted", page->name);
    rt_bind_words(document, sentence, "why", verdict == NULL ? "" : verdict->remark);
    rt_bind_words(document, sentence, "held", adjusted == NULL ? "" : adjusted->remark);
    rt_bind_words(document, sentence, "unit", unit_words(adjusted));
    if (page->promised != 0)
        rt_bind_words(
            document, sentence, "phrase",
            rt_document_words(document, rt_document_text(document, "rules.phrase.%s.%s", page->outcome,
                                                         page->promised > 0 ? "higher" : "lower")));
}

/* supported, not, open, cannot, few, none: by state, value and remark of the verdict. */
static const char *variant_of(const struct rt_figure *verdict)
{
    if (verdict->state == RT_FIGURE_UNDEFINED)
        return "none";
    if (verdict->state != RT_FIGURE_OK)
        return "few";
    if (fabs(verdict->value) > 0.5)
        return verdict->value > 0.0 ? "supported" : "not";
    return strncmp(verdict->remark, "cannot tell", strlen("cannot tell")) == 0 ? "cannot" : "open";
}

/* The kind of verdict a rule is listed under: an interval that holds too much is too few to say. */
static const char *list_of(const struct rt_figure *verdict)
{
    const char *variant = variant_of(verdict);
    return strcmp(variant, "open") == 0 ? "few" : variant;
}

/* --- all verdicts ---------------------------------------------------------------------------------------- */

/* `Supported by these records: ...`, one sentence for each kind of verdict that occurs. */
static void list_verdicts(const struct plan *plan, struct rt_block *block)
{
    static const char *const variants[] = {"supported", "not", "few", "cannot", "none"};
    for (size_t v = 0; v < sizeof variants / sizeof variants[0]; v++) {
        const char *names = "";
        for (size_t i = 0; i < PAGES; i++) {
            const struct rt_figure *verdict = rule_row(plan, "rule_verdict", pages[i].name);
            if (verdict == NULL || strcmp(list_of(verdict), variants[v]) != 0)
                continue;
            names =
                rt_document_text(plan->document, "%s%s%s", names, names[0] == '\0' ? "" : ", ",
                                 rt_document_words(plan->document, rule_key(plan, pages[i].name, "name")));
        }
        if (names[0] == '\0')
            continue;
        struct rt_sentence *sentence = rt_add_answer(
            plan->document, block, rt_document_text(plan->document, "rules.list.%s", variants[v]));
        rt_bind_words(plan->document, sentence, "names", names);
    }
}

static void add_verdict_table(const struct plan *plan, struct rt_block *block)
{
    static const struct {
        const char *heading, *measure;
        enum rt_slot_part part;
    } columns[] = {
        {"column.rules.followed", "rule_followed", RT_PART_SHARE},
        {"column.rules.adjusted", "rule_difference_adjusted", RT_PART_ESTIMATE},
        {"column.rules.smallest", "rule_smallest_difference", RT_PART_VALUE},
        {"column.p_adjusted", "rule_verdict", RT_PART_P_ADJUSTED},
    };
    enum { COLUMNS = sizeof columns / sizeof columns[0] };
    struct rt_document *document = plan->document;
    struct rt_table *table = rt_add_table(document, block, "caption.rules.all", "column.rules.rule");
    for (size_t c = 0; c < COLUMNS; c++)
        rt_add_column(document, table, columns[c].heading, columns[c].part);
    for (size_t i = 0; i < PAGES; i++) {
        if (rule_row(plan, "rule_verdict", pages[i].name) == NULL)
            continue;
        const char *unit = unit_words(rule_row(plan, "rule_difference_adjusted", pages[i].name));
        const char *name = rt_document_words(document, rule_key(plan, pages[i].name, "name"));
        struct rt_table_row *line = rt_add_row(
            document, table, rt_document_text(document, "%s%s%s", name, unit[0] == '\0' ? "" : ",", unit));
        for (size_t c = 0; c < COLUMNS; c++)
            rt_add_figure_cell(document, line, rule_row(plan, columns[c].measure, pages[i].name));
    }
}

static void plan_verdicts(const struct plan *plan, struct rt_chapter *chapter)
{
    struct rt_block *block =
        rt_add_block(plan->document, chapter, "rules-verdicts", "heading.rules.verdicts");
    list_verdicts(plan, block);
    struct rt_chart_request chart = chart_request(plan, RT_CHART_RULES, "rules-forest");
    chart.section = "rules";
    chart.measures[0] = "rule_difference_scaled";
    chart.measures[1] = "rule_verdict";
    chart.grouping = "rule";
    rt_set_chart(plan->document, block, &chart);
    add_verdict_table(plan, block);
    rt_set_method(plan->document, block, "rules.method", "method-rule_verdict");
    rt_set_caution(plan->document, block, "caution.rules");
}

/* --- one rule -------------------------------------------------------------------------------------------- */

static void add_sentence(const struct plan *plan, struct rt_sentence *sentence, const struct rule_page *page)
{
    bind_rule(plan, sentence, page);
}

static void answer_rule(const struct plan *plan, struct rt_block *block, const struct rule_page *page,
                        const struct rt_figure *verdict)
{
    const char *variant = variant_of(verdict);
    const char *own = rt_document_text(plan->document, "rules.%s.%s", page->name, variant);
    const char *key =
        rt_has_wording(own) ? own : rt_document_text(plan->document, "rules.verdict.%s", variant);
    add_sentence(plan, rt_add_answer(plan->document, block, rule_key(plan, page->name, "says")), page);
    add_sentence(plan, rt_add_answer(plan->document, block, key), page);
}

static bool is_ok(const struct rt_figure *row)
{
    return row != NULL && row->state == RT_FIGURE_OK;
}

static void remark_rule(const struct plan *plan, struct rt_block *block, const struct rule_page *page)
{
    struct rt_document *document = plan->document;
    const struct rt_figure *followed = rule_row(plan, "rule_followed", page->name);
    const struct rt_figure *yes = rule_row(plan, "rule_outcome_followed", page->name);
    const struct rt_figure *no = rule_row(plan, "rule_outcome_not_followed", page->name);
    const struct rt_figure *lost = rule_row(plan, "rule_lost_before", page->name);
    const struct rt_figure *edited = rule_row(plan, "rule_edited", page->name);
    const char *own = rule_key(plan, page->name, "followed");
    if (is_ok(followed))
        add_sentence(plan, rt_add_remark(document, block, rt_has_wording(own) ? own : "rules.followed"),
                     page);
    else if (followed != NULL)
        add_sentence(plan, rt_add_remark(document, block, "rules.followed.few"), page);
    if (is_ok(yes) && is_ok(no))
        add_sentence(plan, rt_add_remark(document, block, rule_key(plan, page->name, "outcome")), page);
    if (is_ok(rule_row(plan, "rule_difference_adjusted", page->name)))
        add_sentence(plan, rt_add_remark(document, block, "rules.held"), page);
    if (is_ok(lost))
        add_sentence(plan, rt_add_remark(document, block, "rules.lost"), page);
    if (edited != NULL && edited->value > 0.5)
        add_sentence(plan, rt_add_remark(document, block, "rules.edited"), page);
}

static void draw_rule(const struct plan *plan, struct rt_block *block, const struct rule_page *page)
{
    const char *id = rt_document_text(plan->document, "rule-%s", page->name);
    if (!page->dose || !any_ok(plan, key_of("rules", "rule_dose_response", "rule", page->name)))
        return;
    struct rt_chart_request chart = chart_request(plan, RT_CHART_RULE_DOSE, id);
    chart.section = "rules";
    chart.measures[0] = "rule_dose_response";
    chart.measures[1] = "rule_knee_compatible";
    chart.measures[2] = "rule_knee";
    chart.grouping = "rule";
    chart.level = page->name;
    chart.cases = page->cases == NULL ? NULL : find_cases(plan, page->cases);
    chart.slope = NAN;
    const struct rt_figure *stated = rule_row(plan, "rule_stated_value", page->name);
    for (size_t i = 0; i < 2; i++) {
        const struct rt_figure *mark =
            page->marks[i] == NULL ? NULL : parameter_row(plan, page->name, page->marks[i]);
        chart.x_marks[i] = mark == NULL ? NAN : mark->value;
    }
    if (strcmp(page->name, "tissue-plus-depth") == 0 && stated != NULL)
        chart.x_marks[0] = stated->value;
    if (strcmp(page->name, "torque-per-millimetre") == 0 && stated != NULL)
        chart.slope = stated->value;
    chart.reference_label =
        rt_document_words(plan->document, rt_document_text(plan->document, "chart.%s.mark", id));
    if (strcmp(page->outcome, "crest_change") == 0)
        chart.reference = 0.0;
    rt_set_chart(plan->document, block, &chart);
}

static void add_rule_table(const struct plan *plan, struct rt_block *block, const struct rule_page *page)
{
    static const char *const measures[] = {"rule_outcome_followed", "rule_outcome_not_followed",
                                           "rule_difference",       "rule_difference_adjusted",
                                           "rule_difference_cr2",   "rule_slope",
                                           "rule_slope_adjusted",   "rule_knee"};
    struct rt_document *document = plan->document;
    struct rt_table *table = NULL;
    for (size_t i = 0; i < sizeof measures / sizeof measures[0]; i++) {
        const struct rt_figure *row = rule_row(plan, measures[i], page->name);
        if (row == NULL)
            continue;
        if (table == NULL) {
            table =
                rt_add_table(document, block, rule_key(plan, page->name, "caption"), "column.rules.figure");
            rt_add_column(document, table, "column.cases", RT_PART_CASES);
            rt_add_column(document, table, "column.rules.estimate", RT_PART_ESTIMATE);
        }
        struct rt_table_row *line = rt_add_row(document, table, measure_label(row));
        rt_add_figure_cell(document, line, row);
        rt_add_figure_cell(document, line, row);
    }
}

/* Depth and tissue apart. */
static void add_sum_table(const struct plan *plan, struct rt_block *block)
{
    struct rt_document *document = plan->document;
    struct rt_table *table = NULL;
    size_t at = 0;
    const struct key key = key_of("rules", "rule_sum_slope", "rule|term", "tissue-plus-depth|");
    for (const struct rt_figure *row = next_row(plan, key, &at); row != NULL;
         row = next_row(plan, key, &at)) {
        if (table == NULL) {
            table = rt_add_table(document, block, "caption.rules.sum", "column.rules.term");
            rt_add_column(document, table, "column.cases", RT_PART_CASES);
            rt_add_column(document, table, "column.rules.slope", RT_PART_ESTIMATE);
            rt_add_column(document, table, "column.p_adjusted", RT_PART_P_ADJUSTED);
        }
        struct rt_table_row *line = rt_add_row(document, table, last_level_part(plan, row->level));
        for (int i = 0; i < 3; i++)
            rt_add_figure_cell(document, line, row);
    }
}

/* The line on method from the row's own method: REML or least squares, by the records. */
static void method_of_row(const struct plan *plan, struct rt_block *block, const struct rt_figure *row)
{
    const struct rt_method *method = row == NULL ? NULL : rt_find_method(row->method);
    if (method == NULL)
        return;
    struct rt_sentence *line = rt_set_method(plan->document, block, "method.line",
                                             rt_document_text(plan->document, "method-%s", method->key));
    rt_bind_words(plan->document, line, "method", method->words);
}

static void plan_rule(const struct plan *plan, struct rt_chapter *chapter, const struct rule_page *page)
{
    const struct rt_figure *verdict = rule_row(plan, "rule_verdict", page->name);
    if (verdict == NULL)
        return;
    struct rt_block *block =
        rt_add_block(plan->document, chapter, rt_document_text(plan->document, "house-%s", page->name),
                     rule_key(plan, page->name, "heading"));
    answer_rule(plan, block, page, verdict);
    remark_rule(plan, block, page);
    draw_rule(plan, block, page);
    add_rule_table(plan, block, page);
    if (strcmp(page->name, "tissue-plus-depth") == 0)
        add_sum_table(plan, block);
    const struct rt_figure *adjusted = rule_row(
        plan,
        page->promised == 0 && strcmp(page->name, "torque-per-millimetre") == 0 ? "rule_slope_adjusted"
        : page->promised == 0                                                   ? "rule_knee"
                                                                                : "rule_difference_adjusted",
        page->name);
    method_of_row(plan, block, adjusted);
}

void plan_rules(const struct plan *plan)
{
    const struct rt_figure *screened = find_row(plan, key_of("rules", "rules_screened", "", ""));
    if (screened == NULL)
        return;
    struct rt_chapter *chapter = rt_add_chapter(plan->document, "rules", "heading.rules");
    struct rt_sentence *lead =
        rt_add_lead(plan->document, chapter, screened->value > 0.5 ? "rules.lead" : "rules.lead.none");
    rt_bind_figure(plan->document, lead, "screened", screened);
    plan_verdicts(plan, chapter);
    for (size_t i = 0; i < PAGES; i++)
        plan_rule(plan, chapter, &pages[i]);
}
