/* The first page: at most five sentences and three decisions. A reader who stops there knows the answer. */
#include "plan.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_DECISIONS = 3 };

/* --- at a glance ------------------------------------------------------------------------------------------ */

static void add_cases(const struct plan *plan, struct rt_chapter *chapter)
{
    struct rt_document *document = plan->document;
    const struct rt_figure *period = find_row(plan, key_of("flow", "recorded", "window", "period"));
    const struct rt_figure *recorded = flow_row(plan, "recorded"), *followed = flow_row(plan, "followed");
    if (period == NULL || recorded == NULL || followed == NULL)
        return;
    const char *key = recorded->n_implants == 0 ? "glance.cases.nothing"
                      : period->n_implants == 0 ? "glance.cases.none"
                                                : "glance.cases";
    struct rt_sentence *sentence = rt_add_summary(document, chapter, key);
    rt_bind_figure(document, sentence, "period", period);
    rt_bind_figure(document, sentence, "recorded", recorded);
    rt_bind_figure(document, sentence, "followed", followed);
}

static const struct rt_figure *standing(const struct plan *plan, const char *state)
{
    return find_row(plan, key_of("yardsticks", "yardsticks_standing", "status", state));
}

static void add_yardsticks(const struct plan *plan, struct rt_chapter *chapter)
{
    struct rt_document *document = plan->document;
    const struct rt_figure *met = standing(plan, "met"), *missed = standing(plan, "not met");
    const struct rt_figure *open = standing(plan, "cannot tell"), *none = standing(plan, "no target set");
    if (met == NULL || missed == NULL || open == NULL || none == NULL)
        return;
    bool any = met->value + missed->value + open->value > 0.0;
    struct rt_sentence *sentence =
        rt_add_summary(document, chapter, any ? "glance.yardsticks" : "glance.yardsticks.none");
    rt_bind_figure(document, sentence, "met", met);
    rt_bind_figure(document, sentence, "missed", missed);
    rt_bind_figure(document, sentence, "open", open);
    rt_bind_figure(document, sentence, "none", none);
}

static const char *early_words(const struct rt_figure *early)
{
    if (early == NULL || is_void(early))
        return "nobody";
    if (early->state != RT_FIGURE_OK)
        return "few";
    return early->value > 0.0 ? "some" : "none";
}

/* Early failure and survival in one sentence. */
static void add_failure(const struct plan *plan, struct rt_chapter *chapter)
{
    struct rt_document *document = plan->document;
    const struct rt_figure *survival = main_survival(plan), *early = main_early_failure(plan);
    const char *first = early_words(early);
    const char *second = survival == NULL ? "unknown" : survival->value >= 1.0 ? "all" : "at";
    struct rt_sentence *sentence =
        rt_add_summary(document, chapter, rt_document_text(document, "glance.failure.%s.%s", first, second));
    if (early != NULL)
        bind_row(plan, sentence, "early", early);
    if (survival != NULL) {
        rt_bind_figure(document, sentence, "survival", survival);
        rt_bind_words(document, sentence, "time", time_words(plan, survival));
    }
}

static void add_glance(const struct plan *plan)
{
    struct rt_document *document = plan->document;
    struct rt_chapter *chapter = rt_add_chapter(document, "at-a-glance", "heading.front");
    const struct rt_figure *bias = main_bias(plan), *change = main_crest_change(plan);
    rt_add_lead(document, chapter, "front.reading");
    add_cases(plan, chapter);
    add_yardsticks(plan, chapter);
    add_failure(plan, chapter);
    if (bias != NULL && !is_void(bias))
        bind_row(plan, rt_add_summary(document, chapter, signed_key(plan, "depth.bias", bias)), "bias", bias);
    if (change != NULL && !is_void(change))
        bind_row(plan, rt_add_summary(document, chapter, signed_key(plan, "crest.change", change)), "change",
                 change);
}

/* --- what to decide --------------------------------------------------------------------------------------- */

/* In the order they come: a yardstick newly not met, a note that is due, another yardstick that changed, a clear comparison. */
enum rank { NEWLY_MISSED, NOTE_DUE, YARDSTICK_CHANGED, CLEAR_COMPARISON };

struct matter {
    enum rank rank;
    double p;  /* of a comparison */
    size_t at; /* place in the list it comes from */
    const struct rt_yardstick *yardstick;
    const struct rt_note *note;
    const struct rt_figure *row;
};

static int by_rank(const void *left, const void *right)
{
    const struct matter *a = left, *b = right;
    if (a->rank != b->rank)
        return a->rank < b->rank ? -1 : 1;
    if (a->rank == CLEAR_COMPARISON && a->p != b->p)
        return a->p < b->p ? -1 : 1;
    return a->at < b->at ? -1 : a->at > b->at;
}

static const struct rt_figure *yardstick_row(const struct plan *plan, const char *measure, const char *name)
{
    return find_row(plan, key_of("yardsticks", measure, "yardstick", name));
}

static const struct rt_figure *state_before(const struct plan *plan, const char *name)
{
    return find_row(plan, key_of("yardsticks", "yardstick_before", "yardstick|change",
                                 rt_document_text(plan->document, "%s|last period", name)));
}

static size_t take_yardsticks(const struct plan *plan, struct matter *matters, size_t count)
{
    const struct rt_meeting *meeting = plan->subject->meeting;
    for (size_t i = 0; meeting != NULL && i < meeting->yardstick_count; i++) {
        const char *name = meeting->yardsticks[i].name;
        const struct rt_figure *now = yardstick_row(plan, "yardstick_state", name),
                               *then = state_before(plan, name);
        if (now == NULL || then == NULL || now->state != RT_FIGURE_OK || then->state != RT_FIGURE_OK ||
            now->value == then->value)
            continue;
        matters[count++] = (struct matter){.rank = now->value < 0.0 ? NEWLY_MISSED : YARDSTICK_CHANGED,
                                           .at = i,
                                           .yardstick = &meeting->yardsticks[i]};
    }
    return count;
}

static size_t take_notes(const struct plan *plan, struct matter *matters, size_t count)
{
    const struct rt_meeting *meeting = plan->subject->meeting;
    for (size_t i = 0; meeting != NULL && i < meeting->note_count; i++)
        if (rt_note_state(&meeting->notes[i], plan->subject->info->last_day) == RT_NOTE_DUE)
            matters[count++] = (struct matter){.rank = NOTE_DUE, .at = i, .note = &meeting->notes[i]};
    return count;
}

static size_t take_comparisons(const struct rt_standing_out *out, struct matter *matters, size_t count)
{
    for (size_t i = 0; i < out->named_count; i++)
        matters[count++] = (struct matter){
            .rank = CLEAR_COMPARISON, .p = out->named[i]->p_adjusted, .at = i, .row = out->named[i]};
    return count;
}

static void add_yardstick_matter(const struct plan *plan, struct rt_chapter *chapter,
                                 const struct rt_yardstick *yardstick)
{
    struct rt_document *document = plan->document;
    const struct rt_figure *value = yardstick_row(plan, "yardstick_value", yardstick->name);
    const struct rt_figure *target = yardstick_row(plan, "yardstick_target", yardstick->name);
    bool known = value != NULL && value->state == RT_FIGURE_OK;
    struct rt_sentence *point =
        rt_add_point(document, chapter, known ? "decide.yardstick" : "decide.yardstick.few");
    rt_bind_words(document, point, "statement", yardstick->statement);
    rt_bind_words(document, point, "state",
                  state_words(plan, yardstick_row(plan, "yardstick_state", yardstick->name)));
    rt_bind_words(document, point, "before", state_words(plan, state_before(plan, yardstick->name)));
    rt_bind_words(
        document, point, "least",
        rt_document_words(document, yardstick->target.at_least ? "yardstick.least" : "yardstick.most"));
    rt_bind_figure(document, point, "value", value);
    rt_bind_figure(document, point, "target", target);
}

static void add_note_matter(const struct plan *plan, struct rt_chapter *chapter, const struct rt_note *note)
{
    struct rt_document *document = plan->document;
    const char *number = rt_document_text(document, "%ld", note->number);
    const struct rt_figure *now = find_row(plan, key_of("yardsticks", "note_now", "note", number));
    const struct rt_figure *then = find_row(plan, key_of("yardsticks", "note_then", "note", number));
    bool both = now != NULL && then != NULL && now->state == RT_FIGURE_OK && then->state == RT_FIGURE_OK;
    bool one = now != NULL && now->state == RT_FIGURE_OK;
    struct rt_sentence *point = rt_add_point(document, chapter,
                                             both  ? "decide.note.both"
                                             : one ? "decide.note.now"
                                                   : "decide.note");
    rt_bind_words(document, point, "number", number);
    rt_bind_words(document, point, "decision", note->decision);
    rt_bind_words(document, point, "who", note->written_by);
    rt_bind_words(document, point, "day", day_words(document, note->written_on));
    if (one) {
        rt_bind_figure(document, point, "now", now);
        rt_bind_words(document, point, "about", note->about);
    }
    if (both)
        rt_bind_figure(document, point, "then", then);
}

static void add_matter(const struct plan *plan, struct rt_chapter *chapter, const struct rt_standing_out *out,
                       const struct matter *matter)
{
    if (matter->yardstick != NULL)
        add_yardstick_matter(plan, chapter, matter->yardstick);
    else if (matter->note != NULL)
        add_note_matter(plan, chapter, matter->note);
    else
        add_standing_out(plan, chapter, out, matter->row);
}

/* How many comparisons were looked at, how many are clear, and how many questions they answer. */
static void add_screening(const struct plan *plan, struct rt_chapter *chapter)
{
    const struct rt_figure *screened = flow_row(plan, "comparisons");
    const struct rt_figure *clear = flow_row(plan, "comparisons_clear");
    const struct rt_figure *named = flow_row(plan, "comparisons_named");
    if (screened == NULL || clear == NULL || named == NULL)
        return;
    const bool alike = clear->value <= named->value; /* each question by one comparison, or nothing clear */
    struct rt_sentence *lead =
        rt_add_lead(plan->document, chapter, alike ? "front.screened" : "front.screened.questions");
    rt_bind_figure(plan->document, lead, "screened", screened);
    rt_bind_figure(plan->document, lead, "clear", clear);
    rt_bind_figure(plan->document, lead, "named", named);
}

/* The first ones are to be decided, the others follow on the next page. */
static void add_matters(const struct plan *plan, const struct rt_standing_out *out,
                        const struct matter *matters, size_t count)
{
    struct rt_document *document = plan->document;
    struct rt_chapter *chapter = rt_add_chapter(document, "to-decide", "heading.decide");
    add_screening(plan, chapter);
    for (size_t i = 0; i < count && i < MOST_DECISIONS; i++)
        add_matter(plan, chapter, out, &matters[i]);
    if (count == 0)
        rt_add_point(document, chapter, "decide.nothing");
    struct rt_chapter *more = rt_add_chapter(document, "read-first", "heading.more");
    if (count > MOST_DECISIONS)
        rt_add_points_lead(document, more, "front.more");
    for (size_t i = MOST_DECISIONS; i < count; i++)
        add_matter(plan, more, out, &matters[i]);
    struct rt_block *block = rt_add_block(document, more, "how-to-read", NULL);
    if (plan->subject->info->restated)
        rt_add_remark(document, block, "front.restated");
    if (plan->subject->info->cuts_edited)
        rt_add_remark(document, block, "front.cuts-edited");
    rt_set_caution(document, block, "caution.front");
}

void plan_front(const struct plan *plan)
{
    const struct rt_meeting *meeting = plan->subject->meeting;
    struct rt_standing_out out;
    bool complete = rt_find_standing_out(plan->figures, &out, NULL) == RT_OK;
    size_t room = out.named_count + 1;
    room += meeting == NULL ? 0 : meeting->yardstick_count + meeting->note_count;
    struct matter *matters = calloc(room, sizeof *matters);
    complete = complete && matters != NULL;
    if (complete) {
        add_glance(plan);
        size_t count = take_yardsticks(plan, matters, 0);
        count = take_notes(plan, matters, count);
        count = take_comparisons(&out, matters, count);
        qsort(matters, count, sizeof *matters, by_rank);
        add_matters(plan, &out, matters, count);
    }
    plan->document->out_of_memory = plan->document->out_of_memory || !complete;
    free(matters);
    rt_release_standing_out(&out);
}
