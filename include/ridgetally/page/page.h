/*
 * Documents into HTML: one self-contained file with inline style and inline SVG, no script, nothing fetched.
 */
#ifndef RIDGETALLY_PAGE_PAGE_H
#define RIDGETALLY_PAGE_PAGE_H

#include "ridgetally/base/error.h"
#include "ridgetally/base/text.h"
#include "ridgetally/chart/chart.h"
#include "ridgetally/figure/document.h"

#include <stddef.h>

/* Render the document, its charts left out. places: receives where in html each belongs, in the order of rt_document_charts,
 * document->chart_count of them; NULL for a page without charts (document->without_charts says why). RT_USE when a wording has a
 * slot that nothing fills; RT_MEMORY. */
enum rt_status rt_render_page(const struct rt_document *document, size_t *places, struct rt_text *html,
                              struct rt_error *error);

/* Add the rendered page with its drawn charts in their places to page. Apart from rendering, so that the page can be rendered while
 * they are drawn. RT_MEMORY. */
enum rt_status rt_place_charts(const struct rt_text *html, const size_t *places,
                               const struct rt_chart *charts, size_t count, struct rt_text *page,
                               struct rt_error *error);

#endif
