#include "published.h"
#include "table_lines.h"

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

static bool add_row(const char *line, void *where, struct rt_error *error)
{
    struct published *published = where;
    struct published_row *rows =
        rt_grow_array(published->rows, &published->capacity, published->count + 1, sizeof *rows);
    if (rows == NULL) {
        rt_fail_memory(error);
        return false;
    }
    published->rows = rows;
    return read_row(line, &rows[published->count]) && ++published->count > 0;
}

enum rt_status read_published(const char *path, struct published *published, struct rt_error *error)
{
    *published = (struct published){.rows = NULL};
    return for_each_line(path, add_row, published, error);
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
