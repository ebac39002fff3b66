/*
 * The verb `quarter`: the usual quarterly run.
 */
#ifndef RIDGETALLY_CLI_QUARTER_H
#define RIDGETALLY_CLI_QUARTER_H

#include "ridgetally/base/error.h"
#include "ridgetally/cli/filters.h"

/* What --help prints. */
#define RT_QUARTER_HELP                                                                                      \
    "Usage: ridgetally quarter FILE... [--store FILE] [--period 2026Q3 | --from DATE --to DATE] [--out "     \
    "DIR]\n       [FILTERS]\n\n"                                                                             \
    "The usual quarterly run: loads the files as `load` does, counts the doubts, writes the audit as "       \
    "`audit`\n"                                                                                              \
    "does, and ends in three lines: what was loaded, what to mend first, where the report is.\n\n"           \
    "  --store FILE   default practice.db, or RIDGETALLY_STORE\n"                                            \
    "  --period Q     one quarter; default: the last one complete before the latest record\n"                \
    "  --from, --to   first and last day of any other period, both in\n"                                     \
    "  --out DIR      where to write; default audit-PERIOD in the working folder (audit-PERIOD-part with "   \
    "filters)\n\n" RT_FILTER_HELP "The audit of a part is not kept in the store.\n\n"                        \
    "Exit code 1 when rows were refused. When a file cannot be read, no audit is written.\n"

/* The verb; argv[0] is "quarter". */
enum rt_status rt_quarter_verb(int argc, char **argv, struct rt_error *error);

#endif
