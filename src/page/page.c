#include "ridgetally/page/page.h"

#include "render.h"
#include "ridgetally/base/resource.h"
#include "ridgetally/page/escape.h"

#include <string.h>

/* What the slots of the skeleton need. */
struct page {
    const struct rt_document *document;
    size_t *places; /* of its charts, as each is found; NULL: it has none */
    struct rt_text *html;
};

static void add_line(struct rt_text *html, const char *class_name, const char *label, const char *text)
{
    if (text == NULL || text[0] == '\0')
        return;
    rt_text_format(html, "<p class=\"%s\">", class_name);
    rt_html_add(html, label);
    rt_html_add(html, text);
    rt_html_add_raw(html, "</p>\n");
}

/* "Practice audit, 1 July to 30 September 2026": the title alone must tell one page from another. */
static void add_title(struct rt_text *html, const struct rt_document *document)
{
    const char *parts[] = {document->title, document->period, document->practice};
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++) {
        if (parts[i] == NULL || parts[i][0] == '\0')
            continue;
        rt_html_add(html, i == 0 ? "" : ", ");
        rt_html_add(html, parts[i]);
    }
}

static enum rt_status add_title_slot(const struct page *page, struct rt_error *error)
{
    (void)error;
    add_title(page->html, page->document);
    return RT_OK;
}

static enum rt_status add_style(const struct page *page, struct rt_error *error)
{
    const struct rt_resource *style = rt_find_resource("reports/page.css");
    if (style == NULL)
        return rt_fail(error, RT_USE, "reports/page.css is not in the program");
    rt_html_add_raw(page->html, style->bytes);
    return RT_OK;
}

static void add_margin_box(struct rt_text *css, const char *place, const char *first, const char *second)
{
    rt_text_format(css, "  @%s { content: ", place);
    rt_css_add_string(css, first);
    if (second != NULL) {
        rt_text_add_character(css, ' ');
        rt_css_add_string(css, second);
    }
    rt_text_add(css, "; }\n");
}

/* Practice, period, data date and page number on every sheet. The notice that data are invented goes along.
 */
static enum rt_status add_running_head(const struct page *page, struct rt_error *error)
{
    (void)error;
    const struct rt_document *document = page->document;
    bool notice = document->notice != NULL && document->notice[0] != '\0' &&
                  strstr(document->practice, "invented") == NULL;
    rt_html_add_raw(page->html, "@page {\n  margin: 17mm 15mm 16mm;\n"
                                "  font: 8pt system-ui, sans-serif;\n");
    add_margin_box(page->html, "top-left", document->practice, notice ? " (invented data)" : NULL);
    add_margin_box(page->html, "top-right", document->title, NULL);
    bool part = document->filters != NULL && document->filters[0] != '\0';
    add_margin_box(page->html, "bottom-left", document->period, part ? " (part of the records)" : NULL);
    add_margin_box(page->html, "bottom-center", "Records to ", document->data_date);
    rt_html_add_raw(page->html, "  @bottom-right { content: counter(page) \" of \" counter(pages); }\n}");
    return RT_OK;
}

static enum rt_status add_masthead(const struct page *page, struct rt_error *error)
{
    (void)error;
    const struct rt_document *document = page->document;
    rt_html_add_raw(page->html, "<h1>");
    rt_html_add(page->html, document->title);
    rt_html_add_raw(page->html, "</h1>\n");
    add_line(page->html, "practice", "", document->practice);
    add_line(page->html, "period", "Period: ", document->period);
    add_line(page->html, "data-date", "Records used: up to ", document->data_date);
    add_line(page->html, "filters", "Only: ", document->filters);
    add_line(page->html, "notice", "", document->notice);
    add_line(page->html, "notice", "This page has no charts: ", document->without_charts);
    return RT_OK;
}

static enum rt_status add_contents(const struct page *page, struct rt_error *error)
{
    (void)error;
    rt_html_add_raw(page->html, "<ol>\n");
    for (const struct rt_chapter *chapter = page->document->chapters; chapter != NULL;
         chapter = chapter->next) {
        rt_html_add_raw(page->html, "<li><a href=\"#");
        rt_html_add(page->html, chapter->id);
        rt_html_add_raw(page->html, "\">");
        rt_html_add(page->html, chapter->heading);
        rt_html_add_raw(page->html, "</a></li>\n");
    }
    rt_html_add_raw(page->html, "</ol>\n");
    return RT_OK;
}

static enum rt_status add_entries(struct rt_text *html, const struct rt_chapter *chapter,
                                  struct rt_error *error)
{
    if (chapter->entries == NULL)
        return RT_OK;
    enum rt_status status = RT_OK;
    rt_html_add_raw(html, "<dl class=\"entries\">\n");
    for (const struct rt_entry *entry = chapter->entries; status == RT_OK && entry != NULL;
         entry = entry->next) {
        rt_html_add_raw(html, "<dt id=\"");
        rt_html_add(html, entry->id);
        rt_html_add_raw(html, "\">");
        rt_html_add(html, entry->term);
        rt_html_add_raw(html, "</dt>\n<dd>\n");
        for (const struct rt_sentence *paragraph = entry->paragraphs; status == RT_OK && paragraph != NULL;
             paragraph = paragraph->next) {
            rt_html_add_raw(html, "<p>");
            status = rt_html_add_sentence(html, paragraph, error);
            rt_html_add_raw(html, "</p>\n");
        }
        rt_html_add_raw(html, "</dd>\n");
    }
    rt_html_add_raw(html, "</dl>\n");
    return status;
}

static enum rt_status add_list(struct rt_text *html, const struct rt_sentence *first, struct rt_error *error)
{
    if (first == NULL)
        return RT_OK;
    enum rt_status status = RT_OK;
    rt_html_add_raw(html, "<ul class=\"points\">\n");
    for (const struct rt_sentence *point = first; status == RT_OK && point != NULL; point = point->next) {
        rt_html_add_raw(html, point->joined ? " " : "<li>");
        status = rt_html_add_sentence(html, point, error);
        if (point->next == NULL || !point->next->joined)
            rt_html_add_raw(html, "</li>\n");
    }
    rt_html_add_raw(html, "</ul>\n");
    return status;
}

static enum rt_status add_lead(struct rt_text *html, const struct rt_sentence *first, struct rt_error *error)
{
    if (first == NULL)
        return RT_OK;
    rt_html_add_raw(html, "<p class=\"lead\">");
    enum rt_status status = rt_html_add_sentences(html, first, error);
    rt_html_add_raw(html, "</p>\n");
    return status;
}

/* What opens a chapter: sentences, main answers, what stands out. */
static enum rt_status add_opening(struct rt_text *html, const struct rt_chapter *chapter,
                                  struct rt_error *error)
{
    enum rt_status status = add_lead(html, chapter->lead, error);
    if (status == RT_OK)
        status = add_list(html, chapter->summary, error);
    if (status == RT_OK)
        status = add_lead(html, chapter->points_lead, error);
    if (status == RT_OK)
        status = add_list(html, chapter->points, error);
    return status;
}

/* place: moved on by one for each block that asks for a chart. */
static enum rt_status add_chapter(const struct page *page, const struct rt_chapter *chapter, size_t **place,
                                  struct rt_error *error)
{
    struct rt_text *html = page->html;
    rt_html_add_raw(html, "<section class=\"chapter\" id=\"");
    rt_html_add(html, chapter->id);
    rt_html_add_raw(html, chapter->reference ? "\" data-cited>\n<h2>" : "\">\n<h2>");
    rt_html_add(html, chapter->heading);
    rt_html_add_raw(html, "</h2>\n");
    enum rt_status status = add_opening(html, chapter, error);
    for (const struct rt_block *block = chapter->blocks; status == RT_OK && block != NULL;
         block = block->next) {
        const bool asks = block->chart != NULL && *place != NULL;
        status = rt_html_add_block(html, block, NULL, asks ? (*place)++ : NULL, error);
    }
    if (status == RT_OK)
        status = add_entries(html, chapter, error);
    rt_html_add_raw(html, "</section>\n");
    return status;
}

static enum rt_status add_chapters(const struct page *page, struct rt_error *error)
{
    enum rt_status status = RT_OK;
    size_t *place = page->places;
    for (const struct rt_chapter *chapter = page->document->chapters; status == RT_OK && chapter != NULL;
         chapter = chapter->next)
        status = add_chapter(page, chapter, &place, error);
    return status;
}

static enum rt_status add_footer(const struct page *page, struct rt_error *error)
{
    (void)error;
    add_line(page->html, "program", "", page->document->footer);
    return RT_OK;
}

static const struct {
    const char *name;
    enum rt_status (*add)(const struct page *page, struct rt_error *error);
} skeleton_slots[] = {
    {"title", add_title_slot},  {"style", add_style},       {"running-head", add_running_head},
    {"masthead", add_masthead}, {"contents", add_contents}, {"chapters", add_chapters},
    {"footer", add_footer},
};

static enum rt_status fill_slot(const struct page *page, const char *name, size_t length,
                                struct rt_error *error)
{
    for (size_t i = 0; i < sizeof skeleton_slots / sizeof skeleton_slots[0]; i++)
        if (strlen(skeleton_slots[i].name) == length && memcmp(skeleton_slots[i].name, name, length) == 0)
            return skeleton_slots[i].add(page, error);
    return rt_fail(error, RT_USE, "reports/page.html has an unknown slot '%.*s'", (int)length, name);
}

enum rt_status rt_render_page(const struct rt_document *document, size_t *places, struct rt_text *html,
                              struct rt_error *error)
{
    const struct page page = {document, places, html};
    const struct rt_resource *skeleton = rt_find_resource("reports/page.html");
    if (skeleton == NULL)
        return rt_fail(error, RT_USE, "reports/page.html is not in the program");
    enum rt_status status = rt_document_status(document, error);
    const char *at = skeleton->bytes;
    while (status == RT_OK && *at != '\0') {
        const char *open = strstr(at, "{{");
        const char *close = open == NULL ? NULL : strstr(open, "}}");
        if (close == NULL) {
            rt_html_add_raw(html, at);
            break;
        }
        rt_text_add_bytes(html, at, (size_t)(open - at));
        status = fill_slot(&page, open + 2, (size_t)(close - open - 2), error);
        at = close + 2;
    }
    return status == RT_OK ? rt_text_status(html, error) : status;
}

enum rt_status rt_place_charts(const struct rt_text *html, const size_t *places,
                               const struct rt_chart *charts, size_t count, struct rt_text *page,
                               struct rt_error *error)
{
    size_t copied = 0;
    for (size_t i = 0; i < count; i++) {
        rt_text_add_bytes(page, html->bytes + copied, places[i] - copied);
        rt_html_add_chart(page, &charts[i]);
        copied = places[i];
    }
    rt_text_add_bytes(page, html->bytes + copied, html->length - copied);
    return rt_text_status(page, error);
}
