/* The parts of the verb `deck`; private to it. */
#ifndef RIDGETALLY_SRC_CLI_DECK_PARTS_H
#define RIDGETALLY_SRC_CLI_DECK_PARTS_H

#include "ridgetally/audit/filter.h"
#include "ridgetally/base/text.h"
#include "ridgetally/figure/audit_info.h"
#include "ridgetally/output/deck_rows.h"
#include "ridgetally/store/store.h"

/* The filters as conditions of cells (output/disclosure.h). RT_USE for a filter that a deck does not take: one patient's
 * tooth, age or day, or several values of a fact at once. */
enum rt_status deck_conditions(const struct rt_audit_filters *filters, struct rt_text *conditions,
                               struct rt_error *error);

/* The filters in words that may be shown. */
void deck_filter_words(const struct rt_audit_filters *filters, bool show_operators, bool show_lines,
                       struct rt_text *words);

/* Add the cells of all issued decks. */
enum rt_status load_issued_cells(struct rt_store *store, struct rt_deck_rows *rows, struct rt_error *error);

/* Add the letters that earlier decks gave. */
enum rt_status load_deck_letters(struct rt_store *store, struct rt_deck_rows *rows, struct rt_error *error);

/* Keep the cells and the letters of the settled deck in the store. */
enum rt_status record_issued_deck(struct rt_store *store, const struct rt_audit_info *info,
                                  const struct rt_deck_rows *rows, struct rt_error *error);

#endif
