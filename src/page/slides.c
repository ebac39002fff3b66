#include "ridgetally/page/slides.h"

#include "render.h"
#include "ridgetally/base/resource.h"
#include "ridgetally/base/sha256.h"
#include "ridgetally/page/escape.h"

#include <string.h>

static void add_base64(struct rt_text *text, const unsigned char *bytes, size_t count)
{
    static const char digits[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    for (size_t i = 0; i < count; i += 3) {
        size_t left = count - i;
        unsigned group = (unsigned)bytes[i] << 16;
        group |= left > 1 ? (unsigned)bytes[i + 1] << 8 : 0u;
        group |= left > 2 ? (unsigned)bytes[i + 2] : 0u;
        for (size_t k = 0; k < 4; k++)
            rt_text_add_character(text, k <= left ? digits[(group >> (18 - 6 * k)) & 63u] : '=');
    }
}

static void add_head(struct rt_text *html, const struct rt_document *document, const char *style,
                     const char *script)
{
    struct rt_sha256 hash;
    unsigned char digest[RT_SHA256_BYTES];
    rt_sha256_start(&hash);
    rt_sha256_add(&hash, script, strlen(script));
    rt_sha256_finish(&hash, digest);
    rt_html_add_raw(html, "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
                          "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
                          "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
                          "style-src 'unsafe-inline'; script-src 'sha256-");
    add_base64(html, digest, sizeof digest);
    rt_html_add_raw(html, "'; form-action 'none'; base-uri 'none'\">\n"
                          "<meta name=\"referrer\" content=\"no-referrer\">\n"
                          "<meta name=\"robots\" content=\"noindex, nofollow\">\n<title>");
    rt_html_add(html, document->title);
    rt_html_add(html, ", ");
    rt_html_add(html, document->period);
    rt_html_add_raw(html, "</title>\n<style>\n");
    rt_html_add_raw(html, style);
    rt_html_add_raw(html, "</style>\n</head>\n<body>\n<main>\n");
}

static void add_line(struct rt_text *html, const char *class_name, const char *label, const char *text)
{
    if (text[0] == '\0')
        return;
    rt_text_format(html, "<p class=\"%s\">", class_name);
    rt_html_add(html, label);
    rt_html_add_name(html, text);
    rt_html_add_raw(html, "</p>\n");
}

/* What the first slide says beside its title. */
static void add_masthead(struct rt_text *html, const struct rt_document *document)
{
    add_line(html, "period", "Period: ", document->period);
    add_line(html, "filters", "Only: ", document->filters);
    add_line(html, "program", "", document->footer);
    add_line(html, "remark", "This deck has no charts: ", document->without_charts);
}

static enum rt_status add_points(struct rt_text *html, const struct rt_sentence *first,
                                 struct rt_error *error)
{
    enum rt_status status = RT_OK;
    if (first == NULL)
        return RT_OK;
    rt_html_add_raw(html, "<ul class=\"points\">\n");
    for (const struct rt_sentence *point = first; status == RT_OK && point != NULL; point = point->next) {
        rt_html_add_raw(html, "<li>");
        status = rt_html_add_sentence(html, point, error);
        rt_html_add_raw(html, "</li>\n");
    }
    rt_html_add_raw(html, "</ul>\n");
    return status;
}

/* The presenter's own lines, or own note. */
static enum rt_status add_own(struct rt_text *html, const struct rt_chapter *chapter, const char *term,
                              struct rt_error *error)
{
    enum rt_status status = RT_OK;
    for (const struct rt_entry *entry = chapter->entries; status == RT_OK && entry != NULL;
         entry = entry->next) {
        if (strcmp(entry->term, term) == 0 && strcmp(term, "text") == 0)
            status = add_points(html, entry->paragraphs, error);
        else if (strcmp(entry->term, term) == 0)
            status = rt_html_add_sentences(html, entry->paragraphs, error);
    }
    return status;
}

static bool has_note(const struct rt_chapter *chapter)
{
    bool own = false;
    for (const struct rt_entry *entry = chapter->entries; entry != NULL; entry = entry->next)
        own = own || strcmp(entry->term, "note") == 0;
    return own || chapter->summary != NULL;
}

static enum rt_status add_notes(struct rt_text *html, const struct rt_chapter *chapter,
                                struct rt_error *error)
{
    if (!has_note(chapter))
        return RT_OK;
    rt_html_add_raw(html, "<div class=\"notes\"><p><span class=\"kind\">Notes:</span> ");
    enum rt_status status = rt_html_add_sentences(html, chapter->summary, error);
    if (status == RT_OK)
        status = add_own(html, chapter, "note", error);
    rt_html_add_raw(html, "</p></div>\n");
    return status;
}

static enum rt_status add_slide(struct rt_text *html, const struct rt_document *document,
                                const struct rt_chapter *chapter, size_t number,
                                const struct rt_chart **chart, struct rt_error *error)
{
    bool first = number == 1;
    rt_html_add_raw(html, "<section class=\"slide\" tabindex=\"-1\" id=\"");
    rt_html_add(html, chapter->id);
    rt_html_add_raw(html, chapter->reference ? "\" data-cited>\n" : "\">\n");
    rt_html_add_raw(html, first ? "<h1>" : "<h2>");
    rt_html_add(html, chapter->heading);
    rt_html_add_raw(html, first ? "</h1>\n" : "</h2>\n");
    if (first)
        add_masthead(html, document);
    enum rt_status status = add_points(html, chapter->points, error);
    if (status == RT_OK)
        status = add_own(html, chapter, "text", error);
    for (const struct rt_block *block = chapter->blocks; status == RT_OK && block != NULL;
         block = block->next) {
        const struct rt_chart *drawn = block->chart != NULL && *chart != NULL ? (*chart)++ : NULL;
        status = rt_html_add_block(html, block, drawn, NULL, error);
    }
    if (status == RT_OK)
        status = add_notes(html, chapter, error);
    if (first)
        add_line(html, "notice", "", document->notice);
    rt_text_format(html, "<p class=\"foot\"><span class=\"name\">Slide %zu.</span> ", number);
    rt_html_add(html, first ? "" : document->notice);
    rt_html_add_raw(html, "</p>\n</section>\n");
    return status;
}

enum rt_status rt_render_slides(const struct rt_document *document, const struct rt_chart *charts,
                                struct rt_text *html, struct rt_error *error)
{
    const struct rt_resource *style = rt_find_resource("reports/deck.css");
    const struct rt_resource *script = rt_find_resource("reports/deck.js");
    if (style == NULL || script == NULL)
        return rt_fail(error, RT_USE, "reports/deck.css or deck.js is not in the program");
    enum rt_status status = rt_document_status(document, error);
    const struct rt_chart *chart = charts;
    size_t number = 0;
    add_head(html, document, style->bytes, script->bytes);
    for (const struct rt_chapter *chapter = document->chapters; status == RT_OK && chapter != NULL;
         chapter = chapter->next)
        status = add_slide(html, document, chapter, ++number, &chart, error);
    rt_html_add_raw(html, "</main>\n<script>");
    rt_html_add_raw(html, script->bytes);
    rt_html_add_raw(html, "</script>\n</body>\n</html>\n");
    return status == RT_OK ? rt_text_status(html, error) : status;
}
