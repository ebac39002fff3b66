/*
 * The verb `demo`: the invented practice through the whole program.
 */
#ifndef RIDGETALLY_CLI_DEMO_H
#define RIDGETALLY_CLI_DEMO_H

#include "ridgetally/base/error.h"

/* What --help prints. */
#define RT_DEMO_HELP                                                                                         \
    "Usage: ridgetally demo [--out DIR]\n\n"                                                                 \
    "Writes the three record files of an invented practice into DIR, loads them into a store there, and\n"   \
    "writes the list of doubts, what is due, the practice audit, and in folders of their own a study-club\n" \
    "deck and the trend of one operator. The last line printed is the path of the audit.\n\n"                \
    "  --out DIR  default ridgetally-demo; it must be new or empty, or hold an earlier demo: what that "     \
    "made\n"                                                                                                 \
    "             is removed, and nothing else\n"

/* The verb; argv[0] is "demo". */
enum rt_status rt_demo_verb(int argc, char **argv, struct rt_error *error);

#endif
