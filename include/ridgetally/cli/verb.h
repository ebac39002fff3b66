/*
 * The verbs of the program, in one table: name, help, function.
 */
#ifndef RIDGETALLY_CLI_VERB_H
#define RIDGETALLY_CLI_VERB_H

#include "ridgetally/base/error.h"

#include <stddef.h>

struct rt_verb {
    const char *name;
    const char *summary; /* one line, for the list of verbs */
    const char *help;    /* what --help prints below the summary; NULL: the verb answers --help itself */
    /* Run the verb. argv[0] is the verb itself. Returns the status; error holds the words. */
    enum rt_status (*run)(int argc, char **argv, struct rt_error *error);
};

/* All verbs in the order they are listed; *count receives how many. */
const struct rt_verb *rt_verbs(size_t *count);

/* The whole program: find the verb, run it, print the error. Returns the exit code. */
int rt_main(int argc, char **argv);

#endif
