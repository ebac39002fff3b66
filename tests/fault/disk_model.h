/* The recording and the disk made of it; shared by disk.c and disk_model.c. */
#ifndef RIDGETALLY_TESTS_FAULT_DISK_MODEL_H
#define RIDGETALLY_TESTS_FAULT_DISK_MODEL_H

#include "disk.h"

enum operation_kind { FILE_WRITE, FILE_TRUNCATE, FILE_SYNC, NAME_MADE, NAME_GONE, NAME_CHANGED, FOLDER_SYNC };

/* file: its number; names are those within the folder. */
struct operation {
    enum operation_kind kind;
    int file;
    char name[64], other[64];
    size_t at, length; /* FILE_TRUNCATE: at is the new size */
    unsigned char *bytes;
};

/* The file a name stands for now, or -1; -1 also when the path is not in the watched folder. */
int model_file(const char *path);

bool model_watches(const char *path);

void model_record(enum operation_kind kind, int file, const char *path, const char *other, size_t at,
                  const void *bytes, size_t length);

/* A new file under this name. Returns its number. */
int model_make(const char *path);

#endif
