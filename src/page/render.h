/* Parts of the renderer, private to the page layer. */
#ifndef RIDGETALLY_SRC_PAGE_RENDER_H
#define RIDGETALLY_SRC_PAGE_RENDER_H

#include "ridgetally/base/error.h"
#include "ridgetally/base/text.h"
#include "ridgetally/chart/chart.h"
#include "ridgetally/figure/document.h"

/* Add a label, name or date from data: escaped, and marked as not being a figure. */
void rt_html_add_name(struct rt_text *html, const char *text);

/* Add a sentence with its slots filled. RT_USE when a slot is not filled or names no part. */
enum rt_status rt_html_add_sentence(struct rt_text *html, const struct rt_sentence *sentence,
                                    struct rt_error *error);

/* Add a list of sentences with a space between them. */
enum rt_status rt_html_add_sentences(struct rt_text *html, const struct rt_sentence *first,
                                     struct rt_error *error);

/* Add a table; id is unique in the page. Long tables are folded on screen and whole in print. */
enum rt_status rt_html_add_table(struct rt_text *html, const struct rt_table *table, const char *id,
                                 struct rt_error *error);

/* Add a finding. chart: its drawn chart or NULL. place (may be NULL) receives how long html is where a chart would stand. */
enum rt_status rt_html_add_block(struct rt_text *html, const struct rt_block *block,
                                 const struct rt_chart *chart, size_t *place, struct rt_error *error);

/* Add a chart, or why there is none. */
void rt_html_add_chart(struct rt_text *html, const struct rt_chart *chart);

#endif
