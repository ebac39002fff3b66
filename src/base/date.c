#include "ridgetally/base/date.h"

#include <stddef.h>
#include <stdio.h>
#include <string.h>

enum { FIRST_DAY = -719162, LAST_DAY = 2932896 }; /* 0001-01-01 and 9999-12-31 */

static int days_in_month(int year, int month)
{
    static const int days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    return month == 2 && leap ? 29 : days[month - 1];
}

int rt_day_number(struct rt_civil_date date)
{
    if (date.year < 1 || date.year > 9999 || date.month < 1 || date.month > 12 || date.day < 1 ||
        date.day > days_in_month(date.year, date.month))
        return RT_NO_DATE;
    int year = date.month <= 2 ? date.year - 1 : date.year; /* years begin in March */
    int era = year / 400;
    int year_of_era = year - era * 400;
    int month = (date.month + 9) % 12;
    int day_of_year = (153 * month + 2) / 5 + date.day - 1;
    int day_of_era = year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year;
    return era * 146097 + day_of_era - 719468;
}

struct rt_civil_date rt_civil_date(int day_number)
{
    if (day_number < FIRST_DAY || day_number > LAST_DAY)
        return (struct rt_civil_date){0, 0, 0};
    int shifted = day_number + 719468;
    int era = shifted / 146097;
    int day_of_era = shifted - era * 146097;
    int year_of_era = (day_of_era - day_of_era / 1460 + day_of_era / 36524 - day_of_era / 146096) / 365;
    int day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    int month = (5 * day_of_year + 2) / 153;
    struct rt_civil_date date = {.year = year_of_era + era * 400,
                                 .month = month < 10 ? month + 3 : month - 9,
                                 .day = day_of_year - (153 * month + 2) / 5 + 1};
    if (date.month <= 2)
        date.year++;
    return date;
}

static bool read_digits(const char *text, size_t count, int *value)
{
    *value = 0;
    for (size_t i = 0; i < count; i++) {
        if (text[i] < '0' || text[i] > '9')
            return false;
        *value = *value * 10 + (text[i] - '0');
    }
    return true;
}

int rt_parse_iso_date(const char *text)
{
    struct rt_civil_date date;
    if (text == NULL || strlen(text) != 10 || text[4] != '-' || text[7] != '-' ||
        !read_digits(text, 4, &date.year) || !read_digits(text + 5, 2, &date.month) ||
        !read_digits(text + 8, 2, &date.day))
        return RT_NO_DATE;
    return rt_day_number(date);
}

char *rt_format_iso_date(int day_number, char *text)
{
    struct rt_civil_date date = rt_civil_date(day_number);
    if (date.year == 0) {
        text[0] = '\0';
        return text;
    }
    const int parts[] = {
        date.year / 1000, date.year / 100, date.year / 10, date.year, -1, date.month / 10, date.month, -1,
        date.day / 10,    date.day};
    for (size_t i = 0; i < 10; i++)
        text[i] = parts[i] < 0 ? '-' : (char)('0' + parts[i] % 10);
    text[10] = '\0';
    return text;
}

int rt_add_months(int day_number, int months)
{
    struct rt_civil_date date = rt_civil_date(day_number);
    if (date.year == 0)
        return RT_NO_DATE;
    int index = date.year * 12 + date.month - 1 + months;
    if (index < 12 || index > 9999 * 12 + 11)
        return RT_NO_DATE;
    date.year = index / 12;
    date.month = index % 12 + 1;
    int last = days_in_month(date.year, date.month);
    if (date.day > last)
        date.day = last;
    return rt_day_number(date);
}

void rt_quarter_of(int day_number, int *first_day, int *last_day)
{
    struct rt_civil_date date = rt_civil_date(day_number);
    int first_month = (date.month - 1) / 3 * 3 + 1;
    *first_day = rt_day_number((struct rt_civil_date){date.year, first_month, 1});
    *last_day = rt_day_number(
        (struct rt_civil_date){date.year, first_month + 2, days_in_month(date.year, first_month + 2)});
}

bool rt_parse_quarter(const char *text, int *first_day, int *last_day)
{
    int year = 0;
    if (text == NULL || strlen(text) != 6 || !read_digits(text, 4, &year) || year < 1 || text[4] != 'Q' ||
        text[5] < '1' || text[5] > '4')
        return false;
    rt_quarter_of(rt_day_number((struct rt_civil_date){year, (text[5] - '1') * 3 + 1, 1}), first_day,
                  last_day);
    return true;
}
