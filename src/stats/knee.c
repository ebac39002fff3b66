#include "ridgetally/stats/knee.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/order.h"

#include <gsl/gsl_rng.h>
#include <math.h>

#define CHI_SQUARE_95 3.841458820694124
/* Of the share between clusters; of a replica only the likelihood is used, whose error is that of the share squared. */
#define SHARE_TOLERANCE       1e-9
#define ROUGH_SHARE_TOLERANCE 1e-6
enum { MOST_CANDIDATES = 1000 };

const struct rt_knee_design rt_knee_default = {
    .step = 0.1,
    .from = 0.15,
    .to = 0.85,
    .fewest_rows = 60,
    .fewest_clusters = 40,
    .fewest_per_side = 15,
    .times = 999,
    .seed = 1,
};

/* Of a replica only that its likelihood ratio reaches the one observed is used: this far from it, a first look is enough. An error e of
 * the share moves the ratio by some e^2 times rows times rows of a cluster. */
#define FIRST_LOOK_TOLERANCE 1e-3
#define NEAR_RATIO           0.1
#define NEAR_RATIO_PER_ROW   1e-5

/* Shares between clusters from which the search goes on. */
enum { SHARES = 12 };
static const double shares[SHARES] = {0, 0.03, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 0.97, 0.995, 0.9999};

/* The variables of a model: intercept, x, bend, response. */
enum { ONE, X, BEND, Y, VARIABLES };

/* Sums of products over rows, and over the sums of each cluster, the latter apart for each cluster size: all that the
 * likelihood needs, for every ratio of the variances. */
struct products {
    double rows[VARIABLES][VARIABLES];
    double (*by_size)[VARIABLES][VARIABLES];
};

struct search {
    size_t n;
    struct rt_cluster_rows clusters;
    size_t *size_of;     /* cluster: number of its size among the sizes */
    size_t *sizes;       /* distinct cluster sizes */
    double *size_counts; /* clusters of each */
    size_t size_count;
    double *weights; /* SHARES * sizes: what a size takes off the products at each of the shares */
    double log_determinants[SHARES]; /* at each of the shares */
    double mean_x, scale_x, scale_y;
    double line_slope; /* of the least-squares line taken from y, in the units given */
    double *x;         /* n: (x - mean) / scale */
    double *y;         /* n: residual of the line / scale */
    double *bend;      /* n: scratch, the bend at the present knee cleared of the line, unit length */
    double bend_slope, bend_scale; /* bend = (max(0, x - k) - (.. + bend_slope x)) / bend_scale, scaled x */
    double *sums;                  /* clusters * VARIABLES: sums of the present variables */
    struct products products;
};

/* One fit by maximum likelihood. */
struct fit {
    double likelihood; /* log, up to a constant that depends on n only */
    double ratio;      /* variance between over within */
    double rss;        /* generalised residual sum of squares */
    double b[Y];
};

/* --- likelihood for a ratio of variances --------------------------------------------------------------- */

/* Cholesky of the variables used (2: the line, 3: the bend too), then rss and coefficients. */
static double solve(double a[VARIABLES][VARIABLES], int used, double *b)
{
    double l[Y][Y] = {{0}};
    double z[Y] = {0};
    double rss = a[Y][Y];
    for (int i = 0; i < used; i++) {
        for (int j = 0; j <= i; j++) {
            double sum = a[i][j];
            for (int k = 0; k < j; k++)
                sum -= l[i][k] * l[j][k];
            l[i][j] = i == j ? sqrt(sum > 0 ? sum : 0) : (l[j][j] > 0 ? sum / l[j][j] : 0);
        }
        double sum = a[Y][i];
        for (int k = 0; k < i; k++)
            sum -= l[i][k] * z[k];
        z[i] = l[i][i] > 0 ? sum / l[i][i] : 0;
        rss -= z[i] * z[i];
    }
    for (int i = used - 1; i >= 0; i--) {
        double sum = z[i];
        for (int k = i + 1; k < used; k++)
            sum -= l[k][i] * b[k];
        b[i] = l[i][i] > 0 ? sum / l[i][i] : 0;
    }
    return rss;
}

/* share = between / (between + within), 0 to below 1. Fills the weight of each size and returns the logarithm of the determinant. */
static double weigh_sizes(const struct search *search, double share, double *weights)
{
    const double ratio = share / (1 - share);
    double log_determinant = 0;
    for (size_t s = 0; s < search->size_count; s++) {
        double size = (double)search->sizes[s];
        weights[s] = ratio / (1 + size * ratio);
        log_determinant += search->size_counts[s] * log1p(size * ratio);
    }
    return log_determinant;
}

static struct fit fit_with(const struct search *search, const struct products *products, int used,
                           double share, const double *weights, double log_determinant)
{
    struct fit fit = {.ratio = share / (1 - share)};
    double a[VARIABLES][VARIABLES];
    for (int i = 0; i < VARIABLES; i++)
        for (int j = 0; j < VARIABLES; j++)
            a[i][j] = products->rows[i][j];
    for (size_t s = 0; s < search->size_count; s++)
        for (int i = 0; i < VARIABLES; i++)
            for (int j = 0; j <= i; j++)
                a[i][j] -= weights[s] * products->by_size[s][i][j];
    double rss = solve(a, used, fit.b);
    /* y has length 1: points on the lines themselves leave nothing but rounding */
    fit.rss = rss > 1e-20 ? rss : 1e-20;
    fit.likelihood = -0.5 * ((double)search->n * log(fit.rss) + log_determinant);
    return fit;
}

static struct fit fit_at(const struct search *search, const struct products *products, int used, double share)
{
    double *weights = search->weights + SHARES * search->size_count; /* scratch */
    const double log_determinant = weigh_sizes(search, share, weights);
    return fit_with(search, products, used, share, weights, log_determinant);
}

static struct fit fit_at_listed(const struct search *search, const struct products *products, int used,
                                size_t which)
{
    return fit_with(search, products, used, shares[which], search->weights + which * search->size_count,
                    search->log_determinants[which]);
}

/* The best share to within tolerance: the best of a few, then golden section between its neighbours. (GSL's minimisers want a minimum
 * inside; here it often lies at 0.) */
static struct fit best_fit(const struct search *search, const struct products *products, int used,
                           double tolerance)
{
    const double golden = 0.6180339887498949;
    size_t count = search->sizes[search->size_count - 1] > 1 ? SHARES : 1;
    struct fit best = fit_at_listed(search, products, used, 0);
    size_t place = 0;
    for (size_t i = 1; i < count; i++) {
        struct fit fit = fit_at_listed(search, products, used, i);
        if (fit.likelihood > best.likelihood) {
            best = fit;
            place = i;
        }
    }
    if (count == 1)
        return best;
    double low = shares[place == 0 ? 0 : place - 1];
    double high = shares[place + 1 < count ? place + 1 : place];
    double left = high - golden * (high - low);
    double right = low + golden * (high - low);
    struct fit at_left = fit_at(search, products, used, left);
    struct fit at_right = fit_at(search, products, used, right);
    while (high - low > tolerance) {
        if (at_left.likelihood >= at_right.likelihood) {
            high = right;
            right = left;
            at_right = at_left;
            left = high - golden * (high - low);
            at_left = fit_at(search, products, used, left);
        } else {
            low = left;
            left = right;
            at_left = at_right;
            right = low + golden * (high - low);
            at_right = fit_at(search, products, used, right);
        }
    }
    struct fit *inner = at_left.likelihood >= at_right.likelihood ? &at_left : &at_right;
    return inner->likelihood > best.likelihood ? *inner : best;
}

/* --- sums of products ---------------------------------------------------------------------------------- */

/* Fill the sums and products of the present variables (x, bend, y of search). */
static void add_products(struct search *search)
{
    struct products *products = &search->products;
    for (int i = 0; i < VARIABLES; i++)
        for (int j = 0; j <= i; j++) {
            products->rows[i][j] = 0;
            for (size_t s = 0; s < search->size_count; s++)
                products->by_size[s][i][j] = 0;
        }
    for (size_t c = 0; c < search->clusters.count; c++) {
        double *sums = search->sums + c * VARIABLES;
        for (int i = 0; i < VARIABLES; i++)
            sums[i] = 0;
        for (size_t at = search->clusters.start[c]; at < search->clusters.start[c + 1]; at++) {
            size_t row = search->clusters.row[at];
            const double v[VARIABLES] = {1, search->x[row], search->bend[row], search->y[row]};
            for (int i = 0; i < VARIABLES; i++) {
                sums[i] += v[i];
                for (int j = 0; j <= i; j++)
                    products->rows[i][j] += v[i] * v[j];
            }
        }
        for (int i = 0; i < VARIABLES; i++)
            for (int j = 0; j <= i; j++)
                products->by_size[search->size_of[c]][i][j] += sums[i] * sums[j];
    }
    for (int i = 0; i < VARIABLES; i++)
        for (int j = i + 1; j < VARIABLES; j++)
            products->rows[i][j] = products->rows[j][i];
}

/* The bend at a knee (scaled x), cleared of intercept and line by least squares and scaled to length 1. False when
 * nothing is left of it. */
static bool set_bend(struct search *search, double knee)
{
    double n = (double)search->n;
    double mean = 0;
    double along = 0;
    for (size_t i = 0; i < search->n; i++) {
        search->bend[i] = search->x[i] > knee ? search->x[i] - knee : 0;
        mean += search->bend[i] / n;
    }
    double square = 0;
    for (size_t i = 0; i < search->n; i++) {
        along += (search->bend[i] - mean) * search->x[i];
        square += search->x[i] * search->x[i];
    }
    search->bend_slope = along / square;
    double length = 0;
    for (size_t i = 0; i < search->n; i++) {
        search->bend[i] -= mean + search->bend_slope * search->x[i];
        length += search->bend[i] * search->bend[i];
    }
    search->bend_scale = sqrt(length);
    if (!(length > 1e-18 * square))
        return false;
    for (size_t i = 0; i < search->n; i++)
        search->bend[i] /= search->bend_scale;
    return true;
}

/* --- preparation --------------------------------------------------------------------------------------- */

/* Scaled x, and y cleared of its least-squares line. Returns why there is nothing to fit, or NULL. */
static const char *scale_variables(struct search *search, const double *x, const double *y)
{
    double mean_y = 0;
    for (size_t i = 0; i < search->n; i++) {
        search->mean_x += (x[i] - search->mean_x) / (double)(i + 1);
        mean_y += (y[i] - mean_y) / (double)(i + 1);
    }
    double xx = 0;
    double xy = 0;
    double yy = 0;
    for (size_t i = 0; i < search->n; i++) {
        double u = x[i] - search->mean_x;
        double v = y[i] - mean_y;
        xx += u * u;
        xy += u * v;
        yy += v * v;
    }
    if (!(xx > 0) || !isfinite(xx))
        return "x is constant, or too large";
    if (!isfinite(yy))
        return "the response is too large";
    search->scale_x = sqrt(xx / (double)search->n);
    search->line_slope = xy / xx;
    double length = 0;
    for (size_t i = 0; i < search->n; i++) {
        search->x[i] = (x[i] - search->mean_x) / search->scale_x;
        search->y[i] = y[i] - mean_y - search->line_slope * (x[i] - search->mean_x);
        length += search->y[i] * search->y[i];
    }
    if (!(length > 1e-24 * yy))
        return "the responses lie on a straight line";
    search->scale_y = sqrt(length);
    for (size_t i = 0; i < search->n; i++)
        search->y[i] /= search->scale_y;
    return NULL;
}

static enum rt_status count_sizes(struct search *search, struct rt_error *error)
{
    size_t clusters = search->clusters.count;
    search->size_of = rt_new_array(clusters, sizeof *search->size_of);
    search->sizes = rt_new_array(clusters, sizeof *search->sizes);
    search->size_counts = rt_new_array(clusters, sizeof *search->size_counts);
    size_t *number =
        rt_new_array(search->n + 1, sizeof *number); /* size: rows that have it, then its place */
    if (search->size_of == NULL || search->sizes == NULL || search->size_counts == NULL || number == NULL) {
        free(number);
        return rt_fail_memory(error);
    }
    for (size_t c = 0; c < clusters; c++)
        number[search->clusters.start[c + 1] - search->clusters.start[c]]++;
    for (size_t size = 1; size <= search->n; size++) {
        if (number[size] == 0)
            continue;
        search->sizes[search->size_count] = size;
        search->size_counts[search->size_count] = (double)number[size];
        number[size] = search->size_count++;
    }
    for (size_t c = 0; c < clusters; c++)
        search->size_of[c] = number[search->clusters.start[c + 1] - search->clusters.start[c]];
    free(number);
    return RT_OK;
}

static enum rt_status prepare(struct search *search, size_t n, const struct rt_clusters *clusters,
                              struct rt_error *error)
{
    *search = (struct search){.n = n};
    enum rt_status status = rt_gather_clusters(clusters, n, &search->clusters, error);
    if (status == RT_OK)
        status = count_sizes(search, error);
    if (status != RT_OK)
        return status;
    search->x = rt_new_array(3 * n, sizeof *search->x);
    search->sums = rt_new_array(search->clusters.count * VARIABLES, sizeof *search->sums);
    search->products.by_size = rt_new_array(search->size_count, sizeof *search->products.by_size);
    search->weights = rt_new_array((SHARES + 1) * search->size_count, sizeof *search->weights);
    if (search->x == NULL || search->sums == NULL || search->products.by_size == NULL ||
        search->weights == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < SHARES; i++)
        search->log_determinants[i] =
            weigh_sizes(search, shares[i], search->weights + i * search->size_count);
    search->y = search->x + n;
    search->bend = search->y + n;
    return RT_OK;
}

static void release_search(struct search *search)
{
    rt_cluster_rows_release(&search->clusters);
    free(search->size_of);
    free(search->sizes);
    free(search->size_counts);
    free(search->weights);
    free(search->x);
    free(search->sums);
    free(search->products.by_size);
}

/* i steps. With a step of 0.1 this is the double that 1.9 is read as, which 19 * 0.1 is not. */
static double grid_point(double i, double step)
{
    double parts = round(1 / step);
    return parts >= 1 && fabs(parts * step - 1) < 1e-12 ? i / parts : i * step;
}

/* The grid points with enough rows on both sides; *reason when there is none. */
static enum rt_status list_candidates(struct rt_knee *result, const double *x, size_t n,
                                      const struct rt_knee_design *design, struct rt_error *error)
{
    double *sorted = NULL;
    enum rt_status status = rt_sorted_copy(x, n, &sorted, error);
    if (status != RT_OK)
        return status;
    double first =
        ceil(rt_quantile_sorted(sorted, n, design->from, RT_QUANTILE_TYPE_7) / design->step - 1e-9);
    double last = floor(rt_quantile_sorted(sorted, n, design->to, RT_QUANTILE_TYPE_7) / design->step + 1e-9);
    result->reason = "no step of the grid has enough rows on both sides";
    if (last - first >= MOST_CANDIDATES)
        result->reason = "more than 1000 steps: the step is too small for the spread of x";
    else if (last >= first) {
        result->candidates = rt_new_array((size_t)(last - first) + 1, sizeof *result->candidates);
        status = result->candidates == NULL ? rt_fail_memory(error) : RT_OK;
    }
    for (double i = first; result->candidates != NULL && i <= last; i++) {
        double knee = grid_point(i, design->step);
        size_t below = 0;
        size_t above = 0;
        for (size_t row = 0; row < n; row++) {
            below += x[row] < knee;
            above += x[row] > knee;
        }
        if (below >= design->fewest_per_side && above >= design->fewest_per_side)
            result->candidates[result->candidate_count++] = knee;
    }
    if (result->candidate_count > 0)
        result->reason = NULL;
    free(sorted);
    return status;
}

/* --- the search ---------------------------------------------------------------------------------------- */

/* What the bootstrap needs of each candidate: products without the response, and per cluster the sum of the bend and of
 * residual times bend. */
struct replica {
    size_t candidates;
    double *bend_sums, *bend_residuals;            /* candidates * clusters */
    double *x_sums, *x_residuals;                  /* clusters */
    double *one_residuals;                         /* clusters: sum of residuals */
    double (*fixed)[VARIABLES][VARIABLES];         /* candidates */
    double (*fixed_by_size)[VARIABLES][VARIABLES]; /* candidates * sizes */
    struct products products;
    double *signs; /* clusters */
};

static void describe_knee(struct rt_knee *result, const struct search *search, const struct fit *fit,
                          double knee)
{
    double bend = fit->b[BEND] / search->bend_scale; /* per scaled x, in scaled y */
    double line = fit->b[X] - bend * search->bend_slope;
    double unit = search->scale_y / search->scale_x;
    double within = search->scale_y * sqrt(fit->rss / (double)search->n);
    result->knee = knee;
    result->slope_below = search->line_slope + line * unit;
    result->slope_above = search->line_slope + (line + bend) * unit;
    result->sd_within = within;
    result->sd_between = within * sqrt(fit->ratio);
}

/* Likelihood ratio of every candidate; the best is described. */
static enum rt_status search_grid(struct rt_knee *result, struct search *search, double line_likelihood,
                                  struct rt_error *error)
{
    result->statistics = rt_new_array(result->candidate_count, sizeof *result->statistics);
    result->kept = rt_new_array(result->candidate_count, sizeof *result->kept);
    if (result->statistics == NULL || result->kept == NULL)
        return rt_fail_memory(error);
    result->statistic = -1;
    for (size_t k = 0; k < result->candidate_count; k++) {
        double knee = (result->candidates[k] - search->mean_x) / search->scale_x;
        if (!set_bend(search, knee))
            continue;
        add_products(search);
        struct fit fit = best_fit(search, &search->products, Y, SHARE_TOLERANCE);
        result->statistics[k] = fmax(0, 2 * (fit.likelihood - line_likelihood));
        if (result->statistics[k] > result->statistic) {
            result->statistic = result->statistics[k];
            describe_knee(result, search, &fit, result->candidates[k]);
        }
    }
    return RT_OK;
}

static void find_interval(struct rt_knee *result)
{
    result->pieces = 0;
    for (size_t k = 0; k < result->candidate_count; k++) {
        result->kept[k] = result->statistic - result->statistics[k] <= CHI_SQUARE_95;
        if (!result->kept[k])
            continue;
        result->pieces += k == 0 || !result->kept[k - 1];
        result->upper = result->candidates[k];
        if (isnan(result->lower))
            result->lower = result->candidates[k];
    }
    result->at_edge = result->kept[0] || result->kept[result->candidate_count - 1];
}

/* --- the null by bootstrap ----------------------------------------------------------------------------- */

static void release_replica(struct replica *replica)
{
    free(replica->bend_sums);
    free(replica->fixed);
    free(replica->fixed_by_size);
    free(replica->products.by_size);
}

static enum rt_status allocate_replica(struct replica *replica, const struct search *search,
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
static void fill_replica(struct replica *replica, struct search *search, const struct rt_knee *result)
{
    size_t clusters = search->clusters.count;
    for (size_t k = 0; k < replica->candidates; k++) {
        bool bends = set_bend(search, (result->candidates[k] - search->mean_x) / search->scale_x);
        for (size_t i = 0; !bends && i < search->n; i++)
            search->bend[i] = 0;
        add_products(search);
        for (int i = 0; i < VARIABLES; i++)
            for (int j = 0; j < VARIABLES; j++) {
                replica->fixed[k][i][j] = search->products.rows[i][j];
                for (size_t s = 0; s < search->size_count; s++)
                    replica->fixed_by_size[k * search->size_count + s][i][j] =
                        search->products.by_size[s][i][j];
            }
        for (size_t c = 0; c < clusters; c++) {
            double product = 0;
            for (size_t at = search->clusters.start[c]; at < search->clusters.start[c + 1]; at++)
                product += search->bend[search->clusters.row[at]] * search->y[search->clusters.row[at]];
            replica->bend_sums[k * clusters + c] = search->sums[c * VARIABLES + BEND];
            replica->bend_residuals[k * clusters + c] = product;
        }
    }
    for (size_t c = 0; c < clusters; c++) {
        replica->x_sums[c] = search->sums[c * VARIABLES + X];
        replica->one_residuals[c] = search->sums[c * VARIABLES + Y];
        replica->x_residuals[c] = 0;
        for (size_t at = search->clusters.start[c]; at < search->clusters.start[c + 1]; at++)
            replica->x_residuals[c] +=
                search->x[search->clusters.row[at]] * search->y[search->clusters.row[at]];
    }
}

/* The products with a response whose clusters have these signs: only those with Y on one side change. */
static void sign_products(struct replica *replica, const struct search *search, size_t k)
{
    size_t clusters = search->clusters.count;
    struct products *products = &replica->products;
    double row[Y] = {0};
    for (int i = 0; i < VARIABLES; i++)
        for (int j = 0; j < VARIABLES; j++) {
            products->rows[i][j] = replica->fixed[k][i][j];
            for (size_t s = 0; s < search->size_count; s++)
                products->by_size[s][i][j] = replica->fixed_by_size[k * search->size_count + s][i][j];
        }
    for (size_t s = 0; s < search->size_count; s++)
        for (int j = 0; j < Y; j++)
            products->by_size[s][Y][j] = 0;
    for (size_t c = 0; c < clusters; c++) {
        double sign = replica->signs[c];
        double sum = sign * replica->one_residuals[c];
        size_t s = search->size_of[c];
        row[ONE] += sum;
        row[X] += sign * replica->x_residuals[c];
        row[BEND] += sign * replica->bend_residuals[k * clusters + c];
        products->by_size[s][Y][ONE] += sum * (double)search->sizes[s];
        products->by_size[s][Y][X] += sum * replica->x_sums[c];
        products->by_size[s][Y][BEND] += sum * replica->bend_sums[k * clusters + c];
    }
    for (int j = 0; j < Y; j++)
        products->rows[Y][j] = row[j];
}

/* Is the likelihood ratio of the present products at least `statistic`? */
static bool ratio_reaches(const struct replica *replica, const struct search *search, double line,
                          double statistic)
{
    const double near = NEAR_RATIO + NEAR_RATIO_PER_ROW * (double)search->n;
    const struct fit first = best_fit(search, &replica->products, Y, FIRST_LOOK_TOLERANCE);
    const double ratio = 2 * (first.likelihood - line);
    if (!(fabs(ratio - statistic) < near))
        return ratio >= statistic;
    return 2 * (best_fit(search, &replica->products, Y, ROUGH_SHARE_TOLERANCE).likelihood - line) >=
           statistic;
}

/* Does the largest likelihood ratio of a replica reach the one observed? */
static bool replica_reaches(struct replica *replica, const struct search *search, double statistic)
{
    double line = 0;
    if (statistic <= 0) /* a ratio is at least 0 */
        return true;
    for (size_t k = 0; k < replica->candidates; k++) {
        sign_products(replica, search, k);
        if (k == 0)
            line = best_fit(search, &replica->products, BEND, ROUGH_SHARE_TOLERANCE).likelihood;
        if (ratio_reaches(replica, search, line, statistic))
            return true;
    }
    return false;
}

static enum rt_status bootstrap(struct rt_knee *result, struct search *search, const struct fit *line,
                                const struct rt_knee_design *design, struct rt_error *error)
{
    struct replica replica;
    gsl_rng *generator = gsl_rng_alloc(gsl_rng_mt19937);
    enum rt_status status = allocate_replica(&replica, search, result->candidate_count, error);
    if (status == RT_OK && generator == NULL)
        status = rt_fail_memory(error);
    if (status == RT_OK) {
        for (size_t i = 0; i < search->n; i++)
            search->y[i] -= line->b[ONE] + line->b[X] * search->x[i];
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

/* --- the whole ----------------------------------------------------------------------------------------- */

static enum rt_status search_and_test(struct rt_knee *result, struct search *search, const double *x,
                                      const double *y, const struct rt_knee_design *design,
                                      struct rt_error *error)
{
    if (search->clusters.count < design->fewest_clusters)
        result->reason = "too few patients (clusters) for a knee";
    else
        result->reason = scale_variables(search, x, y);
    if (result->reason != NULL)
        return RT_OK;
    enum rt_status status = list_candidates(result, x, search->n, design, error);
    if (status != RT_OK || result->reason != NULL)
        return status;
    add_products(search); /* the bend is all 0 */
    struct fit line = best_fit(search, &search->products, BEND, SHARE_TOLERANCE);
    status = search_grid(result, search, line.likelihood, error);
    if (status != RT_OK)
        return status;
    find_interval(result);
    return bootstrap(result, search, &line, design, error);
}

enum rt_status rt_knee(struct rt_knee *result, const double *x, const double *y, size_t n,
                       const struct rt_clusters *clusters, const struct rt_knee_design *design,
                       struct rt_error *error)
{
    *result = (struct rt_knee){
        .knee = NAN,
        .lower = NAN,
        .upper = NAN,
        .slope_below = NAN,
        .slope_above = NAN,
        .sd_between = NAN,
        .sd_within = NAN,
        .statistic = NAN,
        .p = NAN,
    };
    if (n == 0 || n < design->fewest_rows) {
        result->reason = "too few rows for a knee";
        return RT_OK;
    }
    if (!(design->step > 0) || design->times == 0)
        return rt_fail(error, RT_USE, "a knee needs a step above 0 and at least one replicate");
    struct search search;
    enum rt_status status = prepare(&search, n, clusters, error);
    if (status == RT_OK)
        status = search_and_test(result, &search, x, y, design, error);
    release_search(&search);
    return status;
}

void rt_knee_release(struct rt_knee *result)
{
    free(result->candidates);
    free(result->statistics);
    free(result->kept);
    *result = (struct rt_knee){0};
}
