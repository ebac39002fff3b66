#include "convert.h"

#include "loader.h"

#include "ridgetally/base/date.h"
#include "ridgetally/base/number.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

/* --- dates ---------------------------------------------------------------------------------------------- */

enum {
    SERIAL_OF_1970_IN_1900 = 25569,
    SERIAL_OF_1970_IN_1904 = 24107,
    FALSE_LEAP_DAY = 60,
    LAST_SERIAL = 2958465
};

static int no_date(const char **reason, const char **remedy, const char *why, const char *what)
{
    *reason = why;
    *remedy = what;
    return RT_NO_DATE;
}

static int read_serial(const char *cell, enum rt_date_order order, const char **reason, const char **remedy)
{
    double serial = 0;
    if (!rt_parse_number(cell, &serial) || serial < 1 || serial > LAST_SERIAL)
        return no_date(reason, remedy, "not a day number of a spreadsheet",
                       "look at the cell, or at dates in the map");
    int day = (int)floor(serial); /* what follows is the time of day */
    if (order == RT_DATES_SERIAL_1904)
        return day - SERIAL_OF_1970_IN_1904;
    if (day == FALSE_LEAP_DAY)
        return no_date(reason, remedy, "29 February 1900 did not exist", "correct the date");
    return day - SERIAL_OF_1970_IN_1900 + (day < FALSE_LEAP_DAY);
}

/* Month by the beginning of its name in English, German, Dutch, French, Italian and Spanish; 0 = none. */
static int month_named(const char *name)
{
    static const struct {
        const char *begin;
        int month;
    } names[] = {{"jan", 1},
                 {"gen", 1},
                 {"ene", 1},
                 {"feb", 2},
                 {"f\xc3\xa9v", 2},
                 {"fev", 2},
                 {"mar", 3},
                 {"m\xc3\xa4r", 3},
                 {"mrz", 3},
                 {"maa", 3},
                 {"mrt", 3},
                 {"apr", 4},
                 {"avr", 4},
                 {"abr", 4},
                 {"may", 5},
                 {"mai", 5},
                 {"mei", 5},
                 {"mag", 5},
                 {"jun", 6},
                 {"juin", 6},
                 {"giu", 6},
                 {"jul", 7},
                 {"juil", 7},
                 {"lug", 7},
                 {"aug", 8},
                 {"ao\xc3\xbb", 8},
                 {"aou", 8},
                 {"ago", 8},
                 {"sep", 9},
                 {"set", 9},
                 {"oct", 10},
                 {"okt", 10},
                 {"ott", 10},
                 {"nov", 11},
                 {"dec", 12},
                 {"dez", 12},
                 {"d\xc3\xa9"
                  "c",
                  12},
                 {"dic", 12}};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (strncasecmp(name, names[i].begin, strlen(names[i].begin)) == 0)
            return names[i].month;
    return 0;
}

struct parts {
    int numbers[3];
    size_t digits[3]; /* 0: a month in letters */
    size_t count;
};

/* Split at . / - , spaces; a time of day after the third part is left out. */
static bool split_date(const char *cell, struct parts *parts)
{
    parts->count = 0;
    while (parts->count < 3) {
        char word[24];
        size_t length = strcspn(cell, "./-, ");
        if (length == 0 || length >= sizeof word)
            return false;
        if (parts->count == 2) { /* 2020T10:00 */
            size_t digits = strspn(cell, "0123456789");
            if (digits > 0 && cell[digits] == 'T')
                length = digits;
        }
        snprintf(word, sizeof word, "%.*s", (int)length, cell);
        bool number = word[strspn(word, "0123456789")] == '\0';
        parts->digits[parts->count] = number ? length : 0;
        long value = 0;
        bool fits = number && length <= 4 && rt_parse_integer(word, &value);
        parts->numbers[parts->count] = fits ? (int)value : month_named(word);
        if (parts->numbers[parts->count++] == 0)
            return false;
        cell += length;
        if (parts->count < 3)
            cell += strspn(cell, "./-, ");
    }
    return *cell == '\0' ||
           ((*cell == ' ' || *cell == 'T') && cell[1 + strspn(cell + 1, "0123456789:.Z ")] == '\0');
}

static int day_of(int year, int month, int day, const char **reason, const char **remedy)
{
    int number = rt_day_number((struct rt_civil_date){year, month, day});
    return number != RT_NO_DATE
               ? number
               : no_date(reason, remedy, "not an existing date", "correct it, or dates in the map");
}

int rt_read_date(const char *cell, enum rt_date_order order, const char **reason, const char **remedy)
{
    struct parts p;
    if (order == RT_DATES_SERIAL_1900 || order == RT_DATES_SERIAL_1904) {
        int iso = rt_parse_iso_date(cell);
        return iso != RT_NO_DATE ? iso : read_serial(cell, order, reason, remedy);
    }
    if (!split_date(cell, &p))
        return no_date(reason, remedy, "not an existing date", "write day, month and year of four digits");
    if (p.digits[0] == 4)
        return day_of(p.numbers[0], p.numbers[1], p.numbers[2], reason, remedy);
    if (p.digits[2] != 4)
        return no_date(reason, remedy, "a date without a year of four digits",
                       "write the year with four digits");
    if (p.digits[1] == 0)
        return day_of(p.numbers[2], p.numbers[1], p.numbers[0], reason, remedy);
    if (p.digits[0] == 0)
        return day_of(p.numbers[2], p.numbers[0], p.numbers[1], reason, remedy);
    bool one_meaning = p.numbers[0] == p.numbers[1];
    if (order == RT_DATES_MONTH_FIRST || (order == RT_DATES_PROVEN && p.numbers[1] > 12))
        return day_of(p.numbers[2], p.numbers[0], p.numbers[1], reason, remedy);
    if (order == RT_DATES_DAY_FIRST || p.numbers[0] > 12 || one_meaning)
        return day_of(p.numbers[2], p.numbers[1], p.numbers[0], reason, remedy);
    return no_date(reason, remedy, "day and month could be the other way round",
                   "state dates day-first or month-first in the map");
}

/* --- other cells ---------------------------------------------------------------------------------------- */

static bool fails(const char **reason, const char **remedy, const char *why, const char *what)
{
    *reason = why;
    *remedy = what;
    return false;
}

/* 1 to 32 from the upper right third molar around to the lower right one (the American Dental Association's numbers), in
 * ISO 3950. */
static bool convert_tooth(const char *cell, struct rt_text *out, const char **reason, const char **remedy)
{
    long n = 0;
    if (!rt_parse_integer(cell + (cell[0] == '#'), &n) || n < 1 || n > 32)
        return fails(reason, remedy, "not a tooth from 1 to 32", "correct it, or teeth in the map");
    long quadrant = (n - 1) / 8 + 1;
    long place = quadrant % 2 == 1 ? 8 * quadrant + 1 - n : n - 8 * (quadrant - 1);
    rt_text_format(out, "%ld%ld", quadrant, place);
    return true;
}

/* Point the decimals, then unit, sign and factor on the number inside >70, 70+. */
static bool convert_number(const struct rt_map_line *line, const struct rt_dialect *dialect, const char *cell,
                           struct rt_text *out, const char **reason, const char **remedy)
{
    char copy[64];
    double number = 0;
    if (strlen(cell) >= sizeof copy)
        return fails(reason, remedy, "not a number", "type digits only, without the unit");
    memcpy(copy, cell, strlen(cell) + 1);
    if (!rt_point_decimal(dialect, copy, reason, remedy))
        return false;
    if (line->factor == 1) {
        rt_text_add(out, copy);
        return true;
    }
    bool torque = line->field->type == RT_FIELD_TORQUE;
    size_t before = torque ? strspn(copy, ">= \xe2\x89\xa5") : 0;
    size_t length = strlen(copy);
    bool plus = torque && length > 1 && copy[length - 1] == '+';
    if (plus)
        copy[length - 1] = '\0';
    if (!rt_parse_number(copy + before, &number))
        return fails(reason, remedy, "not a number", "type digits only, without the unit");
    rt_text_add_bytes(out, copy, before);
    rt_text_format(out, "%.12g", number == 0 ? 0.0 : number * line->factor); /* without binary noise */
    rt_text_add(out, plus ? "+" : "");
    return true;
}

/* Of a date of birth only the year; whichever of day and month is first. */
static bool take_birth_year(const struct rt_map_line *line, const char *cell, struct rt_text *out)
{
    const char *reason, *remedy;
    double serial = 0;
    int year = 0;
    if (strcmp(line->field->name, "birth_year") != 0)
        return false;
    if ((line->dates == RT_DATES_SERIAL_1900 || line->dates == RT_DATES_SERIAL_1904) &&
        rt_parse_number(cell, &serial) && serial >= 2200) { /* below it is a year */
        int day = rt_read_date(cell, line->dates, &reason, &remedy);
        year = day == RT_NO_DATE ? 0 : rt_civil_date(day).year;
    } else if (cell_is_full_date(cell, &year) && strspn(cell, "0123456789") == strlen(cell)) {
        year = 0; /* digits alone are a year, or wrong */
    }
    if (year == 0)
        return false;
    rt_text_format(out, "%d", year);
    return true;
}

static bool convert(const struct rt_map_line *line, const struct rt_dialect *dialect, const char *cell,
                    struct rt_text *out, const char **reason, const char **remedy)
{
    char date[11];
    for (size_t i = 0; i < line->codes; i++) {
        if (strcasecmp(line->from[i], cell) == 0) {
            rt_text_add(out, line->to[i]);
            return true;
        }
    }
    if (take_birth_year(line, cell, out))
        return true;
    switch (line->field->type) {
    case RT_FIELD_DATE: {
        int day = rt_read_date(cell, line->dates, reason, remedy);
        if (day == RT_NO_DATE)
            return false;
        rt_text_add(out, rt_format_iso_date(day, date));
        return true;
    }
    case RT_FIELD_TOOTH:
        if (line->teeth == RT_TEETH_1_32)
            return convert_tooth(cell, out, reason, remedy);
        break;
    case RT_FIELD_NUMBER:
    case RT_FIELD_INTEGER:
    case RT_FIELD_TORQUE:
        return convert_number(line, dialect, cell, out, reason, remedy);
    case RT_FIELD_ID:
    case RT_FIELD_TEXT:
    case RT_FIELD_YES_NO:
    case RT_FIELD_CODE:
    case RT_FIELD_DENSITY:
        break;
    }
    rt_text_add(out, cell);
    return true;
}

bool convert_cell(const struct rt_map_line *line, const struct rt_dialect *dialect, const char *cell,
                  struct rt_text *out, const char **reason, const char **remedy)
{
    char trimmed[256];
    size_t start = out->length;
    const char *begin = cell + strspn(cell, " \t");
    size_t length = strlen(begin);
    bool as_is = line->field->type == RT_FIELD_ID || length >= sizeof trimmed;
    while (length > 0 && (begin[length - 1] == ' ' || begin[length - 1] == '\t'))
        length--;
    rt_text_add(out, "");
    if (length == 0)
        return true;
    if (!as_is)
        snprintf(trimmed, sizeof trimmed, "%.*s", (int)length, begin);
    if (convert(line, dialect, as_is ? cell : trimmed, out, reason, remedy))
        return true;
    if (!out->failed) {
        out->length = start;
        rt_text_add(out, cell);
    }
    return false;
}
