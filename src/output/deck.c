#include "ridgetally/output/deck.h"

#include "plan.h"

#include "ridgetally/base/date.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define YEAR "12 months"

/* One finding: whose headline it is, in which words, and what its chart shows. */
struct finding {
    const char *slide;
    const char *section, *measure, *grouping, *level, *site; /* of the headline */
    const char *words;                                       /* key of the sentence */
    const char *slot;
    bool share; /* else a signed number */
    enum rt_chart_kind kind;
    const char *chart_grouping, *chart_level;
};

static const struct finding findings[] = {
    {"depth-bias", "depth", "depth_bias", "window", YEAR, NULL, "depth.bias", "bias", false,
     RT_CHART_CLASS_INTERVALS, "window|operator", YEAR "|"},
    {"depth-within", "depth", "depth_within_half", "window", YEAR, NULL, "deck.within", "within", true,
     RT_CHART_SHARE_BY_CLASS, "window|operator", YEAR "|"},
    {"low-torque", "stability", "low_torque", "window", YEAR, NULL, "stability.low", "low", true,
     RT_CHART_SHARE_BY_CLASS, "window", ""},
    {"crest-depth", "crest", "crest_change", "window", "all", "mean", "crest.change", "change", false,
     RT_CHART_CLASS_INTERVALS, "window|depth_class", "all|"},
    {"crest-tissue", "crest", "crest_change", "window", "all", "mean", "crest.change", "change", false,
     RT_CHART_CLASS_INTERVALS, "window|tissue_class", "all|"},
    {"exposure", "crest", "exposure_share", "window", "all", "worse", "crest.exposure", "share", true,
     RT_CHART_SHARE_BY_CLASS, "window|tissue_class", "all|"},
    {"early", "survival", "early_failure", "window", "all", NULL, "early", "early", true,
     RT_CHART_SHARE_BY_CLASS, "window", ""},
    {"early-smoking", "survival", "early_failure", "window", "all", NULL, "early", "early", true,
     RT_CHART_SHARE_BY_CLASS, "window|smoking", "all|"},
    {"early-torque", "survival", "early_failure", "window", "all", NULL, "early", "early", true,
     RT_CHART_SHARE_BY_CLASS, "window|torque_class", "all|"},
    {"early-line", "survival", "early_failure", "window", "all", NULL, "early", "early", true,
     RT_CHART_SHARE_BY_CLASS, "window|implant_line", "all|"},
    {"follow-up", "flow", "completeness", "", "", NULL, "deck.known", "known", true, RT_CHART_SHARE_BY_CLASS,
     "year", ""},
};

struct deck {
    struct plan plan;
    const struct rt_deck_subject *subject;
};

static struct rt_chapter *add_slide(const struct deck *deck, const struct rt_slide *slide)
{
    struct rt_document *document = deck->plan.document;
    struct rt_chapter *chapter =
        rt_add_chapter(document, slide->name, rt_document_text(document, "deck.heading.%s", slide->name));
    rt_add_summary(document, chapter, rt_document_text(document, "deck.notes.%s", slide->name));
    return chapter;
}

static const struct rt_figure *headline_of(const struct deck *deck, const struct finding *finding)
{
    struct key key = key_of(finding->section, finding->measure, finding->grouping, finding->level);
    key.site = finding->site;
    if (strcmp(finding->section, "crest") == 0) {
        key.baseline = "placement";
        key.at = 12.0;
    }
    return find_row(&deck->plan, key);
}

static struct rt_chart_request chart_of(const struct deck *deck, const struct finding *finding)
{
    struct rt_document *document = deck->plan.document;
    struct rt_chart_request chart =
        chart_request(&deck->plan, finding->kind, rt_document_text(document, "deck-%s", finding->slide));
    chart.section = finding->section;
    chart.measures[0] = finding->measure;
    chart.grouping = finding->chart_grouping;
    chart.level = finding->chart_level;
    chart.site = finding->site == NULL ? "" : finding->site;
    if (finding->kind == RT_CHART_CLASS_INTERVALS) {
        chart.low = true;
        chart.reference = 0.0;
        chart.reference_label = rt_document_words(
            document, strcmp(finding->section, "depth") == 0 ? "chart.as-planned" : "chart.no-change");
    }
    return chart;
}

/* How many groups there are for the chart. */
static size_t count_groups(const struct deck *deck, const struct finding *finding)
{
    size_t count = 0;
    for (size_t i = 0; i < deck->plan.figures->count; i++) {
        const struct rt_figure *row = &deck->plan.figures->rows[i];
        count += strcmp(row->section, finding->section) == 0 && strcmp(row->measure, finding->measure) == 0 &&
                 strcmp(row->grouping, finding->chart_grouping) == 0;
    }
    return count;
}

static void close_finding(const struct deck *deck, struct rt_block *block, const char *slide,
                          const struct rt_figure *row)
{
    struct rt_document *document = deck->plan.document;
    bind_row(&deck->plan, rt_add_remark(document, block, "deck.cases"), "row", row);
    if (rt_deck_withheld_count(deck->subject->rows, slide) > 0)
        rt_add_remark(document, block, "deck.withheld");
    rt_set_caution(document, block, rt_document_text(document, "deck.caution.%s", slide));
}

static void plan_finding(const struct deck *deck, const struct rt_slide *slide, const struct finding *finding)
{
    struct rt_document *document = deck->plan.document;
    const struct rt_figure *row = headline_of(deck, finding);
    if (row == NULL)
        return;
    struct rt_chapter *chapter = add_slide(deck, slide);
    struct rt_block *block =
        rt_add_block(document, chapter, rt_document_text(document, "%s-finding", slide->name), NULL);
    if (finding->share)
        answer_share(&deck->plan, block, finding->words, finding->slot, row);
    else
        answer_signed(&deck->plan, block, finding->words, finding->slot, row);
    if (count_groups(deck, finding) > 0) {
        struct rt_chart_request chart = chart_of(deck, finding);
        rt_set_chart(document, block, &chart);
    }
    close_finding(deck, block, slide->name, row);
}

static void plan_survival_slide(const struct deck *deck, const struct rt_slide *slide)
{
    struct rt_document *document = deck->plan.document;
    const struct rt_figure *latest = main_survival(&deck->plan);
    if (latest == NULL)
        return;
    struct rt_chapter *chapter = add_slide(deck, slide);
    struct rt_block *block = rt_add_block(document, chapter, "survival-finding", NULL);
    struct rt_sentence *answer =
        rt_add_answer(document, block, latest->value >= 1.0 ? "survival.all" : "survival.at");
    rt_bind_figure(document, answer, "survival", latest);
    rt_bind_words(document, answer, "time", time_words(&deck->plan, latest));
    struct rt_chart_request chart = chart_request(&deck->plan, RT_CHART_SHARE_BY_CLASS, "deck-survival");
    chart.section = chart.measures[0] = "survival";
    chart.grouping = latest->grouping;
    chart.level =
        latest->level; /* whole years only, each a point: a step drawn at its day would be a single case */
    rt_set_chart(document, block, &chart);
    close_finding(deck, block, slide->name, latest);
}

static void plan_words(const struct deck *deck, const struct rt_slide *slide)
{
    struct rt_document *document = deck->plan.document;
    static const char *const points[] = {"one", "two", "three", "four", "five"};
    static const struct {
        const char *slide;
        size_t points;
    } sizes[] = {{"title", 0}, {"question", 3}, {"method", 5}, {"limits", 5}, {"change", 3}, {"sources", 4}};
    struct rt_chapter *chapter = add_slide(deck, slide);
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++)
        for (size_t k = 0; strcmp(sizes[i].slide, slide->name) == 0 && k < sizes[i].points; k++)
            rt_add_point(document, chapter, rt_document_text(document, "deck.%s.%s", slide->name, points[k]));
}

static void plan_own(const struct deck *deck, const struct rt_slide *slide, size_t number)
{
    struct rt_document *document = deck->plan.document;
    struct rt_chapter *chapter =
        rt_add_chapter(document, rt_document_text(document, "own-%zu", number), "deck.heading.own");
    if (chapter == NULL)
        return;
    chapter->heading = rt_document_text(document, "%s", slide->title);
    chapter->reference = true; /* the presenter's numbers are no figures */
    struct rt_entry *entry =
        rt_add_entry(document, chapter, rt_document_text(document, "own-%zu-text", number), "text");
    for (size_t i = 0; i < slide->line_count; i++)
        rt_add_plain_paragraph(document, entry, slide->lines[i]);
    if (slide->note[0] == '\0')
        return;
    entry = rt_add_entry(document, chapter, rt_document_text(document, "own-%zu-note", number), "note");
    rt_add_plain_paragraph(document, entry, slide->note);
}

static const struct finding *find_finding(const char *slide)
{
    for (size_t i = 0; i < sizeof findings / sizeof findings[0]; i++)
        if (strcmp(findings[i].slide, slide) == 0)
            return &findings[i];
    return NULL;
}

static bool can_show(const struct deck *deck, const struct rt_slide *slide)
{
    if (!rt_is_deck_finding(slide->name))
        return true;
    if (strcmp(slide->name, "survival") == 0)
        return main_survival(&deck->plan) != NULL;
    /* one group without another to set it beside would be a choice of what to tell */
    const struct finding *finding = find_finding(slide->name);
    bool groups = finding != NULL && strncmp(slide->name, "early-", 6) == 0;
    return rt_deck_slide_shown(deck->subject->rows, slide->name) &&
           (!groups || count_groups(deck, finding) >= 2);
}

static enum rt_status plan_slide(const struct deck *deck, const struct rt_slide *slide, size_t number,
                                 const char *file, struct rt_error *error)
{
    const struct finding *finding = find_finding(slide->name);
    if (!can_show(deck, slide)) {
        if (slide->line == 0)
            return RT_OK;
        rt_fail(error, RT_INPUT,
                "slide '%s' cannot be shown: it has no number, or would reveal a small group", slide->name);
        rt_error_locate(error, file, slide->line, NULL);
        rt_error_remedy(error, "leave it out of the list");
        return RT_INPUT;
    }
    if (slide->name[0] == '\0')
        plan_own(deck, slide, number);
    else if (finding != NULL)
        plan_finding(deck, slide, finding);
    else if (strcmp(slide->name, "survival") == 0)
        plan_survival_slide(deck, slide);
    else
        plan_words(deck, slide);
    return RT_OK;
}

static const char *period_words_of(struct rt_document *document, const struct rt_audit_info *info)
{
    return rt_document_text(document, "%s to %s", day_words(document, info->first_day),
                            day_words(document, info->last_day));
}

enum rt_status rt_plan_deck(const struct rt_deck_subject *subject, const char *slide_file,
                            struct rt_document *document, struct rt_error *error)
{
    const struct rt_figure_list *figures = &subject->rows->shown;
    const struct rt_audit_subject about = {
        .info = subject->info, .filters = subject->filters, .figures = figures};
    const struct deck deck = {{document, &about, figures, NULL}, subject};
    document->title = rt_document_words(document, "deck.title");
    document->practice = "";
    document->period = period_words_of(document, subject->info);
    document->data_date = "";
    document->notice = subject->info->fictional ? rt_document_words(document, "page.invented") : "";
    document->filters = rt_document_text(document, "%s", subject->filters);
    document->without_charts = "";
    document->footer = rt_document_words(document, "deck.footer");
    enum rt_status status = RT_OK;
    for (size_t i = 0; status == RT_OK && i < subject->slides->count; i++)
        status = plan_slide(&deck, &subject->slides->slides[i], i + 1, slide_file, error);
    return status == RT_OK ? rt_document_status(document, error) : status;
}
