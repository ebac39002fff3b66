/* Chapter "Crest": what the crest did, and how much implant shows. Two questions, never mixed. */
#include "plan.h"

#include <math.h>
#include <string.h>

#define YEAR "12 months"

static const double months[] = {3, 6, 12, 24, 36, 60};
enum { WINDOWS = sizeof months / sizeof months[0], MAIN_MONTH = 12 };

static struct key crest_key(const char *measure, const char *grouping, const char *level, const char *site,
                            double at)
{
    struct key key = key_of("crest", measure, grouping, level);
    key.baseline = "placement";
    key.site = site;
    key.at = at;
    return key;
}

/* Which films were due and read, one row a window. */
static void plan_films(const struct plan *plan, struct rt_chapter *chapter)
{
    static const struct {
        const char *heading, *level;
    } columns[] = {{"column.films.due", YEAR "|due"},
                   {"column.films.read", YEAR "|read"},
                   {"column.films.unread", YEAR "|unread"},
                   {"column.films.lost", YEAR "|lost"},
                   {"column.films.gone", YEAR "|removed or died first"}};
    enum { COLUMNS = sizeof columns / sizeof columns[0] };
    struct rt_document *document = plan->document;
    const struct rt_figure *due =
        find_row(plan, crest_key("crest_flow", "window|status", YEAR "|due", "", MAIN_MONTH));
    const struct rt_figure *read =
        find_row(plan, crest_key("crest_flow", "window|status", YEAR "|read", "", MAIN_MONTH));
    if (due == NULL || read == NULL)
        return;
    struct rt_block *block = rt_add_block(document, chapter, "crest-films", "heading.crest.films");
    struct rt_sentence *sentence =
        rt_add_answer(document, block, due->n_implants > 0 ? "crest.films" : "crest.films.none");
    rt_bind_figure(document, sentence, "due", due);
    rt_bind_figure(document, sentence, "read", read);
    struct rt_table *table = rt_add_table(document, block, "caption.crest.films", "column.months");
    for (size_t i = 0; i < COLUMNS; i++)
        rt_add_column(document, table, columns[i].heading, RT_PART_N);
    for (size_t m = 0; m < WINDOWS; m++) {
        const struct rt_figure *first =
            find_row(plan, crest_key("crest_flow", "window|status", columns[0].level, "", months[m]));
        if (first == NULL || first->n_implants == 0)
            continue;
        struct rt_table_row *row = rt_add_row(document, table, time_words(plan, first));
        for (size_t i = 0; i < COLUMNS; i++)
            rt_add_figure_cell(
                document, row,
                find_row(plan, crest_key("crest_flow", "window|status", columns[i].level, "", months[m])));
    }
    method_of(plan, block, due);
    rt_set_caution(document, block, "caution.films");
}

static void add_change_table(const struct plan *plan, struct rt_block *block, const char *baseline,
                             const char *caption)
{
    static const struct {
        const char *heading, *site, *unit;
        enum rt_slot_part part;
    } columns[] = {
        {"column.cases", "mean", NULL, RT_PART_CASES},
        {"column.crest.mean", "mean", NULL, RT_PART_ESTIMATE},
        {"column.patient-mean", "mean", "patient", RT_PART_ESTIMATE},
        {"column.crest.worse", "worse", NULL, RT_PART_ESTIMATE},
    };
    struct rt_document *document = plan->document;
    struct rt_table *table = NULL;
    for (size_t m = 0; m < WINDOWS; m++) {
        struct rt_table_row *row = NULL;
        for (size_t i = 0; i < sizeof columns / sizeof columns[0]; i++) {
            struct key key = crest_key("crest_change", "window", YEAR, columns[i].site, months[m]);
            key.baseline = baseline;
            key.unit = columns[i].unit;
            const struct rt_figure *figure = find_row(plan, key);
            if (row == NULL && (figure == NULL || is_void(figure)))
                break;
            if (table == NULL) {
                table = rt_add_table(document, block, caption,
                                     strcmp(baseline, "loading") == 0 ? "column.months.loading"
                                                                      : "column.months");
                for (size_t c = 0; c < sizeof columns / sizeof columns[0]; c++)
                    rt_add_column(document, table, columns[c].heading, columns[c].part);
            }
            if (row == NULL)
                row = rt_add_row(document, table, time_words(plan, figure));
            rt_add_figure_cell(document, row, figure);
        }
    }
}

/* Mesial and distal apart, from both baselines. */
static void add_site_table(const struct plan *plan, struct rt_block *block)
{
    static const struct {
        const char *heading, *baseline, *site;
    } columns[] = {{"column.crest.mesial", "placement", "mesial"},
                   {"column.crest.distal", "placement", "distal"},
                   {"column.crest.mesial.loading", "loading", "mesial"},
                   {"column.crest.distal.loading", "loading", "distal"}};
    enum { COLUMNS = sizeof columns / sizeof columns[0] };
    struct rt_document *document = plan->document;
    struct rt_table *table = NULL;
    for (size_t m = 0; m < WINDOWS; m++) {
        const struct rt_figure *cells[COLUMNS];
        const struct rt_figure *known = NULL;
        for (size_t i = 0; i < COLUMNS; i++) {
            struct key key = crest_key("crest_change", "window", YEAR, columns[i].site, months[m]);
            key.baseline = columns[i].baseline;
            cells[i] = find_row(plan, key);
            known = known == NULL && cells[i] != NULL && !is_void(cells[i]) ? cells[i] : known;
        }
        if (known == NULL)
            continue;
        if (table == NULL) {
            table = rt_add_table(document, block, "caption.crest.sites", "column.months.either");
            for (size_t i = 0; i < COLUMNS; i++)
                rt_add_column(document, table, columns[i].heading, RT_PART_ESTIMATE);
        }
        struct rt_table_row *line = rt_add_row(document, table, time_words(plan, known));
        for (size_t i = 0; i < COLUMNS; i++)
            rt_add_figure_cell(document, line, cells[i]);
    }
}

static void plan_change(const struct plan *plan, struct rt_chapter *chapter, const struct rt_figure *change)
{
    struct rt_block *block = rt_add_block(plan->document, chapter, "crest-change", "heading.crest.change");
    answer_signed(plan, block, "crest.change", "change", change);
    const struct rt_figure *worse =
        find_row(plan, crest_key("crest_change", "window", YEAR, "worse", MAIN_MONTH));
    if (worse != NULL && worse->state == RT_FIGURE_OK)
        answer_signed(plan, block, "crest.worse", "worse", worse);
    add_change_table(plan, block, "placement", "caption.crest.placement");
    add_change_table(plan, block, "loading", "caption.crest.loading");
    add_site_table(plan, block);
    method_of(plan, block, change);
}

static void plan_exposure(const struct plan *plan, struct rt_chapter *chapter)
{
    const struct rt_figure *share =
        find_row(plan, crest_key("exposure_share", "window", YEAR, "worse", MAIN_MONTH));
    if (share == NULL)
        return;
    struct rt_document *document = plan->document;
    struct rt_block *block = rt_add_block(document, chapter, "crest-exposure", "heading.crest.exposure");
    answer_share(plan, block, "crest.exposure", "share", share);
    struct rt_table *table = rt_add_table(document, block, "caption.crest.exposure", "column.months");
    rt_add_column(document, table, "column.cases", RT_PART_CASES);
    rt_add_column(document, table, "column.exposure.share", RT_PART_SHARE);
    rt_add_column(document, table, "column.exposure.patients", RT_PART_VALUE);
    rt_add_column(document, table, "column.exposure.median", RT_PART_ESTIMATE);
    for (size_t m = 0; m < WINDOWS; m++) {
        const struct rt_figure *row =
            find_row(plan, crest_key("exposure_share", "window", YEAR, "worse", months[m]));
        if (row == NULL || is_void(row))
            continue;
        struct key patients = crest_key("exposure_share", "window", YEAR, "worse", months[m]);
        patients.unit = "patient";
        struct rt_table_row *line = rt_add_row(document, table, time_words(plan, row));
        rt_add_figure_cell(document, line, row);
        rt_add_figure_cell(document, line, row);
        rt_add_figure_cell(document, line, find_row(plan, patients));
        rt_add_figure_cell(document, line,
                           find_row(plan, crest_key("exposure_median", "window", YEAR, "worse", months[m])));
    }
    method_of(plan, block, share);
}

/* The classes over all records, and beside them those whose window closed in the year. */
static void add_class_table(const struct plan *plan, struct rt_block *block, const char *measure,
                            const char *site, enum rt_slot_part part, const char *heading,
                            const char *caption)
{
    static const char *const windows[] = {"all", YEAR};
    struct rt_document *document = plan->document;
    struct key key = crest_key(measure, "window|depth_class|tissue_class", "all|", site, MAIN_MONTH);
    size_t at = 0;
    const struct rt_figure *row = next_row(plan, key, &at);
    if (row == NULL)
        return;
    struct rt_table *table = rt_add_table(document, block, caption, "column.class");
    for (size_t i = 0; i < 2; i++) {
        rt_add_column(document, table, i == 0 ? "column.cases.all" : "column.cases.year", RT_PART_CASES);
        rt_add_column(document, table, heading, part);
    }
    for (; row != NULL; row = next_row(plan, key, &at)) {
        if (is_void(row))
            continue;
        const char *bar = strchr(row->level, '|');
        struct rt_figure timeless = *row; /* the caption gives the time */
        timeless.at = NAN;
        struct rt_table_row *line = rt_add_row(document, table, row_words(plan, &timeless));
        for (size_t i = 0; i < 2; i++) {
            struct key other = key;
            other.level = rt_document_text(document, "%s%s", windows[i], bar);
            const struct rt_figure *figure = find_row(plan, other);
            rt_add_figure_cell(document, line, figure);
            rt_add_figure_cell(document, line, figure);
        }
    }
}

static void plan_classes(const struct plan *plan, struct rt_chapter *chapter)
{
    struct key key = crest_key("crest_change", "window|depth_class|tissue_class", "all|", "mean", MAIN_MONTH);
    size_t at = 0;
    const struct rt_figure *first = next_row(plan, key, &at);
    if (first == NULL)
        return;
    struct rt_block *block = rt_add_block(plan->document, chapter, "crest-classes", "heading.crest.classes");
    rt_add_answer(plan->document, block, any_ok(plan, key) ? "crest.classes" : "crest.classes.few");
    struct rt_chart_request chart = chart_request(plan, RT_CHART_CLASS_INTERVALS, "crest-by-class");
    chart.section = "crest";
    chart.measures[0] = "crest_change";
    chart.grouping = key.grouping;
    chart.level = key.level;
    chart.baseline = "placement";
    chart.site = "mean";
    chart.at = MAIN_MONTH;
    chart.cases = find_cases(plan, "crest_change_all");
    chart.reference = 0.0;
    chart.reference_label = rt_document_words(plan->document, "chart.no-change");
    chart.panel_before = rt_document_words(plan->document, "chart.tissue");
    const struct rt_figure *error = reading_error_row(plan);
    chart.error_band = error == NULL ? NAN : error->value;
    if (any_ok(plan, key))
        rt_set_chart(plan->document, block, &chart);
    add_class_table(plan, block, "crest_change", "mean", RT_PART_ESTIMATE, "column.crest.mean",
                    "caption.crest.classes");
    add_class_table(plan, block, "exposure_share", "worse", RT_PART_SHARE, "column.exposure.share",
                    "caption.crest.classes.exposure");
    method_of(plan, block, first);
    rt_set_caution(plan->document, block, "caution.crest");
}

/* The windows the model may stand under: the closed year, or all records where the year is too thin. */
static struct key model_key(const struct plan *plan, const char *measure)
{
    static const char *const windows[] = {"all|", YEAR "|"};
    struct key key = crest_key(measure, "window|term", windows[0], "mean", MAIN_MONTH);
    for (size_t i = 0; i < 2; i++) {
        size_t at = 0;
        key.level = windows[i];
        if (next_row(plan, key, &at) != NULL)
            break;
    }
    return key;
}

static const struct rt_figure *find_term(const struct plan *plan, struct key key, const char *term)
{
    size_t at = 0;
    for (const struct rt_figure *row = next_row(plan, key, &at); row != NULL; row = next_row(plan, key, &at))
        if (strcmp(last_level_part(plan, row->level), term) == 0)
            return row;
    return NULL;
}

static const struct rt_figure *find_verdict(const struct plan *plan)
{
    for (size_t i = 0; i < plan->figures->count; i++)
        if (strcmp(plan->figures->rows[i].measure, "depth_verdict") == 0)
            return &plan->figures->rows[i];
    return NULL;
}

static void add_model_table(const struct plan *plan, struct rt_block *block, const char *measure,
                            const char *least_squares, const char *caption)
{
    struct key key = model_key(plan, measure);
    size_t at = 0;
    const struct rt_figure *row = next_row(plan, key, &at);
    if (row == NULL)
        return;
    struct rt_document *document = plan->document;
    struct rt_table *table = rt_add_table(document, block, caption, "column.term");
    rt_add_column(document, table, least_squares != NULL ? "column.coefficient" : "column.coefficient.level",
                  RT_PART_ESTIMATE);
    rt_add_column(document, table, "column.p_adjusted", RT_PART_P_ADJUSTED);
    if (least_squares != NULL)
        rt_add_column(document, table, "column.coefficient.cr2", RT_PART_ESTIMATE);
    for (; row != NULL; row = next_row(plan, key, &at)) {
        const char *term = last_level_part(plan, row->level);
        struct rt_table_row *line = rt_add_row(document, table, last_words(plan, row));
        rt_add_figure_cell(document, line, row);
        rt_add_figure_cell(document, line, row);
        if (least_squares != NULL)
            rt_add_figure_cell(document, line, find_term(plan, model_key(plan, least_squares), term));
    }
}

static void plan_dose(const struct plan *plan, struct rt_chapter *chapter)
{
    struct rt_document *document = plan->document;
    struct key model = model_key(plan, "crest_model");
    size_t at = 0;
    const struct rt_figure *first = next_row(plan, model, &at);
    const struct rt_figure *slope = find_term(plan, model, "achieved_depth_mm");
    if (first == NULL)
        return;
    struct rt_block *block = rt_add_block(document, chapter, "crest-dose", "heading.crest.dose");
    answer_signed(plan, block, "crest.slope", "slope", slope != NULL ? slope : first);
    const struct rt_figure *verdict = find_verdict(plan);
    if (verdict != NULL && verdict->remark[0] != '\0') {
        struct rt_sentence *sentence = rt_add_remark(document, block, "crest.verdict");
        rt_bind_words(document, sentence, "verdict", verdict->remark);
    }
    struct rt_chart_request chart = chart_request(plan, RT_CHART_DOSE_RESPONSE, "crest-by-depth");
    struct key curve = crest_key("crest_dose_response", "window", "", "mean", NAN);
    if (any_ok(plan, curve)) {
        size_t from = 0;
        chart.section = "crest";
        chart.measures[0] = "crest_dose_response";
        chart.grouping = "window";
        chart.level = next_row(plan, curve, &from)->level;
        chart.cases = find_cases(plan, "crest_change_all");
        chart.reference = 0.0;
        chart.reference_label = rt_document_words(document, "chart.no-change");
        const struct rt_figure *error = reading_error_row(plan);
        chart.error_band = error == NULL ? NAN : error->value;
        rt_set_chart(document, block, &chart);
        static const struct level_column columns[] = {
            {"column.crest.curve", "crest_dose_response", RT_PART_ESTIMATE, NULL}};
        add_level_table(plan, block, "caption.crest.curve", "column.depth", curve, columns, 1);
    }
    add_model_table(plan, block, "crest_model", "crest_model_cr2", "caption.crest.model");
    add_model_table(plan, block, "level_model", NULL, "caption.crest.level");
    method_of(plan, block, first);
    rt_set_caution(document, block, "caution.crest");
}

const struct rt_figure *main_crest_change(const struct plan *plan)
{
    return find_row(plan, crest_key("crest_change", "window", YEAR, "mean", MAIN_MONTH));
}

void plan_crest(const struct plan *plan)
{
    const struct rt_figure *change = main_crest_change(plan);
    if (change == NULL)
        return;
    struct rt_chapter *chapter = rt_add_chapter(plan->document, "crest", "heading.crest");
    rt_add_lead(plan->document, chapter, "crest.two-questions");
    plan_films(plan, chapter);
    plan_change(plan, chapter, change);
    plan_crest_error(plan, chapter);
    plan_exposure(plan, chapter);
    plan_classes(plan, chapter);
    plan_dose(plan, chapter);
    plan_crest_predicted(plan, chapter);
    plan_crest_shared(plan, chapter);
    plan_crest_operator(plan, chapter);
    plan_crest_yearly(plan, chapter);
}
