/*
 * The verbs that keep the records: new, match, load, doubts, undo, forget, setting, verify, backup.
 */
#ifndef RIDGETALLY_CLI_RECORDS_H
#define RIDGETALLY_CLI_RECORDS_H

#include "ridgetally/base/error.h"
#include "ridgetally/base/text.h"
#include "ridgetally/intake/load.h"

extern const char rt_new_help[], rt_load_help[], rt_doubts_help[], rt_undo_help[], rt_verify_help[],
    rt_backup_help[], rt_setting_help[], rt_forget_help[], rt_match_help[];

enum rt_status rt_new_verb(int argc, char **argv, struct rt_error *error);
enum rt_status rt_match_verb(int argc, char **argv, struct rt_error *error);
enum rt_status rt_load_verb(int argc, char **argv, struct rt_error *error);
enum rt_status rt_doubts_verb(int argc, char **argv, struct rt_error *error);
enum rt_status rt_undo_verb(int argc, char **argv, struct rt_error *error);
enum rt_status rt_setting_verb(int argc, char **argv, struct rt_error *error);
enum rt_status rt_verify_verb(int argc, char **argv, struct rt_error *error);
enum rt_status rt_backup_verb(int argc, char **argv, struct rt_error *error);
enum rt_status rt_forget_verb(int argc, char **argv, struct rt_error *error);

/* What the options of load and match state about how a file is written; NULL and 0 = nothing. */
struct rt_written {
    const char *sheet, *encoding, *separator, *decimal;
    long header_line;
};

/* These words as a dialect; RT_USE, naming the option and the verb's help, for a word that is none. */
enum rt_status rt_read_written(const char *verb, const struct rt_written *written, struct rt_dialect *dialect,
                               struct rt_error *error);

/* RT_USE: option is one of words, not given. */
enum rt_status rt_fail_word(const char *verb, const char *option, const char *words, const char *given,
                            struct rt_error *error);

/* What became of a loaded file, as `load` prints it; case labels do not appear. */
void rt_print_load_report(const struct rt_load_report *report, bool dry_run, struct rt_text *text);

/* The doubts that are neither mended nor left as is, as CSV, as `doubts --as csv` prints them. */
enum rt_status rt_doubts_to_csv(struct rt_store *store, struct rt_text *text, struct rt_error *error);

/* How many doubts are neither mended nor left as is. */
enum rt_status rt_count_doubts(struct rt_store *store, long *count, struct rt_error *error);

#endif
