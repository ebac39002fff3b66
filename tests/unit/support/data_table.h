/* Tables of the reference suite for unit tests: CSV with a header, plain cells. */
#ifndef RIDGETALLY_TESTS_DATA_TABLE_H
#define RIDGETALLY_TESTS_DATA_TABLE_H

#include <stddef.h>

/* Column `name` of tests/reference/data/FILE as numbers; fails the test when it is not there. The caller frees it. */
double *data_numbers(const char *file, const char *name, size_t *n);

/* The same column as codes 0, 1, ... in order of first appearance of its text. */
size_t *data_codes(const char *file, const char *name, size_t *n, size_t *levels);

/* n by count + 1 model matrix, row after row: a constant and the named columns. The caller frees it. */
double *data_model(const char *file, const char *const *names, size_t count, size_t *n);

#endif
