#include "ridgetally/stats/ordered.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/group_effect.h"
#include "ridgetally/stats/jackknife.h"
#include "ridgetally/stats/pair_score.h"
#include "ridgetally/stats/rank_null.h"
#include "ridgetally/stats/tail.h"

#include <math.h>
#include <stdlib.h>

enum { JONCKHEERE_EXACT_BELOW = 50 };

static const char one_group[] = "needs rows in at least two groups";
static const char one_value[] = "all values are equal or their order is unknown";

/* The levels with rows, renumbered 0, 1, ... in order. */
struct groups {
    size_t count;
    size_t *of;   /* n: group of each row */
    size_t *size; /* count */
};

static enum rt_status gather_groups(const size_t *level, size_t levels, size_t n, struct groups *groups,
                                    struct rt_error *error)
{
    for (size_t i = 0; i < n; i++)
        if (level[i] >= levels)
            return rt_fail(error, RT_USE, "a level code is not below the number of levels");
    size_t *rows = rt_new_array(levels, sizeof *rows);
    groups->of = rt_new_array(n, sizeof *groups->of);
    groups->size = rt_new_array(levels, sizeof *groups->size);
    if (rows == NULL || groups->of == NULL || groups->size == NULL) {
        free(rows);
        return rt_fail_memory(error);
    }
    for (size_t i = 0; i < n; i++)
        rows[level[i]]++;
    for (size_t g = 0; g < levels; g++) {
        if (rows[g] == 0)
            continue;
        groups->size[groups->count] = rows[g];
        rows[g] = groups->count++;
    }
    for (size_t i = 0; i < n; i++)
        groups->of[i] = rows[level[i]];
    free(rows);
    return RT_OK;
}

static struct rt_estimate kruskal_wallis(const struct rt_pair_scores *scores, const struct groups *groups)
{
    struct rt_estimate h = rt_undefined(NULL);
    double sum = 0;
    for (size_t g = 0; g < groups->count; g++) {
        int64_t total = 0;
        for (size_t i = 0; i < scores->n; i++)
            total += groups->of[i] == g ? scores->b[i] : 0;
        sum += (double)total * (double)total / (double)groups->size[g];
    }
    h.value = h.statistic = ((double)scores->n - 1) * sum / (double)scores->sums.b_squared;
    h.df = (double)groups->count - 1;
    h.p = rt_chi_square_p(h.statistic, h.df);
    return h;
}

static double concordance(const struct rt_pair_sums *sums)
{
    return sums->x_decided > 0 ? 0.5 + (double)sums->cross / (double)sums->x_decided / 2 : NAN;
}

static enum rt_status exact_p(const struct groups *groups, const struct rt_pair_sums *sums, double *p,
                              struct rt_error *error)
{
    struct rt_mass mass = {0};
    enum rt_status status = rt_jonckheere_null(groups->size, groups->count, &mass, error);
    if (status == RT_OK)
        *p = rt_mass_two_sided(&mass, (size_t)((sums->x_decided + sums->cross) / 4));
    rt_mass_release(&mass);
    return status;
}

static enum rt_status without_clusters(const struct rt_pair_scores *scores, const struct groups *groups,
                                       struct rt_ordered *result, struct rt_error *error)
{
    const struct rt_pair_sums *sums = &scores->sums;
    result->kruskal_wallis = kruskal_wallis(scores, groups);
    struct rt_estimate *j = &result->jonckheere;
    j->statistic = rt_pair_statistic(sums);
    j->df = INFINITY;
    j->standard_error = sqrt(rt_pair_variance(sums)) / 4; /* J = (pairs + cross)/4 over ordered pairs */
    j->p = rt_t_p(j->statistic, INFINITY);
    if (sums->y_decided == sums->n * (sums->n - 1) && sums->n < JONCKHEERE_EXACT_BELOW)
        return exact_p(groups, sums, &j->p, error);
    return RT_OK;
}

static enum rt_status with_clusters(const struct rt_pair_scores *scores, const struct groups *groups,
                                    const struct rt_clusters *clusters, struct rt_ordered *result,
                                    struct rt_error *error)
{
    struct rt_cluster_rows rows = {0};
    enum rt_status status = rt_gather_clusters(clusters, scores->n, &rows, error);
    struct rt_pair_sums *without = rt_new_array(rows.count, sizeof *without);
    double *replicates = rt_new_array(rows.count, sizeof *replicates);
    if (status == RT_OK && (without == NULL || replicates == NULL))
        status = rt_fail_memory(error);
    if (status == RT_OK)
        status = rt_pair_sums_leave_out(scores, &rows, without, error);
    if (status == RT_OK) {
        for (size_t c = 0; c < rows.count; c++)
            replicates[c] = 2 * concordance(&without[c]) - 1;
        double value = (double)scores->sums.cross / (double)scores->sums.x_decided;
        struct rt_estimate d = rt_jackknife_bounded(value, replicates, rows.count);
        result->concordance = d;
        result->concordance.value = (1 + d.value) / 2;
        result->concordance.standard_error = d.standard_error / 2;
        result->concordance.lower = (1 + d.lower) / 2;
        result->concordance.upper = (1 + d.upper) / 2;
        result->jonckheere.statistic = d.statistic;
        result->jonckheere.df = d.df;
        result->jonckheere.p = d.p;
        result->jonckheere.reason = d.reason;
        status =
            rt_group_effect_test(scores, groups->of, groups->count, &rows, &result->kruskal_wallis, error);
    }
    free(without);
    free(replicates);
    rt_cluster_rows_release(&rows);
    return status;
}

static enum rt_status compare(const double *y, const bool *y_capped, const struct groups *groups, size_t n,
                              const struct rt_clusters *clusters, struct rt_ordered *result,
                              struct rt_error *error)
{
    double *x = rt_new_array(n, sizeof *x);
    if (x == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < n; i++)
        x[i] = (double)groups->of[i];
    struct rt_pair_scores scores = {0};
    enum rt_status status = rt_pair_scores(x, y, y_capped, n, &scores, error);
    free(x);
    if (status != RT_OK)
        return status;
    const struct rt_pair_sums *sums = &scores.sums;
    if (groups->count < 2 || sums->b_squared == 0) {
        const char *reason = groups->count < 2 ? one_group : one_value;
        result->kruskal_wallis = result->jonckheere = result->concordance = rt_undefined(reason);
    } else {
        result->jonckheere.value = (double)(sums->x_decided + sums->cross) / 4;
        result->concordance.value = concordance(sums);
        status = rt_has_clusters(clusters) ? with_clusters(&scores, groups, clusters, result, error)
                                           : without_clusters(&scores, groups, result, error);
    }
    rt_pair_scores_release(&scores);
    return status;
}

enum rt_status rt_ordered(const double *y, const bool *y_capped, const size_t *level, size_t levels, size_t n,
                          const struct rt_clusters *clusters, struct rt_ordered *result,
                          struct rt_error *error)
{
    struct rt_estimate empty = rt_undefined(NULL);
    *result = (struct rt_ordered){.n = n, .kruskal_wallis = empty, .jonckheere = empty, .concordance = empty};
    struct groups groups = {0};
    enum rt_status status = gather_groups(level, levels, n, &groups, error);
    if (status == RT_OK)
        status = compare(y, y_capped, &groups, n, clusters, result, error);
    free(groups.of);
    free(groups.size);
    return status;
}

enum rt_status rt_mean_ranks(const double *y, const bool *y_capped, const size_t *level, size_t levels,
                             size_t n, double *mean_rank, struct rt_error *error)
{
    struct groups groups = {0};
    struct rt_pair_scores scores = {0};
    double *rows = rt_new_array(levels, sizeof *rows);
    enum rt_status status = rows == NULL ? rt_fail_memory(error) : RT_OK;
    if (status == RT_OK)
        status = gather_groups(level, levels, n, &groups, error); /* checks the codes */
    if (status == RT_OK)
        status = rt_pair_scores(y, y, y_capped, n, &scores, error);
    for (size_t g = 0; status == RT_OK && g < levels; g++)
        mean_rank[g] = 0;
    for (size_t i = 0; status == RT_OK && i < n; i++) {
        rows[level[i]]++;
        mean_rank[level[i]] += (double)(scores.b[i] + (int64_t)n + 1) / 2;
    }
    for (size_t g = 0; status == RT_OK && g < levels; g++)
        mean_rank[g] = rows[g] > 0 ? mean_rank[g] / rows[g] : NAN;
    rt_pair_scores_release(&scores);
    free(groups.of);
    free(groups.size);
    free(rows);
    return status;
}
