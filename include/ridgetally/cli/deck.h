/*
 * The verb `deck`: a study-club deck from which no small group of patients can be worked out.
 */
#ifndef RIDGETALLY_CLI_DECK_H
#define RIDGETALLY_CLI_DECK_H

#include "ridgetally/base/error.h"
#include "ridgetally/cli/filters.h"

/* What --help prints. */
#define RT_DECK_HELP                                                                                         \
    "Usage: ridgetally deck [--store FILE] [--period 2026Q3 | --from DATE --to DATE] [--out DIR]\n"          \
    "       [--slides FILE] [--show-operators] [--show-lines] [--open] [FILTERS]\n\n"                        \
    "Writes DIR/deck.html (slides in one file: keys, touch, print to PDF), DIR/figures.csv (the numbers in " \
    "it)\n"                                                                                                  \
    "and DIR/charts (SVG, and PNG where rsvg-convert is installed). Groups of 1 to 4 patients are kept "     \
    "back,\n"                                                                                                \
    "and what would give them away by subtraction, also from decks issued before; what was kept back is "    \
    "in\n"                                                                                                   \
    "DIR-withheld.csv, which is for the practice alone.\n"                                                   \
    "  --slides FILE      which slides, one name a line; `text: TITLE` and indented lines are one of your "  \
    "own\n"                                                                                                  \
    "  --show-operators   operators by their labels, not by letters\n"                                       \
    "  --show-lines       implant lines by their names, not by letters\n"                                    \
    "  --open             show the deck in the browser named by BROWSER, else by xdg-open\n" RT_FILTER_HELP  \
    "A deck takes one value of a fact, and no tooth, age or day of placement.\n"

/* The verb; argv[0] is "deck". */
enum rt_status rt_deck_verb(int argc, char **argv, struct rt_error *error);

#endif
