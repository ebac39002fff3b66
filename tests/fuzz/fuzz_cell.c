/* Any text as a date, a number, and a cell of every field: what is accepted is finite, in range and reads the same again. */
#include "ridgetally/base/date.h"
#include "ridgetally/base/number.h"
#include "ridgetally/intake/cell.h"
#include "ridgetally/intake/form.h"
#include "ridgetally/intake/pseudonym.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(bool holds)
{
    if (!holds)
        abort();
}

static void try_dates(const char *text)
{
    char written[16];
    int first, last;
    int day = rt_parse_iso_date(text);
    if (day != RT_NO_DATE)
        must(strcmp(rt_format_iso_date(day, written), text) == 0);
    if (rt_parse_quarter(text, &first, &last))
        must(first < last && last - first < 92);
}

static void try_numbers(const char *text)
{
    double value = NAN;
    long integer = 0;
    bool capped = false;
    if (rt_parse_number(text, &value))
        must(isfinite(value));
    if (rt_parse_integer(text, &integer))
        must(rt_parse_number(text, &value) && fabs(value - (double)integer) <= fabs(value) * 1e-15);
    if (rt_parse_capped_number(text, &value, &capped))
        must(isfinite(value));
}

static void check_value(const struct rt_field *field, const struct rt_value *value)
{
    if (value->kind == RT_VALUE_REAL)
        must(isfinite(value->real) && !(value->real < field->hard_least) &&
             !(value->real > field->hard_most));
    if (value->kind == RT_VALUE_TEXT)
        must(strlen(value->text) <= RT_LONGEST_TEXT);
}

static void try_field(const struct rt_field *field, const char *text)
{
    struct rt_value values[2] = {{.kind = RT_VALUE_NULL}, {.kind = RT_VALUE_NULL}};
    struct rt_cell_fault fault = {0};
    struct rt_text again = {0};
    char *cell = strdup(text);
    if (cell != NULL && rt_read_cell(field, cell, values, &fault)) {
        check_value(field, &values[0]);
        rt_add_value(&again, field, values);
    } else if (cell != NULL) {
        must(fault.reason[0] != '\0');
    }
    rt_text_release(&again);
    free(cell);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const struct rt_pseudonym_key key = {.bytes = {1, 2, 3}};
    char code[RT_PSEUDONYM_BYTES];
    char *text = malloc(size + 1);
    if (text == NULL)
        return 0;
    if (size > 0)
        memcpy(text, data, size);
    text[size] = '\0';
    try_dates(text);
    try_numbers(text);
    rt_pseudonym(&key, text, code);
    must(strlen(code) == 0 || strlen(code) == RT_PSEUDONYM_BYTES - 1);
    for (int kind = 0; kind < RT_RECORD_KINDS; kind++) {
        const struct rt_form *form = rt_form((enum rt_record_kind)kind);
        for (size_t i = 0; i < form->count; i++)
            try_field(&form->fields[i], text);
    }
    free(text);
    return 0;
}
