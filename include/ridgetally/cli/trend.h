/*
 * The verb `trend`: one operator over time.
 */
#ifndef RIDGETALLY_CLI_TREND_H
#define RIDGETALLY_CLI_TREND_H

#include "ridgetally/base/error.h"
#include "ridgetally/cli/filters.h"
#include "ridgetally/cli/open_page.h"

#define RT_TREND_HELP                                                                                        \
    "Usage: ridgetally trend --operator LABEL [--store FILE] [--period 2026Q3 | --from DATE --to DATE]\n"    \
    "       [--out DIR] [--open] [FILTERS]\n\n"                                                              \
    "Writes one operator over time: DIR/trend.html (one file, opens offline, prints) and DIR/figures.csv\n"  \
    "(every number in it), and prints the path of the page. Case mix comes first, then what the charts\n"    \
    "signalled and how often they signal by chance, depth, torque, early failures against those expected,\n" \
    "crest, learning, and the operator beside the others. No single case is named.\n\n"                      \
    "  --operator L   whose trend, by the label in the records\n"                                            \
    "  --store FILE   default practice.db, or RIDGETALLY_STORE\n"                                            \
    "  --period Q     one quarter, such as 2026Q3; default: the last one complete before the latest "        \
    "record\n"                                                                                               \
    "  --from, --to   first and last day of any other period, both in; records after --to are ignored\n"     \
    "  --out DIR      where to write; default trend in the working folder\n" RT_OPEN_HELP                    \
    "\n" RT_FILTER_HELP                                                                                      \
    "The expected failures are those frozen by the first recorded audit; before one they are fitted anew "   \
    "each\n"                                                                                                 \
    "time. When gnuplot is missing or fails, the page is written without charts and the exit code is 4.\n"

/* The verb; argv[0] is "trend". RT_USE, listing the operators there are, for one who is not in the records. */
enum rt_status rt_trend_verb(int argc, char **argv, struct rt_error *error);

#endif
