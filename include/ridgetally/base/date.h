/*
 * Dates as day numbers in the proleptic Gregorian calendar: day 0 is 1970-01-01, negative days are earlier.
 * Accepted years are 0001 to 9999. Formula: days_from_civil, H. Hinnant, "chrono-compatible low-level date
 * algorithms" (public domain; from memory).
 */
#ifndef RIDGETALLY_BASE_DATE_H
#define RIDGETALLY_BASE_DATE_H

#include <stdbool.h>

enum { RT_NO_DATE = -2147483647 - 1 }; /* marks a missing date */

struct rt_civil_date {
    int year;  /* 1..9999 */
    int month; /* 1..12 */
    int day;   /* 1..31 */
};

/* Day number of a civil date, RT_NO_DATE when the date does not exist (30 February, month 13, year 0). */
int rt_day_number(struct rt_civil_date date);

/* The civil date of a day number within years 1..9999. */
struct rt_civil_date rt_civil_date(int day_number);

/* Strict ISO 8601 extended calendar date YYYY-MM-DD and nothing else. Returns RT_NO_DATE when text is not
 * exactly that, or names no existing day. */
int rt_parse_iso_date(const char *text);

/* Write YYYY-MM-DD into text (at least 11 bytes); an empty string for RT_NO_DATE. Returns text. */
char *rt_format_iso_date(int day_number, char *text);

/* The day `months` whole months after day_number; the day of month is clipped to the month's last day. */
int rt_add_months(int day_number, int months);

/* Parse a quarter, `2026Q3`, into its first and last day. False when text is not a quarter. */
bool rt_parse_quarter(const char *text, int *first_day, int *last_day);

/* First and last day of the quarter that holds day_number. */
void rt_quarter_of(int day_number, int *first_day, int *last_day);

#endif
