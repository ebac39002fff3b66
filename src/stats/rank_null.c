#include "ridgetally/stats/rank_null.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/jackknife.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

void rt_mass_release(struct rt_mass *mass)
{
    free(mass->p);
    *mass = (struct rt_mass){0};
}

/* The distribution of U for samples of m and n. row j of the table holds that for (i, j), i growing. The
 * largest value is of the first sample with chance i/(i + j) and then counts j pairs. */
static enum rt_status mann_whitney_null(size_t m, size_t n, struct rt_mass *mass, struct rt_error *error)
{
    if (n > m) {
        size_t larger = n;
        n = m;
        m = larger;
    }
    size_t width = m * n + 1;
    double *table = rt_new_array((n + 1) * width, sizeof *table);
    mass->p = rt_new_array(width, sizeof *mass->p);
    mass->count = width;
    if (table == NULL || mass->p == NULL) {
        free(table);
        rt_mass_release(mass);
        return rt_fail_memory(error);
    }
    for (size_t j = 0; j <= n; j++)
        table[j * width] = 1;
    for (size_t i = 1; i <= m; i++) {
        for (size_t j = 1; j <= n; j++) {
            double first = (double)i / (double)(i + j);
            double second = (double)j / (double)(i + j);
            double *now = table + j * width;
            const double *fewer = table + (j - 1) * width;
            for (size_t u = i * j + 1; u-- > 0;)
                now[u] = (u >= j ? first * now[u - j] : 0) + second * fewer[u];
        }
    }
    memcpy(mass->p, table + n * width, width * sizeof *table);
    free(table);
    return RT_OK;
}

/* total becomes the distribution of the sum of total and more. */
static enum rt_status convolve(struct rt_mass *total, const struct rt_mass *more, struct rt_error *error)
{
    size_t count = total->count + more->count - 1;
    double *sum = rt_new_array(count, sizeof *sum);
    if (sum == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < total->count; i++)
        for (size_t j = 0; j < more->count; j++)
            sum[i + j] += total->p[i] * more->p[j];
    free(total->p);
    total->p = sum;
    total->count = count;
    return RT_OK;
}

enum rt_status rt_jonckheere_null(const size_t *sizes, size_t samples, struct rt_mass *mass,
                                  struct rt_error *error)
{
    *mass = (struct rt_mass){.p = rt_new_array(1, sizeof *mass->p), .count = 1};
    if (mass->p == NULL)
        return rt_fail_memory(error);
    mass->p[0] = 1;
    enum rt_status status = RT_OK;
    size_t earlier = 0;
    for (size_t g = 0; status == RT_OK && g < samples; g++) {
        struct rt_mass next = {0};
        if (earlier > 0 && sizes[g] > 0)
            status = mann_whitney_null(earlier, sizes[g], &next, error);
        if (status == RT_OK && next.p != NULL)
            status = convolve(mass, &next, error);
        rt_mass_release(&next);
        earlier += sizes[g];
    }
    if (status != RT_OK)
        rt_mass_release(mass);
    return status;
}

enum rt_status rt_signed_rank_null(size_t n, struct rt_mass *mass, struct rt_error *error)
{
    size_t count = n * (n + 1) / 2 + 1;
    *mass = (struct rt_mass){.p = rt_new_array(count, sizeof *mass->p), .count = count};
    if (mass->p == NULL)
        return rt_fail_memory(error);
    mass->p[0] = 1;
    for (size_t rank = 1; rank <= n; rank++)
        for (size_t v = rank * (rank + 1) / 2 + 1; v-- > 0;)
            mass->p[v] = (mass->p[v] + (v >= rank ? mass->p[v - rank] : 0)) / 2;
    return RT_OK;
}

double rt_mass_lower_tail(const struct rt_mass *mass, size_t value)
{
    double sum = 0;
    for (size_t k = 0; k <= value && k < mass->count; k++)
        sum += mass->p[k];
    return sum;
}

double rt_mass_two_sided(const struct rt_mass *symmetric, size_t value)
{
    size_t mirror = symmetric->count - 1 - value;
    return fmin(1, 2 * rt_mass_lower_tail(symmetric, value < mirror ? value : mirror));
}

size_t rt_mass_quantile(const struct rt_mass *mass, double p)
{
    double wanted = p - 10 * 2.2204460492503131e-16; /* sums that miss p by rounding have reached it */
    double sum = 0;
    for (size_t k = 0; k < mass->count; k++) {
        sum += mass->p[k];
        if (sum >= wanted)
            return k;
    }
    return mass->count - 1;
}

enum { SPEARMAN_COUNTED = 9, SPEARMAN_SERIES = 1290 };

/* How many orders of n ranks have each sum of squared differences: ways[used][sum], over the sets `used` of
 * ranks given to the first places. */
static double count_orders_up_to(size_t limit, size_t n)
{
    enum { SUMS = 241 }; /* (9^3 - 9)/3 + 1 */
    static const size_t sets = (size_t)1 << SPEARMAN_COUNTED;
    unsigned *ways = rt_new_array(sets * SUMS, sizeof *ways);
    if (ways == NULL)
        return NAN;
    ways[0] = 1;
    size_t all = ((size_t)1 << n) - 1;
    for (size_t used = 0; used < all; used++) {
        size_t place = 0;
        for (size_t bits = used; bits != 0; bits &= bits - 1)
            place++;
        for (size_t rank = 0; rank < n; rank++) {
            if (used >> rank & 1)
                continue;
            size_t apart = rank > place ? rank - place : place - rank;
            unsigned *to = ways + (used | (size_t)1 << rank) * SUMS;
            const unsigned *from = ways + used * SUMS;
            for (size_t sum = apart * apart; sum < SUMS; sum++)
                to[sum] += from[sum - apart * apart];
        }
    }
    double favourable = 0;
    double total = 0;
    for (size_t sum = 0; sum < SUMS; sum++) {
        total += ways[all * SUMS + sum];
        favourable += sum <= limit ? ways[all * SUMS + sum] : 0;
    }
    free(ways);
    return favourable / total;
}

/* AS 89: upper tail P(D >= d) for n > 9; the lower tail is its mirror image. */
static double spearman_series(double d, double n, bool lower)
{
    double b = 1 / n;
    double x = (6 * (d - 1) * b / (n * n - 1) - 1) * sqrt(n - 1);
    double y = x * x;
    double u =
        x * b *
        (0.2274 + b * (0.2531 + 0.1745 * b) +
         y * (-0.0758 + b * (0.1033 + 0.3932 * b) -
              y * b * (0.0879 + 0.0151 * b - y * (0.0072 - 0.0831 * b + y * b * (0.0131 - 4.6e-4 * y)))));
    double correction = u / exp(y / 2);
    double p = lower ? gsl_cdf_ugaussian_P(x) - correction : gsl_cdf_ugaussian_Q(x) + correction;
    return fmax(0, fmin(1, p));
}

double rt_spearman_null_p(double squared_differences, size_t n)
{
    double size = (double)n;
    double half = (size * size * size - size) / 6; /* D under no association */
    double d = round(squared_differences);
    if (n < 2)
        return NAN;
    if (n > SPEARMAN_SERIES) {
        double r = 1 - squared_differences / half;
        double t = fabs(r) >= 1 ? INFINITY : r / sqrt((1 - r) * (1 + r) / (size - 2));
        return rt_t_p(t, size - 2);
    }
    bool upper = d > half;
    double p;
    if (n <= SPEARMAN_COUNTED) /* D and 2 half - D are equally likely */
        p = count_orders_up_to((size_t)(upper ? 2 * half - d : d), n);
    else
        p = spearman_series(upper ? d : d + 2, size, !upper);
    return fmin(1, 2 * p);
}
