/* Chapter "In short": the denominators and what stands out. */
#include "plan.h"

#include "ridgetally/figure/wording.h"

#include <math.h>
#include <string.h>

static void add_denominators(const struct plan *plan, struct rt_chapter *chapter)
{
    static const struct {
        const char *measure, *window, *key;
    } rows[] = {{"recorded", "period", "front.period"},
                {"recorded", "", "front.recorded"},
                {"followed", "", "front.followed"}};
    struct rt_document *document = plan->document;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct rt_figure *row =
            rows[i].window[0] != '\0'
                ? find_row(plan, key_of("flow", rows[i].measure, "window", rows[i].window))
                : flow_row(plan, rows[i].measure);
        if (row == NULL)
            continue;
        bool none = row->n_implants == 0;
        const char *key = none ? rt_document_text(document, "%s.none", rows[i].key) : rows[i].key;
        rt_bind_figure(document, rt_add_lead(document, chapter, key), "row", row);
    }
}

/* True when the row's twin of the 12 months stands out as well. */
static bool stands_in_year(const struct plan *plan, const struct rt_figure *row)
{
    struct key key = key_of(row->section, row->measure, row->grouping, "");
    key.level = rt_document_text(plan->document, "12 months%s", row->level + strlen("all"));
    key.baseline = row->baseline;
    key.site = row->site;
    key.at = row->at;
    const struct rt_figure *twin = find_row(plan, key);
    return twin != NULL && twin->state == RT_FIGURE_OK && twin->p_adjusted < 0.05;
}

/* The same question asked again in another form, window or class: only its first form stands out. */
static bool repeats_another(const struct plan *plan, const struct rt_figure *row)
{
    static const char *const again[] = {
        "torque_density_tau_b", "torque_density_trend", "torque_diameter_tau_b",
        "torque_length_tau_b",  "torque_per_mm_origin", "torque_per_mm_censored",
        "crest_model_cr2",      "level_model",          "density_kappa_quadratic"};
    static const char *const whole_only[] = {"depth_bias", "crest_change"};
    for (size_t i = 0; i < sizeof again / sizeof again[0]; i++)
        if (strcmp(row->measure, again[i]) == 0)
            return true;
    for (size_t i = 0; i < sizeof whole_only / sizeof whole_only[0]; i++)
        if (strcmp(row->measure, whole_only[i]) == 0 && strchr(row->grouping, '|') != NULL)
            return true;
    const char *cohort = level_part(plan, row->level, 0);
    if (strcmp(cohort, "all") == 0 && stands_in_year(plan, row))
        return true;
    bool other = strcmp(cohort, "period") == 0 || strcmp(cohort, "recall") == 0 ||
                 strcmp(cohort, "worst case") == 0 || strcmp(cohort, "best case") == 0;
    return other || strcmp(last_level_part(plan, row->level), "intercept") == 0 ||
           strcmp(row->site, "worse") == 0 || strcmp(row->baseline, "loading") == 0 ||
           strcmp(row->unit_of_analysis, "patient") == 0;
}

/* A wording of the measure's own where there is one, else measure, group, size with interval and adjusted p.
 */
static const char *point_key(const struct plan *plan, const struct rt_figure *row)
{
    bool test_only = isnan(row->lower) && isnan(row->upper);
    const char *direction = test_only ? "test" : row->value > 0.0 ? "more" : "less";
    const char *own = rt_document_text(plan->document, "standout.%s.%s", row->measure, direction);
    if (rt_has_wording(own))
        return own;
    return test_only ? "front.point.test" : "front.point";
}

static void add_standing_out(const struct plan *plan, struct rt_chapter *chapter, const struct rt_figure *row)
{
    struct rt_document *document = plan->document;
    struct rt_sentence *point = rt_add_point(document, chapter, point_key(plan, row));
    const char *unit = strcmp(row->unit, "share") == 0 ? "" : row->unit;
    const char *about = strchr(row->grouping, '|') != NULL ? row_words(plan, row) : time_words(plan, row);
    rt_bind_figure(document, point, "row", row);
    rt_bind_words(document, point, "unit", unit[0] == '\0' ? "" : rt_document_text(document, " %s", unit));
    rt_bind_words(document, point, "measure", measure_label(row));
    rt_bind_words(document, point, "level", last_words(plan, row));
    rt_bind_words(document, point, "remark", reference_words(plan, row));
    rt_bind_words(document, point, "about",
                  about[0] == '\0' ? "" : rt_document_text(document, " (%s)", about));
}

static size_t add_points(const struct plan *plan, struct rt_chapter *chapter)
{
    size_t count = 0;
    for (size_t i = 0; i < plan->figures->count; i++) {
        const struct rt_figure *row = &plan->figures->rows[i];
        if (row->state != RT_FIGURE_OK || !(row->p_adjusted < 0.05) || repeats_another(plan, row))
            continue;
        add_standing_out(plan, chapter, row);
        count++;
    }
    return count;
}

static struct rt_sentence *join(struct rt_sentence *sentence)
{
    if (sentence != NULL)
        sentence->joined = true;
    return sentence;
}

/* The main answers of the chapters, each in its own words. */
static void add_summary(const struct plan *plan, struct rt_chapter *chapter)
{
    struct rt_document *document = plan->document;
    const struct rt_figure *bias = main_bias(plan), *change = main_crest_change(plan);
    const struct rt_figure *survival = main_survival(plan), *early = main_early_failure(plan);
    struct bounds bounds;
    if (bias != NULL && !is_void(bias))
        bind_row(plan, rt_add_summary(document, chapter, signed_key(plan, "depth.bias", bias)), "bias", bias);
    if (change != NULL && !is_void(change))
        bind_row(plan, rt_add_summary(document, chapter, signed_key(plan, "crest.change", change)), "change",
                 change);
    if (survival != NULL) {
        const char *key = survival->value >= 1.0 ? "survival.all" : "survival.at";
        struct rt_sentence *sentence = rt_add_summary(document, chapter, key);
        rt_bind_figure(document, sentence, "survival", survival);
        rt_bind_words(document, sentence, "time", time_words(plan, survival));
        if (survival_bounds(plan, survival, &bounds))
            bind_bounds(plan, join(rt_add_summary(document, chapter, "survival.bounds")), &bounds);
    }
    if (early == NULL || is_void(early))
        return;
    bind_row(plan, rt_add_summary(document, chapter, share_key(plan, "early", early)), "early", early);
    if (early_bounds(plan, &bounds)) {
        struct rt_sentence *sentence = join(rt_add_summary(document, chapter, "early.bounds"));
        bind_bounds(plan, sentence, &bounds);
        rt_bind_figure(document, sentence, "early", early);
    }
}

void plan_front(const struct plan *plan)
{
    struct rt_document *document = plan->document;
    struct rt_chapter *chapter = rt_add_chapter(document, "in-short", "heading.front");
    add_denominators(plan, chapter);
    rt_add_lead(document, chapter, "front.reading");
    add_summary(plan, chapter);
    size_t points = add_points(plan, chapter);
    const struct rt_figure *comparisons = flow_row(plan, "comparisons");
    const char *screened = comparisons != NULL && comparisons->value < 1.0 ? "front.screened.nothing"
                           : points > 0                                    ? "front.screened"
                                                                           : "front.screened.none";
    if (comparisons != NULL)
        rt_bind_figure(document, rt_add_points_lead(document, chapter, screened), "row", comparisons);
    struct rt_block *block = rt_add_block(document, chapter, "read-first", NULL);
    if (plan->subject->info->restated)
        rt_add_remark(document, block, "front.restated");
    if (plan->subject->info->cuts_edited)
        rt_add_remark(document, block, "front.cuts-edited");
    rt_set_caution(document, block, "caution.front");
}
