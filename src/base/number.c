#include "ridgetally/base/number.h"

#include <errno.h>
#include <limits.h>
#include <math.h>
#include <stddef.h>
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

bool rt_parse_number(const char *text, double *value)
{
    if (text == NULL)
        return false;
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
