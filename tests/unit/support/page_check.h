/*
 * Checks of a page against the figures it was made from, written without the code that made it: every number
 * in the page must be an element that names a row of the figures CSV, and show that row's cell, rounded.
 */
#ifndef RIDGETALLY_TESTS_PAGE_CHECK_H
#define RIDGETALLY_TESTS_PAGE_CHECK_H

#include <stdio.h>

struct page_report {
    long numbers; /* elements checked */
    long faults;  /* what is wrong, each printed to `stream` */
    FILE *stream;
};

/* Checks, of the HTML text `page` and the CSV text `figures`:
 *  - elements nest and end in order, ids are unique, links to #id have their target, headings skip no level;
 *  - every <data class="figure"> names one row, its value attribute is the row's cell, its text the cell
 * rounded;
 *  - no digit stands in text elsewhere, except in headings, row and column heads, captions, terms, charts,
 * cited chapters, and elements marked as name or definition, the masthead and the footer. */
void check_page(const char *page, const char *figures, struct page_report *report);

#endif
