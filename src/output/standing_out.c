/* What stands out, in words. Which rows do is settled in figure/standing_out.h. */
#include "plan.h"

#include "ridgetally/figure/wording.h"

#include <math.h>
#include <string.h>

static bool is_change(const struct rt_figure *row)
{
    return strcmp(row->section, "yardsticks") == 0 && strcmp(row->grouping, "change") == 0;
}

/* What a house rule's verdict rests on: no verdict without the size of the thing. */
static const struct rt_figure *effect_of(const struct plan *plan, const struct rt_figure *row)
{
    static const char *const measures[] = {"rule_difference_adjusted", "rule_slope_adjusted", "rule_knee"};
    for (size_t i = 0; i < sizeof measures / sizeof measures[0]; i++) {
        const struct rt_figure *effect = find_row(plan, key_of("rules", measures[i], "rule", row->level));
        if (effect != NULL && effect->state == RT_FIGURE_OK)
            return effect;
    }
    return row;
}

/* A wording of the measure's own where there is one, else measure, group, size with interval and adjusted p.
 */
static const char *point_key(const struct plan *plan, const struct rt_figure *row)
{
    bool test_only = isnan(row->lower) && isnan(row->upper) && strcmp(row->measure, "rule_verdict") != 0;
    const char *direction = test_only ? "test" : row->value > 0.0 ? "more" : "less";
    const char *own = rt_document_text(plan->document, "standout.%s.%s", row->measure, direction);
    if (is_change(row))
        own = rt_document_text(plan->document, "standout.change.%s", direction);
    if (rt_has_wording(own))
        return own;
    return test_only ? "front.point.test" : "front.point";
}

/* The row's level in words; a house rule by the name it has on the page. */
static const char *level_name(const struct plan *plan, const struct rt_figure *row)
{
    const char *key = rt_document_text(plan->document, "rules.%s.name", row->level);
    bool rule = strcmp(row->measure, "rule_verdict") == 0 && rt_has_wording(key);
    return rule ? rt_document_words(plan->document, key) : last_words(plan, row);
}

/* What else is clear of the row's question, by name: "current smoker, tissue height"; "" if nothing, or nothing of another name. */
static const char *others_words(const struct plan *plan, const struct rt_standing_out *out,
                                const struct rt_figure *row)
{
    const char *words = "", *last = last_words(plan, row);
    for (size_t i = 0; i < out->clear_count; i++) {
        const struct rt_figure *other = out->clear[i];
        if (other == row || !rt_same_question(row, other) ||
            strcmp(other->measure, "survival_comparison") == 0)
            continue;
        const char *name = last_words(plan, other);
        bool told = strcmp(name, last) == 0;
        for (size_t k = 0; k < i && !told; k++)
            told = rt_same_question(row, out->clear[k]) && strcmp(name, last_words(plan, out->clear[k])) == 0;
        if (!told)
            words = rt_document_text(plan->document, "%s%s%s", words, words[0] == '\0' ? "" : ", ", name);
    }
    return words;
}

static void add_others(const struct plan *plan, struct rt_chapter *chapter, const struct rt_standing_out *out,
                       const struct rt_figure *row)
{
    const char *words = others_words(plan, out, row);
    if (words[0] == '\0')
        return;
    struct rt_sentence *others = rt_add_point(plan->document, chapter, "front.others");
    rt_bind_words(plan->document, others, "others", words);
    if (others != NULL)
        others->joined = true;
}

void add_standing_out(const struct plan *plan, struct rt_chapter *chapter, const struct rt_standing_out *out,
                      const struct rt_figure *row)
{
    struct rt_document *document = plan->document;
    struct rt_sentence *point = rt_add_point(document, chapter, point_key(plan, row));
    const char *unit = strcmp(row->unit, "share") == 0 ? "" : row->unit;
    const char *about = strchr(row->grouping, '|') != NULL ? row_words(plan, row) : time_words(plan, row);
    rt_bind_figure(document, point, "row", row);
    rt_bind_words(document, point, "unit", unit[0] == '\0' ? "" : rt_document_text(document, " %s", unit));
    const char *label = measure_label(row);
    rt_bind_words(document, point, "measure",
                  rt_document_text(document, "%.*s",
                                   (int)(strstr(label, ", now minus then") != NULL
                                             ? strstr(label, ", now minus then") - label
                                             : (long)strlen(label)),
                                   label));
    if (strcmp(row->measure, "rule_verdict") == 0) {
        const struct rt_figure *effect = effect_of(plan, row);
        bool named = strcmp(effect->unit, "share") != 0 && effect->unit[0] != '\0';
        rt_bind_figure(document, point, "effect", effect);
        rt_bind_words(document, point, "effect_unit",
                      named ? rt_document_text(document, " %s", effect->unit) : "");
    }
    rt_bind_words(document, point, "level", level_name(plan, row));
    rt_bind_words(document, point, "remark", reference_words(plan, row));
    rt_bind_words(document, point, "about",
                  about[0] == '\0' ? "" : rt_document_text(document, " (%s)", about));
    add_others(plan, chapter, out, row);
}
