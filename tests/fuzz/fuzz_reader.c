/* Any bytes as a file: the dialect is detected or stated, and the rows are read. The first byte states things. */
#include "ridgetally/intake/dialect.h"
#include "ridgetally/intake/form.h"
#include "ridgetally/intake/reader.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

struct seen {
    long last_line;
    size_t bytes;
};

static enum rt_status look(void *context, const struct rt_row *row, struct rt_error *error)
{
    struct seen *seen = context;
    (void)error;
    if (row->line <= seen->last_line || row->count == 0)
        abort(); /* lines go up, and a row has cells */
    seen->last_line = row->line;
    for (size_t i = 0; i < row->count; i++) {
        size_t length = strlen(row->cells[i]);
        seen->bytes += length;
        memset(row->cells[i], 'x', length); /* cells are the taker's to write */
    }
    return RT_OK;
}

static size_t known(const void *context, const struct rt_row *row)
{
    size_t count = 0;
    for (size_t i = 0; i < row->count; i++)
        count += rt_find_field(context, row->cells[i]) < ((const struct rt_form *)context)->count;
    return count;
}

static bool holds_numbers(const void *context, const char *name)
{
    return rt_find_field(context, name) < ((const struct rt_form *)context)->count;
}

static void state(uint8_t choice, struct rt_dialect *dialect)
{
    static const char *const encodings[] = {NULL, "utf-8", "utf-16le", "utf-16be", "windows-1252"};
    static const char *const separators[] = {NULL, "comma", "semicolon", "tab", "bar"};
    const char *encoding = encodings[choice % 5];
    const char *separator = separators[choice / 5 % 5];
    if (encoding != NULL && !rt_find_encoding(encoding, &dialect->encoding))
        abort();
    if (separator != NULL && !rt_find_separator(separator, &dialect->separator))
        abort();
    dialect->header_line = choice / 25 % 4;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct rt_dialect given = {.header_line = 0};
    struct rt_dialect found = {.header_line = 0};
    struct seen seen = {.last_line = 0};
    struct rt_error error = {.status = RT_OK};
    const struct rt_header_judge judge = {
        .known = known, .holds_numbers = holds_numbers, .context = rt_form(RT_IMPLANTS)};
    if (size == 0)
        return 0;
    state(data[0], &given);
    char *bytes = malloc(size); /* of exactly this size, so that reading past the end is seen */
    if (bytes == NULL)
        return 0;
    memcpy(bytes, data + 1, size - 1);
    if (rt_detect_dialect_bytes(bytes, size - 1, data[0] < 128, &given, &judge, &found, &error) == RT_OK)
        rt_read_row_bytes("fuzz.csv", bytes, size - 1, true, &found, look, &seen, &error);
    rt_error_clear(&error);
    seen = (struct seen){.last_line = 0};
    rt_read_row_bytes("fuzz.csv", bytes, size - 1, data[0] < 128, &given, look, &seen, &error);
    free(bytes);
    return 0;
}
