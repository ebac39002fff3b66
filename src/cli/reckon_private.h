/*
 * What the files of the reckon frame share; methods use reckon.h only.
 */
#ifndef RIDGETALLY_CLI_RECKON_PRIVATE_H
#define RIDGETALLY_CLI_RECKON_PRIVATE_H

#include "ridgetally/cli/reckon.h"

/* An option as given on the command line. */
struct rt_reckon_value {
    const struct rt_reckon_option *option;
    const char *text;
};

/* One reason for undefined quantities. */
struct rt_reckon_note {
    const char *quantity;
    const char *reason;
    const char *first_group;
    double first_at;
    size_t count;
};

struct rt_reckon_notes {
    struct rt_reckon_note *notes;
    size_t count, capacity;
    struct rt_text remarks; /* printed before the reasons */
    bool failed;
};

/* reckon_options.c */
const struct rt_reckon_option *rt_find_option(const struct rt_reckon_method *method, const char *name);
bool rt_option_names_columns(enum rt_option_kind kind);
enum rt_status rt_parse_reckon_options(struct rt_reckon *r, int argc, char **argv, const char **path,
                                       struct rt_error *error);
const char *const *rt_split_words(struct rt_reckon *r, const char *text, size_t *count,
                                  struct rt_error *error);

/* reckon_columns.c: find the columns and the rows that have every needed cell. */
enum rt_status rt_select_rows(struct rt_reckon *r, struct rt_error *error);

/* reckon_levels.c: texts to codes in order of first appearance. distinct holds *level_count pointers into
 * texts. */
enum rt_status rt_code_texts(struct rt_reckon *r, const char *const *texts, size_t n, size_t *codes,
                             const char ***distinct, size_t *level_count, struct rt_error *error);

/* reckon_levels.c: does every --levels speak of a category column of this call? */
enum rt_status rt_check_levels(struct rt_reckon *r, struct rt_error *error);

/* reckon_output.c */
enum rt_status rt_finish_output(struct rt_reckon *r, struct rt_error *error);

#endif
