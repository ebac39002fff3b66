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
 *  - every <data class="figure"> names one row, its value attribute is the row's cell, its text the cell rounded; in a drawing a
 *    <text> or <tspan> with data-figure names one row, and its text is that cell rounded;
 *  - in a drawing every other digit is the number of an axis (class tick), belongs to a level of the figures (class name), or to
 *    words as they may stand in headings;
 *  - in headings, row and column heads, captions, terms, the contents and the masthead only what page_words.h allows;
 *  - in the footer the program's version and the fingerprint of the records;
 *  - elsewhere no digit, except in cited chapters, definitions, the name of the practice and the filters, rows of cases and of notes
 *    (their head has class name), and words from the records (class name elsewhere): the remark of a row, a description that the
 *    cited chapters repeat, the recall interval, the number of a slide, and what may stand in headings. */
void check_page(const char *page, const char *figures, struct page_report *report);

#endif
