#include "ridgetally/stats/signed_rank.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/jackknife.h"
#include "ridgetally/stats/order.h"
#include "ridgetally/stats/pair_difference.h"
#include "ridgetally/stats/rank_null.h"

#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>

enum { EXACT_BELOW = 50 };

/* V and what its null distribution needs. */
struct ranked {
    double positive;
    double n;    /* differences that are not 0 */
    double ties; /* sum of t^3 - t */
    bool exact;
};

static enum rt_status rank_sizes(const double *d, size_t n, struct ranked *ranked, struct rt_error *error)
{
    double *size = rt_new_array(n, sizeof *size);
    double *rank = rt_new_array(n, sizeof *rank);
    size_t *code = rt_new_array(n, sizeof *code);
    size_t *row = rt_new_array(n, sizeof *row);
    size_t kept = 0;
    size_t distinct = 0;
    enum rt_status status = RT_OK;
    if (size == NULL || rank == NULL || code == NULL || row == NULL)
        status = rt_fail_memory(error);
    for (size_t i = 0; status == RT_OK && i < n; i++) {
        if (d[i] == 0)
            continue;
        row[kept] = i;
        size[kept++] = fabs(d[i]);
    }
    if (status == RT_OK)
        status = rt_mid_ranks(size, kept, rank, error);
    if (status == RT_OK)
        status = rt_dense_ranks(size, kept, code, &distinct, error);
    *ranked = (struct ranked){.n = (double)kept, .exact = distinct == n && n < EXACT_BELOW};
    for (size_t k = 0; status == RT_OK && k < kept; k++)
        ranked->positive += d[row[k]] > 0 ? rank[k] : 0;
    /* size now counts the rows of each distinct size */
    for (size_t k = 0; status == RT_OK && k < kept; k++)
        size[k] = 0;
    for (size_t k = 0; status == RT_OK && k < kept; k++)
        size[code[k]]++;
    for (size_t k = 0; status == RT_OK && k < distinct; k++)
        ranked->ties += size[k] * size[k] * size[k] - size[k];
    free(size);
    free(rank);
    free(code);
    free(row);
    return status;
}

static void set_limits(const double *d, size_t n, double k, struct rt_estimate *estimate)
{
    double averages = (double)n * ((double)n + 1) / 2;
    if (k >= 1) {
        estimate->lower = rt_average_at(d, n, (int64_t)k);
        estimate->upper = rt_average_at(d, n, (int64_t)(averages + 1 - k));
    } else {
        estimate->reason = "too few differences: none is extreme enough for a 95% limit";
    }
}

static enum rt_status exact_test(const double *sorted, size_t n, const struct ranked *ranked,
                                 struct rt_estimate *estimate, struct rt_error *error)
{
    struct rt_mass mass = {0};
    enum rt_status status = rt_signed_rank_null(n, &mass, error);
    if (status == RT_OK) {
        estimate->p = rt_mass_two_sided(&mass, (size_t)ranked->positive);
        set_limits(sorted, n, (double)rt_mass_quantile(&mass, 0.025), estimate);
    }
    rt_mass_release(&mass);
    return status;
}

static void normal_test(const double *sorted, size_t n, const struct ranked *ranked,
                        struct rt_estimate *estimate)
{
    double m = ranked->n;
    double sd = sqrt(m * (m + 1) * (2 * m + 1) / 24 - ranked->ties / 48);
    double distance = ranked->positive - m * (m + 1) / 4;
    double correction = distance > 0 ? 0.5 : distance < 0 ? -0.5 : 0;
    estimate->df = INFINITY;
    if (!(sd > 0)) {
        estimate->reason = "all differences are 0";
        return;
    }
    estimate->statistic = (distance - correction) / sd;
    estimate->p = rt_t_p(estimate->statistic, INFINITY);
    double all = (double)n;
    double averages = all * (all + 1) / 2;
    set_limits(sorted, n, floor(averages / 2 - RT_Z_95 * sqrt(averages * (2 * all + 1) / 12)), estimate);
}

enum rt_status rt_signed_rank(const double *differences, size_t n, struct rt_signed_rank *result,
                              struct rt_error *error)
{
    *result = (struct rt_signed_rank){.positive_ranks = NAN, .pseudomedian = rt_undefined("no rows")};
    if (n == 0)
        return RT_OK;
    struct ranked ranked;
    double *sorted = NULL;
    enum rt_status status = rank_sizes(differences, n, &ranked, error);
    if (status == RT_OK)
        status = rt_sorted_copy(differences, n, &sorted, error);
    if (status == RT_OK) {
        double averages = (double)n * ((double)n + 1) / 2;
        double low = rt_average_at(sorted, n, (int64_t)(floor((averages + 1) / 2)));
        double high = rt_average_at(sorted, n, (int64_t)(floor(averages / 2) + 1));
        result->positive_ranks = ranked.positive;
        result->pseudomedian = rt_undefined(NULL);
        result->pseudomedian.value = low == high ? low : low / 2 + high / 2;
        if (ranked.exact)
            status = exact_test(sorted, n, &ranked, &result->pseudomedian, error);
        else
            normal_test(sorted, n, &ranked, &result->pseudomedian);
    }
    free(sorted);
    return status;
}
