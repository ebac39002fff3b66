/* The test of a knee against a straight line: the null of the largest likelihood ratio, by bootstrap. */
#include "knee_private.h"

#include "ridgetally/base/memory.h"

#include <gsl/gsl_rng.h>
#include <math.h>

/* Of a replica only the likelihood is used, whose error is that of the share squared. */
#define ROUGH_SHARE_TOLERANCE 1e-6
/* Of a replica only that its likelihood ratio reaches the one observed is used: this far from it, a first look is enough. An error e of
 * the share moves the ratio by some e^2 times rows times rows of a cluster. */
#define FIRST_LOOK_TOLERANCE 1e-3
#define NEAR_RATIO           0.1
#define NEAR_RATIO_PER_ROW   1e-5

/* What the bootstrap needs of each candidate: products without the response, and per cluster the sum of the bend and of
 * residual times bend. */
struct replica {
    size_t candidates;
    double *bend_sums, *bend_residuals;                            /* candidates * clusters */
    double *x_sums, *x_residuals;                                  /* clusters */
    double *one_residuals;                                         /* clusters: sum of residuals */
    double (*fixed)[RT_KNEE_VARIABLES][RT_KNEE_VARIABLES];         /* candidates */
    double (*fixed_by_size)[RT_KNEE_VARIABLES][RT_KNEE_VARIABLES]; /* candidates * sizes */
    struct rt_knee_products products;
    double *signs; /* clusters */
};

static void release_replica(struct replica *replica)
{
    free(replica->bend_sums);
    free(replica->fixed);
    free(replica->fixed_by_size);
    free(replica->products.by_size);
}

static enum rt_status allocate_replica(struct replica *replica, const struct rt_knee_search *search,
                                       size_t candidates, struct rt_error *error)
{
    size_t clusters = search->clusters.count;
    *replica = (struct replica){.candidates = candidates};
    replica->bend_sums = rt_new_array((2 * candidates + 4) * clusters, sizeof *replica->bend_sums);
    replica->fixed = rt_new_array(candidates, sizeof *replica->fixed);
    replica->fixed_by_size = rt_new_array(candidates * search->size_count, sizeof *replica->fixed_by_size);
    replica->products.by_size = rt_new_array(search->size_count, sizeof *replica->products.by_size);
    if (replica->bend_sums == NULL || replica->fixed == NULL || replica->fixed_by_size == NULL ||
        replica->products.by_size == NULL)
        return rt_fail_memory(error);
    replica->bend_residuals = replica->bend_sums + candidates * clusters;
    replica->x_sums = replica->bend_residuals + candidates * clusters;
    replica->x_residuals = replica->x_sums + clusters;
    replica->one_residuals = replica->x_residuals + clusters;
    replica->signs = replica->one_residuals + clusters;
    return RT_OK;
}

/* Gather what does not change from replicate to replicate. search->y holds the residuals now. */
static void fill_replica(struct replica *replica, struct rt_knee_search *search, const struct rt_knee *result)
{
    size_t clusters = search->clusters.count;
    for (size_t k = 0; k < replica->candidates; k++) {
        bool bends = rt_knee_set_bend(search, (result->candidates[k] - search->mean_x) / search->scale_x);
        for (size_t i = 0; !bends && i < search->n; i++)
            search->bend[i] = 0;
        rt_knee_add_products(search);
        for (int i = 0; i < RT_KNEE_VARIABLES; i++)
            for (int j = 0; j < RT_KNEE_VARIABLES; j++) {
                replica->fixed[k][i][j] = search->products.rows[i][j];
                for (size_t s = 0; s < search->size_count; s++)
                    replica->fixed_by_size[k * search->size_count + s][i][j] =
                        search->products.by_size[s][i][j];
            }
        for (size_t c = 0; c < clusters; c++) {
            double product = 0;
            for (size_t at = search->clusters.start[c]; at < search->clusters.start[c + 1]; at++)
                product += search->bend[search->clusters.row[at]] * search->y[search->clusters.row[at]];
            replica->bend_sums[k * clusters + c] = search->sums[c * RT_KNEE_VARIABLES + RT_KNEE_BEND];
            replica->bend_residuals[k * clusters + c] = product;
        }
    }
    for (size_t c = 0; c < clusters; c++) {
        replica->x_sums[c] = search->sums[c * RT_KNEE_VARIABLES + RT_KNEE_X];
        replica->one_residuals[c] = search->sums[c * RT_KNEE_VARIABLES + RT_KNEE_Y];
        replica->x_residuals[c] = 0;
        for (size_t at = search->clusters.start[c]; at < search->clusters.start[c + 1]; at++)
            replica->x_residuals[c] +=
                search->x[search->clusters.row[at]] * search->y[search->clusters.row[at]];
    }
}

/* The products with a response whose clusters have these signs: only those with RT_KNEE_Y on one side change. */
static void sign_products(struct replica *replica, const struct rt_knee_search *search, size_t k)
{
    size_t clusters = search->clusters.count;
    struct rt_knee_products *products = &replica->products;
    double row[RT_KNEE_Y] = {0};
    for (int i = 0; i < RT_KNEE_VARIABLES; i++)
        for (int j = 0; j < RT_KNEE_VARIABLES; j++) {
            products->rows[i][j] = replica->fixed[k][i][j];
            for (size_t s = 0; s < search->size_count; s++)
                products->by_size[s][i][j] = replica->fixed_by_size[k * search->size_count + s][i][j];
        }
    for (size_t s = 0; s < search->size_count; s++)
        for (int j = 0; j < RT_KNEE_Y; j++)
            products->by_size[s][RT_KNEE_Y][j] = 0;
    for (size_t c = 0; c < clusters; c++) {
        double sign = replica->signs[c];
        double sum = sign * replica->one_residuals[c];
        size_t s = search->size_of[c];
        row[RT_KNEE_ONE] += sum;
        row[RT_KNEE_X] += sign * replica->x_residuals[c];
        row[RT_KNEE_BEND] += sign * replica->bend_residuals[k * clusters + c];
        products->by_size[s][RT_KNEE_Y][RT_KNEE_ONE] += sum * (double)search->sizes[s];
        products->by_size[s][RT_KNEE_Y][RT_KNEE_X] += sum * replica->x_sums[c];
        products->by_size[s][RT_KNEE_Y][RT_KNEE_BEND] += sum * replica->bend_sums[k * clusters + c];
    }
    for (int j = 0; j < RT_KNEE_Y; j++)
        products->rows[RT_KNEE_Y][j] = row[j];
}

/* Is the likelihood ratio of the present products at least `statistic`? */
static bool ratio_reaches(const struct replica *replica, const struct rt_knee_search *search, double line,
                          double statistic)
{
    const double near = NEAR_RATIO + NEAR_RATIO_PER_ROW * (double)search->n;
    const struct rt_knee_fit first =
        rt_knee_best_fit(search, &replica->products, RT_KNEE_Y, FIRST_LOOK_TOLERANCE);
    const double ratio = 2 * (first.likelihood - line);
    if (!(fabs(ratio - statistic) < near))
        return ratio >= statistic;
    return 2 * (rt_knee_best_fit(search, &replica->products, RT_KNEE_Y, ROUGH_SHARE_TOLERANCE).likelihood -
                line) >=
           statistic;
}

/* Does the largest likelihood ratio of a replica reach the one observed? */
static bool replica_reaches(struct replica *replica, const struct rt_knee_search *search, double statistic)
{
    double line = 0;
    if (statistic <= 0) /* a ratio is at least 0 */
        return true;
    for (size_t k = 0; k < replica->candidates; k++) {
        sign_products(replica, search, k);
        if (k == 0)
            line =
                rt_knee_best_fit(search, &replica->products, RT_KNEE_BEND, ROUGH_SHARE_TOLERANCE).likelihood;
        if (ratio_reaches(replica, search, line, statistic))
            return true;
    }
    return false;
}

enum rt_status rt_knee_test_line(struct rt_knee *result, struct rt_knee_search *search,
                                 const struct rt_knee_fit *line, const struct rt_knee_design *design,
                                 struct rt_error *error)
{
    struct replica replica;
    gsl_rng *generator = gsl_rng_alloc(gsl_rng_mt19937);
    enum rt_status status = allocate_replica(&replica, search, result->candidate_count, error);
    if (status == RT_OK && generator == NULL)
        status = rt_fail_memory(error);
    if (status == RT_OK) {
        for (size_t i = 0; i < search->n; i++)
            search->y[i] -= line->b[RT_KNEE_ONE] + line->b[RT_KNEE_X] * search->x[i];
        fill_replica(&replica, search, result);
        gsl_rng_set(generator, design->seed);
        size_t reached = 0;
        for (size_t time = 0; time < design->times; time++) {
            for (size_t c = 0; c < search->clusters.count; c++)
                replica.signs[c] = gsl_rng_uniform(generator) < 0.5 ? -1 : 1;
            reached += replica_reaches(&replica, search, result->statistic);
        }
        result->p = (1 + (double)reached) / (1 + (double)design->times);
    }
    if (generator != NULL)
        gsl_rng_free(generator);
    release_replica(&replica);
    return status;
}
