#include "ridgetally/stats/pair_score.h"

#include "ridgetally/base/memory.h"

#include <math.h>
#include <stdlib.h>

/* Counts by place with quick prefix sums: P. Fenwick (1994), Software Pract. Exper. 24:327-336. */
static void tree_add(int64_t *tree, size_t count, size_t place)
{
    for (size_t k = place + 1; k <= count; k += k & (~k + 1))
        tree[k]++;
}

static int64_t tree_below(const int64_t *tree, size_t place)
{
    int64_t sum = 0;
    for (size_t k = place; k > 0; k -= k & (~k + 1))
        sum += tree[k];
    return sum;
}

/* The rows seen so far, by place of y: exact and capped ones apart. */
struct seen {
    int64_t *exact;
    int64_t *capped;
    int64_t exact_total;
    int64_t capped_total;
};

static bool is_capped(const struct rt_pair_scores *scores, size_t i)
{
    return scores->capped != NULL && scores->capped[i];
}

static void see(const struct rt_pair_scores *scores, struct seen *seen, size_t i)
{
    if (is_capped(scores, i)) {
        tree_add(seen->capped, scores->y_count, scores->y[i]);
        seen->capped_total++;
    } else {
        tree_add(seen->exact, scores->y_count, scores->y[i]);
        seen->exact_total++;
    }
}

/* Sum over the rows seen of the y score of (k, that row). */
static int64_t score_against(const struct rt_pair_scores *scores, const struct seen *seen, size_t k)
{
    size_t place = scores->y[k];
    if (is_capped(scores, k))
        return tree_below(seen->exact, place + 1);
    int64_t smaller = tree_below(seen->exact, place);
    int64_t larger = seen->exact_total - tree_below(seen->exact, place + 1);
    int64_t beyond = seen->capped_total - tree_below(seen->capped, place);
    return smaller - larger - beyond;
}

int rt_pair_score_y(const struct rt_pair_scores *scores, size_t i, size_t j)
{
    bool i_capped = is_capped(scores, i);
    bool j_capped = is_capped(scores, j);
    size_t left = scores->y[i];
    size_t right = scores->y[j];
    if (i_capped)
        return !j_capped && right <= left ? 1 : 0;
    if (j_capped)
        return left <= right ? -1 : 0;
    return (left > right) - (left < right);
}

static int score_x(const struct rt_pair_scores *scores, size_t i, size_t j)
{
    return (scores->x[i] > scores->x[j]) - (scores->x[i] < scores->x[j]);
}

/* counts becomes the number of rows (of one kind) below each place; it holds them by place + 1 on entry. */
static void cumulate(int64_t *counts, size_t places)
{
    for (size_t k = 1; k <= places; k++)
        counts[k] += counts[k - 1];
}

static void sum_scores_of_rows(struct rt_pair_scores *scores)
{
    for (size_t i = 0; i < scores->n; i++) {
        scores->x_below[scores->x[i] + 1]++;
        (is_capped(scores, i) ? scores->capped_below : scores->exact_below)[scores->y[i] + 1]++;
    }
    cumulate(scores->x_below, scores->x_count);
    cumulate(scores->exact_below, scores->y_count);
    cumulate(scores->capped_below, scores->y_count);
    int64_t n = (int64_t)scores->n;
    const int64_t *exact = scores->exact_below;
    const int64_t *capped = scores->capped_below;
    struct rt_pair_sums sums = {.n = n};
    for (size_t i = 0; i < scores->n; i++) {
        const int64_t *x = scores->x_below + scores->x[i];
        size_t y = scores->y[i];
        int64_t larger = exact[scores->y_count] - exact[y + 1] + capped[scores->y_count] - capped[y];
        scores->a[i] = x[0] - (n - x[1]);
        scores->b[i] = is_capped(scores, i) ? exact[y + 1] : exact[y] - larger;
        sums.x_decided += x[0] + n - x[1];
        sums.y_decided += is_capped(scores, i) ? exact[y + 1] : exact[y] + larger;
        sums.a_squared += scores->a[i] * scores->a[i];
        sums.b_squared += scores->b[i] * scores->b[i];
        sums.a_times_b += scores->a[i] * scores->b[i];
    }
    scores->sums = sums;
}

/* One pass upwards in x. For row k: those lower in x count with their y score, those higher against it; with
 * `cross` each row is also crossed with all rows of its cluster (see leave_out_small). */
static void sweep(struct rt_pair_scores *scores, struct seen *seen, const struct rt_cluster_rows *clusters,
                  size_t largest, int64_t *cross)
{
    for (size_t first = 0, next; first < scores->n; first = next) {
        size_t place = scores->x[scores->x_order[first]];
        for (next = first; next < scores->n && scores->x[scores->x_order[next]] == place; next++)
            ;
        for (int after = 0; after <= 1; after++) {
            for (size_t k = first; k < next; k++) {
                size_t i = scores->x_order[k];
                if (cross == NULL) {
                    scores->s[i] += score_against(scores, seen, i) - (after ? scores->b[i] : 0);
                    continue;
                }
                size_t c = clusters->of[i];
                if (clusters->start[c + 1] - clusters->start[c] > largest)
                    continue;
                for (size_t m = clusters->start[c]; m < clusters->start[c + 1]; m++) {
                    size_t other = clusters->row[m];
                    cross[c] += score_against(scores, seen, other) - (after ? scores->b[other] : 0);
                }
            }
            for (size_t k = first; !after && k < next; k++)
                see(scores, seen, scores->x_order[k]);
        }
    }
}

/* s of every row, or with clusters the sum over row pairs (j, k) of each cluster of
 * sum over all i of x score (i, j) times y score (i, k), in cross. */
static enum rt_status sweep_rows(struct rt_pair_scores *scores, const struct rt_cluster_rows *clusters,
                                 size_t largest, int64_t *cross, struct rt_error *error)
{
    struct seen seen = {.exact = rt_new_array(scores->y_count + 1, sizeof *seen.exact),
                        .capped = rt_new_array(scores->y_count + 1, sizeof *seen.capped)};
    enum rt_status status = RT_OK;
    if (seen.exact == NULL || seen.capped == NULL)
        status = rt_fail_memory(error);
    else
        sweep(scores, &seen, clusters, largest, cross);
    free(seen.exact);
    free(seen.capped);
    return status;
}

static bool make_room(struct rt_pair_scores *scores, size_t n)
{
    scores->x = rt_new_array(n, sizeof *scores->x);
    scores->y = rt_new_array(n, sizeof *scores->y);
    scores->x_order = rt_new_array(n, sizeof *scores->x_order);
    scores->x_below = rt_new_array(n + 1, sizeof *scores->x_below);
    scores->exact_below = rt_new_array(n + 1, sizeof *scores->exact_below);
    scores->capped_below = rt_new_array(n + 1, sizeof *scores->capped_below);
    scores->a = rt_new_array(n, sizeof *scores->a);
    scores->b = rt_new_array(n, sizeof *scores->b);
    scores->s = rt_new_array(n, sizeof *scores->s);
    return scores->x && scores->y && scores->x_order && scores->x_below && scores->exact_below &&
           scores->capped_below && scores->a && scores->b && scores->s;
}

enum rt_status rt_pair_scores(const double *x, const double *y, const bool *y_capped, size_t n,
                              struct rt_pair_scores *scores, struct rt_error *error)
{
    *scores = (struct rt_pair_scores){.n = n, .capped = y_capped};
    if (n > RT_PAIR_ROWS_MAX)
        return rt_fail(error, RT_USE, "rank statistics take at most %d rows", RT_PAIR_ROWS_MAX);
    enum rt_status status = make_room(scores, n) ? RT_OK : rt_fail_memory(error);
    if (status == RT_OK)
        status = rt_dense_ranks(x, n, scores->x, &scores->x_count, error);
    if (status == RT_OK)
        status = rt_dense_ranks(y, n, scores->y, &scores->y_count, error);
    if (status == RT_OK)
        status = rt_sort_order(x, n, scores->x_order, error);
    if (status == RT_OK) {
        sum_scores_of_rows(scores);
        status = sweep_rows(scores, NULL, 0, NULL, error);
    }
    for (size_t i = 0; status == RT_OK && i < n; i++)
        scores->sums.cross += scores->s[i];
    if (status != RT_OK)
        rt_pair_scores_release(scores);
    return status;
}

void rt_pair_scores_release(struct rt_pair_scores *scores)
{
    free(scores->x);
    free(scores->y);
    free(scores->x_order);
    free(scores->x_below);
    free(scores->exact_below);
    free(scores->capped_below);
    free(scores->a);
    free(scores->b);
    free(scores->s);
    *scores = (struct rt_pair_scores){0};
}

/* --- one cluster left out ------------------------------------------------------------------------------ */

/* Weights summed below each place: for one row j, the weighted sum over all rows i of the score (i, j). */
struct weighted {
    int64_t *exact;
    int64_t *capped;
    size_t places;
};

static int64_t weight_against_y(const struct rt_pair_scores *scores, const struct weighted *w, size_t j)
{
    size_t place = scores->y[j];
    if (is_capped(scores, j))
        return -w->exact[place + 1];
    return w->exact[w->places] - w->exact[place + 1] + w->capped[w->places] - w->capped[place] -
           w->exact[place];
}

static int64_t weight_against_x(const struct rt_pair_scores *scores, const int64_t *w, size_t j)
{
    size_t place = scores->x[j];
    return w[scores->x_count] - w[place + 1] - w[place];
}

/* For each row j, taken with weight: first[j] = sum over i of (a(i) s_y(i,j) + b(i) s_x(i,j)),
 * a_own[j] = sum a(i) s_x(i,j), b_own[j] = sum b(i) s_y(i,j). */
struct row_terms {
    int64_t *first;
    int64_t *a_own;
    int64_t *b_own;
};

static void weigh(const struct rt_pair_scores *scores, const int64_t *weight, int64_t *x_sums,
                  struct weighted *y)
{
    for (size_t k = 0; k <= scores->x_count; k++)
        x_sums[k] = 0;
    for (size_t k = 0; k <= scores->y_count; k++)
        y->exact[k] = y->capped[k] = 0;
    for (size_t i = 0; i < scores->n; i++) {
        x_sums[scores->x[i] + 1] += weight[i];
        (is_capped(scores, i) ? y->capped : y->exact)[scores->y[i] + 1] += weight[i];
    }
    cumulate(x_sums, scores->x_count);
    cumulate(y->exact, scores->y_count);
    cumulate(y->capped, scores->y_count);
}

static enum rt_status fill_row_terms(const struct rt_pair_scores *scores, struct row_terms *terms,
                                     struct rt_error *error)
{
    struct weighted y = {.exact = rt_new_array(scores->y_count + 1, sizeof *y.exact),
                         .capped = rt_new_array(scores->y_count + 1, sizeof *y.capped),
                         .places = scores->y_count};
    int64_t *x = rt_new_array(scores->x_count + 1, sizeof *x);
    enum rt_status status = RT_OK;
    if (y.exact == NULL || y.capped == NULL || x == NULL) {
        status = rt_fail_memory(error);
    } else {
        weigh(scores, scores->a, x, &y);
        for (size_t j = 0; j < scores->n; j++) {
            terms->first[j] = weight_against_y(scores, &y, j);
            terms->a_own[j] = weight_against_x(scores, x, j);
        }
        weigh(scores, scores->b, x, &y);
        for (size_t j = 0; j < scores->n; j++) {
            terms->first[j] += weight_against_x(scores, x, j);
            terms->b_own[j] = weight_against_y(scores, &y, j);
        }
    }
    free(y.exact);
    free(y.capped);
    free(x);
    return status;
}

/* Sum over all rows i of s_x(i, j) s_x(i, k), from the counts by place. */
static int64_t product_x(const struct rt_pair_scores *scores, size_t j, size_t k)
{
    const int64_t *below = scores->x_below;
    size_t low = scores->x[j] < scores->x[k] ? scores->x[j] : scores->x[k];
    size_t high = scores->x[j] < scores->x[k] ? scores->x[k] : scores->x[j];
    int64_t between = low < high ? below[high] - below[low + 1] : 0;
    return below[low] + (int64_t)scores->n - below[high + 1] - between;
}

/* Sum over all rows i of s_y(i, j) s_y(i, k). */
static int64_t product_y(const struct rt_pair_scores *scores, size_t j, size_t k)
{
    const int64_t *exact = scores->exact_below;
    const int64_t *capped = scores->capped_below;
    size_t places = scores->y_count;
    bool j_capped = is_capped(scores, j);
    bool k_capped = is_capped(scores, k);
    size_t low = scores->y[j] < scores->y[k] ? scores->y[j] : scores->y[k];
    size_t high = scores->y[j] < scores->y[k] ? scores->y[k] : scores->y[j];
    if (j_capped && k_capped)
        return exact[low + 1];
    if (!j_capped && !k_capped) {
        int64_t between = low < high ? exact[high] - exact[low + 1] : 0;
        return exact[low] + exact[places] - exact[high + 1] + capped[places] - capped[high] - between;
    }
    size_t at = scores->y[j_capped ? k : j];    /* the exact row */
    size_t limit = scores->y[j_capped ? j : k]; /* the capped row */
    if (at > limit)
        return exact[limit + 1];
    return exact[at] - (exact[limit + 1] - exact[at + 1]);
}

/* The sums without one cluster of few rows: inclusion and exclusion over its rows. */
static struct rt_pair_sums leave_out_small(const struct rt_pair_scores *scores, const size_t *row,
                                           size_t size, const struct row_terms *terms, int64_t cross)
{
    struct rt_pair_sums sums = scores->sums;
    sums.n -= (int64_t)size;
    sums.a_times_b += cross;
    for (size_t p = 0; p < size; p++) {
        size_t i = row[p];
        int64_t a_within = 0;
        int64_t b_within = 0;
        const int64_t *x = scores->x_below + scores->x[i];
        int64_t y_decided = scores->b[i];
        if (!is_capped(scores, i))
            y_decided = 2 * scores->exact_below[scores->y[i]] - scores->b[i];
        sums.cross -= 2 * scores->s[i];
        sums.x_decided -= 2 * (x[0] + (int64_t)scores->n - x[1]);
        sums.y_decided -= 2 * y_decided;
        for (size_t q = 0; q < size; q++) {
            int of_x = score_x(scores, i, row[q]);
            int of_y = rt_pair_score_y(scores, i, row[q]);
            a_within += of_x;
            b_within += of_y;
            sums.cross += (int64_t)of_x * of_y;
            sums.x_decided += of_x != 0;
            sums.y_decided += of_y != 0;
            sums.a_squared += product_x(scores, i, row[q]);
            sums.b_squared += product_y(scores, i, row[q]);
        }
        int64_t a = scores->a[i] - a_within;
        int64_t b = scores->b[i] - b_within;
        sums.a_times_b -= terms->first[i] + a * b;
        sums.a_squared -= 2 * terms->a_own[i] + a * a;
        sums.b_squared -= 2 * terms->b_own[i] + b * b;
    }
    return sums;
}

/* The sums without one large cluster, scored afresh. */
static enum rt_status leave_out_large(const struct rt_pair_scores *scores,
                                      const struct rt_cluster_rows *clusters, size_t c,
                                      struct rt_pair_sums *sums, struct rt_error *error)
{
    double *x = rt_new_array(scores->n, sizeof *x);
    double *y = rt_new_array(scores->n, sizeof *y);
    bool *capped = rt_new_array(scores->n, sizeof *capped);
    size_t kept = 0;
    enum rt_status status = RT_OK;
    if (x == NULL || y == NULL || capped == NULL)
        status = rt_fail_memory(error);
    for (size_t i = 0; status == RT_OK && i < scores->n; i++) {
        if (clusters->of[i] == c)
            continue;
        x[kept] = (double)scores->x[i];
        y[kept] = (double)scores->y[i];
        capped[kept++] = is_capped(scores, i);
    }
    struct rt_pair_scores rest = {0};
    if (status == RT_OK)
        status = rt_pair_scores(x, y, capped, kept, &rest, error);
    *sums = rest.sums;
    rt_pair_scores_release(&rest);
    free(x);
    free(y);
    free(capped);
    return status;
}

enum { SMALL_CLUSTER = 1024 }; /* above this scoring afresh is the cheaper way */

enum rt_status rt_pair_sums_leave_out(const struct rt_pair_scores *scores,
                                      const struct rt_cluster_rows *clusters, struct rt_pair_sums *without,
                                      struct rt_error *error)
{
    size_t n = scores->n;
    struct row_terms terms = {.first = rt_new_array(n, sizeof *terms.first),
                              .a_own = rt_new_array(n, sizeof *terms.a_own),
                              .b_own = rt_new_array(n, sizeof *terms.b_own)};
    int64_t *cross = rt_new_array(clusters->count, sizeof *cross);
    struct rt_pair_scores view = *scores; /* sweep_rows writes to s only when it has no clusters */
    enum rt_status status = RT_OK;
    if (terms.first == NULL || terms.a_own == NULL || terms.b_own == NULL || cross == NULL)
        status = rt_fail_memory(error);
    if (status == RT_OK)
        status = fill_row_terms(scores, &terms, error);
    if (status == RT_OK)
        status = sweep_rows(&view, clusters, SMALL_CLUSTER, cross, error);
    for (size_t c = 0; status == RT_OK && c < clusters->count; c++) {
        const size_t *row = clusters->row + clusters->start[c];
        size_t size = clusters->start[c + 1] - clusters->start[c];
        if (size <= SMALL_CLUSTER)
            without[c] = leave_out_small(scores, row, size, &terms, cross[c]);
        else
            status = leave_out_large(scores, clusters, c, &without[c], error);
    }
    free(terms.first);
    free(terms.a_own);
    free(terms.b_own);
    free(cross);
    return status;
}

/* --- statistics of the sums ---------------------------------------------------------------------------- */

double rt_pair_tau_b(const struct rt_pair_sums *sums)
{
    if (sums->x_decided <= 0 || sums->y_decided <= 0)
        return NAN;
    if (sums->x_decided == sums->y_decided)
        return (double)sums->cross / (double)sums->x_decided;
    return (double)sums->cross / (sqrt((double)sums->x_decided) * sqrt((double)sums->y_decided));
}

double rt_pair_spearman(const struct rt_pair_sums *sums)
{
    if (sums->a_squared <= 0 || sums->b_squared <= 0)
        return NAN;
    if (sums->a_squared == sums->b_squared)
        return (double)sums->a_times_b / (double)sums->a_squared;
    double r = (double)sums->a_times_b / (sqrt((double)sums->a_squared) * sqrt((double)sums->b_squared));
    return fmax(-1, fmin(1, r));
}

double rt_pair_variance(const struct rt_pair_sums *sums)
{
    double n = (double)sums->n;
    double x = (double)sums->x_decided;
    double y = (double)sums->y_decided;
    double variance = 0;
    if (sums->n > 1)
        variance = 2 * x * y / (n * (n - 1));
    if (sums->n > 2)
        variance += 4 * (double)(sums->a_squared - sums->x_decided) *
                    (double)(sums->b_squared - sums->y_decided) / (n * (n - 1) * (n - 2));
    return variance;
}

double rt_pair_statistic(const struct rt_pair_sums *sums)
{
    double variance = rt_pair_variance(sums);
    return variance > 0 ? (double)sums->cross / sqrt(variance) : NAN;
}
