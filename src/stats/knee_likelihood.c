#include "knee_private.h"

#include "ridgetally/base/memory.h"

#include <math.h>

/* Shares between clusters from which the search goes on. */
const double rt_knee_shares[RT_KNEE_SHARES] = {0,    0.03, 0.1, 0.2,  0.35,  0.5,
                                               0.65, 0.8,  0.9, 0.97, 0.995, 0.9999};

/* --- likelihood for a ratio of variances --------------------------------------------------------------- */

void rt_knee_factor(double a[RT_KNEE_VARIABLES][RT_KNEE_VARIABLES], int used, double l[RT_KNEE_Y][RT_KNEE_Y])
{
    for (int i = 0; i < used; i++)
        for (int j = 0; j <= i; j++) {
            double sum = a[i][j];
            for (int k = 0; k < j; k++)
                sum -= l[i][k] * l[j][k];
            l[i][j] = i == j ? sqrt(sum > 0 ? sum : 0) : (l[j][j] > 0 ? sum / l[j][j] : 0);
        }
}

/* rss and coefficients of the variables used. */
static double solve(double a[RT_KNEE_VARIABLES][RT_KNEE_VARIABLES], int used, double *b)
{
    double l[RT_KNEE_Y][RT_KNEE_Y];
    double z[RT_KNEE_Y] = {0};
    double rss = a[RT_KNEE_Y][RT_KNEE_Y];
    rt_knee_factor(a, used, l);
    for (int i = 0; i < used; i++) {
        double sum = a[RT_KNEE_Y][i];
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

double rt_knee_weigh_sizes(const struct rt_knee_search *search, double share, double *weights)
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

void rt_knee_weigh_products(const struct rt_knee_search *search, const struct rt_knee_products *products,
                            const double *weights, double a[RT_KNEE_VARIABLES][RT_KNEE_VARIABLES])
{
    for (int i = 0; i < RT_KNEE_VARIABLES; i++)
        for (int j = 0; j < RT_KNEE_VARIABLES; j++)
            a[i][j] = products->rows[i][j];
    for (size_t s = 0; s < search->size_count; s++)
        for (int i = 0; i < RT_KNEE_VARIABLES; i++)
            for (int j = 0; j <= i; j++)
                a[i][j] -= weights[s] * products->by_size[s][i][j];
}

static struct rt_knee_fit fit_with(const struct rt_knee_search *search,
                                   const struct rt_knee_products *products, int used, double share,
                                   const double *weights, double log_determinant)
{
    struct rt_knee_fit fit = {.ratio = share / (1 - share)};
    double a[RT_KNEE_VARIABLES][RT_KNEE_VARIABLES];
    rt_knee_weigh_products(search, products, weights, a);
    double rss = solve(a, used, fit.b);
    /* y has length 1: points on the lines themselves leave nothing but rounding */
    fit.rss = rss > 1e-20 ? rss : 1e-20;
    fit.likelihood = -0.5 * ((double)search->n * log(fit.rss) + log_determinant);
    return fit;
}

static struct rt_knee_fit fit_at(const struct rt_knee_search *search, const struct rt_knee_products *products,
                                 int used, double share)
{
    double *weights = search->weights + RT_KNEE_SHARES * search->size_count; /* scratch */
    const double log_determinant = rt_knee_weigh_sizes(search, share, weights);
    return fit_with(search, products, used, share, weights, log_determinant);
}

static struct rt_knee_fit fit_at_listed(const struct rt_knee_search *search,
                                        const struct rt_knee_products *products, int used, size_t which)
{
    return fit_with(search, products, used, rt_knee_shares[which],
                    search->weights + which * search->size_count, search->log_determinants[which]);
}

/* The best share to within tolerance: the best of a few, then golden section between its neighbours. (GSL's minimisers want a minimum
 * inside; here it often lies at 0.) */
struct rt_knee_fit rt_knee_best_fit(const struct rt_knee_search *search,
                                    const struct rt_knee_products *products, int used, double tolerance)
{
    const double golden = 0.6180339887498949;
    size_t count = search->sizes[search->size_count - 1] > 1 ? RT_KNEE_SHARES : 1;
    struct rt_knee_fit best = fit_at_listed(search, products, used, 0);
    size_t place = 0;
    for (size_t i = 1; i < count; i++) {
        struct rt_knee_fit fit = fit_at_listed(search, products, used, i);
        if (fit.likelihood > best.likelihood) {
            best = fit;
            place = i;
        }
    }
    if (count == 1)
        return best;
    double low = rt_knee_shares[place == 0 ? 0 : place - 1];
    double high = rt_knee_shares[place + 1 < count ? place + 1 : place];
    double left = high - golden * (high - low);
    double right = low + golden * (high - low);
    struct rt_knee_fit at_left = fit_at(search, products, used, left);
    struct rt_knee_fit at_right = fit_at(search, products, used, right);
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
    struct rt_knee_fit *inner = at_left.likelihood >= at_right.likelihood ? &at_left : &at_right;
    return inner->likelihood > best.likelihood ? *inner : best;
}

/* --- sums of products ---------------------------------------------------------------------------------- */

/* Fill the sums and products of the present variables (x, bend, y of search). */
void rt_knee_add_products(struct rt_knee_search *search)
{
    struct rt_knee_products *products = &search->products;
    for (int i = 0; i < RT_KNEE_VARIABLES; i++)
        for (int j = 0; j <= i; j++) {
            products->rows[i][j] = 0;
            for (size_t s = 0; s < search->size_count; s++)
                products->by_size[s][i][j] = 0;
        }
    for (size_t c = 0; c < search->clusters.count; c++) {
        double *sums = search->sums + c * RT_KNEE_VARIABLES;
        for (int i = 0; i < RT_KNEE_VARIABLES; i++)
            sums[i] = 0;
        for (size_t at = search->clusters.start[c]; at < search->clusters.start[c + 1]; at++) {
            size_t row = search->clusters.row[at];
            const double v[RT_KNEE_VARIABLES] = {1, search->x[row], search->bend[row], search->y[row]};
            for (int i = 0; i < RT_KNEE_VARIABLES; i++) {
                sums[i] += v[i];
                for (int j = 0; j <= i; j++)
                    products->rows[i][j] += v[i] * v[j];
            }
        }
        for (int i = 0; i < RT_KNEE_VARIABLES; i++)
            for (int j = 0; j <= i; j++)
                products->by_size[search->size_of[c]][i][j] += sums[i] * sums[j];
    }
    for (int i = 0; i < RT_KNEE_VARIABLES; i++)
        for (int j = i + 1; j < RT_KNEE_VARIABLES; j++)
            products->rows[i][j] = products->rows[j][i];
}

/* The bend at a knee (scaled x), cleared of intercept and line by least squares and scaled to length 1. False when
 * nothing is left of it. */
bool rt_knee_set_bend(struct rt_knee_search *search, double knee)
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

/* --- the data of a search ------------------------------------------------------------------------------- */

static enum rt_status count_sizes(struct rt_knee_search *search, struct rt_error *error)
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

enum rt_status rt_knee_prepare(struct rt_knee_search *search, size_t n, const struct rt_clusters *clusters,
                               struct rt_error *error)
{
    *search = (struct rt_knee_search){.n = n};
    enum rt_status status = rt_gather_clusters(clusters, n, &search->clusters, error);
    if (status == RT_OK)
        status = count_sizes(search, error);
    if (status != RT_OK)
        return status;
    search->x = rt_new_array(3 * n, sizeof *search->x);
    search->sums = rt_new_array(search->clusters.count * RT_KNEE_VARIABLES, sizeof *search->sums);
    search->products.by_size = rt_new_array(search->size_count, sizeof *search->products.by_size);
    search->weights = rt_new_array((RT_KNEE_SHARES + 1) * search->size_count, sizeof *search->weights);
    if (search->x == NULL || search->sums == NULL || search->products.by_size == NULL ||
        search->weights == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < RT_KNEE_SHARES; i++)
        search->log_determinants[i] =
            rt_knee_weigh_sizes(search, rt_knee_shares[i], search->weights + i * search->size_count);
    search->y = search->x + n;
    search->bend = search->y + n;
    return RT_OK;
}

void rt_knee_release_search(struct rt_knee_search *search)
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
