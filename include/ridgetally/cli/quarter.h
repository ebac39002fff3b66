/*
 * The verb `quarter`: the usual quarterly run.
 */
#ifndef RIDGETALLY_CLI_QUARTER_H
#define RIDGETALLY_CLI_QUARTER_H

#include "ridgetally/base/error.h"

/* What --help prints. */
extern const char rt_quarter_help[];

/* The verb; argv[0] is "quarter". */
enum rt_status rt_quarter_verb(int argc, char **argv, struct rt_error *error);

#endif
