/*
 * A document and its figures as two files of a folder: what `audit` and `trend` share.
 */
#ifndef RIDGETALLY_CLI_PAGE_FILES_H
#define RIDGETALLY_CLI_PAGE_FILES_H

#include "ridgetally/base/error.h"
#include "ridgetally/base/text.h"
#include "ridgetally/chart/chart.h"
#include "ridgetally/figure/document.h"
#include "ridgetally/figure/figure.h"

/* Start from zero; release with rt_release_page_files also after a failure. */
struct rt_page_files {
    struct rt_gnuplot *gnuplot; /* waiting for charts, or NULL */
    struct rt_chart_request *requests;
    struct rt_chart *charts;
    size_t chart_count;
    struct rt_text page, csv;
};

/* Have gnuplot started while the figures are worked out. Without this call it is started when the charts are there. */
void rt_expect_charts(struct rt_page_files *files);

/* Draw the document's charts, render the page and the figures. When gnuplot is missing or fails, the page is rendered
 * without charts and says so; drawing then holds the failure, and the status is RT_OK. The charts are drawn in a second thread;
 * meanwhile (may be NULL) is called with its context by this one until they are there, whatever becomes of them. It must not
 * change figures. */
enum rt_status rt_compose_page(struct rt_document *document, const struct rt_figure_list *figures,
                               struct rt_page_files *files, void (*meanwhile)(void *context), void *context,
                               struct rt_error *drawing, struct rt_error *error);

/* Write them as FOLDER/NAME and FOLDER/figures.csv (folder made with mode 0700 where missing; files 0600, each whole or
 * not at all). *page and *csv receive the paths, which the caller frees, also after a failure. */
enum rt_status rt_write_page_files(const struct rt_page_files *files, const char *folder, const char *name,
                                   char **page, char **csv, struct rt_error *error);

void rt_release_page_files(struct rt_page_files *files);

#endif
