#include "ridgetally/stats/adjust.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/order.h"

#include <math.h>
#include <stdlib.h>

/* The entries that are numbers, ascending: order holds their places. */
struct ranked {
    double *p;
    size_t *order;
    size_t count;
};

static enum rt_status rank_numbers(const double *p, size_t n, struct ranked *ranked, struct rt_error *error)
{
    *ranked = (struct ranked){.p = rt_new_array(n, sizeof *ranked->p),
                              .order = rt_new_array(n, sizeof *ranked->order)};
    if (ranked->p == NULL || ranked->order == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < n; i++) {
        if (p[i] < 0 || p[i] > 1)
            return rt_fail(error, RT_USE, "a p-value lies outside 0 to 1");
        ranked->count += isnan(p[i]) ? 0 : 1;
        ranked->p[i] = isnan(p[i]) ? INFINITY : p[i]; /* sorts last */
    }
    return rt_sort_order(ranked->p, n, ranked->order, error);
}

static void release(struct ranked *ranked)
{
    free(ranked->p);
    free(ranked->order);
}

enum rt_status rt_adjust_holm(const double *p, size_t n, double *adjusted, struct rt_error *error)
{
    struct ranked ranked;
    enum rt_status status = rank_numbers(p, n, &ranked, error);
    double largest = 0;
    for (size_t k = 0; status == RT_OK && k < n; k++) {
        size_t i = ranked.order[k];
        if (k < ranked.count)
            largest = fmax(largest, fmin(1, (double)(ranked.count - k) * ranked.p[i]));
        adjusted[i] = k < ranked.count ? largest : NAN;
    }
    release(&ranked);
    return status;
}

enum rt_status rt_adjust_benjamini_hochberg(const double *p, size_t n, double *adjusted,
                                            struct rt_error *error)
{
    struct ranked ranked;
    enum rt_status status = rank_numbers(p, n, &ranked, error);
    double smallest = 1;
    for (size_t k = n; status == RT_OK && k-- > 0;) {
        size_t i = ranked.order[k];
        if (k < ranked.count)
            smallest = fmin(smallest, (double)ranked.count / (double)(k + 1) * ranked.p[i]);
        adjusted[i] = k < ranked.count ? smallest : NAN;
    }
    release(&ranked);
    return status;
}
