#include "render.h"
#include "ridgetally/page/escape.h"

#include <stdio.h>
#include <string.h>

static void add_heading(struct rt_text *html, const struct rt_block *block)
{
    if (block->heading[0] == '\0')
        return;
    rt_html_add_raw(html, "<h3>");
    rt_html_add(html, block->heading);
    rt_html_add_raw(html, "</h3>\n");
}

static enum rt_status add_paragraph(struct rt_text *html, const char *class_name,
                                    const struct rt_sentence *sentences, struct rt_error *error)
{
    if (sentences == NULL)
        return RT_OK;
    rt_text_format(html, "<p class=\"%s\">", class_name);
    enum rt_status status = rt_html_add_sentences(html, sentences, error);
    rt_html_add_raw(html, "</p>\n");
    return status;
}

/* Height by width of a drawing, from its viewBox; 0 when it has none. */
static double tallness(const char *svg)
{
    double width = 0.0, height = 0.0;
    const char *box = strstr(svg, "viewBox=\"0 0 ");
    if (box == NULL || sscanf(box + strlen("viewBox=\"0 0 "), "%lf %lf", &width, &height) != 2 ||
        width <= 0.0)
        return 0.0;
    return height / width;
}

/* In print the narrow drawing stands in one of two columns, unless the wide one across both takes less of the sheet. */
static bool prints_across(const struct rt_chart *chart)
{
    const double tallest = 1.7; /* of a drawing in a column: half a sheet */
    double narrow = tallness(chart->narrow);
    return narrow > tallest || narrow > 4.0 * tallness(chart->wide);
}

void rt_html_add_chart(struct rt_text *html, const struct rt_chart *chart)
{
    if (chart->wide == NULL || chart->narrow == NULL) {
        rt_html_add_raw(html, "<p class=\"no-chart\">No chart: ");
        rt_html_add(html, chart->reason == NULL ? "there is nothing to draw" : chart->reason);
        rt_html_add_raw(html, ".</p>\n");
        return;
    }
    rt_html_add_raw(html, prints_across(chart) ? "<figure class=\"chart across\">\n"
                                               : "<figure class=\"chart\">\n");
    rt_html_add_raw(html, "<div class=\"wide\">");
    rt_html_add_raw(html, chart->wide);
    rt_html_add_raw(html, "</div>\n<div class=\"narrow\">");
    rt_html_add_raw(html, chart->narrow);
    rt_html_add_raw(html, "</div>\n</figure>\n");
}

static enum rt_status add_tables(struct rt_text *html, const struct rt_block *block, struct rt_error *error)
{
    enum rt_status status = RT_OK;
    int number = 0;
    struct rt_text id = {0};
    for (const struct rt_table *table = block->tables; status == RT_OK && table != NULL;
         table = table->next) {
        if (table->row_count == 0)
            continue;
        rt_text_clear(&id);
        rt_text_format(&id, "%s-table-%d", block->id, ++number);
        status = rt_text_status(&id, error);
        if (status == RT_OK)
            status = rt_html_add_table(html, table, id.bytes, error);
    }
    rt_text_release(&id);
    return status;
}

static enum rt_status add_method(struct rt_text *html, const struct rt_block *block, struct rt_error *error)
{
    if (block->method == NULL)
        return RT_OK;
    rt_html_add_raw(html, "<p class=\"method\"><span class=\"kind\">How:</span> ");
    enum rt_status status = rt_html_add_sentence(html, block->method, error);
    if (block->method_id[0] != '\0') {
        rt_html_add_raw(html, " <a href=\"#");
        rt_html_add(html, block->method_id);
        rt_html_add_raw(html, "\">Method note</a>");
    }
    rt_html_add_raw(html, "</p>\n");
    return status;
}

static enum rt_status add_caution(struct rt_text *html, const struct rt_block *block, struct rt_error *error)
{
    if (block->caution == NULL)
        return RT_OK;
    rt_html_add_raw(html, "<p class=\"caution\"><span class=\"kind\">Caution:</span> ");
    enum rt_status status = rt_html_add_sentence(html, block->caution, error);
    rt_html_add_raw(html, "</p>\n");
    return status;
}

enum rt_status rt_html_add_block(struct rt_text *html, const struct rt_block *block,
                                 const struct rt_chart *chart, size_t *place, struct rt_error *error)
{
    rt_html_add_raw(html, "<section class=\"finding\" id=\"");
    rt_html_add(html, block->id);
    rt_html_add_raw(html, "\">\n<div class=\"together\">\n");
    add_heading(html, block);
    enum rt_status status = add_paragraph(html, "answer", block->answers, error);
    if (status == RT_OK)
        status = add_paragraph(html, "remark", block->remarks, error);
    if (place != NULL)
        *place = html->length;
    if (chart != NULL)
        rt_html_add_chart(html, chart);
    rt_html_add_raw(html, "</div>\n");
    if (status == RT_OK)
        status = add_tables(html, block, error);
    if (status == RT_OK)
        status = add_method(html, block, error);
    if (status == RT_OK)
        status = add_caution(html, block, error);
    rt_html_add_raw(html, "</section>\n");
    return status;
}
