#include "figure_sheet.h"

#include <ctype.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

enum { KEY_PARTS = 8 };

size_t sheet_column(const struct figure_sheet *sheet, const char *name)
{
    for (size_t i = 0; i < SHEET_CELLS; i++)
        if (strcmp(sheet->cells[i], name) == 0)
            return i;
    return SHEET_CELLS;
}

struct figure_sheet read_figure_sheet(const char *text)
{
    struct figure_sheet sheet = {strdup(text), NULL, 0};
    size_t count = 0, capacity = 0;
    char *out = sheet.bytes;
    for (const char *at = text; *at != '\0';) {
        if (count == capacity)
            sheet.cells = realloc(sheet.cells, (capacity = capacity * 2 + 1024) * sizeof *sheet.cells);
        sheet.cells[count++] = out;
        bool quoted = *at == '"';
        at += quoted;
        while (*at != '\0' && (quoted || (*at != ',' && *at != '\n'))) {
            if (quoted && *at == '"' && *++at != '"')
                break;
            *out++ = *at++;
        }
        char end = *at;
        at += end != '\0';
        *out++ = '\0';
        if (end == '\n')
            sheet.rows++;
    }
    if (count != sheet.rows * SHEET_CELLS)
        sheet.rows = 0;
    return sheet;
}

const char *sheet_plain(const char *cell)
{
    return cell[0] == '\'' && strchr("=+-@\t\r", cell[1]) != NULL && cell[1] != '\0' ? cell + 1 : cell;
}

static const char *const key_columns[KEY_PARTS] = {"section", "measure",  "grouping", "level",
                                                   "at",      "baseline", "site",     "unit_of_analysis"};

static void decode_percent(char *text)
{
    char *out = text;
    for (char *at = text; *at != '\0'; at++) {
        if (at[0] == '%' && isxdigit((unsigned char)at[1]) && isxdigit((unsigned char)at[2])) {
            char digits[3] = {at[1], at[2], '\0'};
            *out++ = (char)strtol(digits, NULL, 16);
            at += 2;
        } else {
            *out++ = *at;
        }
    }
    *out = '\0';
}

size_t sheet_find(const struct figure_sheet *sheet, const char *key, char ***row)
{
    char *copy = strdup(key);
    char *parts[KEY_PARTS] = {0};
    size_t count = 0;
    for (char *at = copy; at != NULL && count < KEY_PARTS; count++)
        parts[count] = strsep(&at, "/");
    for (size_t i = 0; i < count; i++)
        decode_percent(parts[i]);
    size_t found = 0;
    for (size_t r = 1; count == KEY_PARTS && r < sheet->rows; r++) {
        char **cells = sheet->cells + r * SHEET_CELLS;
        bool same = true;
        for (size_t i = 0; same && i < KEY_PARTS; i++)
            same = strcmp(parts[i], sheet_plain(cells[sheet_column(sheet, key_columns[i])])) == 0;
        if (same && found++ == 0)
            *row = cells;
    }
    free(copy);
    return found;
}

void release_figure_sheet(struct figure_sheet *sheet)
{
    free(sheet->cells);
    free(sheet->bytes);
    *sheet = (struct figure_sheet){0};
}
