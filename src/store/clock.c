#include "ridgetally/store/clock.h"

#include "ridgetally/base/number.h"

#include <stdlib.h>
#include <time.h>

char *rt_clock(char text[RT_CLOCK_BYTES])
{
    long seconds = 0;
    time_t now = time(NULL);
    if (rt_parse_integer(getenv("SOURCE_DATE_EPOCH"), &seconds))
        now = (time_t)seconds;
    struct tm utc;
    if (gmtime_r(&now, &utc) == NULL || strftime(text, RT_CLOCK_BYTES, "%Y-%m-%dT%H:%M:%SZ", &utc) == 0)
        text[0] = '\0';
    return text;
}
