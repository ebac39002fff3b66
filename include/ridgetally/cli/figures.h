/*
 * `ridgetally figures`: the figure rows as CSV or JSON, and the catalogue of measures.
 */
#ifndef RIDGETALLY_CLI_FIGURES_H
#define RIDGETALLY_CLI_FIGURES_H

#include "ridgetally/audit/period.h"
#include "ridgetally/base/error.h"
#include "ridgetally/cli/filters.h"
#include "ridgetally/store/store.h"

/* What --help prints. */
#define RT_FIGURES_HELP                                                                                      \
    "Usage: ridgetally figures [--store FILE] [--as csv|json] [--period 2026Q3 | --from DATE --to DATE]\n"   \
    "       [--without-resampling] [FILTERS]\n"                                                              \
    "       ridgetally figures --catalogue\n\n"                                                              \
    "Prints every figure of the audit, one row each, without writing anything. Without dates: everything "   \
    "up "                                                                                                    \
    "to\n"                                                                                                   \
    "the latest record. The output is internal: it has not been made safe for outsiders.\n\n"                \
    "  --as FORM       csv (default) or json\n"                                                              \
    "  --period Q      one quarter, such as 2026Q3\n"                                                        \
    "  --from, --to    first and last day, both in; without --from, from the earliest record; without "      \
    "--to, to\n"                                                                                             \
    "                  the latest\n"                                                                         \
    "  --without-resampling\n"                                                                               \
    "                  for a quick look: leave out what is made by drawing the cases again and again:\n"     \
    "                  limits of a rule's knee with its verdict, charts of failures whose limits no\n"       \
    "                  recorded audit has frozen, survival of one implant of each patient\n"                 \
    "  --catalogue     print what each measure is instead: label, unit, formula, source\n"                   \
    "  --store FILE    default practice.db, or RIDGETALLY_STORE\n\n" RT_FILTER_HELP                          \
    "Which part the rows are of is then told on standard error.\n"

/* Run the verb; argv[0] is "figures". */
enum rt_status rt_figures_verb(int argc, char **argv, struct rt_error *error);

/* The period of a call: the quarter named, or from and to (RT_NO_DATE: not given), or all the records. RT_USE for a
 * text that is no quarter or a period that ends before it begins; RT_INPUT when the store has no dated records. */
enum rt_status rt_choose_period(struct rt_store *store, const char *quarter, int from, int to,
                                struct rt_period *period, struct rt_error *error);

#endif
