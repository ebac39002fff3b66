/*
 * Files embedded in the binary at build time: everything under sql/, reports/ and sample-data/ (CSV, README).
 */
#ifndef RIDGETALLY_BASE_RESOURCE_H
#define RIDGETALLY_BASE_RESOURCE_H

#include <stddef.h>

struct rt_resource {
    const char *name;  /* path in the source tree, for example "sql/001-records.sql" */
    const char *bytes; /* NUL-terminated contents */
    const char *end;   /* one past the last byte, where a NUL stands; length = end - bytes */
};

/* All embedded files in name order; *count receives how many. */
const struct rt_resource *rt_resources(size_t *count);

/* The embedded file of that name, or NULL. */
const struct rt_resource *rt_find_resource(const char *name);

#endif
