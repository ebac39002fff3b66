#include "ridgetally/stats/rank.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/jackknife.h"
#include "ridgetally/stats/pair_score.h"
#include "ridgetally/stats/rank_null.h"

#include <math.h>
#include <stdlib.h>

enum { KENDALL_EXACT_BELOW = 50 };

static const char constant[] = "one of the two columns is constant or its order is unknown";

/* No ties and no caps on either side: every pair is decided. */
static bool all_decided(const struct rt_pair_sums *sums)
{
    int64_t pairs = sums->n * (sums->n - 1);
    return sums->x_decided == pairs && sums->y_decided == pairs;
}

/* Limits on Fisher's z scale with a variance that does not come from the data. */
static void set_limits(struct rt_estimate *estimate, double variance_of_z)
{
    if (fabs(estimate->value) >= 1) {
        estimate->reason = "the correlation is complete, where no limits can be given";
        return;
    }
    if (!(variance_of_z > 0)) {
        estimate->reason = "too few rows for limits";
        return;
    }
    double z = atanh(estimate->value);
    double half = RT_Z_95 * sqrt(variance_of_z);
    estimate->lower = tanh(z - half);
    estimate->upper = tanh(z + half);
    estimate->standard_error = sqrt(variance_of_z) * (1 - estimate->value) * (1 + estimate->value);
}

static struct rt_estimate spearman_alone(const struct rt_pair_sums *sums)
{
    struct rt_estimate estimate = rt_undefined(NULL);
    double n = (double)sums->n;
    double r = estimate.value = rt_pair_spearman(sums);
    set_limits(&estimate, sums->n > 3 ? (1 + r * r / 2) / (n - 3) : NAN);
    if (all_decided(sums)) {
        /* Without ties sum of squared rank differences = (A + B - 2 AB)/4 with doubled, centred ranks. */
        double squared = (double)(sums->a_squared + sums->b_squared - 2 * sums->a_times_b) / 4;
        estimate.p = rt_spearman_null_p(squared, (size_t)sums->n);
        return estimate;
    }
    if (sums->n < 3) {
        estimate.reason = "too few rows for a test";
        return estimate;
    }
    estimate.df = n - 2;
    estimate.statistic = r * sqrt((n - 2) / ((1 - r) * (1 + r)));
    estimate.p = rt_t_p(estimate.statistic, estimate.df);
    if (isinf(estimate.statistic))
        estimate.statistic = NAN;
    return estimate;
}

static enum rt_status tau_b_alone(const struct rt_pair_sums *sums, struct rt_estimate *estimate,
                                  struct rt_error *error)
{
    *estimate = rt_undefined(NULL);
    estimate->value = rt_pair_tau_b(sums);
    set_limits(estimate, sums->n > 4 ? 0.437 / ((double)sums->n - 4) : NAN);
    if (!all_decided(sums) || sums->n >= KENDALL_EXACT_BELOW) {
        estimate->statistic = rt_pair_statistic(sums);
        estimate->df = INFINITY;
        estimate->p = rt_t_p(estimate->statistic, INFINITY);
        return RT_OK;
    }
    size_t ones[KENDALL_EXACT_BELOW];
    for (size_t i = 0; i < KENDALL_EXACT_BELOW; i++)
        ones[i] = 1;
    struct rt_mass mass = {0};
    enum rt_status status = rt_jonckheere_null(ones, (size_t)sums->n, &mass, error);
    if (status == RT_OK) {
        int64_t concordant = (sums->n * (sums->n - 1) + sums->cross) / 4;
        estimate->p = rt_mass_two_sided(&mass, (size_t)concordant);
    }
    rt_mass_release(&mass);
    return status;
}

static enum rt_status by_jackknife(const struct rt_pair_scores *scores, const struct rt_clusters *clusters,
                                   struct rt_rank_correlation *result, struct rt_error *error)
{
    struct rt_cluster_rows rows = {0};
    enum rt_status status = rt_gather_clusters(clusters, scores->n, &rows, error);
    struct rt_pair_sums *without = rt_new_array(rows.count, sizeof *without);
    double *spearman = rt_new_array(rows.count, sizeof *spearman);
    double *tau_b = rt_new_array(rows.count, sizeof *tau_b);
    if (status == RT_OK && (without == NULL || spearman == NULL || tau_b == NULL))
        status = rt_fail_memory(error);
    if (status == RT_OK)
        status = rt_pair_sums_leave_out(scores, &rows, without, error);
    if (status == RT_OK) {
        for (size_t c = 0; c < rows.count; c++) {
            spearman[c] = rt_pair_spearman(&without[c]);
            tau_b[c] = rt_pair_tau_b(&without[c]);
        }
        result->spearman = rt_jackknife_bounded(rt_pair_spearman(&scores->sums), spearman, rows.count);
        result->tau_b = rt_jackknife_bounded(rt_pair_tau_b(&scores->sums), tau_b, rows.count);
    }
    free(without);
    free(spearman);
    free(tau_b);
    rt_cluster_rows_release(&rows);
    return status;
}

enum rt_status rt_rank_correlation(const double *x, const double *y, const bool *y_capped, size_t n,
                                   const struct rt_clusters *clusters, struct rt_rank_correlation *result,
                                   struct rt_error *error)
{
    *result = (struct rt_rank_correlation){.n = n};
    struct rt_pair_scores scores = {0};
    enum rt_status status = rt_pair_scores(x, y, y_capped, n, &scores, error);
    if (status != RT_OK)
        return status;
    result->pair_score = (double)scores.sums.cross / 2;
    if (isnan(rt_pair_tau_b(&scores.sums))) {
        result->spearman = result->tau_b = rt_undefined(n < 2 ? "needs at least two rows" : constant);
    } else if (rt_has_clusters(clusters)) {
        status = by_jackknife(&scores, clusters, result, error);
    } else {
        result->spearman = spearman_alone(&scores.sums);
        status = tau_b_alone(&scores.sums, &result->tau_b, error);
    }
    rt_pair_scores_release(&scores);
    return status;
}
