/*
 * Writing the practice audit into a folder: the verb `audit`, and what `quarter` and `demo` share with it.
 */
#ifndef RIDGETALLY_CLI_AUDIT_H
#define RIDGETALLY_CLI_AUDIT_H

#include "ridgetally/audit/filter.h"
#include "ridgetally/audit/period.h"
#include "ridgetally/base/error.h"
#include "ridgetally/cli/filters.h"
#include "ridgetally/cli/open_page.h"
#include "ridgetally/store/store.h"

#include <stdbool.h>

#define RT_WITHOUT_CASES_HELP                                                                                \
    "  --without-cases  leave out the lists at the end of the page that name cases\n"

/* What --help prints. */
#define RT_AUDIT_HELP                                                                                        \
    "Usage: ridgetally audit [--store FILE] [--period 2026Q3 | --from DATE --to DATE] [--out DIR]\n"         \
    "       [--strict] [--without-cases] [--open] [FILTERS]\n\n"                                             \
    "Writes the practice audit: DIR/audit.html (one file, opens offline, prints) and DIR/figures.csv "       \
    "(every\n"                                                                                               \
    "number in it), and prints the path of the page. The figures are kept in the store, so that the next\n"  \
    "audit can tell what changed.\n\n"                                                                       \
    "  --store FILE   default practice.db, or RIDGETALLY_STORE\n"                                            \
    "  --period Q     one quarter, such as 2026Q3; default: the last one complete before the latest "        \
    "record\n"                                                                                               \
    "  --from, --to   first and last day of any other period, both in; records after --to are ignored\n"     \
    "  --out DIR      where to write; default audit-PERIOD in the working folder (audit-PERIOD-part with "   \
    "filters)\n"                                                                                             \
    "  --strict       exit code 1 when a yardstick is not met\n" RT_WITHOUT_CASES_HELP RT_OPEN_HELP          \
    "\n" RT_FILTER_HELP                                                                                      \
    "The page says which part it is of; an audit of a part is not kept in the store.\n\n"                    \
    "When gnuplot is missing or fails, the page is written without charts and the exit code is 4.\n"

/* What was written. The caller frees the paths, also after a failure. */
struct rt_written_audit {
    char *page;    /* FOLDER/audit.html */
    char *figures; /* FOLDER/figures.csv */
    long missed;   /* yardsticks that are not met */
};

/* RT_PARTIAL saying how many yardsticks are not met; RT_OK when none is. */
enum rt_status rt_strictly(const struct rt_written_audit *written, struct rt_error *error);

/* Compute the audit of the period, of all records or (filters not NULL) of a part, write audit.html and figures.csv
 * into folder (NULL: audit-PERIOD in the working folder, or audit-PERIOD-part; made with mode 0700 where missing;
 * files 0600, each whole or not at all), with or without the lists that name cases, and keep the figures in the
 * store, those of a part excepted.
 * The store must be open for writing. Never reads the clock.
 *
 * When gnuplot is missing or fails, the page is written without charts and says why; the status is then
 * RT_SYSTEM, the paths are set, and error tells. On any other failure the paths are NULL. */
enum rt_status rt_write_audit(struct rt_store *store, const struct rt_period *period,
                              const struct rt_audit_filters *filters, bool with_cases, const char *folder,
                              struct rt_written_audit *written, struct rt_error *error);

void rt_release_written_audit(struct rt_written_audit *written);

/* The verb; argv[0] is "audit". */
enum rt_status rt_audit_verb(int argc, char **argv, struct rt_error *error);

#endif
