/* Chapters "Survival" and "Early failure". */
#include "plan.h"

#include <math.h>
#include <string.h>

#define SEEN "last sighting"

enum { FEWEST_PATIENTS = 10 };

static struct key survival_key(const char *measure, const char *censoring, double years)
{
    struct key key = key_of("survival", measure, "censoring", censoring);
    key.at = years;
    return key;
}

/* The latest whole year at which enough patients are still at risk. */
const struct rt_figure *main_survival(const struct plan *plan)
{
    const struct rt_figure *latest = NULL;
    struct key key = survival_key("survival", SEEN, NAN);
    size_t at = 0;
    for (const struct rt_figure *row = next_row(plan, key, &at); row != NULL; row = next_row(plan, key, &at))
        if (row->state == RT_FIGURE_OK && row->n_patients >= FEWEST_PATIENTS &&
            (latest == NULL || row->at > latest->at))
            latest = row;
    return latest;
}

static bool both_known(const struct bounds *bounds)
{
    return bounds->worst != NULL && bounds->best != NULL && bounds->worst->state == RT_FIGURE_OK &&
           bounds->best->state == RT_FIGURE_OK;
}

bool survival_bounds(const struct plan *plan, const struct rt_figure *survival, struct bounds *bounds)
{
    bounds->worst = find_row(plan, survival_key("survival", "worst case", survival->at));
    bounds->best = find_row(plan, survival_key("survival", "best case", survival->at));
    return both_known(bounds);
}

bool early_bounds(const struct plan *plan, struct bounds *bounds)
{
    const char *measure = "early_failure_bound";
    bounds->worst = find_row(plan, key_of("survival", measure, "window|bound", "12 months|worst case"));
    bounds->best = find_row(plan, key_of("survival", measure, "window|bound", "12 months|best case"));
    return both_known(bounds) && bounds->worst->value > bounds->best->value;
}

void bind_bounds(const struct plan *plan, struct rt_sentence *sentence, const struct bounds *bounds)
{
    rt_bind_figure(plan->document, sentence, "worst", bounds->worst);
    rt_bind_figure(plan->document, sentence, "best", bounds->best);
}

static void add_survival_answer(const struct plan *plan, struct rt_block *block)
{
    struct rt_document *document = plan->document;
    const struct rt_figure *latest = main_survival(plan);
    struct bounds bounds;
    if (latest == NULL) {
        rt_add_answer(document, block, "survival.few");
        return;
    }
    bool whole = latest->value >= 1.0;
    struct rt_sentence *answer = rt_add_answer(document, block, whole ? "survival.all" : "survival.at");
    rt_bind_figure(document, answer, "survival", latest);
    rt_bind_words(document, answer, "time", time_words(plan, latest));
    if (survival_bounds(plan, latest, &bounds))
        bind_bounds(plan, rt_add_answer(document, block, "survival.bounds"), &bounds);
}

static void add_survival_table(const struct plan *plan, struct rt_block *block)
{
    static const struct {
        const char *heading, *censoring;
        enum rt_slot_part part;
    } columns[] = {{"column.survival.risk", SEEN, RT_PART_CASES},
                   {"column.survival.failed", SEEN, RT_PART_EVENTS},
                   {"column.survival.seen", SEEN, RT_PART_ESTIMATE},
                   {"column.survival.recall", "recall", RT_PART_ESTIMATE},
                   {"column.survival.worst", "worst case", RT_PART_VALUE},
                   {"column.survival.best", "best case", RT_PART_VALUE}};
    enum { COLUMNS = sizeof columns / sizeof columns[0] };
    struct rt_document *document = plan->document;
    struct key key = survival_key("survival", SEEN, NAN);
    size_t at = 0;
    const struct rt_figure *row = next_row(plan, key, &at);
    if (row == NULL)
        return;
    struct rt_table *table = rt_add_table(document, block, "caption.survival", "column.years");
    for (size_t i = 0; i < COLUMNS; i++)
        rt_add_column(document, table, columns[i].heading, columns[i].part);
    for (; row != NULL; row = next_row(plan, key, &at)) {
        struct rt_table_row *line = rt_add_row(document, table, time_words(plan, row));
        for (size_t i = 0; i < COLUMNS; i++)
            rt_add_figure_cell(document, line,
                               find_row(plan, survival_key("survival", columns[i].censoring, row->at)));
    }
}

/* The patient as the unit: those without any failure since their first implant. */
static void add_patient_table(const struct plan *plan, struct rt_block *block)
{
    struct rt_document *document = plan->document;
    struct rt_table *table = rt_add_table(document, block, "caption.survival.patients", "column.years");
    rt_add_column(document, table, "column.patients.risk", RT_PART_PATIENTS);
    rt_add_column(document, table, "column.patients.failed", RT_PART_EVENTS);
    rt_add_column(document, table, "column.patients.free", RT_PART_ESTIMATE);
    struct key key = survival_key("survival", SEEN, NAN);
    key.unit = "patient";
    size_t at = 0;
    for (const struct rt_figure *row = next_row(plan, key, &at); row != NULL;
         row = next_row(plan, key, &at)) {
        struct rt_table_row *line = rt_add_row(document, table, time_words(plan, row));
        for (int column = 0; column < 3; column++)
            rt_add_figure_cell(document, line, row);
    }
}

static struct rt_chart_request survival_chart(const struct plan *plan, const char *id, const char *grouping,
                                              const char *level)
{
    struct rt_chart_request chart = chart_request(plan, RT_CHART_SURVIVAL, id);
    chart.section = "survival";
    chart.measures[0] = "survival_curve";
    chart.measures[1] = "at_risk";
    chart.grouping = grouping;
    chart.level = level;
    return chart;
}

static void plan_overall(const struct plan *plan, struct rt_chapter *chapter)
{
    struct rt_block *block =
        rt_add_block(plan->document, chapter, "survival-overall", "heading.survival.overall");
    add_survival_answer(plan, block);
    struct rt_chart_request chart = survival_chart(plan, "survival-all", "censoring", SEEN);
    chart.measures[2] = "survival"; /* its bounds for the lost */
    rt_set_chart(plan->document, block, &chart);
    const struct rt_figure *followed = flow_row(plan, "median_follow_up");
    if (followed != NULL && followed->state == RT_FIGURE_OK)
        rt_bind_figure(plan->document, rt_add_remark(plan->document, block, "survival.followed"), "median",
                       followed);
    add_survival_table(plan, block);
    add_patient_table(plan, block);
    size_t at = 0;
    const struct rt_figure *first = next_row(plan, survival_key("survival", SEEN, NAN), &at);
    if (first != NULL)
        method_of(plan, block, first);
    rt_set_caution(plan->document, block, "caution.lost");
}

/* The comparison of the curves of one grouping; density is compared within each scale. */
static void add_comparisons(const struct plan *plan, struct rt_block *block, const char *grouping,
                            const char *noun)
{
    struct rt_document *document = plan->document;
    bool any = false;
    for (size_t i = 0; i < plan->figures->count; i++) {
        const struct rt_figure *row = &plan->figures->rows[i];
        if (strcmp(row->measure, "survival_comparison") != 0)
            continue;
        const char *compared = last_level_part(plan, row->level);
        size_t length = strlen(grouping);
        if (strncmp(compared, grouping, length) != 0 || (compared[length] != '\0' && compared[length] != '='))
            continue;
        if (strncmp(row->level, SEEN, strlen(SEEN)) != 0 || is_void(row))
            continue;
        const char *variant = row->state != RT_FIGURE_OK ? "few"
                              : row->p_adjusted < 0.05   ? "differ"
                                                         : "alike";
        struct rt_sentence *sentence =
            rt_add_answer(document, block, rt_document_text(document, "survival.compare.%s", variant));
        rt_bind_figure(document, sentence, "test", row);
        rt_bind_words(document, sentence, "group", rt_document_words(document, noun));
        any = true;
    }
    if (!any)
        rt_bind_words(document, rt_add_answer(document, block, "survival.compare.none"), "group",
                      rt_document_words(document, noun));
}

/* Groups side by side, year after year. */
static void add_group_table(const struct plan *plan, struct rt_block *block, struct key key)
{
    struct rt_document *document = plan->document;
    struct rt_table *table = rt_add_table(document, block, "caption.survival.by", "column.group-time");
    rt_add_column(document, table, "column.survival.risk", RT_PART_CASES);
    rt_add_column(document, table, "column.survival.failed", RT_PART_EVENTS);
    rt_add_column(document, table, "column.survival.place", RT_PART_ESTIMATE);
    struct key year = survival_key("survival", SEEN, NAN);
    size_t of_years = 0;
    for (const struct rt_figure *whole = next_row(plan, year, &of_years); whole != NULL;
         whole = next_row(plan, year, &of_years)) {
        size_t at = 0;
        key.at = whole->at;
        for (const struct rt_figure *row = next_row(plan, key, &at); row != NULL;
             row = next_row(plan, key, &at)) {
            if (is_void(row))
                continue;
            struct rt_table_row *line = rt_add_row(document, table, row_words(plan, row));
            for (int column = 0; column < 3; column++)
                rt_add_figure_cell(document, line, row);
        }
    }
}

/* How fast failure came in each class against the first one. */
static void add_hazard_table(const struct plan *plan, struct rt_block *block, struct key key)
{
    struct rt_document *document = plan->document;
    size_t at = 0;
    key.measure = "hazard_ratio";
    const struct rt_figure *row = next_row(plan, key, &at);
    if (row == NULL)
        return;
    bool penalised = strcmp(row->method, "cox_firth") == 0;
    struct rt_table *table = rt_add_table(
        document, block, penalised ? "caption.hazard.penalised" : "caption.hazard", "column.group");
    rt_bind_words(document, table == NULL ? NULL : table->caption, "reference", reference_words(plan, row));
    rt_add_column(document, table, "column.cases", RT_PART_CASES);
    rt_add_column(document, table, "column.survival.failed", RT_PART_EVENTS);
    rt_add_column(document, table, "column.hazard", RT_PART_ESTIMATE);
    rt_add_column(document, table, "column.p_adjusted", RT_PART_P_ADJUSTED);
    for (; row != NULL; row = next_row(plan, key, &at)) {
        if (is_void(row))
            continue;
        struct rt_table_row *line = rt_add_row(document, table, row_words(plan, row));
        for (int column = 0; column < 4; column++)
            rt_add_figure_cell(document, line, row);
    }
}

/* Which likelihood the ratios come from, and why. */
static void add_likelihood(const struct plan *plan, struct rt_block *block, const char *grouping)
{
    struct rt_document *document = plan->document;
    struct key key = key_of("survival", "hazard_patients", "censoring|comparison", "");
    key.level = rt_document_text(document, SEEN "|%s", grouping);
    key.unit = "patient";
    size_t at = 0;
    for (const struct rt_figure *row = next_row(plan, key, &at); row != NULL;
         row = next_row(plan, key, &at)) {
        const char *variant = strcmp(row->remark, "ordinary likelihood") == 0    ? "ordinary"
                              : strcmp(row->remark, "penalised likelihood") == 0 ? "penalised"
                                                                                 : "none";
        struct rt_sentence *remark =
            rt_add_remark(document, block, rt_document_text(document, "survival.likelihood.%s", variant));
        rt_bind_figure(document, remark, "patients", row);
    }
}

static void plan_by(const struct plan *plan, struct rt_chapter *chapter, const char *grouping)
{
    struct rt_document *document = plan->document;
    const char *joined = rt_document_text(document, "censoring|%s", grouping);
    struct key key = key_of("survival", "survival", joined, SEEN "|");
    size_t at = 0;
    const struct rt_figure *first = next_row(plan, key, &at);
    if (first == NULL)
        return;
    const char *id = rt_document_text(document, "survival-by-%s", grouping);
    struct rt_block *block =
        rt_add_block(document, chapter, id, rt_document_text(document, "heading.survival.%s", grouping));
    add_comparisons(plan, block, grouping, rt_document_text(document, "label.%s", grouping));
    struct key curve = key;
    curve.measure = "survival_curve";
    if (any_ok(plan, curve)) {
        struct rt_chart_request chart = survival_chart(plan, id, joined, SEEN "|");
        rt_set_chart(document, block, &chart);
    }
    add_group_table(plan, block, key);
    add_hazard_table(plan, block, key);
    add_likelihood(plan, block, grouping);
    method_of(plan, block, first);
    rt_set_caution(document, block,
                   strcmp(grouping, "operator") == 0 ? "caution.operators" : "caution.groups");
}

static void plan_life_table(const struct plan *plan, struct rt_chapter *chapter)
{
    struct key key = key_of("survival", "life_table_entering", "censoring", SEEN);
    size_t at = 0;
    const struct rt_figure *first = next_row(plan, key, &at);
    if (first == NULL)
        return;
    struct rt_block *block =
        rt_add_block(plan->document, chapter, "life-table", "heading.survival.life-table");
    rt_add_answer(plan->document, block, "survival.life-table");
    static const struct level_column columns[] = {
        {"column.life.entering", "life_table_entering", RT_PART_VALUE, NULL},
        {"column.life.withdrawn", "life_table_withdrawn", RT_PART_VALUE, NULL},
        {"column.life.failed", "life_table_failed", RT_PART_VALUE, NULL},
        {"column.life.interval", "life_table_interval", RT_PART_VALUE, NULL},
        {"column.life.cumulative", "life_table_cumulative", RT_PART_ESTIMATE, NULL},
    };
    add_level_table(plan, block, "caption.life-table", "column.life.start", key, columns, 5);
    method_of(plan, block, first);
}

/* All causes at the latest year at which each has a number. */
static bool add_causes_answer(const struct plan *plan, struct rt_block *block)
{
    static const char *const causes[] = {"failure", "elective", "death"};
    const struct rt_figure *survival = main_survival(plan);
    const struct rt_figure *rows[3];
    for (size_t i = 0; i < 3; i++) {
        struct key key = key_of("survival", "incidence", "censoring|cause", "");
        key.level = rt_document_text(plan->document, SEEN "|%s", causes[i]);
        key.at = survival == NULL ? NAN : survival->at;
        rows[i] = find_row(plan, key);
        if (rows[i] == NULL || rows[i]->state != RT_FIGURE_OK)
            return false;
    }
    struct rt_sentence *sentence = rt_add_answer(plan->document, block, "survival.causes.at");
    for (size_t i = 0; i < 3; i++)
        rt_bind_figure(plan->document, sentence, causes[i], rows[i]);
    rt_bind_words(plan->document, sentence, "time", time_words(plan, survival));
    return true;
}

static void plan_causes(const struct plan *plan, struct rt_chapter *chapter)
{
    struct key key = key_of("survival", "incidence", "censoring|cause", SEEN "|");
    size_t at = 0;
    const struct rt_figure *first = next_row(plan, key, &at);
    if (first == NULL)
        return;
    struct rt_block *block = rt_add_block(plan->document, chapter, "causes", "heading.survival.causes");
    add_causes_answer(plan, block);
    rt_add_answer(plan->document, block, "survival.causes");
    static const struct level_column columns[] = {
        {"column.events", "incidence", RT_PART_EVENTS, NULL},
        {"column.incidence", "incidence", RT_PART_ESTIMATE, NULL},
    };
    add_level_table(plan, block, "caption.causes", "column.cause-time", key, columns, 2);
    method_of(plan, block, first);
}

void plan_survival(const struct plan *plan)
{
    size_t at = 0;
    if (next_row(plan, survival_key("survival", SEEN, NAN), &at) == NULL)
        return;
    static const char *const groupings[] = {"density_found", "torque_class", "depth_class", "tissue_class",
                                            "operator",      "smoking",      "implant_line"};
    struct rt_chapter *chapter = rt_add_chapter(plan->document, "survival", "heading.survival");
    plan_overall(plan, chapter);
    for (size_t i = 0; i < sizeof groupings / sizeof groupings[0]; i++)
        plan_by(plan, chapter, groupings[i]);
    plan_survival_checks(plan, chapter);
    plan_life_table(plan, chapter);
    plan_causes(plan, chapter);
}

static void add_early_table(const struct plan *plan, struct rt_block *block)
{
    struct rt_document *document = plan->document;
    struct rt_table *table = rt_add_table(document, block, "caption.early", "column.window");
    rt_add_column(document, table, "column.cases.known", RT_PART_CASES);
    rt_add_column(document, table, "column.due", RT_PART_DUE);
    rt_add_column(document, table, "column.survival.failed", RT_PART_EVENTS);
    rt_add_column(document, table, "column.share", RT_PART_SHARE);
    static const char *const units[] = {"implant", "patient"};
    for (size_t i = 0; i < 2; i++) {
        struct key key = key_of("survival", "early_failure", "window", "");
        key.unit = units[i];
        size_t at = 0;
        for (const struct rt_figure *row = next_row(plan, key, &at); row != NULL;
             row = next_row(plan, key, &at)) {
            const char *label = row_words(plan, row);
            if (is_void(row))
                continue;
            if (i == 1)
                label = rt_document_text(document, "%s, %s", label,
                                         rt_document_words(document, "label.patients"));
            struct rt_table_row *line = rt_add_row(document, table, label);
            for (int column = 0; column < 4; column++)
                rt_add_figure_cell(document, line, row);
        }
    }
    static const struct level_column columns[] = {
        {"column.cases", "early_failure_bound", RT_PART_CASES, NULL},
        {"column.share", "early_failure_bound", RT_PART_SHARE, NULL},
    };
    add_level_table(plan, block, "caption.early.bounds", "column.assumption",
                    key_of("survival", "", "window|bound", "12 months|"), columns, 2);
}

static void plan_before_loading(const struct plan *plan, struct rt_chapter *chapter)
{
    const struct rt_figure *first = NULL;
    for (size_t i = 0; i < plan->figures->count && first == NULL; i++)
        if (strcmp(plan->figures->rows[i].measure, "failure_before_loading") == 0)
            first = &plan->figures->rows[i];
    if (first == NULL)
        return;
    struct rt_document *document = plan->document;
    struct rt_block *block = rt_add_block(document, chapter, "before-loading", "heading.early.loading");
    const struct rt_figure *latest = NULL;
    struct key failures = key_of("survival", "failure_before_loading", first->grouping, SEEN "|failure");
    size_t at = 0;
    for (const struct rt_figure *row = next_row(plan, failures, &at); row != NULL;
         row = next_row(plan, failures, &at))
        if (row->state == RT_FIGURE_OK)
            latest = row;
    if (latest != NULL) {
        struct rt_sentence *sentence = rt_add_answer(document, block, "early.loading.at");
        rt_bind_figure(document, sentence, "failed", latest);
        rt_bind_words(document, sentence, "time", time_words(plan, latest));
    }
    rt_add_answer(document, block, "early.loading");
    static const struct level_column columns[] = {
        {"column.cases", "failure_before_loading", RT_PART_CASES, NULL},
        {"column.due", "failure_before_loading", RT_PART_DUE, NULL},
        {"column.events", "failure_before_loading", RT_PART_EVENTS, NULL},
        {"column.incidence", "failure_before_loading", RT_PART_ESTIMATE, NULL},
    };
    add_level_table(plan, block, "caption.early.loading", "column.time",
                    key_of("survival", "", first->grouping, ""), columns, 4);
    method_of(plan, block, first);
}

static void plan_rate(const struct plan *plan, struct rt_chapter *chapter)
{
    struct key key = key_of("survival", "failure_rate", "window|censoring", "period|" SEEN);
    const struct rt_figure *rate = find_row(plan, key);
    if (rate == NULL)
        return;
    struct rt_block *block = rt_add_block(plan->document, chapter, "failure-rate", "heading.early.rate");
    const char *words = rate->state != RT_FIGURE_OK ? "rate.few"
                        : rate->n_events == 0       ? "rate.none"
                                                    : "rate.some";
    rt_bind_figure(plan->document, rt_add_answer(plan->document, block, words), "rate", rate);
    static const struct level_column columns[] = {
        {"column.cases", "failure_rate", RT_PART_CASES, NULL},
        {"column.survival.failed", "failure_rate", RT_PART_EVENTS, NULL},
        {"column.rate", "failure_rate", RT_PART_ESTIMATE, NULL},
    };
    key.level = "";
    add_level_table(plan, block, "caption.rate", "column.window", key, columns, 3);
    method_of(plan, block, rate);
}

const struct rt_figure *main_early_failure(const struct plan *plan)
{
    return find_row(plan, key_of("survival", "early_failure", "window", "12 months"));
}

void plan_early_failure(const struct plan *plan)
{
    const struct rt_figure *early = main_early_failure(plan);
    if (early == NULL)
        return;
    struct rt_chapter *chapter = rt_add_chapter(plan->document, "early-failure", "heading.early");
    struct rt_block *block =
        rt_add_block(plan->document, chapter, "early-failure-share", "heading.early.share");
    struct bounds bounds;
    answer_share(plan, block, "early", "early", early);
    if (early_bounds(plan, &bounds)) {
        struct rt_sentence *sentence = rt_add_answer(plan->document, block, "early.bounds");
        bind_bounds(plan, sentence, &bounds);
        rt_bind_figure(plan->document, sentence, "early", early);
    }
    add_early_table(plan, block);
    method_of(plan, block, early);
    rt_set_caution(plan->document, block, "caution.lost");
    plan_before_loading(plan, chapter);
    plan_rate(plan, chapter);
}
