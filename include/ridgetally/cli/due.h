/*
 * `ridgetally due`: recalls and cases to look at, under their labels.
 */
#ifndef RIDGETALLY_CLI_DUE_H
#define RIDGETALLY_CLI_DUE_H

#include "ridgetally/base/error.h"
#include "ridgetally/cli/filters.h"
#include "ridgetally/cli/open_page.h"
#include "ridgetally/store/store.h"

/* What --help prints. */
#define RT_DUE_HELP                                                                                          \
    "Usage: ridgetally due [--store FILE] [--as-of DATE] [--out DIR [--open] | --as csv] [FILTERS]\n"        \
    "                      [--reveal SHEET [--key FILE]]\n\n"                                                \
    "Lists recalls overdue, films missing after placement, implants past the healing period that are not\n"  \
    "loaded, implants to look at (bone loss beyond a threshold of a published case definition, low torque\n" \
    "not loaded) and contradictory records. Writes DIR/due.html and DIR/due.csv, and prints the path of "    \
    "the\n"                                                                                                  \
    "page. A selection of records, never a diagnosis; nothing in it asks for a radiograph.\n\n"              \
    "  --as-of DATE    what is due on that day, from records up to it; default: the day of the latest "      \
    "record\n"                                                                                               \
    "  --out DIR       where to write; default due-DATE in the working folder\n"                             \
    "  --as csv        print the list as CSV instead\n"                                                      \
    "  --reveal SHEET  where patients stand under keyed codes: show the labels of this sheet, joined in "    \
    "memory\n"                                                                                               \
    "  --key FILE      the key the codes were made with; default RIDGETALLY_KEY\n"                           \
    "  --open          show the page in the browser named by BROWSER, else by xdg-open\n"                    \
    "  --store FILE    default practice.db, or RIDGETALLY_STORE\n\n" RT_FILTER_HELP                          \
    "The list holds case labels: keep it inside the practice.\n"

/* Write due.html, due.csv and due-figures.csv of the day of the latest record into folder. */
enum rt_status rt_write_due(struct rt_store *store, const char *folder, struct rt_error *error);

/* The verb; argv[0] is "due". */
enum rt_status rt_due_verb(int argc, char **argv, struct rt_error *error);

#endif
