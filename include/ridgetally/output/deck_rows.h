/*
 * Which figures a study-club deck may show. Each slide rests on figure rows; each row on a group of patients and, if it
 * counts an event, on those with and those without it. These groups are the cells that disclosure.h protects, together
 * with the cells of every deck issued before. A row is shown only when all its cells are: its value, interval, counts and
 * sentence go together.
 *
 *     struct rt_deck_rows deck = {.figures = &figures, .first_day = ..., ...};
 *     rt_add_deck_slide(&deck, "depth-bias", 0, error);
 *     rt_add_issued_cell(&deck, 1, key, patients, count, shown, error);  (each count of each earlier deck)
 *     rt_settle_deck(&deck, error);                                      (fills deck.shown)
 *     rt_release_deck_rows(&deck);
 */
#ifndef RIDGETALLY_OUTPUT_DECK_ROWS_H
#define RIDGETALLY_OUTPUT_DECK_ROWS_H

#include "ridgetally/base/arena.h"
#include "ridgetally/base/error.h"
#include "ridgetally/base/sha256.h"
#include "ridgetally/base/text.h"
#include "ridgetally/figure/figure.h"

#include <stdbool.h>
#include <stddef.h>

enum { RT_DECK_THRESHOLD = 5 }; /* a count of 1 to one less than this is never shown nor left to be found */

struct rt_cell; /* output/disclosure.h */

/* One row that a slide wants. */
struct rt_deck_row {
    const char *slide;
    const struct rt_figure *figure;
    size_t group, outcome; /* places among the cells; outcome RT_NO_CELL: none */
    bool shown;
    const char *why; /* not shown: why, in words */
};

#define RT_NO_CELL ((size_t)-1)

/* Which letter stands for an operator or an implant line: the place in the alphabet, by a hash of the label. */
struct rt_deck_letter {
    bool line; /* else an operator */
    char label_hash[RT_SHA256_HEX];
    size_t place;
    bool earlier; /* given by an earlier deck */
};

struct rt_deck_rows {
    /* given */
    const struct rt_figure_list *figures; /* borrowed */
    int first_day, last_day;              /* of the period */
    const char *conditions; /* of the filters: `smoking=never`, sorted, joined with &; "" = none */
    const char *salt;       /* of the store: orders the letters, and hashes their labels */
    bool show_operators, show_lines;
    bool unprotected; /* for tests of the attack only: withhold nothing but small counts */
    /* made */
    struct rt_deck_row *rows;
    size_t row_count, row_capacity;
    struct rt_cell *cells; /* those of earlier decks first */
    size_t cell_count, cell_capacity;
    struct rt_deck_letter *letters; /* those of earlier decks first */
    size_t letter_count, letter_capacity;
    struct rt_figure_list shown; /* rows that are shown, without labels, counts due and remarks */
    struct rt_arena text;
};

/* True when a slide of that name shows figures. */
bool rt_is_deck_finding(const char *slide);

/* Add the rows of a slide; RT_USE when there is no such slide. A slide without rows in the figures adds none. */
enum rt_status rt_add_deck_slide(struct rt_deck_rows *deck, const char *slide, struct rt_error *error);

/* Add one count of an issued deck (its number, from 1): key, patients and count as rt_write_issued_cells gave them. RT_STORE when
 * the key is none of ours. */
enum rt_status rt_add_issued_cell(struct rt_deck_rows *deck, long issued, const char *key, long patients,
                                  long count, bool shown, struct rt_error *error);

/* Add a letter that an earlier deck gave: kind `operator` or `line`, as rt_write_deck_letters gave it. */
enum rt_status rt_add_deck_letter(struct rt_deck_rows *deck, const char *kind, const char *label_hash,
                                  size_t place, struct rt_error *error);

/* Hand each letter that the settled deck gave anew to take, which returns RT_OK to go on. */
enum rt_status rt_write_deck_letters(const struct rt_deck_rows *deck,
                                     enum rt_status (*take)(void *context, const char *kind,
                                                            const char *label_hash, size_t place,
                                                            struct rt_error *error),
                                     void *context, struct rt_error *error);

/* Settle what is shown and fill deck->shown. RT_INPUT, naming a slide, when a small group could be worked out from decks issued
 * before whatever is withheld. */
enum rt_status rt_settle_deck(struct rt_deck_rows *deck, struct rt_error *error);

/* The headline row of a slide among the shown ones; NULL when it is withheld or there is none. */
bool rt_deck_slide_shown(const struct rt_deck_rows *deck, const char *slide);

/* How many rows of the slide are kept back. */
size_t rt_deck_withheld_count(const struct rt_deck_rows *deck, const char *slide);

/* Hand each count of the new deck's cells to take, which returns RT_OK to go on. */
enum rt_status rt_write_issued_cells(const struct rt_deck_rows *deck,
                                     enum rt_status (*take)(void *context, const char *key, long patients,
                                                            long count, bool shown, struct rt_error *error),
                                     void *context, struct rt_error *error);

/* What was kept back and why, with its true counts, as CSV. Not for showing. */
void rt_withheld_to_csv(const struct rt_deck_rows *deck, struct rt_text *csv);

void rt_release_deck_rows(struct rt_deck_rows *deck);

#endif
