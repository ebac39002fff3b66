/*
 * The options of loading, which `load` and `quarter` share.
 */
#ifndef RIDGETALLY_CLI_LOAD_OPTIONS_H
#define RIDGETALLY_CLI_LOAD_OPTIONS_H

#include "ridgetally/cli/options.h"
#include "ridgetally/cli/records.h"

enum { RT_LOAD_OPTIONS = 11 };

/* What they say; zero-initialise. load.key points to key, so a struct with a chosen key is not to be moved. */
struct rt_load_choices {
    const char *kind, *key_path;
    bool pseudonym;
    struct rt_written written;
    struct rt_pseudonym_key key;
    struct rt_load_options load;
};

/* Their lines of --help. */
#define RT_LOAD_OPTIONS_HELP                                                                                 \
    "  --kind KIND   what the files hold, when the header does not tell\n"                                   \
    "  --whole       each file is all of the records of its kind, not a part: records it does not have are " \
    "told and\n"                                                                                             \
    "                listed among the doubts until they are back; nothing is ever deleted\n"                 \
    "  --map MAP     how the columns of a sheet of your own become ours; `ridgetally match` drafts one. It " \
    "is kept,\n"                                                                                             \
    "                and later sheets with this header load without it\n"                                    \
    "  --text        take free text too (the cause of an event); else only short codes such as bone-loss, "  \
    "for text may\n"                                                                                         \
    "                name people. What is left out is counted\n"                                             \
    "Patients can enter under codes that only a key can make: the same patient has the same code in every "  \
    "load.\n"                                                                                                \
    "  --pseudonym   replace patient labels by codes; once a store holds codes, every load needs its key\n"  \
    "  --key FILE    the key, made when missing; else RIDGETALLY_KEY. Keep it apart from the store\n"        \
    "How a file is written is detected in its first megabyte and told; state what is detected wrongly:\n"    \
    "  --sheet NAME           the sheet of an .xlsx workbook that has several\n"                             \
    "  --encoding ENCODING    utf-8, utf-16le, utf-16be or windows-1252\n"                                   \
    "  --separator SEPARATOR  comma, semicolon, tab or bar\n"                                                \
    "  --decimal MARK         comma or point; never guessed from numbers such as 1,234\n"                    \
    "  --header-line N        the line with the column names; else sought in the first 20\n"

/* The rows of an option table that fill choices. */
void rt_load_option_table(struct rt_load_choices *choices, struct rt_option options[RT_LOAD_OPTIONS]);

/* Once the options are parsed: the words of kind and dialect. RT_USE, naming option and verb, for a word that is none. */
enum rt_status rt_read_load_choices(const char *verb, struct rt_load_choices *choices,
                                    struct rt_error *error);

/* Once the store is open: the key, when patients are to enter under codes or stand under codes already (cli/key.h). */
enum rt_status rt_choose_load_key(struct rt_store *store, struct rt_load_choices *choices,
                                  struct rt_error *error);

#endif
