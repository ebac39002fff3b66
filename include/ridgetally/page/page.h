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

/* Render the document. charts: the drawn charts in the order of rt_document_charts, document->chart_count of
 * them, or NULL for a page without charts (document->without_charts says why). RT_USE when a wording has a
 * slot that nothing fills; RT_MEMORY. */
enum rt_status rt_render_page(const struct rt_document *document, const struct rt_chart *charts,
                              struct rt_text *html, struct rt_error *error);

#endif
