#include "ridgetally/base/resource.h"

#include <string.h>

/* rt_resources() itself is generated at build time (build/embedded/resources.c). */

const struct rt_resource *rt_find_resource(const char *name)
{
    size_t count = 0;
    const struct rt_resource *all = rt_resources(&count);
    for (size_t i = 0; i < count; i++)
        if (strcmp(all[i].name, name) == 0)
            return &all[i];
    return NULL;
}
