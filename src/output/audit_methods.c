/* Appendices: how each figure was computed, from the catalogue and the method notes; and the cautions. */
#include "plan.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/figure/catalogue.h"
#include "ridgetally/figure/wording.h"

#include <string.h>

/* Methods and measures that the figures have, by their places in the catalogue. */
struct used {
    bool *method, *measure;
};

static void use_method(const struct used *used, const char *key)
{
    size_t count = 0;
    const struct rt_method *methods = rt_methods(&count);
    const struct rt_method *method = rt_find_method(key);
    if (method != NULL)
        used->method[method - methods] = true;
}

static void use_row(const struct used *used, const struct rt_figure *row)
{
    size_t count = 0;
    const struct rt_measure *measures = rt_measures(&count);
    const struct rt_measure *measure = rt_find_measure(row->section, row->measure);
    use_method(used, row->method);
    if (measure == NULL)
        return;
    used->measure[measure - measures] = true;
    use_method(used, measure->method);
}

static bool same_kind(const struct rt_figure *a, const struct rt_figure *b)
{
    return strcmp(a->measure, b->measure) == 0 && strcmp(a->section, b->section) == 0 &&
           strcmp(a->method, b->method) == 0;
}

static void mark_used(const struct plan *plan, const struct used *used)
{
    const struct rt_figure *rows = plan->figures->rows;
    for (size_t i = 0; i < plan->figures->count; i++)
        if (i == 0 || !same_kind(&rows[i - 1], &rows[i]))
            use_row(used, &rows[i]);
}

/* A context of rt_each_wording: every key that begins with `prefix` becomes an entry; its term is the wording
 * of term.KEY. */
struct notes {
    const struct plan *plan;
    struct rt_chapter *chapter;
    const char *prefix;
    bool points;
};

static bool add_note(const char *key, size_t length, void *context)
{
    const struct notes *notes = context;
    struct rt_document *document = notes->plan->document;
    if (strncmp(key, notes->prefix, strlen(notes->prefix)) != 0)
        return true;
    const char *name = rt_document_text(document, "%.*s", (int)length, key);
    if (notes->points) {
        rt_add_point(document, notes->chapter, name);
        return true;
    }
    const char *term = rt_document_words(document, rt_document_text(document, "title.%s", name));
    const char *id = rt_document_text(document, "note-%s", name + strlen(notes->prefix));
    rt_add_paragraph(document, rt_add_entry(document, notes->chapter, id, term), name);
    return true;
}

/* The catalogue quotes cell contents in backticks; a page uses quotation marks. */
static const char *with_quotes(const struct plan *plan, const char *words)
{
    const char *result = "";
    for (bool open = false;; open = !open) {
        size_t length = strcspn(words, "`");
        result = rt_document_text(plan->document, "%s%.*s", result, (int)length, words);
        if (words[length] == '\0')
            return result;
        result = rt_document_text(plan->document, "%s%s", result, open ? "\u201D" : "\u201C");
        words += length + 1;
    }
}

static const char *with_source(const struct plan *plan, const char *words, const char *source)
{
    struct rt_document *document = plan->document;
    words = with_quotes(plan, words);
    if (strcmp(source, "ours") == 0)
        return words;
    return rt_document_text(document, "%s %s: %s.", words, rt_document_words(document, "method.source"),
                            source);
}

/* What a figure is, its method by name, and its source where that is not the method's, which has its own entry. */
static const char *measure_words(const struct plan *plan, const struct rt_measure *measure)
{
    struct rt_document *document = plan->document;
    const struct rt_method *method = rt_find_method(measure->method);
    if (method == NULL)
        return with_source(plan, measure->formula, measure->source);
    const char *words = rt_document_text(document, "%s %s: %s.", measure->formula,
                                         rt_document_words(document, "method.by"), method->label);
    return with_source(plan, words,
                       strstr(method->source, measure->source) != NULL ? "ours" : measure->source);
}

static void add_methods(const struct plan *plan, const struct used *used, struct rt_chapter *chapter)
{
    size_t count = 0;
    const struct rt_method *methods = rt_methods(&count);
    for (size_t i = 0; i < count; i++) {
        if (!used->method[i])
            continue;
        const char *id = rt_document_text(plan->document, "method-%s", methods[i].key);
        struct rt_entry *entry = rt_add_entry(plan->document, chapter, id, methods[i].label);
        rt_add_plain_paragraph(plan->document, entry, with_source(plan, methods[i].words, methods[i].source));
    }
}

static void add_measures(const struct plan *plan, const struct used *used, struct rt_chapter *chapter)
{
    size_t count = 0;
    const struct rt_measure *measures = rt_measures(&count);
    for (size_t i = 0; i < count; i++) {
        if (!used->measure[i])
            continue;
        const char *id =
            rt_document_text(plan->document, "measure-%s-%s", measures[i].section, measures[i].name);
        const char *term = rt_document_text(plan->document, "%s (%s)", measures[i].label, measures[i].name);
        struct rt_entry *entry = rt_add_entry(plan->document, chapter, id, term);
        rt_add_plain_paragraph(plan->document, entry, measure_words(plan, &measures[i]));
    }
}

static void add_reference(const struct plan *plan, const struct used *used)
{
    struct rt_document *document = plan->document;
    struct rt_chapter *chapter = rt_add_chapter(document, "methods", "heading.methods");
    if (chapter == NULL)
        return;
    chapter->reference = true;
    rt_add_lead(document, chapter, "methods.lead");
    struct notes notes = {plan, chapter, "note.", false};
    rt_each_wording(add_note, &notes);
    add_methods(plan, used, chapter);
    struct rt_chapter *measures = rt_add_chapter(document, "measures", "heading.measures");
    if (measures == NULL)
        return;
    measures->reference = true;
    rt_add_lead(document, measures, "measures.lead");
    add_measures(plan, used, measures);
}

void plan_methods(const struct plan *plan)
{
    size_t methods = 0, measures = 0;
    rt_methods(&methods);
    rt_measures(&measures);
    const struct used used = {rt_new_array(methods + 1, sizeof(bool)),
                              rt_new_array(measures + 1, sizeof(bool))};
    if (used.method == NULL || used.measure == NULL) {
        plan->document->out_of_memory = true;
    } else {
        mark_used(plan, &used);
        add_reference(plan, &used);
    }
    free(used.method);
    free(used.measure);
}

void plan_cautions(const struct plan *plan)
{
    struct rt_chapter *chapter = rt_add_chapter(plan->document, "cautions", "heading.cautions");
    if (chapter == NULL)
        return;
    chapter->reference = true;
    struct notes notes = {plan, chapter, "page-caution.", true};
    rt_each_wording(add_note, &notes);
}
