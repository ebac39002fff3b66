/* Inside of intake, shared by its own files only: the state of loading one file. */
#ifndef RIDGETALLY_SRC_INTAKE_LOADER_H
#define RIDGETALLY_SRC_INTAKE_LOADER_H

#include "mapping.h"

#include "ridgetally/base/sha256.h"
#include "ridgetally/intake/cell.h"
#include "ridgetally/intake/load.h"
#include "ridgetally/intake/reader.h"
#include "ridgetally/store/query.h"

/* A growing set of row ids, one bit each. */
struct id_set {
    unsigned char *bits;
    size_t capacity;
};

bool id_set_has(const struct id_set *set, int64_t id);
enum rt_status id_set_add(struct id_set *set, int64_t id, struct rt_error *error);

/* The store's columns of a form, id columns left out. */
struct columns {
    const char *names[RT_MOST_COLUMNS];
    const struct rt_field *fields[RT_MOST_COLUMNS];
    size_t of_field[RT_MOST_FIELDS]; /* first column of a field */
    size_t count;
};

/* Where a statement of a writer takes its values: parameter numbers, 0 where it has no such parameter. Every row binds them,
 * so they are looked up once. */
struct places {
    int columns[RT_MOST_COLUMNS];
    int patient_id, implant_id, label;
    int calibration, levels[2];
    int batch_id, source_batch_id, source_line, id;
};

/* Statements that write one form's table. */
struct writer {
    const struct rt_form *form;
    struct columns columns;
    struct rt_query *insert, *select, *update;
    struct places insert_at, select_at, update_at;
    size_t imaged_length, raw_levels[2]; /* columns that calibrated levels are made of; follow-ups only */
    size_t length;                       /* of an implant, in the same way; implants only */
    struct id_set seen;                  /* rows this file has brought already */
};

/* One row of a file, typed. */
struct record {
    const char *cells[RT_MOST_FIELDS]; /* as typed; NULL where the file has no such column */
    const char *patient;
    const char *implant; /* "" for a whole patient */
    char made_label[16]; /* TOOTH@DATE */
    struct rt_value values[RT_MOST_COLUMNS];
    bool present[RT_MOST_COLUMNS];  /* the file has the column */
    int64_t patient_id, implant_id; /* owners in the store; 0 = none */
    double length_mm;               /* of the implant, for calibration */
    int64_t source_batch;
    long line;
};

enum outcome { OUTCOME_NEW, OUTCOME_CHANGED, OUTCOME_UNCHANGED, OUTCOME_REFUSED };

enum { MOST_FAULTS = 12 };

struct faults {
    struct rt_cell_fault items[MOST_FAULTS];
    size_t count;
    bool try_again; /* only the implant or patient is not known yet */
};

/* A row that was read and typed, with room for its cells. Many wait side by side: faults, which take more room than all else and
 * which few rows have, lie elsewhere. */
struct typed_row {
    struct record record;          /* cells and values lie in bytes, or are constants */
    bool faulty;                   /* has faults, which are then there */
    struct faults *faults;         /* NULL until a row in this place had any */
    char code[RT_PSEUDONYM_BYTES]; /* of the row's patient */
    double bytes_read;             /* of the file so far; 0 = not known */
    char *bytes;
    size_t capacity;
};

struct loader {
    struct rt_store *store;
    struct mapping *mapping; /* NULL: a native file */
    struct rt_load_report *report;
    enum rt_record_kind kind;
    const struct rt_load_options *options;
    int64_t batch;
    struct rt_progress *progress;
    struct rt_text doing; /* in words, for progress */
    double bytes;         /* of the file; NaN = not known */
    /* of reading: with a second thread, its own until that has ended, as are mapping and what the report tells of columns and
     * of text left out */
    struct watch *watch; /* watch.c */
    bool header_read;
    size_t cell_of_field[RT_MOST_FIELDS]; /* column of the file, SIZE_MAX = not there */
    size_t cells_in_header;
    struct writer writers[RT_RECORD_KINDS];
    struct rt_query *find_patient, *find_family, *add_patient, *find_implant, *add_history;
    struct rt_query *near_patient, *near_implant; /* NULL until an unknown label is met */
    char *salt;
    bool patients_new; /* the patient met last in a sheet of implants was not in the store */
    bool any_waiting;  /* there are refused rows that a row of this file might mend */
    struct rt_query *find_refused, *add_refused, *reopen_refused, *find_by_key, *find_by_implant,
        *find_refused_implant;
    struct rt_query *add_doubt;
    struct rt_query *spare;     /* whole.c; NULL unless the sheet is all of the records */
    struct id_set refused_seen; /* refused rows this file has brought again */
    struct id_set replaced;     /* refused rows whose key was accepted */
    struct owners *owners;      /* owners_met.c; not its own */
};

/* header.c: map the header; RT_INPUT when it is not one of this kind. */
enum rt_status read_header(struct loader *loader, const char *path, const struct rt_row *row,
                           struct rt_error *error);

/* header.c: whether a field's cells are numbers, which have a decimal mark. */
bool holds_numbers(const struct rt_field *field);

/* identify.c: what the name of a column, or one cell, looks like. The order is that of telling. */
enum looks {
    LOOKS_PLAIN,
    LOOKS_MAIL,
    LOOKS_NUMBER, /* a national or insurance number */
    LOOKS_BIRTH,
    LOOKS_PHONE,
    LOOKS_ADDRESS,
    LOOKS_NAME,
    LOOKS
};
enum looks header_looks_like(const char *header);
enum looks cell_looks_like(const char *cell);
/* A date with its day, in any order; *year (may be NULL) receives its year. */
bool cell_is_full_date(const char *cell, int *year);
/* A cell of a free text field that is a code: one word of at most 24 letters, digits and - _ . / +, at most 4 of them
 * digits. */
bool is_short_code(const char *cell);

/* meaning.c: lower case ASCII of Latin letters; everything else is a space. */
void fold_text(const char *text, char *out, size_t size);

/* watch.c: columns that identify people. watch_row takes the header first, then rows before anything is done to their cells;
 * tell_watched adds a warning a column to the report. */
enum rt_status watch_row(struct loader *loader, const struct rt_row *row, struct rt_error *error);
enum rt_status tell_watched(struct loader *loader, struct rt_error *error);
void release_watch(struct watch *watch);

/* spool.c: where the bytes of a file are read from. A pipe, or - for standard input, is copied into a file without a
 * name; close it, with the error that is to name what the caller named. */
struct spool {
    int descriptor;
    const char *path, *shown; /* to open; to tell */
    char own_path[32];
};
enum rt_status open_spool(const char *path, struct spool *spool, struct rt_error *error);
void close_spool(struct spool *spool, struct rt_error *error);

/* foreign.c: how a file is to be read: dialect, kinds, and the text of its map (NULL = native; the caller frees it). */
struct file_plan {
    struct rt_dialect dialect;
    char *map_text;
    int64_t map_batch;
    bool kinds[RT_RECORD_KINDS];
};
enum rt_status plan_file(struct rt_store *store, const char *path, const struct rt_load_options *options,
                         struct file_plan *plan, struct rt_error *error);
/* Give a report its own copy of the plan's map. */
enum rt_status take_plan(struct rt_load_report *report, const struct file_plan *plan, struct rt_error *error);

/* typed_row.c: a native row as the values it stands for, before anyone looks into the store; the header must have been read. The
 * cells are copied, so that the row outlives its reading. RT_MEMORY. */
enum rt_status type_row(struct loader *loader, const struct rt_row *row, struct typed_row *typed,
                        struct rt_error *error);
void release_typed_row(struct typed_row *typed); /* what it holds, not itself */

/* ahead.c: read the loader's file and hand every row, typed, to settle in their order. In a large file a second thread reads and
 * types the rows to come meanwhile; it touches nothing of the loader but what reading needs, and never the store. sha256
 * receives the hash of the file; *rows how many rows the file has, header aside. A failure of settle ends it. */
typedef enum rt_status (*settle_function)(struct loader *loader, struct typed_row *row,
                                          struct rt_error *error);
enum rt_status read_ahead(struct loader *loader, settle_function settle, char sha256[RT_SHA256_HEX],
                          long *rows, struct rt_error *error);

/* record.c: cells to values; faults say what is wrong. value_of: the value of a column of the store, NULL when the form
 * has none of that name. */
const struct rt_value *value_of(const struct writer *writer, const struct record *record, const char *column);
void read_record(const struct writer *writer, struct record *record, struct faults *faults);
void add_fault(struct faults *faults, const char *column, const char *reason, const char *remedy);

/* writer.c: statements, and writing a record whose owners are known. */
enum rt_status open_writer(struct loader *loader, enum rt_record_kind kind, struct rt_error *error);
void close_writer(struct writer *writer);
enum rt_status write_record(struct loader *loader, struct writer *writer, struct record *record,
                            bool overwrite, enum outcome *outcome, struct faults *faults,
                            struct rt_error *error);
void bind_value(struct rt_query *query, int position, const struct rt_value *value);

/* owners_met.c: owners met lately in one call of load, file after file. renew_owners, when a file's transaction has begun, forgets
 * all if another program has written the store since the file before. met_: 0 = was not met, or not lately. forget_implant: its
 * row may have another length now. new_owners: NULL = no memory. */
struct owners *new_owners(void);
void release_owners(struct owners *owners);
enum rt_status renew_owners(struct owners *owners, struct rt_store *store, struct rt_error *error);
int64_t met_patient(const struct owners *owners, const char *label);
void keep_patient(struct owners *owners, const char *label, int64_t id);
int64_t met_implant(const struct owners *owners, int64_t patient_id, const char *label, double *length_mm);
void keep_implant(struct owners *owners, int64_t patient_id, const char *label, int64_t id, double length_mm);
void forget_implant(struct owners *owners, int64_t patient_id, const char *label);
bool can_keep(const char *label); /* the others are too long */

/* owner.c: the patient and implant a record belongs to; and, of a row of an implant that was just written, what rows of other
 * sheets will ask for. */
void note_implant(struct loader *loader, const struct record *record, enum outcome outcome);
enum rt_status find_owners(struct loader *loader, enum rt_record_kind kind, struct record *record,
                           struct faults *faults, struct rt_error *error);

/* refuse.c: rows that cannot enter, and their later return. */
enum rt_status open_refusals(struct loader *loader, struct rt_error *error);
void close_refusals(struct loader *loader);
enum rt_status refuse_record(struct loader *loader, const struct record *record, const struct faults *faults,
                             struct rt_error *error);
/* Whether the implant's own row is among those refused. */
enum rt_status was_refused(struct loader *loader, const struct record *record, bool *refused,
                           struct rt_error *error);
enum rt_status note_accepted(struct loader *loader, const struct record *record, struct rt_error *error);
enum rt_status try_again(struct loader *loader, const char *patient, const char *implant,
                         struct rt_error *error);
enum rt_status settle_refusals(struct loader *loader, struct rt_error *error);

/* seal.c: hashes of what is not kept, and text sealed under it. */
void hash_parts(const char *salt, const char *const *parts, size_t count, char hex[RT_SHA256_HEX]);
void hash_patient(const char *salt, const char *label,
                  char hex[RT_SHA256_HEX]); /* finds a patient's refused rows */
void seal_text(const char *key_hex, const char *text, struct rt_text *out);
bool unseal_text(const char *key_hex, const char *sealed, struct rt_text *out);

/* What a batch has changed, as a set: the checks that read none of it need not run again. */
enum {
    RT_TOUCHED_PATIENTS = 1,
    RT_TOUCHED_IMPLANTS = 2,
    RT_TOUCHED_READINGS = 4,
    RT_TOUCHED_EVENTS = 8,
    RT_TOUCHED_ALL = 15
};

/* check.c: bring the doubts up to date with the records that were touched; with none touched, only look which refused rows
 * still wait. */
enum rt_status refresh_doubts(struct rt_store *store, int64_t batch, unsigned touched, long *raised,
                              long *mended, struct rt_error *error);

/* forget_map.c: the text of a map without a patient's label: a constant, or a code, of the patient; words of comments. */
enum rt_status strike_map(const char *text, const char *label, struct rt_text *out, bool *found,
                          struct rt_error *error);

/* history of one changed field. */
enum rt_status add_history(struct loader *loader, const char *table, int64_t row, const char *column,
                           const struct rt_value *old_value, const struct rt_value *new_value,
                           struct rt_error *error);

/* whole.c: the rows the file held; with report->whole, the records gone from it. spare_refused: the records a refused row
 * may stand for are not gone. settle_gone: after the last row, before the doubts. */
enum rt_status open_whole(struct loader *loader, struct rt_error *error);
enum rt_status spare_refused(struct loader *loader, const struct record *record, struct rt_error *error);
enum rt_status settle_gone(struct loader *loader, struct rt_error *error);

/* report.c: one line of detail. */
void add_detail(struct rt_load_report *report, long line, const char *column, const char *words,
                const char *remedy);

/* The doubts about the file as a whole that this batch raised, in words. */
enum rt_status add_warnings(struct rt_store *store, struct rt_load_report *report, struct rt_error *error);

/* Bring the calibrated levels up to date where this batch changed a length, an imaged length or a raw level.
 */
enum rt_status recalibrate(struct rt_store *store, int64_t batch, struct rt_error *error);

#endif
