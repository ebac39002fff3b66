#include "table_lines.h"

#include <stdio.h>
#include <stdlib.h>

enum rt_status for_each_line(const char *path,
                             bool (*take)(const char *line, void *where, struct rt_error *error), void *where,
                             struct rt_error *error)
{
    char *line = NULL;
    size_t room = 0, number = 1;
    enum rt_status status = RT_OK;
    FILE *file = fopen(path, "r");
    if (file == NULL)
        return rt_fail(error, RT_INPUT, "cannot open %s", path);
    bool header = getline(&line, &room, file) > 0;
    while (header && status == RT_OK && getline(&line, &room, file) > 0) {
        number++;
        error->status = RT_OK;
        if (!take(line, where, error))
            status = error->status != RT_OK
                         ? error->status
                         : rt_fail(error, RT_INPUT, "%s: cannot read line %zu", path, number);
    }
    free(line);
    fclose(file);
    return status;
}
