/* Any text as a column map, and as a date in every order: a map that is read reads the same without its comments. */
#include "ridgetally/base/date.h"
#include "ridgetally/base/text.h"
#include "ridgetally/intake/map.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void try_date(const char *text)
{
    for (int order = RT_DATES_PROVEN; order <= RT_DATES_SERIAL_1904; order++) {
        const char *reason = NULL;
        const char *remedy = NULL;
        if (rt_read_date(text, (enum rt_date_order)order, &reason, &remedy) == RT_NO_DATE &&
            (reason == NULL || remedy == NULL))
            abort();
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct rt_map map = {.lines = NULL};
    struct rt_map again = {.lines = NULL};
    struct rt_error error = {.status = RT_OK};
    struct rt_text stripped = {0};
    char *text = malloc(size + 1);
    if (text == NULL)
        return 0;
    if (size > 0)
        memcpy(text, data, size);
    text[size] = '\0';
    if (memchr(text, '\0', size) == NULL && size > 0) {
        try_date(text);
        if (rt_parse_map("fuzz.map", text, size, &map, &error) == RT_OK) {
            rt_strip_map(text, &stripped);
            if (!stripped.failed && (rt_parse_map("fuzz.map", stripped.bytes == NULL ? "" : stripped.bytes,
                                                  stripped.length, &again, &error) != RT_OK ||
                                     again.count != map.count))
                abort();
        }
    }
    rt_text_release(&stripped);
    rt_release_map(&again);
    rt_release_map(&map);
    free(text);
    return 0;
}
