#include "near.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

void assert_near_at(double value, double expected, double tolerance, const char *file, int line)
{
    if (fabs(value - expected) <= tolerance)
        return;
    print_error("%.17g is not %.17g within %g\n", value, expected, tolerance);
    _fail(file, line);
}
