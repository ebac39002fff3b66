/*
 * Strict reading of numbers: the whole field, decimal point, no locale, no hexadecimal, no nan or inf.
 */
#ifndef RIDGETALLY_BASE_NUMBER_H
#define RIDGETALLY_BASE_NUMBER_H

#include <stdbool.h>

/* Parse an optional sign, digits, an optional point and digits, an optional exponent. False when text is
 * empty, has anything else (spaces included), or does not fit a finite double. */
bool rt_parse_number(const char *text, double *value);

/* Parse an optional sign and digits within long. False otherwise. */
bool rt_parse_integer(const char *text, long *value);

/* Parse a number that may be a limit reached (an instrument's cap): `>70`, `>=70` or `70+` give 70 and *capped
 * true, a plain number *capped false. False when the rest is not a number as rt_parse_number reads it. */
bool rt_parse_capped_number(const char *text, double *value, bool *capped);

/* value in integer hundredths, rounded half away from zero after removing binary noise, so that 0.5 and
 * 1.5 - 1.0 compare equal. Comparisons with a cut are made on these. */
long rt_hundredths(double value);

#endif
