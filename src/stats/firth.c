#include "ridgetally/stats/firth.h"

#include "firth_private.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/basis.h"
#include "ridgetally/stats/order.h"
#include "ridgetally/stats/patterns.h"
#include "ridgetally/stats/root.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <string.h>

static const char aliased[] = "the other columns of the model already give this one";
static const char no_rows[] = "no rows";
static const char no_columns[] = "the model has no columns";
static const char few_clusters[] = "needs at least two patients (clusters)";
static const char no_limit[] = "the profile of the likelihood could not be followed to its limit";

/* Quantile 0.95 of chi-square with 1 df: the square of the normal quantile 0.975. */
static const double chi_square_95 = RT_Z_95 * RT_Z_95;

/* A point of the profile: coordinates, and how the others move along it per unit of the last one. */
struct place {
    double *g;       /* k */
    double *tangent; /* k - 1 */
};

/* What is to be fitted. */
struct design {
    const int *event; /* of each row */
    struct rt_patterns patterns;
    double *x;      /* of each pattern, times the square root of its rows */
    double *events; /* of each pattern */
    struct rt_cluster_rows rows;
    bool clustered;
};

/* One coefficient at hand: the columns reordered so that it is the last one, whose coordinate is then
 * R_last times the coefficient. */
struct profile {
    struct rt_penalised model;
    struct rt_basis basis;
    double per_unit;     /* coordinate per unit of the coefficient */
    double at_maximum;   /* l* */
    double allowed;      /* loss of l* at the limits */
    struct place top;    /* the maximum */
    struct place near;   /* where the profile was last evaluated */
    struct place end[2]; /* the ends of the interval in which a limit lies */
    bool widely;         /* search from many starts: l* can have several local maxima when events are few */
    double *candidate;   /* k: best coordinates met at the coordinate in question */
    double *scratch;     /* k by k */
};

enum { PLACES = 4 }; /* near, top and both ends */

static enum rt_status make_profile(struct profile *profile, size_t k, struct rt_error *error)
{
    double *numbers = rt_new_array(9 * k + k * k, sizeof *numbers);
    if (numbers == NULL)
        return rt_fail_memory(error);
    profile->top = (struct place){numbers, numbers + k};
    profile->near = (struct place){numbers + 2 * k, numbers + 3 * k};
    profile->end[0] = (struct place){numbers + 4 * k, numbers + 5 * k};
    profile->end[1] = (struct place){numbers + 6 * k, numbers + 7 * k};
    profile->candidate = numbers + 8 * k;
    profile->scratch = numbers + 9 * k;
    return RT_OK;
}

/* Where the model stands becomes the place. */
static void remember(struct profile *profile, struct place *place)
{
    const struct rt_penalised *model = &profile->model;
    size_t k = model->k;
    memcpy(place->g, model->g, k * sizeof *place->g);
    for (size_t r = 0; r + 1 < k; r++)
        place->tangent[r] = -model->curve[r * k + k - 1];
    if (!rt_solve_positive(model->curve, k, k - 1, place->tangent, place->tangent, profile->scratch))
        memset(place->tangent, 0, (k - 1) * sizeof *place->tangent);
}

static void copy_place(struct place *to, const struct place *from, size_t k)
{
    memcpy(to->g, from->g, k * sizeof *to->g);
    memcpy(to->tangent, from->tangent, (k - 1) * sizeof *to->tangent);
}

/* Start number `which` of a search with the last coordinate given: along the tangents of the known places, the others
 * at 0, or one of the others far out on either side. False when there is no such start. */
static bool start(struct profile *profile, size_t which, double coordinate)
{
    struct rt_penalised *model = &profile->model;
    size_t last = model->k - 1;
    const struct place *places[PLACES] = {&profile->near, &profile->top, &profile->end[0], &profile->end[1]};
    const struct place *place = which < PLACES ? places[which] : NULL;
    if (which >= (profile->widely ? PLACES + 1 + 2 * last : PLACES))
        return false;
    for (size_t r = 0; r < last; r++)
        model->g[r] = place == NULL ? 0 : place->g[r] + place->tangent[r] * (coordinate - place->g[last]);
    if (which > PLACES) /* columns of Q have entries of some 1/sqrt(rows): this moves predictors by some 4 */
        model->g[(which - PLACES - 1) / 2] = (which % 2 == 0 ? 4 : -4) * sqrt(model->rows);
    model->g[last] = coordinate;
    return true;
}

/* Loss of l* at a value of the last coordinate, less what is allowed; the model is left at the best of the maxima
 * met. NaN when none was. */
static double loss_at(double coordinate, void *parameters)
{
    struct profile *profile = parameters;
    struct rt_penalised *model = &profile->model;
    size_t k = model->k;
    double best = -INFINITY;
    for (size_t which = 0; start(profile, which, coordinate); which++)
        if (rt_penalised_maximise(model, k - 1) && model->value > best) {
            best = model->value;
            memcpy(profile->candidate, model->g, k * sizeof *model->g);
        }
    if (isinf(best))
        return NAN;
    memcpy(model->g, profile->candidate, k * sizeof *model->g);
    rt_penalised_maximise(model, k - 1);
    remember(profile, &profile->near);
    return profile->at_maximum - model->value - profile->allowed;
}

/* Maximise over all coordinates: from 0, and from each coordinate far out. */
static bool find_top(struct profile *profile)
{
    struct rt_penalised *model = &profile->model;
    size_t k = model->k;
    double best = -INFINITY;
    for (size_t which = 0; which <= 2 * k; which++) {
        memset(model->g, 0, k * sizeof *model->g);
        if (which > 0)
            model->g[(which - 1) / 2] = (which % 2 == 0 ? 4 : -4) * sqrt(model->rows);
        /* the first one unless another is better beyond rounding */
        if (rt_penalised_maximise(model, k) && model->value > best + 1e-9) {
            best = model->value;
            memcpy(profile->candidate, model->g, k * sizeof *model->g);
        }
    }
    memcpy(model->g, profile->candidate, k * sizeof *model->g);
    return isfinite(best) && rt_penalised_maximise(model, k);
}

/* Coordinate of the limit on one side: steps outward, each half as long again, until the loss exceeds what is
 * allowed, searching widely; then the root in the last step. */
static double limit_of(struct profile *profile, double step)
{
    size_t k = profile->model.k;
    double inner = profile->top.g[k - 1];
    copy_place(&profile->near, &profile->top, k);
    copy_place(&profile->end[0], &profile->top, k);
    copy_place(&profile->end[1], &profile->top, k);
    for (int round = 0; round < 40; round++) {
        double outer = inner + step;
        profile->widely = true;
        double loss = loss_at(outer, profile);
        profile->widely = false;
        if (isnan(loss))
            return NAN;
        copy_place(&profile->end[0], &profile->end[1], k);
        copy_place(&profile->end[1], &profile->near, k);
        if (loss > 0)
            return rt_find_root(loss_at, profile, fmin(inner, outer), fmax(inner, outer));
        inner = outer;
        step *= 1.5;
    }
    return NAN;
}

/* --- the design effect --------------------------------------------------------------------------------- */

/* Between-cluster sum of squares of the last coordinate's efficient score, over its efficient information,
 * where the model stands. With G = (Q'WQ)^-1 the efficient score is (row of G) q / G_ll, its information
 * 1/G_ll; so the ratio is sum (row of G . cluster score)^2 / G_ll. */
static double variance_ratio(const struct rt_penalised *model, const struct design *design)
{
    const struct rt_cluster_rows *rows = &design->rows;
    size_t k = model->k;
    const double *last = model->inverse + (k - 1) * k;
    double sum = 0;
    for (size_t c = 0; c < rows->count; c++) {
        double total = 0;
        for (size_t at = rows->start[c]; at < rows->start[c + 1]; at++) {
            size_t i = design->patterns.of[rows->row[at]];
            double pi = model->share[i];
            double rest = (design->event[rows->row[at]] != 0 ? 1 : 0) - pi + model->leverage[i] * (0.5 - pi);
            for (size_t r = 0; r < k; r++)
                total += last[r] * model->q[i * k + r] * rest;
        }
        sum += total * total;
    }
    double count = (double)rows->count;
    return count / (count - 1) * sum / last[k - 1];
}

/* --- one coefficient ----------------------------------------------------------------------------------- */

/* Columns of the model but the aliased ones, the one in question last. The basis is that of all rows; its q has one row for
 * each pattern. */
static enum rt_status reorder(const struct rt_basis *whole, const struct design *design, size_t which,
                              struct rt_basis *basis, struct rt_error *error)
{
    size_t k = whole->rank;
    double *columns = rt_new_array(whole->n * k, sizeof *columns);
    if (columns == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < whole->n; i++) {
        size_t place = 0;
        for (size_t r = 0; r < k; r++)
            if (r != which)
                columns[i * k + place++] = design->x[i * whole->p + whole->kept[r]];
        columns[i * k + place] = design->x[i * whole->p + whole->kept[which]];
    }
    enum rt_status status = rt_basis_build(basis, columns, whole->n, k, error);
    for (size_t i = 0; status == RT_OK && i < whole->n; i++)
        for (size_t r = 0; r < basis->rank; r++)
            basis->q[i * basis->rank + r] /= sqrt(design->patterns.times[i]);
    free(columns);
    return status;
}

/* p, design effect and limits once the maximum is known. The model first goes to 0 of the coefficient. */
static void judge(struct rt_firth *fit, struct profile *profile, const struct design *design, size_t column,
                  double ratio_at_estimate)
{
    struct rt_penalised *model = &profile->model;
    struct rt_estimate *estimate = &fit->coefficient[column];
    double error = estimate->standard_error * fabs(profile->per_unit);
    profile->allowed = 0;
    profile->widely = true;
    double loss = loss_at(0, profile);
    double effect = 1;
    if (design->clustered)
        effect = fmax(1, fmax(ratio_at_estimate, variance_ratio(model, design)));
    if (isnan(loss) || !isfinite(effect)) {
        estimate->reason = no_limit;
        return;
    }
    fit->design_effect[column] = effect;
    estimate->df = 1;
    estimate->statistic = fmax(0, 2 * loss / effect);
    estimate->p = gsl_cdf_chisq_Q(estimate->statistic, 1);
    profile->allowed = effect * chi_square_95 / 2;
    double step = error * sqrt(effect);
    double below = limit_of(profile, -step) / profile->per_unit;
    double above = limit_of(profile, step) / profile->per_unit;
    estimate->lower = fmin(below, above);
    estimate->upper = fmax(below, above);
    if (isnan(below) || isnan(above)) {
        estimate->lower = estimate->upper = NAN;
        estimate->reason = no_limit;
    }
}

static enum rt_status fit_coefficient(struct rt_firth *fit, const struct design *design,
                                      const struct rt_basis *whole, size_t which, struct rt_error *error)
{
    struct profile profile = {.per_unit = NAN};
    size_t k = whole->rank;
    size_t column = whole->kept[which];
    struct rt_estimate *estimate = &fit->coefficient[column];
    *estimate = rt_undefined(no_limit);
    enum rt_status status = reorder(whole, design, which, &profile.basis, error);
    if (status == RT_OK && profile.basis.rank < k)
        goto done; /* on the edge of aliasing: the order decides */
    if (status == RT_OK)
        status = rt_penalised_start(&profile.model, profile.basis.q, design->patterns.times, design->events,
                                    whole->n, k, error);
    if (status == RT_OK)
        status = make_profile(&profile, k, error);
    if (status != RT_OK || !find_top(&profile))
        goto done;
    profile.per_unit = profile.basis.r[k * k - 1];
    profile.at_maximum = fit->penalised_log_likelihood = profile.model.value;
    for (size_t r = 0; r < k; r++) /* back to the penalty of the columns as given: log|R| */
        fit->penalised_log_likelihood += log(fabs(profile.basis.r[r * k + r]));
    remember(&profile, &profile.top);
    copy_place(&profile.near, &profile.top, k);
    copy_place(&profile.end[0], &profile.top, k);
    copy_place(&profile.end[1], &profile.top, k);
    estimate->reason = NULL;
    estimate->value = profile.top.g[k - 1] / profile.per_unit;
    estimate->standard_error = sqrt(profile.model.inverse[k * k - 1]) / fabs(profile.per_unit);
    if (design->clustered && design->rows.count < 2)
        estimate->reason = few_clusters;
    else if (!fit->estimates_only)
        judge(fit, &profile, design, column, design->clustered ? variance_ratio(&profile.model, design) : 1);
done:
    free(profile.top.g);
    rt_penalised_release(&profile.model);
    rt_basis_release(&profile.basis);
    return status;
}

static enum rt_status take_design(struct design *design, const int *event, const double *x, size_t n,
                                  size_t p, const struct rt_clusters *clusters, struct rt_error *error)
{
    *design = (struct design){.event = event, .clustered = rt_has_clusters(clusters)};
    enum rt_status status = rt_patterns_build(&design->patterns, x, n, p, error);
    if (status == RT_OK)
        status = rt_gather_clusters(clusters, n, &design->rows, error);
    if (status != RT_OK)
        return status;
    design->x = rt_new_array(design->patterns.count * p + 1, sizeof *design->x);
    design->events = rt_new_array(design->patterns.count + 1, sizeof *design->events);
    if (design->x == NULL || design->events == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < design->patterns.count; i++)
        for (size_t j = 0; j < p; j++)
            design->x[i * p + j] = sqrt(design->patterns.times[i]) * x[design->patterns.first[i] * p + j];
    for (size_t i = 0; i < n; i++)
        design->events[design->patterns.of[i]] += event[i] != 0;
    return RT_OK;
}

static void release_design(struct design *design)
{
    rt_patterns_release(&design->patterns);
    rt_cluster_rows_release(&design->rows);
    free(design->x);
    free(design->events);
}

static enum rt_status fit_all(struct rt_firth *fit, const int *event, const double *x, size_t n, size_t p,
                              const struct rt_clusters *clusters, bool estimates_only, struct rt_error *error)
{
    *fit =
        (struct rt_firth){.n = n, .p = p, .penalised_log_likelihood = NAN, .estimates_only = estimates_only};
    struct rt_basis whole = {0};
    struct design design;
    for (size_t i = 0; i < n; i++)
        fit->events += event[i] != 0;
    enum rt_status status = take_design(&design, event, x, n, p, clusters, error);
    fit->coefficient = rt_new_array(p, sizeof *fit->coefficient);
    fit->design_effect = rt_new_array(p, sizeof *fit->design_effect);
    if (status == RT_OK && (fit->coefficient == NULL || fit->design_effect == NULL))
        status = rt_fail_memory(error);
    if (status == RT_OK)
        status = rt_basis_build(&whole, design.x, design.patterns.count, p, error);
    if (status == RT_OK) {
        fit->rank = whole.rank;
        fit->clusters = design.clustered ? design.rows.count : 0;
        fit->approximate = design.clustered;
        fit->reason = n == 0 ? no_rows : whole.rank == 0 ? no_columns : NULL;
        for (size_t j = 0; j < p; j++) {
            fit->coefficient[j] = rt_undefined(n == 0 ? no_rows : aliased);
            fit->design_effect[j] = NAN;
        }
    }
    for (size_t k = 0; status == RT_OK && k < whole.rank; k++)
        status = fit_coefficient(fit, &design, &whole, k, error);
    rt_basis_release(&whole);
    release_design(&design);
    if (status != RT_OK)
        rt_firth_release(fit);
    return status;
}

enum rt_status rt_firth_fit(struct rt_firth *fit, const int *event, const double *x, size_t n, size_t p,
                            const struct rt_clusters *clusters, struct rt_error *error)
{
    return fit_all(fit, event, x, n, p, clusters, false, error);
}

enum rt_status rt_firth_estimates(struct rt_firth *fit, const int *event, const double *x, size_t n, size_t p,
                                  struct rt_error *error)
{
    return fit_all(fit, event, x, n, p, NULL, true, error);
}

void rt_firth_release(struct rt_firth *fit)
{
    free(fit->coefficient);
    free(fit->design_effect);
    *fit = (struct rt_firth){0};
}
