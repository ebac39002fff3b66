#include "ridgetally/stats/root.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_roots.h>
#include <math.h>

double rt_find_root(double (*function)(double x, void *parameters), void *parameters, double low, double high)
{
    double at_low = function(low, parameters);
    double at_high = function(high, parameters);
    if (!isfinite(at_low) || !isfinite(at_high) || (at_low < 0) == (at_high < 0))
        return at_low == 0 ? low : at_high == 0 ? high : NAN;
    gsl_function f = {.function = function, .params = parameters};
    gsl_root_fsolver *solver = gsl_root_fsolver_alloc(gsl_root_fsolver_brent);
    if (solver == NULL)
        return NAN;
    double root = NAN;
    if (gsl_root_fsolver_set(solver, &f, low, high) == GSL_SUCCESS) {
        for (int step = 0; step < 300; step++) {
            if (gsl_root_fsolver_iterate(solver) != GSL_SUCCESS)
                break;
            if (gsl_root_test_interval(gsl_root_fsolver_x_lower(solver), gsl_root_fsolver_x_upper(solver),
                                       1e-15, 1e-15) == GSL_SUCCESS)
                break;
        }
        root = gsl_root_fsolver_root(solver);
    }
    gsl_root_fsolver_free(solver);
    return root;
}
