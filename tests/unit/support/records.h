/* A store in a folder of its own, and files to load into it: for the tests of store and intake. */
#ifndef RIDGETALLY_TESTS_SUPPORT_RECORDS_H
#define RIDGETALLY_TESTS_SUPPORT_RECORDS_H

#include "ridgetally/intake/load.h"
#include "ridgetally/store/store.h"

struct bench {
    char folder[64];
    char store_path[96];
    struct rt_store *store;
    bool free_text;               /* load_text takes it */
    struct rt_load_report report; /* of the last file loaded */
    struct rt_error error;        /* of the last call */
};

/* cmocka setup and teardown: a new store, open for writing; *state is a struct bench. */
int open_bench(void **state);
int close_bench(void **state);

/* Write text to folder/name and give the path, valid until the next call. */
const char *put_file(struct bench *bench, const char *name, const char *text);

/* Write and load a file; the report is kept in bench->report. */
enum rt_status load_text(struct bench *bench, const char *name, const char *text);

/* All rows of a constant query: cells joined with |, rows ended by a newline. Valid until the next call but three. */
const char *rows_of(struct bench *bench, const char *sql);

/* Everything the tables of records hold, for comparing two states (batches and settings left out). */
char *dump_records(struct bench *bench);

#endif
