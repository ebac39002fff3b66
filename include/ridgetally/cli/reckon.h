/*
 * `ridgetally reckon METHOD [options] FILE`: every statistic of the engine on any CSV.
 *
 * How to add a method
 * 1. Write src/cli/reckon/NAME.c (hyphens in the name become underscores) with
 *
 *        static const struct rt_reckon_option options[] = {
 *            {"--value", RT_OPTION_NUMBERS_COLUMN, true, NULL, "column of numbers"},
 *            {"--width", RT_OPTION_NUMBER, false, "3", "limits at +- this many sigma"},
 *            RT_RECKON_BY, RT_RECKON_CLUSTER, RT_RECKON_LEVELS, RT_RECKON_END};
 *
 *        static enum rt_status run(struct rt_reckon *r, struct rt_error *error) { ... }
 *
 *        const struct rt_reckon_method rt_reckon_NAME = {"name", "one line", "quantities", "notes", options,
 * run};
 *
 * 2. Add RT_METHOD(NAME) to include/ridgetally/cli/reckon_methods.h, in the place of the method's comment.
 *
 * Before run() is called the frame has checked the options against the table (unknown, missing, malformed),
 * read the file, found every column named by an option, and left out the rows in which one of those columns
 * is empty (counted on stderr). All accessors below speak of the r->n rows that remain, numbered 0..n-1; n
 * may be 0. What they hand out lives until run() returns: nothing is freed by the method. Scratch memory of
 * the same life: rt_reckon_array. run() computes with src/stats, then writes rows with rt_reckon_row in a
 * fixed order. A quantity that is not defined keeps its row: value NaN and the reason in words. Only a wrong
 * call or bad input is an error.
 *
 * A call that names no column (all its options are numbers) needs no FILE; then n is 0.
 *
 * Cells are printed by the frame; a method never uses stdout or stderr.
 */
#ifndef RIDGETALLY_CLI_RECKON_H
#define RIDGETALLY_CLI_RECKON_H

#include "ridgetally/base/arena.h"
#include "ridgetally/base/error.h"
#include "ridgetally/cli/table.h"
#include "ridgetally/stats/estimate.h"

#include <math.h>
#include <stdbool.h>
#include <stddef.h>

/* --- options ------------------------------------------------------------------------------------------- */

enum rt_option_kind {
    RT_OPTION_END = 0,
    RT_OPTION_FLAG,               /* given or not */
    RT_OPTION_NUMBER,             /* one number */
    RT_OPTION_POSITIVE,           /* one number above 0 */
    RT_OPTION_SHARE,              /* one number strictly between 0 and 1 */
    RT_OPTION_COUNT,              /* one whole number, 0 or more */
    RT_OPTION_NUMBER_LIST,        /* a,b,c */
    RT_OPTION_CHOICE,             /* one of the words in `choices` */
    RT_OPTION_WORDS,              /* a,b,c; a comma inside a word is written \, */
    RT_OPTION_NUMBERS_COLUMN,     /* a column of numbers: rt_reckon_numbers */
    RT_OPTION_EVENTS_COLUMN,      /* a column of 0 and 1: rt_reckon_events */
    RT_OPTION_CATEGORY_COLUMN,    /* a column of categories: rt_reckon_category */
    RT_OPTION_TEXT_COLUMN,        /* a column the method reads itself: rt_reckon_cells */
    RT_OPTION_NUMBERS_COLUMNS,    /* a,b,c columns of numbers (a model's --numbers) */
    RT_OPTION_CATEGORIES_COLUMNS, /* a,b,c columns of categories (--categories, --by) */
    RT_OPTION_NUMBER_OR_COLUMN /* a number for all rows, or a column: rt_reckon_numbers; no file, one row */
};

struct rt_reckon_option {
    const char *name; /* with its dashes */
    enum rt_option_kind kind;
    bool required;
    const char *fallback; /* what counts when the option is not given, as text; NULL: nothing */
    const char *help;
    const char *choices; /* RT_OPTION_CHOICE: "first|second|third" */
};

/* Options many methods share. --levels takes "a,b,c" when the call has one category column, "COLUMN=a,b,c"
 * (may be repeated) when it has several; the first level named is the reference. */
#define RT_RECKON_BY                                                                                         \
    {                                                                                                        \
        "--by", RT_OPTION_CATEGORIES_COLUMNS, false, NULL, "compute apart for each level of these columns",  \
            NULL                                                                                             \
    }
#define RT_RECKON_CLUSTER                                                                                    \
    {                                                                                                        \
        "--cluster", RT_OPTION_TEXT_COLUMN, false, NULL, "rows with the same entry here belong together",    \
            NULL                                                                                             \
    }
#define RT_RECKON_LEVELS                                                                                     \
    {                                                                                                        \
        "--levels", RT_OPTION_WORDS, false, NULL, "order of the levels, the first is the reference", NULL    \
    }
#define RT_RECKON_END                                                                                        \
    {                                                                                                        \
        NULL, RT_OPTION_END, false, NULL, NULL, NULL                                                         \
    }

struct rt_reckon_value; /* an option as given; private to the frame */
struct rt_reckon_notes; /* reasons and left-out rows gathered for stderr; private to the frame */

struct rt_reckon {
    const struct rt_reckon_method *method;
    const char *file;            /* as shown in errors */
    size_t n;                    /* rows with every needed cell */
    struct rt_clusters clusters; /* of the n rows; of == NULL without --cluster */
    struct rt_table table;       /* all rows as text; `rows` maps ours to the table's */
    size_t *rows;
    struct rt_reckon_value *values;
    size_t value_count, value_capacity;
    struct rt_text output;
    struct rt_reckon_notes *notes;
    struct rt_arena arena;
};

struct rt_reckon_method {
    const char *name;
    const char *summary;                    /* one line */
    const char *quantities;                 /* names of the quantities written */
    const char *notes;                      /* formula, source, conventions; may be NULL; lines end in \n */
    const struct rt_reckon_option *options; /* ends with RT_RECKON_END */
    enum rt_status (*run)(struct rt_reckon *r, struct rt_error *error);
};

/* Was the option given on the command line (a fallback does not count)? */
bool rt_reckon_given(const struct rt_reckon *r, const char *option);

/* Text of the option or of its fallback; NULL when neither is there. */
const char *rt_reckon_text(const struct rt_reckon *r, const char *option);

/* Value of a number option or of its fallback; NaN when neither is there. */
double rt_reckon_number(const struct rt_reckon *r, const char *option);

/* Numbers of a list option in the order given; *count 0 when not given. NULL only when memory ran out. */
const double *rt_reckon_number_list(struct rt_reckon *r, const char *option, size_t *count,
                                    struct rt_error *error);

/* Words of a list option in the order given; *count 0 when not given. NULL only when memory ran out. */
const char *const *rt_reckon_words(struct rt_reckon *r, const char *option, size_t *count,
                                   struct rt_error *error);

/* --- columns ------------------------------------------------------------------------------------------- */

/* n numbers of the column an option names. A cell that is not a number is RT_INPUT with file, line and
 * column. *values is NULL when the option was not given. RT_OPTION_NUMBER_OR_COLUMN: the number n times, or
 * the column. */
enum rt_status rt_reckon_numbers(struct rt_reckon *r, const char *option, double **values,
                                 struct rt_error *error);

/* As rt_reckon_numbers for a column by name (one of a RT_OPTION_NUMBERS_COLUMNS list). */
enum rt_status rt_reckon_number_column(struct rt_reckon *r, const char *column, double **values,
                                       struct rt_error *error);

/* n numbers of which some may be limits reached (`>70`, `>=70`, `70+`), of a RT_OPTION_TEXT_COLUMN. *capped[i] says
 * which; it is NULL when none is. Anything else is RT_INPUT. *values is NULL when the option was not given. */
enum rt_status rt_reckon_capped_numbers(struct rt_reckon *r, const char *option, double **values,
                                        bool **capped, struct rt_error *error);

/* n events, 0 or 1; anything else is RT_INPUT with file, line and column. *events is NULL when not given. */
enum rt_status rt_reckon_events(struct rt_reckon *r, const char *option, int **events,
                                struct rt_error *error);

/* n whole numbers >= 0 (counts); anything else is RT_INPUT. *counts is NULL when not given. */
enum rt_status rt_reckon_counts(struct rt_reckon *r, const char *option, double **counts,
                                struct rt_error *error);

/* n cells as text. *cells is NULL when the option was not given. */
enum rt_status rt_reckon_cells(struct rt_reckon *r, const char *option, const char ***cells,
                               struct rt_error *error);

/* Fail with the file, line, column and text of a cell: "... : remedy". row is one of ours. Returns RT_INPUT.
 */
enum rt_status rt_reckon_fail_cell(struct rt_reckon *r, size_t row, const char *column, const char *what,
                                   const char *remedy, struct rt_error *error);

/* A column of categories: codes into its levels in order (numeric when all are numbers, else by bytes; or as
 * --levels says, where a level without rows stays). */
struct rt_reckon_category {
    const char *column;
    size_t level_count;
    const char **levels;  /* as in the file */
    const char **names;   /* the same, escaped for the group cell */
    const double *scores; /* the levels as numbers; NULL when one of them is not a number */
    size_t *codes;        /* n */
    size_t *counts;       /* rows per level */
};

/* The category of the column an option names; column NULL when not given. A level that --levels does not name
 * is RT_INPUT. */
enum rt_status rt_reckon_category(struct rt_reckon *r, const char *option,
                                  struct rt_reckon_category *category, struct rt_error *error);

/* As rt_reckon_category for a column by name. */
enum rt_status rt_reckon_category_column(struct rt_reckon *r, const char *column,
                                         struct rt_reckon_category *category, struct rt_error *error);

/* Two columns rated on one scale: both get the same levels. */
enum rt_status rt_reckon_category_pair(struct rt_reckon *r, const char *option_a, const char *option_b,
                                       struct rt_reckon_category *a, struct rt_reckon_category *b,
                                       struct rt_error *error);

/* Codes of the rows by their text in a RT_OPTION_TEXT_COLUMN, as r->clusters has those of --cluster; of == NULL when
 * the option was not given. */
enum rt_status rt_reckon_clusters(struct rt_reckon *r, const char *option, struct rt_clusters *clusters,
                                  struct rt_error *error);

/* --- groups of rows ------------------------------------------------------------------------------------ */

/* Rows that are computed apart. */
struct rt_reckon_group {
    const char *name;            /* escaped levels joined with |; "" when the option was not given */
    size_t *rows;                /* ascending */
    size_t count;                /* may be 0 for a level named by --levels */
    struct rt_clusters clusters; /* of those rows, codes 0..count-1 afresh; of == NULL without --cluster */
};

/* The groups of an option (--by), in the order of their levels; combinations of several columns that occur.
 * Without the option one group of all rows. */
enum rt_status rt_reckon_groups(struct rt_reckon *r, const char *option, struct rt_reckon_group **groups,
                                size_t *count, struct rt_error *error);

/* values[group.rows[i]] for i in 0..count-1. NULL when values is NULL or memory ran out. */
double *rt_reckon_pick(struct rt_reckon *r, const double *values, const struct rt_reckon_group *group);
bool *rt_reckon_pick_flags(struct rt_reckon *r, const bool *flags, const struct rt_reckon_group *group);
int *rt_reckon_pick_events(struct rt_reckon *r, const int *events, const struct rt_reckon_group *group);
size_t *rt_reckon_pick_codes(struct rt_reckon *r, const size_t *codes, const struct rt_reckon_group *group);

/* --- model terms --------------------------------------------------------------------------------------- */

/* A design matrix from --numbers, --categories and --products: intercept (if wanted), the numbers, the
 * categories without their first level, then the products of terms of the columns each product joins with " x
 * ". */
struct rt_reckon_design {
    size_t n, p;
    double *x;          /* n by p, row after row */
    const char **terms; /* p names: intercept, column, category=level, joined with " x "; escaped */
    size_t *product;    /* p: 0 for a term of one column, k for a term of the k-th product */
};

/* Options that are not given are empty. A product of a column that is in neither list is RT_USE. */
enum rt_status rt_reckon_design(struct rt_reckon *r, bool intercept, struct rt_reckon_design *design,
                                struct rt_error *error);

/* --- output -------------------------------------------------------------------------------------------- */

/* Add a row `quantity,group,at,value`. group NULL or "" and at NaN are empty cells. value NaN or infinite is
 * an empty cell, and reason goes to stderr, once per quantity and reason. quantity, group and reason must be
 * static or live as long as r. */
void rt_reckon_row(struct rt_reckon *r, const char *quantity, const char *group, double at, double value,
                   const char *reason);

/* Three rows: NAME, NAME_lower and NAME_upper of an estimate, `at` empty. */
void rt_reckon_interval(struct rt_reckon *r, const char *name, const char *group,
                        const struct rt_estimate *estimate);

/* text with | = and \ escaped by a backslash; "" when memory ran out (the output then fails). */
const char *rt_reckon_escape(struct rt_reckon *r, const char *text);

/* a|b of parts that are escaped already. */
const char *rt_reckon_join(struct rt_reckon *r, const char *a, const char *b);

/* category=level, both escaped. */
const char *rt_reckon_term(struct rt_reckon *r, const char *category, const char *level);

/* A remark for stderr: `ridgetally: FILE: ...`. */
void rt_reckon_remark(struct rt_reckon *r, const char *format, ...) RT_PRINTF(2, 3);

/* count zeroed elements of size bytes that live until run() returns; NULL with the error filled. */
void *rt_reckon_array(struct rt_reckon *r, size_t count, size_t size, struct rt_error *error);

/* --- the verb ------------------------------------------------------------------------------------------ */

/* All methods in the order of the manual. */
const struct rt_reckon_method *const *rt_reckon_methods(size_t *count);

/* Run the verb; argv[0] is "reckon". */
enum rt_status rt_reckon_verb(int argc, char **argv, struct rt_error *error);

#endif
