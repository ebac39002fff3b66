#include "ridgetally/base/memory.h"
#include "ridgetally/stats/hazard_likelihood.h"
#include "ridgetally/stats/semidefinite.h"
#include "ridgetally/stats/tail.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#define RANK_TOLERANCE 1e-10

static const char ONE_TIME[] = "all failures lie at one time, or bear nothing on a change with time";
static const char NO_ESTIMATE[] = "the term has no finite estimate";
static const char FEW_CLUSTERS[] = "too few clusters for this many terms";

/* Score and information of the model widened by x g(t), at its estimate; the old terms' score is 0 there. */
struct widened {
    struct rt_partial partial;
    size_t terms;
    bool *kept;                    /* terms with a finite estimate */
    double *b;                     /* terms */
    double *g, *g_squared;         /* times */
    double *score;                 /* terms: of x g(t) */
    double *base, *mixed, *wide;   /* terms x terms: information of old terms, old with new, new */
    double *influence;             /* terms x terms: old^- mixed */
    double *base_sums, *wide_sums; /* clusters x terms; NULL without clusters */
    double *scratch, *unused;      /* terms, terms x terms */
    bool *redundant;
};

static enum rt_status allocate(struct widened *w, size_t times, bool clustered, struct rt_error *error)
{
    size_t p = w->terms;
    size_t units = rt_influence_length(&w->partial.model->data);
    w->kept = rt_new_array(p, sizeof *w->kept);
    w->redundant = rt_new_array(p, sizeof *w->redundant);
    w->b = rt_new_array(p, sizeof *w->b);
    w->g = rt_new_array(times, sizeof *w->g);
    w->g_squared = rt_new_array(times, sizeof *w->g_squared);
    w->score = rt_new_array(p, sizeof *w->score);
    w->base = rt_new_array(p * p, sizeof *w->base);
    w->mixed = rt_new_array(p * p, sizeof *w->mixed);
    w->wide = rt_new_array(p * p, sizeof *w->wide);
    w->influence = rt_new_array(p * p, sizeof *w->influence);
    w->scratch = rt_new_array(p, sizeof *w->scratch);
    w->unused = rt_new_array(p * p, sizeof *w->unused);
    w->base_sums = clustered ? rt_new_array(units, p * sizeof *w->base_sums) : NULL;
    w->wide_sums = clustered ? rt_new_array(units, p * sizeof *w->wide_sums) : NULL;
    bool complete = w->kept != NULL && w->redundant != NULL && w->b != NULL && w->g != NULL &&
                    w->g_squared != NULL && w->score != NULL && w->base != NULL && w->mixed != NULL &&
                    w->wide != NULL && w->influence != NULL && w->scratch != NULL && w->unused != NULL &&
                    (!clustered || (w->base_sums != NULL && w->wide_sums != NULL));
    return complete ? RT_OK : rt_fail_memory(error);
}

static void free_widened(struct widened *w)
{
    free(w->kept);
    free(w->redundant);
    free(w->b);
    free(w->g);
    free(w->g_squared);
    free(w->score);
    free(w->base);
    free(w->mixed);
    free(w->wide);
    free(w->influence);
    free(w->scratch);
    free(w->unused);
    free(w->base_sums);
    free(w->wide_sums);
    rt_partial_release(&w->partial);
}

/* g(t) = 1 - S(t-) of all rows, centred at its mean over the events. */
static void fill_time_function(struct widened *w)
{
    const struct rt_timeline *timeline = &w->partial.timeline;
    const int *event = w->partial.model->data.event;
    double survival = 1;
    struct rt_sum mean = {0};
    for (size_t k = 0; k < timeline->count; k++) {
        double d = 0;
        for (size_t r = timeline->exit_start[k]; r < timeline->exit_start[k + 1]; r++)
            d += event[timeline->by_exit[r]];
        w->g[k] = 1 - survival;
        rt_sum_add(&mean, d * w->g[k] / (double)w->partial.events);
        survival *= ((double)timeline->at_risk[k] - d) / (double)timeline->at_risk[k];
    }
    for (size_t k = 0; k < timeline->count; k++) {
        w->g[k] -= rt_sum_value(&mean);
        w->g_squared[k] = w->g[k] * w->g[k];
    }
}

/* Scores and informations, and the part of the new terms' score that the old terms explain. */
static enum rt_status fill_widened(struct widened *w, const struct rt_hazard *fit, struct rt_error *error)
{
    size_t p = w->terms;
    for (size_t j = 0; j < p; j++) {
        w->kept[j] = isfinite(fit->coefficient[j].value);
        w->b[j] = w->kept[j] ? fit->coefficient[j].value * w->partial.scale[j] : 0;
    }
    fill_time_function(w);
    struct rt_partial_weights once = {.score = NULL, .information = w->g};
    struct rt_partial_weights twice = {.score = w->g, .information = w->g_squared};
    rt_partial_evaluate(&w->partial, w->b, NULL, w->scratch, w->base);
    rt_partial_evaluate(&w->partial, w->b, &once, w->scratch, w->mixed);
    rt_partial_evaluate(&w->partial, w->b, &twice, w->score, w->wide);
    memcpy(w->unused, w->base, p * p * sizeof *w->unused);
    for (size_t j = 0; j < p; j++)
        if (!w->kept[j])
            w->unused[j * p + j] = 0;
    rt_semidefinite_factor(w->unused, p, 0, w->redundant);
    for (size_t k = 0; k < p; k++) {
        for (size_t j = 0; j < p; j++)
            w->scratch[j] = w->mixed[j * p + k];
        rt_semidefinite_solve(w->unused, p, w->redundant, w->scratch);
        for (size_t j = 0; j < p; j++)
            w->influence[j * p + k] = w->scratch[j];
    }
    if (w->wide_sums == NULL)
        return RT_OK;
    enum rt_status status = rt_partial_cluster_scores(&w->partial, NULL, w->base_sums, error);
    if (status == RT_OK)
        status = rt_partial_cluster_scores(&w->partial, w->g, w->wide_sums, error);
    return status;
}

/* Is column j one of those tested? set NULL: its own set; which SIZE_MAX: all. */
static bool tested(const struct widened *w, const size_t *set, size_t which, size_t j)
{
    return w->kept[j] && (which == SIZE_MAX || (set == NULL ? j : set[j]) == which);
}

/* Covariance of the new terms' efficient score into matrix (size x size over the tested columns). Returns the number of
 * clusters that bear on it. */
static size_t efficient_covariance(const struct widened *w, const size_t *columns, size_t size,
                                   double *matrix)
{
    size_t p = w->terms;
    for (size_t a = 0; a < size; a++)
        for (size_t b = 0; b < size; b++) {
            double value = w->wide[columns[a] * p + columns[b]];
            for (size_t j = 0; j < p; j++)
                value -= w->mixed[j * p + columns[a]] * w->influence[j * p + columns[b]];
            /* nothing of its own but rounding */
            bool empty = a == b && !(value > RANK_TOLERANCE * w->wide[columns[a] * p + columns[a]]);
            matrix[a * size + b] = empty ? 0 : value;
        }
    return SIZE_MAX;
}

static size_t cluster_covariance(struct widened *w, const size_t *columns, size_t size, double *matrix)
{
    size_t p = w->terms;
    size_t bearing = 0;
    memset(matrix, 0, size * size * sizeof *matrix);
    for (size_t c = 0; c < w->partial.model->data.clusters.count; c++) {
        double length = 0;
        for (size_t a = 0; a < size; a++) {
            w->scratch[a] = w->wide_sums[c * p + columns[a]];
            for (size_t j = 0; j < p; j++)
                w->scratch[a] -= w->kept[j] ? w->base_sums[c * p + j] * w->influence[j * p + columns[a]] : 0;
            length += fabs(w->scratch[a]);
        }
        for (size_t a = 0; a < size; a++)
            for (size_t b = 0; b < size; b++)
                matrix[a * size + b] += w->scratch[a] * w->scratch[b];
        bearing += length > 1e-12 ? 1 : 0;
    }
    return bearing;
}

static enum rt_status test_set(struct widened *w, const size_t *set, size_t which, struct rt_estimate *test,
                               struct rt_error *error)
{
    size_t p = w->terms;
    size_t size = 0;
    size_t rank = 0;
    size_t *columns = rt_new_array(p, sizeof *columns);
    double *matrix = rt_new_array(p * p, sizeof *matrix);
    double *score = rt_new_array(p, sizeof *score);
    enum rt_status status = RT_OK;
    if (columns == NULL || matrix == NULL || score == NULL) {
        status = rt_fail_memory(error);
    } else {
        for (size_t j = 0; j < p; j++)
            if (tested(w, set, which, j)) {
                score[size] = w->score[j];
                columns[size++] = j;
            }
        size_t bearing = efficient_covariance(w, columns, size, matrix);
        double form = rt_semidefinite_form(matrix, size, score, RANK_TOLERANCE, &rank);
        size_t model_rank = rank;
        if (rank > 0 && w->wide_sums != NULL) {
            bearing = cluster_covariance(w, columns, size, matrix);
            form = rt_semidefinite_form(matrix, size, score, RANK_TOLERANCE, &rank);
        }
        if (isnan(form))
            status = rt_fail_memory(error);
        else if (size == 0 || model_rank == 0)
            *test = rt_undefined(size == 0 ? NO_ESTIMATE : ONE_TIME);
        else if (rank < model_rank || bearing <= rank)
            *test = rt_undefined(FEW_CLUSTERS);
        else
            *test = rt_chi_square_test(form, (double)rank);
    }
    free(columns);
    free(matrix);
    free(score);
    return status;
}

enum rt_status rt_hazard_proportional(const struct rt_hazard_model *model, const struct rt_hazard *fit,
                                      const size_t *set, size_t sets, struct rt_estimate *by_set,
                                      struct rt_estimate *global, struct rt_error *error)
{
    const char *reason = fit->reason != NULL ? fit->reason : fit->monotone ? NO_ESTIMATE : NULL;
    *global = rt_undefined(reason);
    for (size_t s = 0; s < sets; s++)
        by_set[s] = rt_undefined(reason);
    if (reason != NULL)
        return RT_OK;
    struct widened w = {.terms = model->terms};
    enum rt_status status = rt_partial_prepare(&w.partial, model, error);
    if (status == RT_OK)
        status = allocate(&w, w.partial.timeline.count, model->data.clusters.of != NULL, error);
    if (status == RT_OK)
        status = fill_widened(&w, fit, error);
    if (status == RT_OK)
        status = test_set(&w, set, SIZE_MAX, global, error);
    for (size_t s = 0; status == RT_OK && s < sets; s++)
        status = test_set(&w, set, s, &by_set[s], error);
    free_widened(&w);
    return status;
}
