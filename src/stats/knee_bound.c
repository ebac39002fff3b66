#include "knee_private.h"

#include "ridgetally/base/memory.h"

#include <math.h>

/* Cells between two shares: in each the determinant is that of its low end and the chord is taken at its high end. */
enum { CELLS = 128 };

/* What rounding can have taken off an rss, whose y has length 1. */
#define ROUNDING 1e-12

/* The part of the way from low to high that the weight furthest on has gone. */
static double furthest(const double *low, const double *now, const double *high, size_t sizes)
{
    double part = 0;
    for (size_t s = 0; s < sizes; s++)
        part = fmax(part, (now[s] - low[s]) / (high[s] - low[s]));
    return fmin(part, 1);
}

/* A chord that falls from 1 to 1 - loss, times the root of the determinant: the least over the cells. A least of functions linear in
 * the loss is concave in it, so that what lies between two losses is above their mean. */
static void fill_chords(double *chord, const double *part, const double *root)
{
    for (size_t i = 0; i <= RT_KNEE_CHORDS; i++) {
        const double loss = (double)i / RT_KNEE_CHORDS;
        chord[i] = INFINITY;
        for (size_t cell = 0; cell < CELLS; cell++)
            chord[i] = fmin(chord[i], (1 - loss * part[cell + 1]) * root[cell]);
    }
}

enum rt_status rt_knee_fill_bound(struct rt_knee_bound *bound, const struct rt_knee_search *search,
                                  struct rt_error *error)
{
    const size_t sizes = search->size_count;
    const double n = (double)search->n;
    double part[CELLS + 1];
    double root[CELLS + 1];
    double *weights = rt_new_array(sizes, sizeof *weights);
    if (weights == NULL)
        return rt_fail_memory(error);
    *bound = (struct rt_knee_bound){.shares = search->sizes[sizes - 1] > 1 ? RT_KNEE_SHARES : 1};
    for (size_t i = 0; i < bound->shares; i++)
        bound->root[i] = exp(search->log_determinants[i] / n);
    for (size_t i = 0; i + 1 < bound->shares; i++) {
        const double width = (rt_knee_shares[i + 1] - rt_knee_shares[i]) / CELLS;
        for (size_t cell = 0; cell <= CELLS; cell++) {
            const double share = rt_knee_shares[i] + (double)cell * width;
            root[cell] = exp(rt_knee_weigh_sizes(search, share, weights) / n);
            part[cell] =
                furthest(search->weights + i * sizes, weights, search->weights + (i + 1) * sizes, sizes);
        }
        fill_chords(bound->chord[i], part, root);
    }
    free(weights);
    return RT_OK;
}

/* The least between share i and the next; 0 when it cannot be told. */
static double least_between(const struct rt_knee_bound *bound, size_t i, double low, double high)
{
    const double loss = RT_KNEE_CHORDS * (1 - high / low);
    if (!(loss >= 0 && loss < RT_KNEE_CHORDS))
        return 0;
    const size_t place = (size_t)loss;
    const double *chord = bound->chord[i] + place;
    return low * (chord[0] + (loss - (double)place) * (chord[1] - chord[0]));
}

bool rt_knee_stays_above(const struct rt_knee_bound *bound, const double *rss, double least)
{
    double low = rss[0] - ROUNDING;
    bool above = low * bound->root[0] > least;
    for (size_t i = 0; above && i + 1 < bound->shares; i++) {
        const double high = rss[i + 1] - ROUNDING;
        above = high * bound->root[i] > least || least_between(bound, i, low, high) > least;
        low = high;
    }
    return above;
}
