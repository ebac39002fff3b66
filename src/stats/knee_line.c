/* The test of a knee against a straight line: the null of the largest likelihood ratio, by bootstrap. */
#include "knee_private.h"

#include "ridgetally/base/memory.h"

#include <gsl/gsl_rng.h>
#include <math.h>
#include <string.h>

/* Of a replica only the likelihood is used, whose error is that of the share squared. */
#define ROUGH_SHARE_TOLERANCE 1e-6
/* Of a replica only that its likelihood ratio reaches the one observed is used: this far from it, a first look is enough. An error e of
 * the share moves the ratio by some e^2 times rows times rows of a cluster. */
#define FIRST_LOOK_TOLERANCE 1e-3
#define NEAR_RATIO           0.1
#define NEAR_RATIO_PER_ROW   1e-5

/* Replicates and columns summed together. */
enum { TOGETHER = 4, LANES = 4 };

/* Columns of the table: what a cluster adds, with its sign, to products with the response. */
enum {
    ONE_Y,      /* sum of residuals */
    X_Y,        /* of x times residual */
    X_SUM_Y,    /* sum of x times sum of residuals */
    FIRST_BEND, /* then for each candidate: */
    BEND_Y = 0, /* sum of bend times residual */
    BEND_SUM_Y, /* sum of the bend times sum of residuals */
    PER_BEND
};

/* The variables cleared of each other at one of the listed shares: y is put along them by its products. */
typedef double triangle[RT_KNEE_Y][RT_KNEE_Y];

/* What the bootstrap needs: clusters in order of their sizes, so that sums apart for each size are of pieces of a column. */
struct replica {
    size_t candidates;
    size_t blocks;     /* of LANES columns */
    size_t *place;     /* clusters: in order of sizes */
    size_t *start;     /* sizes + 1: places */
    double *table;     /* blocks * clusters * LANES */
    double *signs;     /* clusters * TOGETHER, by place */
    double *sums;      /* TOGETHER * sizes * blocks * LANES */
    triangle *factors; /* candidates * shares */
    double along[RT_KNEE_SHARES]
                [RT_KNEE_BEND];    /* y along intercept and x at each share, of the present replicate */
    double square[RT_KNEE_SHARES]; /* of y at each share, whatever the signs */
    double rss[RT_KNEE_SHARES];    /* of the line, of the present replicate */
    struct rt_knee_bound bound;
    double (*fixed)[RT_KNEE_VARIABLES][RT_KNEE_VARIABLES];         /* candidates */
    double (*fixed_by_size)[RT_KNEE_VARIABLES][RT_KNEE_VARIABLES]; /* candidates * sizes */
    struct rt_knee_products products;
};

static void release_replica(struct replica *replica)
{
    free(replica->place);
    free(replica->table);
    free(replica->signs);
    free(replica->sums);
    free(replica->factors);
    free(replica->fixed);
    free(replica->fixed_by_size);
    free(replica->products.by_size);
}

static enum rt_status allocate_replica(struct replica *replica, const struct rt_knee_search *search,
                                       size_t candidates, struct rt_error *error)
{
    const size_t clusters = search->clusters.count;
    const size_t sizes = search->size_count;
    const size_t blocks = (FIRST_BEND + PER_BEND * candidates + LANES - 1) / LANES;
    *replica = (struct replica){.candidates = candidates, .blocks = blocks};
    replica->place = rt_new_array(clusters + sizes + 1, sizeof *replica->place);
    replica->table = rt_new_array(blocks * clusters * LANES, sizeof *replica->table);
    replica->signs = rt_new_array(clusters * TOGETHER, sizeof *replica->signs);
    replica->sums = rt_new_array(TOGETHER * sizes * blocks * LANES, sizeof *replica->sums);
    replica->factors = rt_new_array(candidates * RT_KNEE_SHARES, sizeof *replica->factors);
    replica->fixed = rt_new_array(candidates, sizeof *replica->fixed);
    replica->fixed_by_size = rt_new_array(candidates * sizes, sizeof *replica->fixed_by_size);
    replica->products.by_size = rt_new_array(sizes, sizeof *replica->products.by_size);
    if (replica->place == NULL || replica->table == NULL || replica->signs == NULL || replica->sums == NULL ||
        replica->factors == NULL || replica->fixed == NULL || replica->fixed_by_size == NULL ||
        replica->products.by_size == NULL)
        return rt_fail_memory(error);
    replica->start = replica->place + clusters;
    return rt_knee_fill_bound(&replica->bound, search, error);
}

/* --- what does not change from replicate to replicate ---------------------------------------------------- */

static void sort_clusters(struct replica *replica, const struct rt_knee_search *search)
{
    size_t next = 0;
    for (size_t s = 0; s < search->size_count; s++) {
        replica->start[s] = next;
        for (size_t c = 0; c < search->clusters.count; c++)
            if (search->size_of[c] == s)
                replica->place[c] = next++;
    }
    replica->start[search->size_count] = next;
}

static void fill_column(struct replica *replica, const struct rt_knee_search *search, size_t column,
                        size_t cluster, double value)
{
    const size_t block = column / LANES * search->clusters.count;
    replica->table[(block + replica->place[cluster]) * LANES + column % LANES] = value;
}

static double cluster_product(const struct rt_knee_search *search, size_t cluster, const double *values)
{
    double product = 0;
    for (size_t at = search->clusters.start[cluster]; at < search->clusters.start[cluster + 1]; at++)
        product += values[search->clusters.row[at]] * search->y[search->clusters.row[at]];
    return product;
}

/* Columns, products and factors of candidate k, whose bend is set. */
static void fill_candidate(struct replica *replica, const struct rt_knee_search *search, size_t k)
{
    const size_t sizes = search->size_count;
    const struct rt_knee_products *products = &search->products;
    for (size_t c = 0; c < search->clusters.count; c++) {
        const double *sums = search->sums + c * RT_KNEE_VARIABLES;
        const size_t column = FIRST_BEND + PER_BEND * k;
        fill_column(replica, search, column + BEND_Y, c, cluster_product(search, c, search->bend));
        fill_column(replica, search, column + BEND_SUM_Y, c, sums[RT_KNEE_BEND] * sums[RT_KNEE_Y]);
        if (k > 0)
            continue;
        fill_column(replica, search, ONE_Y, c, sums[RT_KNEE_Y]);
        fill_column(replica, search, X_Y, c, cluster_product(search, c, search->x));
        fill_column(replica, search, X_SUM_Y, c, sums[RT_KNEE_X] * sums[RT_KNEE_Y]);
    }
    memcpy(replica->fixed[k], products->rows, sizeof products->rows);
    memcpy(replica->fixed_by_size[k * sizes], products->by_size, sizes * sizeof *products->by_size);
    for (size_t i = 0; i < replica->bound.shares; i++) {
        double a[RT_KNEE_VARIABLES][RT_KNEE_VARIABLES];
        rt_knee_weigh_products(search, products, search->weights + i * sizes, a);
        rt_knee_factor(a, RT_KNEE_Y, replica->factors[k * RT_KNEE_SHARES + i]);
        replica->square[i] = a[RT_KNEE_Y][RT_KNEE_Y];
    }
}

/* Gather what does not change. search->y holds the residuals now. */
static void fill_replica(struct replica *replica, struct rt_knee_search *search, const struct rt_knee *result)
{
    sort_clusters(replica, search);
    for (size_t k = 0; k < replica->candidates; k++) {
        bool bends = rt_knee_set_bend(search, (result->candidates[k] - search->mean_x) / search->scale_x);
        for (size_t i = 0; !bends && i < search->n; i++)
            search->bend[i] = 0;
        rt_knee_add_products(search);
        fill_candidate(replica, search, k);
    }
}

/* --- replicates ------------------------------------------------------------------------------------------ */

static void draw_signs(struct replica *replica, size_t clusters, size_t which, gsl_rng *generator)
{
    for (size_t c = 0; c < clusters; c++)
        replica->signs[replica->place[c] * TOGETHER + which] = gsl_rng_uniform(generator) < 0.5 ? -1 : 1;
}

/* Sums of a piece of a block's columns with the signs of TOGETHER replicates. */
static void add_piece(const double *table, const double *signs, size_t count, double sums[TOGETHER][LANES])
{
    memset(sums, 0, TOGETHER * sizeof *sums);
    for (size_t i = 0; i < count; i++, table += LANES, signs += TOGETHER)
        for (size_t which = 0; which < TOGETHER; which++)
            for (size_t lane = 0; lane < LANES; lane++)
                sums[which][lane] += signs[which] * table[lane];
}

static void add_signed(struct replica *replica, const struct rt_knee_search *search)
{
    const size_t width = replica->blocks * LANES;
    double sums[TOGETHER][LANES];
    for (size_t block = 0; block < replica->blocks; block++)
        for (size_t s = 0; s < search->size_count; s++) {
            const size_t start = replica->start[s];
            add_piece(replica->table + (block * search->clusters.count + start) * LANES,
                      replica->signs + start * TOGETHER, replica->start[s + 1] - start, sums);
            for (size_t which = 0; which < TOGETHER; which++)
                memcpy(replica->sums + (which * search->size_count + s) * width + block * LANES, sums[which],
                       sizeof sums[which]);
        }
}

/* The sums of one replicate: sizes * blocks * LANES. */
static const double *sums_of(const struct replica *replica, const struct rt_knee_search *search, size_t which)
{
    return replica->sums + which * search->size_count * replica->blocks * LANES;
}

/* The products with a response whose clusters have these signs: only those with RT_KNEE_Y on one side change. */
static void sign_products(struct replica *replica, const struct rt_knee_search *search, const double *sums,
                          size_t k)
{
    const size_t sizes = search->size_count;
    const size_t width = replica->blocks * LANES;
    struct rt_knee_products *products = &replica->products;
    memcpy(products->rows, replica->fixed[k], sizeof products->rows);
    memcpy(products->by_size, replica->fixed_by_size[k * sizes], sizes * sizeof *products->by_size);
    for (int j = 0; j < RT_KNEE_Y; j++)
        products->rows[RT_KNEE_Y][j] = 0;
    for (size_t s = 0; s < sizes; s++, sums += width) {
        const double *bend = sums + FIRST_BEND + PER_BEND * k;
        double *by_size = products->by_size[s][RT_KNEE_Y];
        products->rows[RT_KNEE_Y][RT_KNEE_ONE] += sums[ONE_Y];
        products->rows[RT_KNEE_Y][RT_KNEE_X] += sums[X_Y];
        products->rows[RT_KNEE_Y][RT_KNEE_BEND] += bend[BEND_Y];
        by_size[RT_KNEE_ONE] = sums[ONE_Y] * (double)search->sizes[s];
        by_size[RT_KNEE_X] = sums[X_SUM_Y];
        by_size[RT_KNEE_BEND] = bend[BEND_SUM_Y];
    }
}

/* The line's rss at the listed shares. Returns the least of rss exp(log determinant / n). */
static double fit_lines(struct replica *replica, const struct rt_knee_search *search, const double *sums)
{
    const size_t width = replica->blocks * LANES;
    double least = INFINITY;
    for (size_t i = 0; i < replica->bound.shares; i++) {
        const double *weights = search->weights + i * search->size_count;
        const double(*l)[RT_KNEE_Y] = replica->factors[i]; /* the line's are those of any candidate */
        double one = 0;
        double x = 0;
        for (size_t s = 0; s < search->size_count; s++) {
            const double *of_size = sums + s * width;
            one += of_size[ONE_Y] * (1 - weights[s] * (double)search->sizes[s]);
            x += of_size[X_Y] - weights[s] * of_size[X_SUM_Y];
        }
        one = l[0][0] > 0 ? one / l[0][0] : 0;
        x = l[1][1] > 0 ? (x - l[1][0] * one) / l[1][1] : 0;
        replica->along[i][RT_KNEE_ONE] = one;
        replica->along[i][RT_KNEE_X] = x;
        replica->rss[i] = replica->square[i] - one * one - x * x;
        least = fmin(least, replica->rss[i] * replica->bound.root[i]);
    }
    return least;
}

/* The rss with the bend of candidate k at the listed shares. */
static void fit_bend(const struct replica *replica, const struct rt_knee_search *search, const double *sums,
                     size_t k, double *rss)
{
    const size_t width = replica->blocks * LANES;
    for (size_t i = 0; i < replica->bound.shares; i++) {
        const double *weights = search->weights + i * search->size_count;
        const double *l = replica->factors[k * RT_KNEE_SHARES + i][RT_KNEE_BEND];
        double bend = 0;
        for (size_t s = 0; s < search->size_count; s++) {
            const double *of_size = sums + s * width + FIRST_BEND + PER_BEND * k;
            bend += of_size[BEND_Y] - weights[s] * of_size[BEND_SUM_Y];
        }
        bend -= l[RT_KNEE_ONE] * replica->along[i][RT_KNEE_ONE] + l[RT_KNEE_X] * replica->along[i][RT_KNEE_X];
        bend = l[RT_KNEE_BEND] > 0 ? bend / l[RT_KNEE_BEND] : 0;
        rss[i] = replica->rss[i] - bend * bend;
    }
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

/* Does the largest likelihood ratio of a replica reach the one observed? Most candidates are seen not to from the listed shares; only
 * for the others are the best shares looked for. */
static bool replica_reaches(struct replica *replica, const struct rt_knee_search *search, const double *sums,
                            double statistic)
{
    double line = NAN;  /* its likelihood, once it is asked for */
    if (statistic <= 0) /* a ratio is at least 0 */
        return true;
    const double least = fit_lines(replica, search, sums) * exp(-statistic / (double)search->n);
    for (size_t k = 0; k < replica->candidates; k++) {
        double rss[RT_KNEE_SHARES];
        fit_bend(replica, search, sums, k, rss);
        if (rt_knee_stays_above(&replica->bound, rss, least))
            continue;
        sign_products(replica, search, sums, k);
        if (isnan(line))
            line =
                rt_knee_best_fit(search, &replica->products, RT_KNEE_BEND, ROUGH_SHARE_TOLERANCE).likelihood;
        if (ratio_reaches(replica, search, line, statistic))
            return true;
    }
    return false;
}

/* How many of `times` replicates reach the likelihood ratio observed. */
static size_t count_reaching(struct replica *replica, const struct rt_knee_search *search, double statistic,
                             size_t times, gsl_rng *generator)
{
    size_t reached = 0;
    for (size_t time = 0; time < times; time += TOGETHER) {
        const size_t count = times - time < TOGETHER ? times - time : TOGETHER;
        for (size_t which = 0; which < count; which++)
            draw_signs(replica, search->clusters.count, which, generator);
        add_signed(replica, search);
        for (size_t which = 0; which < count; which++)
            reached += replica_reaches(replica, search, sums_of(replica, search, which), statistic);
    }
    return reached;
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
        const size_t reached = count_reaching(&replica, search, result->statistic, design->times, generator);
        result->p = (1 + (double)reached) / (1 + (double)design->times);
    }
    if (generator != NULL)
        gsl_rng_free(generator);
    release_replica(&replica);
    return status;
}
