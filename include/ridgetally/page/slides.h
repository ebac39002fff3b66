/*
 * A document as slides: one self-contained HTML file, each chapter a slide of 16:9. Its only script is its own, named by its
 * hash in the page's content security policy: it goes from slide to slide by keys and touch. Without scripts the slides are a
 * scroll, the notes below each; in print each is a page.
 */
#ifndef RIDGETALLY_PAGE_SLIDES_H
#define RIDGETALLY_PAGE_SLIDES_H

#include "ridgetally/base/error.h"
#include "ridgetally/base/text.h"
#include "ridgetally/chart/chart.h"
#include "ridgetally/figure/document.h"

/* Render the document. charts as for rt_render_page. RT_USE when a wording has a slot that nothing fills; RT_MEMORY. */
enum rt_status rt_render_slides(const struct rt_document *document, const struct rt_chart *charts,
                                struct rt_text *html, struct rt_error *error);

#endif
