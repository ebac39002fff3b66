/*
 * Loading files into the store.
 *
 * Files are taken in the order implants, followups, events. Each is one transaction and one batch. A row
 * enters when all its cells can be read and the implant or patient it names is known; otherwise it is
 * refused, waits as a doubt and is tried again when the implant arrives. A known key with other values is a
 * correction: only columns the file has are touched, and every changed field is kept in history.
 * Contradictions between records never refuse a row, because either side may be wrong: they become doubts
 * that name the figures they keep the case out of. After each file all checks under sql/checks/ are run over
 * the whole store, so that doubts do not depend on the order of loading; a doubt whose ground is gone is
 * marked mended.
 */
#ifndef RIDGETALLY_INTAKE_LOAD_H
#define RIDGETALLY_INTAKE_LOAD_H

#include "ridgetally/base/text.h"
#include "ridgetally/intake/dialect.h"
#include "ridgetally/intake/form.h"
#include "ridgetally/intake/map.h"
#include "ridgetally/intake/pseudonym.h"
#include "ridgetally/store/store.h"

#include <stdbool.h>
#include <stdint.h>

enum { RT_MOST_DETAILS = 10 }; /* lines of detail kept per file */

/* What became of one file. */
struct rt_load_report {
    const char *path;       /* as told */
    const char *bytes_path; /* where its bytes are read from, while it is loaded: a pipe is copied first */
    enum rt_record_kind kind;
    bool whole;
    struct rt_dialect dialect; /* how the file was read */
    struct rt_map *map;        /* it was read through; NULL = native file */
    char *map_text;            /* as kept in the store */
    int64_t map_batch;         /* the batch the map was taken from; 0 = a map file */
    int64_t batch;
    int64_t same_as_batch; /* an earlier batch in force with the same bytes; 0 = none */
    long rows_read, rows_new, rows_changed, rows_unchanged, rows_refused;
    long rows_gone; /* records that this sheet, said to be all of them, does not have; they stay, as doubts */
    long rows_back; /* records gone from an earlier sheet that this one has */
    long rows_mended;     /* rows refused earlier that are in now, or were replaced by a corrected row */
    long doubts_raised;   /* new with this file */
    long doubts_mended;   /* gone with this file */
    long details;         /* corrections and refusals, of which the first RT_MOST_DETAILS are in words */
    struct rt_text words; /* one line each: line number, column, what; never a case label */
    struct rt_text
        warnings;       /* one line each: columns that identify people, doubts about the file as a whole */
    long text_left_out; /* cells of free text not taken, because they may name people */
    bool sheet_watched; /* its columns were looked at with an earlier kind of the same sheet */
    struct rt_text unknown_columns; /* comma-separated names the form does not have */
};

struct rt_load_options {
    bool kind_given; /* else guessed from each header */
    enum rt_record_kind kind;
    struct rt_dialect dialect; /* what is not to be detected */
    bool whole;           /* each file is all of the records of its kind; two files of one kind are RT_USE */
    const char *map_path; /* a map for all files; NULL = one kept in the store that fits the header, if any */
    const struct rt_pseudonym_key
        *key;       /* patients enter under codes of this key (pseudonym.h); NULL = as labelled */
    bool free_text; /* take free text too (else only short codes; the others are left out and counted) */
    bool dry_run;   /* do everything, then roll it all back */
};

/* Load count files; a pipe, or - for standard input, is read to its end first. A file read through a map gives one
 * batch for each kind it feeds, so reports needs room for count * RT_RECORD_KINDS; reports[i] (zero-initialised by
 * the caller, released with rt_release_load_report) receives what became of the i-th file or part in the order they
 * were taken, *done how many were. RT_PARTIAL when rows were refused; RT_INPUT for a file that cannot be read at all
 * (nothing of it is loaded; files taken before it are). */
enum rt_status rt_load_files(struct rt_store *store, const char *const *paths, size_t count,
                             const struct rt_load_options *options, struct rt_load_report *reports,
                             size_t *done, struct rt_error *error);

void rt_release_load_report(struct rt_load_report *report);

/* How a file with native headers is written, and its kind (unless kind_given). RT_INPUT with words when the header is none
 * of the three, or path is a pipe. */
enum rt_status rt_look_at_file(const char *path, const struct rt_load_options *options,
                               struct rt_dialect *dialect, enum rt_record_kind *kind, struct rt_error *error);

/* Take a batch in force back out; it stays listed as undone. Of the latest batch: records, doubts and refused rows
 * are exactly as before it. Of an earlier one: the records are as if it had never been loaded, and the checks settle
 * the doubts, which keep their numbers; rows refused since keep the reason they were refused for. Audits recorded
 * since it was loaded are marked restated. RT_USE, naming what is in the way, when it does not exist, when a later
 * batch in force changed, held or added to rows it brought or changed, or when a doubt it raised or mended, or about
 * its rows, was answered since. */
enum rt_status rt_undo_batch(struct rt_store *store, int64_t batch, struct rt_error *error);

#endif
