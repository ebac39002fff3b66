/*
 * Which places of the knee the records do not reject. Near the best place chi-square tells; further off it rejects too easily, because
 * the likelihood is anything but a parabola in the knee. There each place is held against replicates made under it.
 *
 * In a replicate nothing changes but the signs of whole clusters' residuals, and the ratio of the variances is held: rows whitened by
 * that ratio once, a replicate's likelihood ratio needs only one product per cluster and bend. With g the whitened bends cleared
 * of the line (unit length), r the residuals at the place k0 and w the signs, the replicate y* = line + b g_k0 + w r leaves
 * at a knee k the rest |y* off the line|^2 - (b g_k g_k0 + sum over clusters of w (g_k r))^2.
 */
#include "knee_private.h"

#include "ridgetally/base/memory.h"

#include <gsl/gsl_rng.h>
#include <math.h>

#define CHI_SQUARE_95 3.841458820694124

/* A replicate reaches a place that ought to be kept with probability 0.05 or more: that none of these does has probability 4e-5. */
enum { FIRST_REPLICATES = 199 };

/* Columns summed together; bits of a random number. */
enum { LANES = 4, BITS = 32 };

struct trial {
    size_t n, clusters, candidates;
    size_t blocks;    /* of LANES columns: the bends, the intercept, the line */
    double *one, *x;  /* n: whitened, of unit length, at right angles */
    double *y;        /* n: whitened, cleared of the line */
    double *bend;     /* n: the bend at the place on trial */
    double *left;     /* n: residuals at that place */
    double *cross;    /* candidates: product of each bend with that one */
    double *products; /* blocks * clusters * LANES: per cluster and column, product with the residuals */
    double *all;      /* blocks * LANES: their sums over all clusters */
    double *sums;     /* blocks * LANES: of a replicate */
    double slope;     /* b */
    double square;    /* of the residuals */
    size_t *positive; /* clusters: places in the columns of those that keep their sign */
    gsl_rng *generator;
};

static void release_trial(struct trial *trial)
{
    free(trial->one);
    free(trial->cross);
    free(trial->products);
    free(trial->positive);
    if (trial->generator != NULL)
        gsl_rng_free(trial->generator);
}

static enum rt_status allocate_trial(struct trial *trial, const struct rt_knee_search *search,
                                     size_t candidates, struct rt_error *error)
{
    const size_t n = search->n;
    const size_t blocks = (candidates + 2 + LANES - 1) / LANES;
    *trial = (struct trial){
        .n = n, .clusters = search->clusters.count, .candidates = candidates, .blocks = blocks};
    trial->one = rt_new_array(5 * n, sizeof *trial->one);
    trial->cross = rt_new_array(candidates + 2 * LANES * blocks, sizeof *trial->cross);
    trial->products = rt_new_array(LANES * blocks * trial->clusters, sizeof *trial->products);
    trial->positive = rt_new_array(trial->clusters, sizeof *trial->positive);
    trial->generator = gsl_rng_alloc(gsl_rng_mt19937);
    if (trial->one == NULL || trial->cross == NULL || trial->products == NULL || trial->positive == NULL ||
        trial->generator == NULL)
        return rt_fail_memory(error);
    trial->x = trial->one + n;
    trial->y = trial->x + n;
    trial->bend = trial->y + n;
    trial->left = trial->bend + n;
    trial->all = trial->cross + candidates;
    trial->sums = trial->all + LANES * blocks;
    return RT_OK;
}

/* --- whitening ----------------------------------------------------------------------------------------- */

/* Take from each row of a cluster of m rows the share 1 - 1/sqrt(1 + m ratio) of the cluster's mean: rows that share a random
 * intercept become uncorrelated (in units of the variance within). */
static void whiten(double *values, const struct rt_knee_search *search)
{
    const struct rt_cluster_rows *clusters = &search->clusters;
    for (size_t c = 0; c < clusters->count; c++) {
        const double size = (double)(clusters->start[c + 1] - clusters->start[c]);
        double sum = 0;
        for (size_t at = clusters->start[c]; at < clusters->start[c + 1]; at++)
            sum += values[clusters->row[at]];
        const double taken = (1 - 1 / sqrt(1 + size * search->ratio)) * sum / size;
        for (size_t at = clusters->start[c]; at < clusters->start[c + 1]; at++)
            values[clusters->row[at]] -= taken;
    }
}

static double product(const double *a, const double *b, size_t n)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += a[i] * b[i];
    return sum;
}

static void take_off(double *values, double times, const double *direction, size_t n)
{
    for (size_t i = 0; i < n; i++)
        values[i] -= times * direction[i];
}

/* To unit length; all 0 when what is left is rounding of what had the length `before`. */
static void to_unit_length(double *values, size_t n, double before)
{
    const double length = sqrt(product(values, values, n));
    const double scale = length > 1e-9 * before ? 1 / length : 0;
    for (size_t i = 0; i < n; i++)
        values[i] *= scale;
}

static void clear_of_line(double *values, const struct trial *trial)
{
    take_off(values, product(values, trial->one, trial->n), trial->one, trial->n);
    take_off(values, product(values, trial->x, trial->n), trial->x, trial->n);
}

static void whiten_line_and_response(struct trial *trial, const struct rt_knee_search *search)
{
    for (size_t i = 0; i < trial->n; i++) {
        trial->one[i] = 1;
        trial->x[i] = search->x[i];
        trial->y[i] = search->y[i];
    }
    whiten(trial->one, search);
    whiten(trial->x, search);
    whiten(trial->y, search);
    to_unit_length(trial->one, trial->n, 0);
    const double before = sqrt(product(trial->x, trial->x, trial->n));
    for (int time = 0; time < 2; time++)
        take_off(trial->x, product(trial->x, trial->one, trial->n), trial->one, trial->n);
    to_unit_length(trial->x, trial->n, before);
    clear_of_line(trial->y, trial);
    clear_of_line(trial->y, trial); /* of what the first time left by rounding */
}

/* search->bend becomes the whitened bend at a candidate, cleared of the line, of unit length; 0 when nothing is left of it. It was
 * cleared once before whitening: the second time leaves no rounding. */
static void whiten_bend(const struct trial *trial, struct rt_knee_search *search, double candidate)
{
    if (!rt_knee_set_bend(search, (candidate - search->mean_x) / search->scale_x))
        for (size_t i = 0; i < trial->n; i++)
            search->bend[i] = 0;
    whiten(search->bend, search);
    const double before = sqrt(product(search->bend, search->bend, trial->n));
    clear_of_line(search->bend, trial);
    to_unit_length(search->bend, trial->n, before);
}

/* --- one place ----------------------------------------------------------------------------------------- */

static void fill_column(struct trial *trial, const struct rt_knee_search *search, size_t column,
                        const double *values)
{
    const struct rt_cluster_rows *clusters = &search->clusters;
    double *to = trial->products + column / LANES * LANES * trial->clusters + column % LANES;
    double all = 0;
    for (size_t c = 0; c < trial->clusters; c++) {
        double sum = 0;
        for (size_t at = clusters->start[c]; at < clusters->start[c + 1]; at++)
            sum += values[clusters->row[at]] * trial->left[clusters->row[at]];
        to[LANES * c] = sum;
        all += sum;
    }
    trial->all[column] = all;
}

static void take_place(struct trial *trial, struct rt_knee_search *search, const struct rt_knee *result,
                       size_t place)
{
    const size_t n = trial->n;
    whiten_bend(trial, search, result->candidates[place]);
    trial->slope = product(trial->y, search->bend, n);
    for (size_t i = 0; i < n; i++) {
        trial->bend[i] = search->bend[i];
        trial->left[i] = trial->y[i] - trial->slope * trial->bend[i];
    }
    trial->square = product(trial->left, trial->left, n);
    for (size_t k = 0; k < trial->candidates; k++) {
        whiten_bend(trial, search, result->candidates[k]);
        trial->cross[k] = product(search->bend, trial->bend, n);
        fill_column(trial, search, k, search->bend);
    }
    fill_column(trial, search, trial->candidates, trial->one);
    fill_column(trial, search, trial->candidates + 1, trial->x);
}

/* --- replicates ---------------------------------------------------------------------------------------- */

/* A random number serves BITS clusters, lowest bit first: 1 keeps the sign. */
static size_t draw_positive(struct trial *trial)
{
    size_t count = 0;
    unsigned long bits = 0;
    for (size_t c = 0; c < trial->clusters; c++) {
        if (c % BITS == 0)
            bits = gsl_rng_get(trial->generator);
        trial->positive[count] = LANES * c;
        count += bits & 1;
        bits >>= 1;
    }
    return count;
}

/* Sums of the columns with new signs: twice those that keep theirs, less all. */
static void add_signed(struct trial *trial)
{
    const size_t count = draw_positive(trial);
    for (size_t block = 0; block < trial->blocks; block++) {
        const double *products = trial->products + block * LANES * trial->clusters;
        const double *all = trial->all + block * LANES;
        double *sums = trial->sums + block * LANES;
        double kept[LANES] = {0};
        for (size_t i = 0; i < count; i++) {
            const double *row = products + trial->positive[i];
            for (size_t lane = 0; lane < LANES; lane++)
                kept[lane] += row[lane];
        }
        for (size_t lane = 0; lane < LANES; lane++)
            sums[lane] = 2 * kept[lane] - all[lane];
    }
}

/* Is the likelihood ratio between the best place and this one at least the one whose exp(ratio / n) is given? */
static bool replicate_reaches(struct trial *trial, size_t place, double exp_ratio)
{
    add_signed(trial);
    const double *sums = trial->sums;
    const double one = sums[trial->candidates];
    const double x = sums[trial->candidates + 1];
    const double whole =
        trial->slope * trial->slope + 2 * trial->slope * sums[place] + trial->square - one * one - x * x;
    double largest = 0;
    double here = 0;
    for (size_t k = 0; k < trial->candidates; k++) {
        const double along = trial->slope * trial->cross[k] + sums[k];
        if (along * along > largest)
            largest = along * along;
        if (k == place)
            here = along * along;
    }
    return whole - here >= exp_ratio * (whole - largest);
}

/* p > 0.05 by replicates made under this place; those that cannot change the answer any more are left out. */
static bool is_kept(struct trial *trial, struct rt_knee_search *search, const struct rt_knee *result,
                    size_t place, const struct rt_knee_design *design)
{
    const double exp_ratio = exp((result->statistic - result->statistics[place]) / (double)search->n);
    const size_t times = design->times;
    size_t reached = 0;
    take_place(trial, search, result, place);
    gsl_rng_set(trial->generator, design->seed);
    for (size_t time = 0; time < times; time++) {
        if (20 * (1 + reached) > times + 1)
            return true;
        if (time == FIRST_REPLICATES && reached == 0)
            return false;
        reached += replicate_reaches(trial, place, exp_ratio);
    }
    return 20 * (1 + reached) > times + 1;
}

enum rt_status rt_knee_find_interval(struct rt_knee *result, struct rt_knee_search *search,
                                     const struct rt_knee_design *design, struct rt_error *error)
{
    struct trial trial;
    enum rt_status status = allocate_trial(&trial, search, result->candidate_count, error);
    if (status == RT_OK) {
        whiten_line_and_response(&trial, search);
        for (size_t k = 0; k < result->candidate_count; k++) {
            result->kept[k] = result->statistic - result->statistics[k] <= CHI_SQUARE_95 ||
                              is_kept(&trial, search, result, k, design);
            if (!result->kept[k])
                continue;
            result->pieces += k == 0 || !result->kept[k - 1];
            result->upper = result->candidates[k];
            if (isnan(result->lower))
                result->lower = result->candidates[k];
        }
        result->at_edge = result->kept[0] || result->kept[result->candidate_count - 1];
    }
    release_trial(&trial);
    return status;
}
