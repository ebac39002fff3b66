#include "ridgetally/stats/group_effect.h"

#include "ridgetally/base/memory.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_eigen.h>
#include <gsl/gsl_matrix.h>
#include <gsl/gsl_vector.h>
#include <math.h>
#include <stdlib.h>

/* One group: its rows below each place of y (exact and capped apart), their number and the sum of their b. */
struct group {
    int64_t *exact;
    int64_t *capped;
    int64_t rows;
    int64_t sum;
};

static bool is_capped(const struct rt_pair_scores *scores, size_t i)
{
    return scores->capped != NULL && scores->capped[i];
}

static void place_group(const struct rt_pair_scores *scores, const size_t *group_of, size_t g,
                        struct group *group)
{
    group->rows = group->sum = 0;
    for (size_t k = 0; k <= scores->y_count; k++)
        group->exact[k] = group->capped[k] = 0;
    for (size_t i = 0; i < scores->n; i++) {
        if (group_of[i] != g)
            continue;
        (is_capped(scores, i) ? group->capped : group->exact)[scores->y[i] + 1]++;
        group->rows++;
        group->sum += scores->b[i];
    }
    for (size_t k = 1; k <= scores->y_count; k++) {
        group->exact[k] += group->exact[k - 1];
        group->capped[k] += group->capped[k - 1];
    }
}

/* Sum over the rows i of the group of the y score of (i, j). */
static int64_t group_against(const struct rt_pair_scores *scores, const struct group *group, size_t j)
{
    size_t y = scores->y[j];
    size_t places = scores->y_count;
    if (is_capped(scores, j))
        return -group->exact[y + 1];
    return group->exact[places] - group->exact[y + 1] + group->capped[places] - group->capped[y] -
           group->exact[y];
}

/* The relative effect of group g without the given rows; NaN when no row of it is left. */
static double effect_without(const struct rt_pair_scores *scores, const size_t *group_of, size_t g,
                             const struct group *group, const size_t *row, size_t size)
{
    int64_t rows = group->rows;
    int64_t sum = group->sum;
    for (size_t p = 0; p < size; p++) {
        sum -= group_against(scores, group, row[p]);
        if (group_of[row[p]] != g)
            continue;
        rows--;
        sum -= scores->b[row[p]];
        for (size_t q = 0; q < size; q++) /* taken off twice above */
            sum += rt_pair_score_y(scores, row[p], row[q]);
    }
    double n = (double)scores->n - (double)size;
    return rows > 0 ? 0.5 + (double)sum / ((double)rows * 2 * n) : NAN;
}

/* Jackknife covariance (groups x groups) of the C x groups replicates, centred in place. */
static void covariance(double *replicates, size_t clusters, size_t groups, gsl_matrix *into)
{
    double scale = (double)(clusters - 1) / (double)clusters;
    for (size_t g = 0; g < groups; g++) {
        double mean = 0;
        for (size_t c = 0; c < clusters; c++)
            mean += (replicates[c * groups + g] - mean) / (double)(c + 1);
        for (size_t c = 0; c < clusters; c++)
            replicates[c * groups + g] -= mean;
    }
    for (size_t g = 0; g < groups; g++) {
        for (size_t h = 0; h <= g; h++) {
            double sum = 0;
            for (size_t c = 0; c < clusters; c++)
                sum += replicates[c * groups + g] * replicates[c * groups + h];
            gsl_matrix_set(into, g, h, scale * sum);
            gsl_matrix_set(into, h, g, scale * sum);
        }
    }
}

/* Contrast k of 0..groups-2 (Helmert, orthonormal) of a vector: equality of all entries is all contrasts 0.
 */
static double helmert(size_t k, size_t g)
{
    double size = sqrt((double)(k + 1) * (double)(k + 2));
    if (g <= k)
        return 1 / size;
    return g == k + 1 ? -(double)(k + 1) / size : 0;
}

/* W = sum over the eigenvectors of the contrast covariance of (projection)^2/eigenvalue; *rank = how many. */
static enum rt_status wald(const double *effect, const gsl_matrix *full, size_t groups, double *w,
                           size_t *rank, struct rt_error *error)
{
    size_t q = groups - 1;
    gsl_matrix *of_contrasts = gsl_matrix_calloc(q, q);
    gsl_matrix *vectors = gsl_matrix_calloc(q, q);
    gsl_vector *values = gsl_vector_calloc(q);
    gsl_eigen_symmv_workspace *work = gsl_eigen_symmv_alloc(q);
    enum rt_status status = RT_OK;
    *w = 0;
    *rank = 0;
    if (of_contrasts == NULL || vectors == NULL || values == NULL || work == NULL)
        status = rt_fail_memory(error);
    for (size_t k = 0; status == RT_OK && k < q; k++)
        for (size_t m = 0; m < q; m++)
            for (size_t g = 0; g < groups; g++)
                for (size_t h = 0; h < groups; h++)
                    *gsl_matrix_ptr(of_contrasts, k, m) +=
                        helmert(k, g) * gsl_matrix_get(full, g, h) * helmert(m, h);
    if (status == RT_OK && gsl_eigen_symmv(of_contrasts, values, vectors, work) != 0)
        status = rt_fail(error, RT_SYSTEM, "the eigenvalues of a covariance could not be found");
    double largest = 0;
    for (size_t k = 0; status == RT_OK && k < q; k++)
        largest = fmax(largest, gsl_vector_get(values, k));
    for (size_t k = 0; status == RT_OK && k < q; k++) {
        if (gsl_vector_get(values, k) <= 1e-12 * largest)
            continue;
        double projection = 0;
        for (size_t m = 0; m < q; m++)
            for (size_t g = 0; g < groups; g++)
                projection += gsl_matrix_get(vectors, m, k) * helmert(m, g) * effect[g];
        *w += projection * projection / gsl_vector_get(values, k);
        ++*rank;
    }
    gsl_matrix_free(of_contrasts);
    gsl_matrix_free(vectors);
    gsl_vector_free(values);
    gsl_eigen_symmv_free(work);
    return status;
}

/* All replicates, group by group; effect receives the effects of the whole sample. */
static enum rt_status fill_effects(const struct rt_pair_scores *scores, const size_t *group_of, size_t groups,
                                   const struct rt_cluster_rows *clusters, double *effect, double *replicates,
                                   struct rt_error *error)
{
    struct group group = {.exact = rt_new_array(scores->y_count + 1, sizeof *group.exact),
                          .capped = rt_new_array(scores->y_count + 1, sizeof *group.capped)};
    enum rt_status status = RT_OK;
    if (group.exact == NULL || group.capped == NULL)
        status = rt_fail_memory(error);
    for (size_t g = 0; status == RT_OK && g < groups; g++) {
        place_group(scores, group_of, g, &group);
        effect[g] = effect_without(scores, group_of, g, &group, NULL, 0);
        for (size_t c = 0; c < clusters->count; c++)
            replicates[c * groups + g] =
                effect_without(scores, group_of, g, &group, clusters->row + clusters->start[c],
                               clusters->start[c + 1] - clusters->start[c]);
    }
    free(group.exact);
    free(group.capped);
    return status;
}

static void judge(double w, size_t rank, double clusters, size_t groups, struct rt_estimate *test)
{
    double q = (double)rank;
    if (rank < groups - 1) {
        test->reason = "too few patients (clusters) differ to judge by";
        return;
    }
    if (clusters <= q) {
        test->reason = "needs more patients (clusters) than groups";
        return;
    }
    test->value = test->statistic = w;
    test->df = q;
    test->p = gsl_cdf_fdist_Q(w * (clusters - q) / (q * (clusters - 1)), q, clusters - q);
}

enum rt_status rt_group_effect_test(const struct rt_pair_scores *scores, const size_t *group_of,
                                    size_t groups, const struct rt_cluster_rows *clusters,
                                    struct rt_estimate *test, struct rt_error *error)
{
    *test = rt_undefined(NULL);
    double *effect = rt_new_array(groups, sizeof *effect);
    double *replicates = rt_new_array(clusters->count * groups, sizeof *replicates);
    gsl_matrix *full = gsl_matrix_calloc(groups, groups);
    enum rt_status status = RT_OK;
    if (effect == NULL || replicates == NULL || full == NULL)
        status = rt_fail_memory(error);
    if (status == RT_OK)
        status = fill_effects(scores, group_of, groups, clusters, effect, replicates, error);
    for (size_t k = 0; status == RT_OK && k < clusters->count * groups; k++)
        if (isnan(replicates[k]))
            test->reason = "leaving out one patient empties a group";
    if (status == RT_OK && clusters->count < 2)
        test->reason = "needs at least two patients (clusters)";
    if (status == RT_OK && test->reason == NULL) {
        double w = NAN;
        size_t rank = 0;
        covariance(replicates, clusters->count, groups, full);
        status = wald(effect, full, groups, &w, &rank, error);
        if (status == RT_OK)
            judge(w, rank, (double)clusters->count, groups, test);
    }
    free(effect);
    free(replicates);
    gsl_matrix_free(full);
    return status;
}
