#include "published.h"

#include "ridgetally/base/file.h"
#include "ridgetally/base/memory.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* One line without its end: method,size,practices,defined,coverage,... */
static bool read_row(const char *line, struct published_row *row)
{
    int used = 0;
    *row = (struct published_row){.coverage = NAN};
    if (sscanf(line, "%159[^,],%d,%ld,%ld,%n", row->method, &row->size, &row->practices, &row->defined,
               &used) != 4 ||
        used == 0)
        return false;
    if (line[used] != ',')
        row->coverage = strtod(line + used, NULL);
    return true;
}

enum rt_status read_published(const char *path, struct published *published, struct rt_error *error)
{
    char *line = NULL;
    size_t room = 0;
    enum rt_status status = RT_OK;
    FILE *file = fopen(path, "r");
    *published = (struct published){.rows = NULL};
    if (file == NULL)
        return rt_fail(error, RT_INPUT, "cannot open %s", path);
    bool header = getline(&line, &room, file) > 0;
    while (header && status == RT_OK && getline(&line, &room, file) > 0) {
        struct published_row row;
        struct published_row *rows =
            rt_grow_array(published->rows, &published->capacity, published->count + 1, sizeof *rows);
        if (rows == NULL) {
            status = rt_fail_memory(error);
            break;
        }
        published->rows = rows;
        if (read_row(line, &row))
            rows[published->count++] = row;
        else
            status = rt_fail(error, RT_INPUT, "%s: cannot read row %zu", path, published->count + 1);
    }
    free(line);
    fclose(file);
    return status;
}

struct published_row *find_published(const struct published *published, const char *method, int size)
{
    for (size_t i = 0; i < published->count; i++)
        if (published->rows[i].size == size && strcmp(published->rows[i].method, method) == 0)
            return &published->rows[i];
    return NULL;
}

void release_published(struct published *published)
{
    free(published->rows);
    *published = (struct published){.rows = NULL};
}
