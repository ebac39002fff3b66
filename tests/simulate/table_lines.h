/* The lines of a table that an earlier simulation published. */
#ifndef SIMULATE_TABLE_LINES_H
#define SIMULATE_TABLE_LINES_H

#include "ridgetally/base/error.h"

#include <stdbool.h>

/* Give each line of the CSV file but its header to `take`, with `where`. A line that it does not take ends the reading, with
 * the error it filled or else with one that names the line. */
enum rt_status for_each_line(const char *path,
                             bool (*take)(const char *line, void *where, struct rt_error *error), void *where,
                             struct rt_error *error);

#endif
