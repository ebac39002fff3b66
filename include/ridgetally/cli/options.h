/*
 * Options shared by the verbs. A verb states its options in a table and gets typed values:
 *
 *     const char *store = NULL;
 *     int from = RT_NO_DATE;
 *     const struct rt_option options[] = {{"--store", RT_OPTION_TEXT, &store}, {"--from", RT_OPTION_DATE,
 * &from}}; struct rt_operands files; status = rt_parse_options(argc, argv, options, 2, 1, RT_MANY, &files,
 * error);
 *
 * Both `--name VALUE` and `--name=VALUE` are read; `--` ends the options; operands and options may be mixed.
 */
#ifndef RIDGETALLY_CLI_OPTIONS_H
#define RIDGETALLY_CLI_OPTIONS_H

#include "ridgetally/base/error.h"
#include "ridgetally/store/store.h"

#include <stddef.h>

enum rt_option_kind {
    RT_OPTION_FLAG,    /* bool, no value on the command line */
    RT_OPTION_TEXT,    /* const char *, not empty; points into argv */
    RT_OPTION_DATE,    /* int day number, YYYY-MM-DD */
    RT_OPTION_INTEGER, /* long */
    RT_OPTION_NUMBER   /* double */
};

struct rt_option {
    const char *name; /* with its dashes */
    enum rt_option_kind kind;
    void *value; /* where the value goes, typed as the kind says; left alone when the option is not given */
};

/* Arguments that are no options: the first count entries of argv[1..], which parsing moves to the front. */
struct rt_operands {
    char **items;
    size_t count;
};

#define RT_MANY ((size_t)-1)

/* Parse argv (argv[0] is the verb). RT_USE, naming the option and `ridgetally VERB --help`, for an unknown
 * option, an option given twice, a missing or wrong value, or fewer than `least` or more than `most`
 * operands. operands may be NULL when most is 0. count is at most 64. */
enum rt_status rt_parse_options(int argc, char **argv, const struct rt_option *options, size_t count,
                                size_t least, size_t most, struct rt_operands *operands,
                                struct rt_error *error);

/* The store a verb works on: the option's value, else RIDGETALLY_STORE, else practice.db. Never NULL. */
const char *rt_store_choice(const char *option);

/* Open that store and tell the user on stderr when opening had to bring it up to date. */
enum rt_status rt_open_chosen_store(const char *option, enum rt_store_access access, struct rt_store **store,
                                    struct rt_error *error);

#endif
