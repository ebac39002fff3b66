#include "ridgetally/stats/control_chart.h"

#include "ridgetally/base/memory.h"

#include <gsl/gsl_integration.h>
#include <gsl/gsl_randist.h>
#include <math.h>

enum { NODES = 81, LONGEST = 100000 };

/* The density of the average inside its limits, on Gauss-Legendre nodes that grow with the limits. Values are in units of
 * sigma about the centre. */
struct density {
    double lambda, width, shift;
    double node[NODES], weight[NODES]; /* of -1..1 */
    double of[NODES];                  /* density at node times limit */
    double limit;                      /* now */
};

static double limit_at(const struct density *density, int step)
{
    double lambda = density->lambda;
    double grown = lambda < 1 ? -expm1(2.0 * step * log1p(-lambda)) : 1.0;
    return density->width * sqrt(lambda / (2 - lambda) * grown);
}

static bool set_nodes(struct density *density)
{
    gsl_integration_glfixed_table *table = gsl_integration_glfixed_table_alloc(NODES);
    if (table == NULL)
        return false;
    for (size_t i = 0; i < NODES; i++)
        gsl_integration_glfixed_point(-1, 1, i, &density->node[i], &density->weight[i], table);
    gsl_integration_glfixed_table_free(table);
    return true;
}

/* Go to the next step; returns the probability of no signal so far. */
static double go_on(struct density *density, int step)
{
    const double lambda = density->lambda, limit = limit_at(density, step);
    double next[NODES], inside = 0;
    for (size_t j = 0; j < NODES; j++) {
        const double to = density->node[j] * limit;
        next[j] = 0;
        if (density->shift == 0 && j > NODES / 2) { /* symmetric, as the nodes are */
            next[j] = next[NODES - 1 - j];
            inside += density->weight[j] * limit * next[j];
            continue;
        }
        if (step == 1)
            next[j] = gsl_ran_ugaussian_pdf(to / lambda - density->shift) / lambda;
        for (size_t i = 0; i < NODES && step > 1; i++) {
            double value = (to - (1 - lambda) * density->node[i] * density->limit) / lambda;
            next[j] += density->weight[i] * density->limit * density->of[i] *
                       gsl_ran_ugaussian_pdf(value - density->shift) / lambda;
        }
        inside += density->weight[j] * limit * next[j];
    }
    for (size_t j = 0; j < NODES; j++)
        density->of[j] = next[j];
    density->limit = limit;
    return inside;
}

double rt_ewma_run_length(double lambda, double width, double shift)
{
    struct density density = {.lambda = lambda, .width = width, .shift = shift};
    if (!(lambda > 0 && lambda <= 1 && width > 0) || !set_nodes(&density))
        return NAN;
    double run_length = 1, before = 1, ratio_before = 0;
    for (int step = 1; step < LONGEST; step++) {
        double inside = go_on(&density, step), ratio = inside / before;
        run_length += inside;
        if (inside < 1e-15)
            return run_length;
        /* once limits and shape are steady, the rest is a geometric series */
        bool steady = limit_at(&density, step + 1) - density.limit < 1e-13 * density.limit;
        if (steady && fabs(ratio - ratio_before) < 1e-13)
            return run_length + inside * ratio / (1 - ratio);
        before = inside;
        ratio_before = ratio;
    }
    return NAN;
}
