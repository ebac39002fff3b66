#include "survival_data.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

const double gehan_time[GEHAN_ROWS] = {10, 7,  32, 23, 22, 6, 16, 34, 32, 25, 11, 20, 19, 6,
                                       17, 35, 6,  13, 9,  6, 10, 1,  22, 3,  12, 8,  17, 2,
                                       11, 8,  12, 2,  5,  4, 15, 8,  23, 5,  11, 4,  1,  8};
const int gehan_event[GEHAN_ROWS] = {1, 1, 0, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0, 1, 0, 0, 1, 1, 0, 0, 0,
                                     1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1};
const size_t gehan_group[GEHAN_ROWS] = {0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0,
                                        1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1};
const size_t gehan_pair[GEHAN_ROWS] = {0,  1,  2,  3,  4,  5,  6,  7,  8,  9,  10, 11, 12, 13,
                                       14, 15, 16, 17, 18, 19, 20, 0,  1,  2,  3,  4,  5,  6,
                                       7,  8,  9,  10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20};

const double two_causes_time[TWO_CAUSES_ROWS] = {1, 2, 2, 3, 4, 5, 6, 7, 8, 9};
const int two_causes_event[TWO_CAUSES_ROWS] = {1, 2, 1, 0, 1, 2, 0, 1, 2, 0};

struct rt_follow_up gehan_arm(size_t group)
{
    return (struct rt_follow_up){
        .n = GEHAN_ARM, .time = gehan_time + group * GEHAN_ARM, .event = gehan_event + group * GEHAN_ARM};
}

void assert_near(double value, double expected, double relative)
{
    double allowed = relative * (expected == 0 ? 1 : fabs(expected));
    if (!(fabs(value - expected) <= allowed))
        fail_msg("%.15g is not within %g of %.15g", value, allowed, expected);
}

void assert_printed(double value, double printed, int decimals)
{
    double half = 0.5 * pow(10, -decimals) * (1 + 1e-9);
    if (!(fabs(value - printed) <= half))
        fail_msg("%.15g does not round to the printed %.*f", value, decimals, printed);
}
