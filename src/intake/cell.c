#include "ridgetally/intake/cell.h"

#include "loader.h"

#include "ridgetally/base/date.h"
#include "ridgetally/base/number.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

static bool fail_cell(struct rt_cell_fault *fault, const char *reason, const char *remedy)
{
    snprintf(fault->reason, sizeof fault->reason, "%s", reason);
    snprintf(fault->remedy, sizeof fault->remedy, "%s", remedy);
    return false;
}

/* Hardly any cell begins with spaces: looking is quicker than strspn, which first makes a table of what it looks for. */
static char *skip_spaces(char *cell)
{
    while (*cell == ' ' || *cell == '\t')
        cell++;
    return cell;
}

static char *trim(char *cell)
{
    cell = skip_spaces(cell);
    size_t length = strlen(cell);
    while (length > 0 && (cell[length - 1] == ' ' || cell[length - 1] == '\t'))
        cell[--length] = '\0';
    return cell;
}

char *rt_undo_formula_guard(char *cell)
{
    return cell[0] == '\'' && cell[1] != '\0' && strchr("=+-@\t\r", cell[1]) != NULL ? cell + 1 : cell;
}

static bool in_hard_range(const struct rt_field *field, double number, struct rt_cell_fault *fault)
{
    if (!(number < field->hard_least) && !(number > field->hard_most))
        return true;
    snprintf(fault->reason, sizeof fault->reason, "outside the possible range %g to %g%s%s",
             field->hard_least, field->hard_most, field->unit[0] == '\0' ? "" : " ", field->unit);
    snprintf(fault->remedy, sizeof fault->remedy, "check the unit, the sign and the decimal point");
    return false;
}

static bool read_number(const struct rt_field *field, const char *cell, double *number,
                        struct rt_cell_fault *fault)
{
    if (!rt_parse_number(cell, number)) {
        bool comma = strchr(cell, ',') != NULL;
        return fail_cell(fault, "not a number",
                         comma ? "write it with a decimal point, such as 1.5"
                               : "type digits only, without the unit");
    }
    *number = *number == 0.0 ? 0.0 : *number; /* no negative zero */
    return in_hard_range(field, *number, fault);
}

static bool read_integer(const struct rt_field *field, const char *cell, struct rt_value *out,
                         struct rt_cell_fault *fault)
{
    double number = 0;
    if (!rt_parse_number(cell, &number) || number != floor(number))
        return fail_cell(fault, "not a whole number",
                         strcmp(field->name, "birth_year") == 0 ? "type the year only, never the full date"
                                                                : "type digits only");
    *out = (struct rt_value){.kind = RT_VALUE_INTEGER, .integer = 0};
    if (!in_hard_range(field, number, fault))
        return false;
    out->integer = (int64_t)number;
    return true;
}

/* What a spreadsheet shows of a date whose cell is not formatted as one; the range is 1927 to 2119. */
static bool is_day_number(const char *cell)
{
    double number = 0;
    return rt_parse_number(cell, &number) && number >= 10000 && number < 80000;
}

static bool read_date(const char *cell, struct rt_value *out, struct rt_cell_fault *fault)
{
    int day = rt_parse_iso_date(cell);
    if (day == RT_NO_DATE && is_day_number(cell))
        return fail_cell(fault, "a day number of a spreadsheet, not a date",
                         "format the column as dates, YYYY-MM-DD, or load the sheet through a map");
    if (day == RT_NO_DATE)
        return fail_cell(fault, "not an existing date",
                         cell_is_full_date(cell, NULL)
                             ? "write it as YYYY-MM-DD, such as 2026-03-31, or load the sheet through a map"
                             : "write it as YYYY-MM-DD, such as 2026-03-31");
    *out = (struct rt_value){.kind = RT_VALUE_INTEGER, .integer = day};
    return true;
}

static bool read_yes_no(const char *cell, struct rt_value *out, struct rt_cell_fault *fault)
{
    bool yes = strcasecmp(cell, "yes") == 0;
    if (!yes && strcasecmp(cell, "no") != 0)
        return fail_cell(fault, "neither yes nor no",
                         "type yes or no, or leave the cell empty when it is not known");
    *out = (struct rt_value){.kind = RT_VALUE_INTEGER, .integer = yes};
    return true;
}

static bool read_code(const struct rt_field *field, const char *cell, struct rt_value *out,
                      struct rt_cell_fault *fault)
{
    bool digit = cell[0] >= '0' && cell[0] <= '9' && cell[1] == '\0';
    for (size_t i = 0; field->codes[i] != NULL; i++) {
        const char *code = field->codes[i];
        bool typed_short = digit && strncmp(code, "type ", 5) == 0 && strcmp(code + 5, cell) == 0;
        if (strcasecmp(code, cell) == 0 || typed_short) {
            *out = (struct rt_value){.kind = RT_VALUE_TEXT, .text = code};
            return true;
        }
    }
    size_t used = (size_t)snprintf(fault->reason, sizeof fault->reason, "none of");
    for (size_t i = 0; field->codes[i] != NULL && used < sizeof fault->reason; i++)
        used += (size_t)snprintf(fault->reason + used, sizeof fault->reason - used, "%s %s", i > 0 ? "," : "",
                                 field->codes[i]);
    snprintf(fault->remedy, sizeof fault->remedy, "type one of these words, or leave the cell empty");
    return false;
}

static bool read_tooth(const char *cell, struct rt_value *out, struct rt_cell_fault *fault)
{
    bool two_digits =
        strlen(cell) == 2 && cell[0] >= '1' && cell[0] <= '4' && cell[1] >= '1' && cell[1] <= '8';
    if (!two_digits)
        return fail_cell(fault, "not a tooth position in ISO 3950",
                         "type two digits: 11-18, 21-28, 31-38 or 41-48");
    *out = (struct rt_value){.kind = RT_VALUE_INTEGER, .integer = (cell[0] - '0') * 10 + cell[1] - '0'};
    return true;
}

/* Copy the number inside `>70`, `>=70`, `70+` or a plain number to digits; *capped tells which. */
static void strip_limit(const char *cell, char digits[32], bool *capped)
{
    static const char *const marks[] = {">=", ">", "\xe2\x89\xa5" /* the one-character form of >= */};
    *capped = false;
    for (size_t i = 0; !*capped && i < sizeof marks / sizeof marks[0]; i++) {
        size_t size = strlen(marks[i]);
        if (strncmp(cell, marks[i], size) == 0) {
            *capped = true;
            cell += size + strspn(cell + size, " ");
        }
    }
    snprintf(digits, 32, "%s", cell);
    size_t length = strlen(digits);
    if (!*capped && length > 1 && digits[length - 1] == '+') {
        *capped = true;
        digits[length - 1] = '\0';
    }
}

static bool read_torque(const struct rt_field *field, const char *cell, struct rt_value out[2],
                        struct rt_cell_fault *fault)
{
    bool capped = false;
    double number = 0;
    char digits[32];
    strip_limit(cell, digits, &capped);
    if (strlen(cell) >= sizeof digits || !rt_parse_number(digits, &number) || digits[0] == '+' ||
        digits[0] == '-')
        return fail_cell(fault, "not a torque",
                         "type Ncm such as 35, or >70 where the device's limit was reached");
    if (!in_hard_range(field, number, fault))
        return false;
    out[0] = (struct rt_value){.kind = RT_VALUE_REAL, .real = number};
    out[1] = (struct rt_value){.kind = RT_VALUE_INTEGER, .integer = capped};
    return true;
}

static bool read_density(const char *cell, struct rt_value out[2], struct rt_cell_fault *fault)
{
    const char *scale = strncasecmp(cell, "LZ", 2) == 0 ? "LZ" : "D";
    size_t length = strlen(scale);
    bool known = strncasecmp(cell, scale, length) == 0 && cell[length] >= '1' && cell[length] <= '4' &&
                 cell[length + 1] == '\0';
    if (!known)
        return fail_cell(fault, "not a density with its scale",
                         "type D1 to D4, or LZ1 to LZ4 for the 1985 type scale");
    out[0] = (struct rt_value){.kind = RT_VALUE_INTEGER, .integer = cell[length] - '0'};
    out[1] = (struct rt_value){.kind = RT_VALUE_TEXT, .text = scale};
    return true;
}

static bool read_text(const struct rt_field *field, char *cell, struct rt_value *out,
                      struct rt_cell_fault *fault)
{
    size_t longest = field->type == RT_FIELD_ID ? RT_LONGEST_ID : RT_LONGEST_TEXT;
    cell = rt_undo_formula_guard(cell);
    if (strlen(cell) > longest) {
        snprintf(fault->reason, sizeof fault->reason, "longer than %zu bytes", longest);
        snprintf(fault->remedy, sizeof fault->remedy,
                 "shorten it; a quote that was never closed also does this");
        return false;
    }
    *out = (struct rt_value){.kind = RT_VALUE_TEXT, .text = cell};
    return true;
}

static bool read_empty(const struct rt_field *field, struct rt_value *out, struct rt_cell_fault *fault)
{
    if (field->needed)
        return fail_cell(fault, "empty, and the row cannot be placed without it", "fill it in");
    if (field->if_empty == NULL)
        return true;
    if (field->type == RT_FIELD_INTEGER)
        return read_integer(field, field->if_empty, out, fault);
    *out = (struct rt_value){.kind = RT_VALUE_TEXT, .text = field->if_empty};
    return true;
}

bool rt_read_cell(const struct rt_field *field, char *cell, struct rt_value out[2],
                  struct rt_cell_fault *fault)
{
    out[0] = (struct rt_value){.kind = RT_VALUE_NULL};
    out[1] = (struct rt_value){.kind = RT_VALUE_NULL};
    fault->column = field->name;
    /* spaces around an id are kept: they are reported as a near miss instead of being guessed away */
    if (*skip_spaces(cell) == '\0')
        return read_empty(field, out, fault);
    if (field->type != RT_FIELD_ID)
        cell = trim(cell);
    switch (field->type) {
    case RT_FIELD_ID:
    case RT_FIELD_TEXT:
        return read_text(field, cell, out, fault);
    case RT_FIELD_DATE:
        return read_date(cell, out, fault);
    case RT_FIELD_YES_NO:
        return read_yes_no(cell, out, fault);
    case RT_FIELD_CODE:
        return read_code(field, cell, out, fault);
    case RT_FIELD_NUMBER:
        out[0].kind = RT_VALUE_REAL;
        return read_number(field, cell, &out[0].real, fault);
    case RT_FIELD_INTEGER:
        return read_integer(field, cell, out, fault);
    case RT_FIELD_TOOTH:
        return read_tooth(cell, out, fault);
    case RT_FIELD_TORQUE:
        return read_torque(field, cell, out, fault);
    case RT_FIELD_DENSITY:
        return read_density(cell, out, fault);
    }
    return false;
}

bool rt_same_value(const struct rt_value *a, const struct rt_value *b)
{
    if (a->kind != b->kind)
        return false;
    switch (a->kind) {
    case RT_VALUE_NULL:
        return true;
    case RT_VALUE_INTEGER:
        return a->integer == b->integer;
    case RT_VALUE_REAL:
        return a->real == b->real;
    case RT_VALUE_TEXT:
        return strcmp(a->text, b->text) == 0;
    }
    return false;
}

void rt_add_value(struct rt_text *text, const struct rt_field *field, const struct rt_value values[2])
{
    const struct rt_value *value = &values[0];
    char date[11];
    switch (value->kind) {
    case RT_VALUE_NULL:
        rt_text_add(text, "empty");
        break;
    case RT_VALUE_INTEGER:
        if (field->type == RT_FIELD_DENSITY)
            rt_text_add(text, values[1].text);
        if (field->type == RT_FIELD_DATE)
            rt_text_add(text, rt_format_iso_date((int)value->integer, date));
        else if (field->type == RT_FIELD_YES_NO)
            rt_text_add(text, value->integer != 0 ? "yes" : "no");
        else
            rt_text_format(text, "%lld", (long long)value->integer);
        break;
    case RT_VALUE_REAL:
        if (field->type == RT_FIELD_TORQUE && values[1].integer != 0)
            rt_text_add_character(text, '>');
        rt_text_add_number(text, value->real);
        break;
    case RT_VALUE_TEXT:
        rt_text_add(text, value->text[0] == '\0' ? "empty" : value->text);
        break;
    }
}
