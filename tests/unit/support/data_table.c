#include "data_table.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { MAX_ROWS = 6000, CELL = 40, LINE = 1000 };

/* Cell number `which` of a line, without quotes. */
static void cell_of(const char *line, size_t which, char *cell)
{
    const char *at = line;
    for (size_t k = 0; k < which && at != NULL; k++) {
        at = strchr(at, ',');
        at = at == NULL ? NULL : at + 1;
    }
    size_t length = 0;
    for (; at != NULL && *at != '\0' && strchr(",\r\n", *at) == NULL; at++)
        if (*at != '"' && length < CELL - 1)
            cell[length++] = *at;
    cell[length] = '\0';
}

static char *data_cells(const char *file, const char *name, size_t *n)
{
    char path[300];
    char line[LINE];
    char cell[CELL];
    snprintf(path, sizeof path, "tests/reference/data/%s", file);
    FILE *stream = fopen(path, "r");
    if (stream == NULL || fgets(line, sizeof line, stream) == NULL)
        fail_msg("cannot read %s", path);
    size_t column = 0;
    for (cell_of(line, column, cell); cell[0] != '\0' && strcmp(cell, name) != 0; cell_of(line, column, cell))
        column++;
    if (cell[0] == '\0')
        fail_msg("%s has no column %s", path, name);
    char *cells = calloc(MAX_ROWS, CELL);
    assert_non_null(cells);
    for (*n = 0; *n < MAX_ROWS && fgets(line, sizeof line, stream) != NULL; (*n)++)
        cell_of(line, column, cells + *n * CELL);
    fclose(stream);
    return cells;
}

double *data_numbers(const char *file, const char *name, size_t *n)
{
    char *cells = data_cells(file, name, n);
    double *values = calloc(*n + 1, sizeof *values);
    assert_non_null(values);
    for (size_t i = 0; i < *n; i++)
        values[i] = strtod(cells + i * CELL, NULL);
    free(cells);
    return values;
}

size_t *data_codes(const char *file, const char *name, size_t *n, size_t *levels)
{
    char *cells = data_cells(file, name, n);
    size_t *codes = calloc(*n + 1, sizeof *codes);
    size_t *first = calloc(*n + 1, sizeof *first); /* row in which each level was met first */
    assert_non_null(codes);
    assert_non_null(first);
    *levels = 0;
    for (size_t i = 0; i < *n; i++) {
        size_t level = 0;
        while (level < *levels && strcmp(cells + first[level] * CELL, cells + i * CELL) != 0)
            level++;
        if (level == *levels)
            first[(*levels)++] = i;
        codes[i] = level;
    }
    free(first);
    free(cells);
    return codes;
}

double *data_model(const char *file, const char *const *names, size_t count, size_t *n)
{
    double *x = NULL;
    for (size_t j = 0; j < count; j++) {
        double *column = data_numbers(file, names[j], n);
        if (x == NULL)
            x = calloc(*n * (count + 1), sizeof *x);
        assert_non_null(x);
        for (size_t i = 0; i < *n; i++) {
            x[i * (count + 1)] = 1;
            x[i * (count + 1) + j + 1] = column[i];
        }
        free(column);
    }
    return x;
}
