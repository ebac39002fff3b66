#include "plan.h"

#include "ridgetally/figure/catalogue.h"

#include <math.h>
#include <string.h>

enum { LARGE_FROM = 100 }; /* implants from which an interval speaks for itself */

struct key key_of(const char *section, const char *measure, const char *grouping, const char *level)
{
    return (struct key){.section = section,
                        .measure = measure,
                        .grouping = grouping,
                        .level = level,
                        .baseline = NULL,
                        .site = NULL,
                        .unit = NULL,
                        .at = NAN};
}

static bool same(const char *wanted, const char *found)
{
    return strcmp(wanted == NULL ? "" : wanted, found) == 0;
}

static bool same_but_level_and_time(struct key key, const struct rt_figure *row)
{
    bool unit = key.unit == NULL ? row->unit_of_analysis[0] == '\0' || same("implant", row->unit_of_analysis)
                                 : same(key.unit, row->unit_of_analysis);
    return unit && same(key.measure, row->measure) && same(key.section, row->section) &&
           same(key.grouping, row->grouping) && same(key.baseline, row->baseline) &&
           same(key.site, row->site);
}

const struct rt_figure *find_row(const struct plan *plan, struct key key)
{
    const struct rt_figure_list *figures = plan->figures;
    for (size_t i = next_place(plan->index, figures, key.measure, 0); i < figures->count;
         i = next_place(plan->index, figures, key.measure, i + 1)) {
        const struct rt_figure *row = &figures->rows[i];
        bool time = isnan(key.at) ? isnan(row->at) : row->at == key.at;
        if (time && same_but_level_and_time(key, row) && same(key.level, row->level))
            return row;
    }
    return NULL;
}

const struct rt_figure *next_row(const struct plan *plan, struct key key, size_t *at)
{
    const char *prefix = key.level == NULL ? "" : key.level;
    while ((*at = next_place(plan->index, plan->figures, key.measure, *at)) < plan->figures->count) {
        const struct rt_figure *row = &plan->figures->rows[(*at)++];
        bool time = isnan(key.at) || row->at == key.at;
        if (time && same_but_level_and_time(key, row) && strncmp(row->level, prefix, strlen(prefix)) == 0)
            return row;
    }
    return NULL;
}

bool any_ok(const struct plan *plan, struct key key)
{
    size_t at = 0;
    for (const struct rt_figure *row = next_row(plan, key, &at); row != NULL; row = next_row(plan, key, &at))
        if (row->state == RT_FIGURE_OK)
            return true;
    return false;
}

const char *level_part(const struct plan *plan, const char *level, size_t index)
{
    for (; index > 0; index--) {
        level = strchr(level, '|');
        if (level == NULL)
            return "";
        level++;
    }
    return rt_document_text(plan->document, "%.*s", (int)strcspn(level, "|"), level);
}

const char *last_level_part(const struct plan *plan, const char *level)
{
    const char *bar = strrchr(level, '|');
    return rt_document_text(plan->document, "%s", bar == NULL ? level : bar + 1);
}

/* "<20 Ncm", "0 to <1 mm", ">=3 mm": the signs become words. */
static const char *range_words(struct rt_document *document, const char *level)
{
    const char *inner = strstr(level, " to <");
    if (level[0] == '<')
        return rt_document_text(document, "under %s", level + 1);
    if (level[0] == '>' && level[1] == '=')
        return rt_document_text(document, "%s or more", level + 2);
    if (level[0] == '>')
        return rt_document_text(document, "over %s", level + 1);
    if (inner != NULL)
        return rt_document_text(document, "%.*s to under %s", (int)(inner - level), level,
                                inner + strlen(" to <"));
    return rt_document_text(document, "%s", level);
}

/* A column of the records in words: "achieved_depth_mm" -> "achieved depth, mm". */
static const char *field_words(struct rt_document *document, const char *field)
{
    static const char *const units[][2] = {{"_mm", ", mm"}, {"_ncm", ", Ncm"}, {"_on", ", date"}};
    size_t length = strlen(field);
    const char *unit = "";
    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
        size_t ending = strlen(units[i][0]);
        if (length > ending && strcmp(field + length - ending, units[i][0]) == 0) {
            unit = units[i][1];
            length -= ending;
            break;
        }
    }
    const char *words = "";
    for (const char *end = field + length; field < end;) {
        size_t part = strcspn(field, "_");
        part = part > (size_t)(end - field) ? (size_t)(end - field) : part;
        words = rt_document_text(document, "%s%s%.*s", words, words[0] == '\0' ? "" : " ", (int)part, field);
        field += part + (field[part] == '_');
    }
    return rt_document_text(document, "%s%s", words, unit);
}

/* A term of a model: "density_found=D4" -> "density found: D4". */
static const char *term_words(struct rt_document *document, const char *term)
{
    size_t equals = strcspn(term, "=");
    const char *field = rt_document_text(document, "%.*s", (int)equals, term);
    if (term[equals] == '\0')
        return field_words(document, field);
    return rt_document_text(document, "%s: %s", field_words(document, field), term + equals + 1);
}

const char *level_words(const struct plan *plan, const char *grouping, const char *level)
{
    size_t length = strlen(grouping);
    if (length > strlen("_class") && strcmp(grouping + length - strlen("_class"), "_class") == 0)
        return range_words(plan->document, level);
    if (strcmp(grouping, "field") == 0)
        return field_words(plan->document, level);
    if (strcmp(grouping, "term") == 0)
        return term_words(plan->document, level);
    return rt_document_text(plan->document, "%s", level);
}

const char *measure_label(const struct rt_figure *row)
{
    const struct rt_measure *measure = rt_find_measure(row->section, row->measure);
    return measure == NULL ? row->measure : measure->label;
}

const char *signed_key(const struct plan *plan, const char *key, const struct rt_figure *row)
{
    const char *variant = "either";
    if (row->n_implants == 0)
        return "answer.nobody";
    if (row->state == RT_FIGURE_UNDEFINED)
        return "answer.undefined";
    if (row->state != RT_FIGURE_OK)
        variant = "few";
    else if (row->lower > 0.0)
        variant = "more";
    else if (row->upper < 0.0)
        variant = "less";
    return rt_document_text(plan->document, "%s.%s", key, variant);
}

const char *share_key(const struct plan *plan, const char *key, const struct rt_figure *row)
{
    const char *variant = row->n_implants >= LARGE_FROM ? "large" : "small";
    if (row->n_implants == 0)
        return "answer.nobody";
    if (row->state == RT_FIGURE_UNDEFINED)
        return "answer.undefined";
    if (row->state != RT_FIGURE_OK)
        variant = "few";
    else if (row->value <= 0.0)
        variant = "none";
    else if (row->value >= 1.0)
        variant = "all";
    return rt_document_text(plan->document, "%s.%s", key, variant);
}

void bind_row(const struct plan *plan, struct rt_sentence *sentence, const char *slot,
              const struct rt_figure *row)
{
    rt_bind_figure(plan->document, sentence, slot, row);
    rt_bind_words(plan->document, sentence, "why",
                  row->remark[0] != '\0' ? row->remark : "no reason is given");
}

struct rt_sentence *answer_signed(const struct plan *plan, struct rt_block *block, const char *key,
                                  const char *slot, const struct rt_figure *row)
{
    struct rt_sentence *sentence = rt_add_answer(plan->document, block, signed_key(plan, key, row));
    bind_row(plan, sentence, slot, row);
    return sentence;
}

struct rt_sentence *answer_share(const struct plan *plan, struct rt_block *block, const char *key,
                                 const char *slot, const struct rt_figure *row)
{
    struct rt_sentence *sentence = rt_add_answer(plan->document, block, share_key(plan, key, row));
    bind_row(plan, sentence, slot, row);
    return sentence;
}

/* Words for a level of a grouping, by exact match; NULL when it speaks for itself. */
static const char *known_words(const struct plan *plan, const char *grouping, const char *level)
{
    static const struct {
        const char *grouping, *level, *key;
    } known[] = {
        {"window", "period", "level.period"},
        {"window", "12 months", "level.year"},
        {"window", "all", "level.all"},
        {"censoring", "last sighting", "level.last-sighting"},
        {"censoring", "recall", "level.recall"},
        {"censoring", "worst case", "level.worst"},
        {"censoring", "best case", "level.best"},
        {"bound", "best case", "level.bound.best"},
        {"bound", "worst case", "level.bound.worst"},
        {"status", "removed", "level.removed"},
        {"status", "elective", "level.elective"},
        {"status", "lost", "level.lost"},
        {"outcome", "elective", "level.elective"},
        {"outcome", "lost", "level.lost"},
        {"cause", "elective", "level.elective"},
        {"reason", "contradiction", "level.contradiction"},
        {"density_scale", "D", "scale.d"},
        {"density_scale", "LZ", "scale.lz"},
        {"term", "intercept", "term.intercept"},
        {"term", "achieved_depth_mm", "term.depth"},
        {"term", "tissue_mm", "term.tissue"},
        {"term", "achieved_depth_mm x tissue_mm", "term.product"},
        {"comparison", "operator", "label.operator"},
        {"comparison", "torque_class", "label.torque_class"},
        {"comparison", "depth_class", "label.depth_class"},
        {"comparison", "smoking", "label.smoking"},
        {"comparison", "tissue_class", "label.tissue_class"},
        {"comparison", "implant_line", "label.implant_line"},
        {"comparison", "density_found=D", "label.density_found"},
        {"comparison", "density_found=LZ", "label.density_found"},
    };
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
        if (strcmp(known[i].grouping, grouping) == 0 && strcmp(known[i].level, level) == 0)
            return rt_document_words(plan->document, known[i].key);
    return NULL;
}

static const char *short_name(const char *grouping)
{
    return strcmp(grouping, "depth_class") == 0    ? "depth "
           : strcmp(grouping, "tissue_class") == 0 ? "tissue "
           : strcmp(grouping, "torque_class") == 0 ? "torque "
                                                   : "";
}

static bool is_cohort(const char *grouping)
{
    return strcmp(grouping, "window") == 0 || strcmp(grouping, "censoring") == 0;
}

const char *time_words(const struct plan *plan, const struct rt_figure *row)
{
    const struct rt_measure *measure = rt_find_measure(row->section, row->measure);
    if (isnan(row->at) || measure == NULL || measure->at_unit[0] == '\0')
        return "";
    const char *unit = measure->at_unit;
    double at = row->at;
    if (strcmp(unit, "years") == 0 && at > 0.0 && at < 1.0 && at * 12.0 == floor(at * 12.0)) {
        at *= 12.0;
        unit = "months";
    }
    size_t length = strlen(unit) - (at == 1.0 && unit[strlen(unit) - 1] == 's' ? 1 : 0);
    return rt_document_text(plan->document, "%s%.15g %.*s", at < 0.0 ? "\u2212" : "", fabs(at), (int)length,
                            unit);
}

const char *row_words(const struct plan *plan, const struct rt_figure *row)
{
    struct rt_document *document = plan->document;
    const char *second = level_part(plan, row->grouping, 1);
    bool cohort = is_cohort(level_part(plan, row->grouping, 0));
    size_t first = cohort && second[0] != '\0' && !is_cohort(second) ? 1 : 0;
    bool several = level_part(plan, row->grouping, first + 1)[0] != '\0';
    const char *words = "";
    for (size_t i = first; level_part(plan, row->grouping, i)[0] != '\0'; i++) {
        const char *grouping = level_part(plan, row->grouping, i);
        const char *level = level_part(plan, row->level, i);
        const char *known = known_words(plan, grouping, level);
        if (several && strlen(level) > strlen(" mm") && strcmp(level + strlen(level) - 3, " mm") == 0)
            level = rt_document_text(document, "%.*s", (int)strlen(level) - 3, level); /* the head has it */
        words = rt_document_text(document, "%s%s%s%s", words, words[0] == '\0' ? "" : ", ",
                                 several ? short_name(grouping) : "",
                                 known != NULL ? known : level_words(plan, grouping, level));
    }
    const char *time = time_words(plan, row);
    if (time[0] == '\0')
        return words;
    if (cohort && first == 0)
        return time; /* the table says which records it is about */
    return words[0] == '\0' ? time : rt_document_text(document, "%s, %s", words, time);
}

const char *last_words(const struct plan *plan, const struct rt_figure *row)
{
    const char *grouping = last_level_part(plan, row->grouping);
    const char *level = last_level_part(plan, row->level);
    const char *known = known_words(plan, grouping, level);
    return known != NULL ? known : level_words(plan, grouping, level);
}

const char *reference_words(const struct plan *plan, const struct rt_figure *row)
{
    static const char against[] = "against ";
    if (strncmp(row->remark, against, strlen(against)) != 0)
        return row->remark;
    const char *level =
        rt_document_text(plan->document, "%.*s", (int)strcspn(row->remark + strlen(against), ";"),
                         row->remark + strlen(against)); /* what follows says which likelihood */
    return rt_document_text(plan->document, "%s%s", against,
                            level_words(plan, last_level_part(plan, row->grouping), level));
}

/* Nothing was there to be counted. */
bool is_void(const struct rt_figure *row)
{
    return row->n_implants == 0 && (row->n_due <= 0 || strstr(row->unit, "implants") == NULL);
}

static struct key column_key(struct key key, const struct level_column *column)
{
    key.measure = column->measure;
    key.unit = column->unit != NULL ? column->unit : key.unit;
    return key;
}

static bool has_rows(const struct plan *plan, struct key key, const struct level_column *column)
{
    size_t at = 0;
    return next_row(plan, column_key(key, column), &at) != NULL;
}

static void add_level_row(const struct plan *plan, struct rt_table *table, struct key key,
                          const struct rt_figure *row, const struct level_column *columns, size_t count)
{
    struct rt_table_row *line = rt_add_row(plan->document, table, row_words(plan, row));
    for (size_t i = 0; i < count; i++) {
        struct key other = column_key(key, &columns[i]);
        if (!has_rows(plan, key, &columns[i]))
            continue;
        other.level = row->level;
        other.at = row->at;
        rt_add_figure_cell(plan->document, line, find_row(plan, other));
    }
}

void add_level_table(const struct plan *plan, struct rt_block *block, const char *caption,
                     const char *row_heading, struct key key, const struct level_column *columns,
                     size_t count)
{
    struct rt_table *table = NULL;
    size_t at = 0;
    key.measure = columns[0].measure;
    for (const struct rt_figure *row = next_row(plan, key, &at); row != NULL;
         row = next_row(plan, key, &at)) {
        if (is_void(row))
            continue;
        if (table == NULL) {
            table = rt_add_table(plan->document, block, caption, row_heading);
            for (size_t i = 0; i < count; i++)
                if (has_rows(plan, key, &columns[i]))
                    rt_add_column(plan->document, table, columns[i].heading, columns[i].part);
        }
        add_level_row(plan, table, key, row, columns, count);
    }
}

struct rt_chart_request chart_request(const struct plan *plan, enum rt_chart_kind kind, const char *id)
{
    struct rt_document *document = plan->document;
    return (struct rt_chart_request){
        .kind = kind,
        .id = id,
        .title = rt_document_words(document, rt_document_text(document, "chart.%s.title", id)),
        .description = rt_document_words(document, rt_document_text(document, "chart.%s.about", id)),
        .x_title = rt_document_words(document, rt_document_text(document, "chart.%s.x", id)),
        .y_title = rt_document_words(document, rt_document_text(document, "chart.%s.y", id)),
        .figures = plan->figures,
        .section = "",
        .grouping = "",
        .level = "",
        .baseline = "",
        .site = "",
        .at = NAN,
        .reference = NAN,
        .x_marks = {NAN, NAN},
        .slope = NAN,
        .reference_label = "",
    };
}

const struct rt_case_series *find_cases(const struct plan *plan, const char *name)
{
    return plan->subject->cases == NULL ? NULL : rt_find_case_series(plan->subject->cases, name);
}

void method_of(const struct plan *plan, struct rt_block *block, const struct rt_figure *row)
{
    const struct rt_measure *measure = rt_find_measure(row->section, row->measure);
    const struct rt_method *method = measure == NULL ? NULL : rt_find_method(measure->method);
    if (method == NULL)
        return;
    const char *id = rt_document_text(plan->document, "method-%s", method->key);
    struct rt_sentence *line = rt_set_method(plan->document, block, "method.line", id);
    rt_bind_words(plan->document, line, "method", method->words);
}
