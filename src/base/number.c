#include "ridgetally/base/number.h"

#include <errno.h>
#include <float.h>
#include <limits.h>
#include <math.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

static const char *skip_digits(const char *at, bool *any)
{
    while (*at >= '0' && *at <= '9') {
        *any = true;
        at++;
    }
    return at;
}

/* A number of at most 15 digits without an exponent: the integer of its digits and the power of ten are both doubles exactly, so that
 * one division rounds as correctly as strtod does (Clinger, "How to read floating point numbers accurately", PLDI 1990, section 3),
 * in a fraction of its time. False for any other text, a number or not. */
static bool parse_short(const char *text, double *value)
{
    enum { MOST_DIGITS = 15 };
    static const double power_of_ten[MOST_DIGITS + 1] = {1e0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                                         1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};
    const bool minus = *text == '-';
    int64_t integer = 0;
    size_t digits = 0, before_point = SIZE_MAX;
    for (const char *at = text + (minus || *text == '+'); *at != '\0'; at++) {
        if (*at >= '0' && *at <= '9' && digits < MOST_DIGITS) {
            integer = 10 * integer + (*at - '0');
            digits++;
        } else if (*at == '.' && before_point == SIZE_MAX) {
            before_point = digits;
        } else {
            return false;
        }
    }
    if (digits == 0 || FLT_EVAL_METHOD != 0) /* a division in longer numbers would round twice */
        return false;
    double size = (double)integer / power_of_ten[before_point == SIZE_MAX ? 0 : digits - before_point];
    *value = minus ? -size : size;
    return true;
}

bool rt_parse_number(const char *text, double *value)
{
    if (text == NULL)
        return false;
    if (parse_short(text, value))
        return true;
    bool digits = false;
    const char *at = text;
    if (*at == '+' || *at == '-')
        at++;
    at = skip_digits(at, &digits);
    if (*at == '.')
        at = skip_digits(at + 1, &digits);
    if (!digits)
        return false;
    if (*at == 'e' || *at == 'E') {
        bool exponent = false;
        at++;
        if (*at == '+' || *at == '-')
            at++;
        at = skip_digits(at, &exponent);
        if (!exponent)
            return false;
    }
    if (*at != '\0')
        return false;
    double parsed = strtod(text, NULL);
    if (!isfinite(parsed))
        return false;
    *value = parsed;
    return true;
}

bool rt_parse_capped_number(const char *text, double *value, bool *capped)
{
    char plain[64];
    if (text == NULL)
        return false;
    const char *start = text;
    if (*start == '>')
        start += start[1] == '=' ? 2 : 1;
    size_t length = strlen(start);
    bool plus = length > 0 && start[length - 1] == '+';
    bool limit = start != text || plus;
    if (!limit) {
        *capped = false;
        return rt_parse_number(text, value);
    }
    if ((start != text && plus) || length >= sizeof plain)
        return false;
    memcpy(plain, start, length + 1);
    if (plus)
        plain[length - 1] = '\0';
    *capped = true;
    return rt_parse_number(plain, value);
}

bool rt_parse_integer(const char *text, long *value)
{
    if (text == NULL)
        return false;
    bool digits = false;
    const char *end = skip_digits(*text == '+' || *text == '-' ? text + 1 : text, &digits);
    if (!digits || *end != '\0')
        return false;
    errno = 0;
    long parsed = strtol(text, NULL, 10);
    if (errno != 0)
        return false;
    *value = parsed;
    return true;
}

long rt_hundredths(double value)
{
    double scaled = value * 100.0;
    if (!(fabs(scaled) < (double)(LONG_MAX / 2)))
        return value < 0 ? LONG_MIN / 2 : LONG_MAX / 2;
    /* a reading of 0.125 typed as such rounds away; noise below 1e-6 of a hundredth is binary, not measured
     */
    return lround(scaled + copysign(1e-6, scaled));
}
