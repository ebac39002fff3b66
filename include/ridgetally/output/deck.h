/*
 * A study-club deck as a document: a chapter is a slide. Every number in it is a row of rt_deck_rows.shown.
 * A finding is a block: the sentence, its n, its chart, its caution; what the presenter may say is the chapter's summary.
 */
#ifndef RIDGETALLY_OUTPUT_DECK_H
#define RIDGETALLY_OUTPUT_DECK_H

#include "ridgetally/figure/audit_info.h"
#include "ridgetally/figure/document.h"
#include "ridgetally/output/deck_rows.h"
#include "ridgetally/output/slide_list.h"

struct rt_deck_subject {
    const struct rt_audit_info *info;
    const char *filters; /* in words, fit to be shown; "" = all records */
    const struct rt_deck_rows *rows;
    const struct rt_slide_list *slides;
};

/* Build the document, which the caller releases, also after a failure. Slides without a shown headline are left out.
 * RT_INPUT, with file and line, when a slide that the presenter named cannot be shown; RT_USE when a wording is
 * missing; RT_MEMORY. */
enum rt_status rt_plan_deck(const struct rt_deck_subject *subject, const char *slide_file,
                            struct rt_document *document, struct rt_error *error);

#endif
