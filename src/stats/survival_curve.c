#include "ridgetally/stats/survival_curve.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/cluster_influence.h"
#include "ridgetally/stats/sum.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

static const char ONE_CLUSTER[] = "only one cluster: its error cannot be estimated";
static const char NO_ROWS[] = "no rows";

void rt_curve_limits(enum rt_curve_interval form, double probability, double standard_error, double *lower,
                     double *upper)
{
    *lower = NAN;
    *upper = NAN;
    if (!(probability > 0 && probability < 1) || isnan(standard_error))
        return;
    double half = RT_Z_95 * standard_error;
    switch (form) {
    case RT_INTERVAL_DOUBLE_LOG: {
        double stretch = half / (probability * -log(probability));
        *lower = pow(probability, exp(stretch));
        *upper = pow(probability, exp(-stretch));
        break;
    }
    case RT_INTERVAL_LOG:
        *lower = probability * exp(-half / probability);
        *upper = fmin(1, probability * exp(half / probability));
        break;
    case RT_INTERVAL_UNTRANSFORMED:
        *lower = fmax(0, probability - half);
        *upper = fmin(1, probability + half);
        break;
    }
}

static enum rt_status allocate(struct rt_survival_curve *curve, struct rt_error *error)
{
    size_t count = curve->count;
    curve->clusters_at_risk = rt_new_array(count, sizeof *curve->clusters_at_risk);
    curve->events = rt_new_array(count, sizeof *curve->events);
    curve->censored = rt_new_array(count, sizeof *curve->censored);
    curve->survival = rt_new_array(count, sizeof *curve->survival);
    curve->standard_error = rt_new_array(count, sizeof *curve->standard_error);
    curve->lower = rt_new_array(count, sizeof *curve->lower);
    curve->upper = rt_new_array(count, sizeof *curve->upper);
    bool complete = curve->clusters_at_risk != NULL && curve->events != NULL && curve->censored != NULL &&
                    curve->survival != NULL && curve->standard_error != NULL && curve->lower != NULL &&
                    curve->upper != NULL;
    return complete ? RT_OK : rt_fail_memory(error);
}

/* Counts, S and Greenwood's error at every time. */
static void fill_curve(struct rt_survival_curve *curve)
{
    const struct rt_timeline *timeline = &curve->timeline;
    struct rt_sum greenwood = {0};
    double survival = 1;
    for (size_t k = 0; k < curve->count; k++) {
        for (size_t r = timeline->exit_start[k]; r < timeline->exit_start[k + 1]; r++)
            curve->events[k] += curve->data.event[timeline->by_exit[r]] != 0 ? 1 : 0;
        curve->censored[k] = timeline->exit_start[k + 1] - timeline->exit_start[k] - curve->events[k];
        curve->event_total += curve->events[k];
        double n = (double)timeline->at_risk[k];
        double d = (double)curve->events[k];
        survival *= (n - d) / n;
        if (d < n)
            rt_sum_add(&greenwood, d / (n * (n - d)));
        curve->survival[k] = survival;
        curve->standard_error[k] = survival > 0 ? survival * sqrt(rt_sum_value(&greenwood)) : NAN;
        curve->clusters_at_risk[k] = timeline->at_risk[k];
    }
}

/* Replace the errors by the clustered ones. */
static enum rt_status cluster_errors(struct rt_survival_curve *curve, struct rt_error *error)
{
    struct rt_cluster_sweep *sweep = rt_cluster_sweep_new(&curve->timeline, &curve->data, false);
    if (sweep == NULL)
        return rt_fail_memory(error);
    bool defined = curve->clusters_present > 1;
    double before = 1;
    for (size_t k = 0; k < curve->count; k++) {
        double survival = curve->survival[k];
        rt_cluster_sweep_step(sweep, &(struct rt_sweep_step){.at_risk = curve->at_risk[k],
                                                             .events = curve->events[k],
                                                             .survival_before = before});
        curve->clusters_at_risk[k] = rt_cluster_sweep_at_risk(sweep);
        bool known = defined && survival > 0;
        curve->standard_error[k] = known ? sqrt(rt_cluster_sweep_square(sweep, survival, 0)) : NAN;
        before = survival;
    }
    if (!defined)
        curve->reason = ONE_CLUSTER;
    rt_cluster_sweep_free(sweep);
    return RT_OK;
}

enum rt_status rt_survival_curve(struct rt_survival_curve *curve, const struct rt_follow_up *data,
                                 enum rt_curve_interval form, struct rt_error *error)
{
    *curve = (struct rt_survival_curve){.data = *data, .form = form};
    enum rt_status status = rt_timeline_build(&curve->timeline, data, 1, error);
    if (status != RT_OK)
        return status;
    curve->count = curve->timeline.count;
    curve->time = curve->timeline.time;
    curve->at_risk = curve->timeline.at_risk;
    curve->clusters_present = rt_clusters_present(&data->clusters, data->n);
    if (curve->clusters_present == SIZE_MAX)
        return rt_fail_memory(error);
    status = allocate(curve, error);
    if (status != RT_OK)
        return status;
    fill_curve(curve);
    if (data->n == 0)
        curve->reason = NO_ROWS;
    else if (data->clusters.of != NULL)
        status = cluster_errors(curve, error);
    for (size_t k = 0; k < curve->count; k++)
        rt_curve_limits(form, curve->survival[k], curve->standard_error[k], &curve->lower[k],
                        &curve->upper[k]);
    return status;
}

void rt_survival_curve_release(struct rt_survival_curve *curve)
{
    rt_timeline_release(&curve->timeline);
    free(curve->clusters_at_risk);
    free(curve->events);
    free(curve->censored);
    free(curve->survival);
    free(curve->standard_error);
    free(curve->lower);
    free(curve->upper);
    *curve = (struct rt_survival_curve){0};
}

struct rt_estimate rt_survival_at(const struct rt_survival_curve *curve, double t)
{
    struct rt_estimate at = rt_undefined(NULL);
    if (curve->count == 0 || !(t >= 0)) {
        at.reason = curve->count == 0 ? NO_ROWS : "the time lies before 0";
        return at;
    }
    size_t until = rt_timeline_until(&curve->timeline, t);
    size_t last = curve->count - 1;
    bool beyond = until == curve->count && t > curve->time[last] && !rt_times_tied(t, curve->time[last]);
    if (beyond && curve->survival[last] > 0) {
        at.reason = "nobody is followed that long";
        return at;
    }
    at.value = until == 0 ? 1 : curve->survival[until - 1];
    at.standard_error = until == 0 ? (curve->reason == NULL ? 0 : NAN) : curve->standard_error[until - 1];
    at.lower = until == 0 ? NAN : curve->lower[until - 1];
    at.upper = until == 0 ? NAN : curve->upper[until - 1];
    if (curve->reason != NULL)
        at.reason = curve->reason;
    else if (at.value == 0 || at.value == 1)
        at.reason = at.value == 0 ? "the curve has come to 0" : "no event so far";
    return at;
}

/* The time line's index of the last event before index `until`; SIZE_MAX when there is none. */
static size_t last_event(const size_t *events, size_t until)
{
    while (until-- > 0)
        if (events[until] > 0)
            return until;
    return SIZE_MAX;
}

struct rt_estimate rt_survival_late_at(const struct rt_survival_curve *curve, double t)
{
    struct rt_estimate at = rt_survival_at(curve, t);
    if (isnan(at.lower))
        return at;
    const size_t event = last_event(curve->events, rt_timeline_until(&curve->timeline, t));
    const double then = (double)curve->at_risk[event], now = (double)rt_timeline_at_risk(&curve->timeline, t);
    double upper;
    if (now > 0 && now < then)
        rt_curve_limits(curve->form, at.value, at.standard_error * sqrt(then / now), &at.lower, &upper);
    return at;
}

/* First time at which the values, NaN left out, are at or below level; the middle of the span where they
 * equal it. */
static double time_at_level(const struct rt_survival_curve *curve, const double *values, double level)
{
    const double same = 1e-9;
    for (size_t k = 0; k < curve->count; k++) {
        if (isnan(values[k]) || values[k] > level + same)
            continue;
        if (values[k] < level - same)
            return curve->time[k];
        size_t end = k + 1;
        while (end < curve->count && !(values[end] < values[k] - same))
            end++;
        double span_end = end < curve->count ? curve->time[end] : curve->time[curve->count - 1];
        return curve->time[k] + (span_end - curve->time[k]) / 2;
    }
    return NAN;
}

struct rt_estimate rt_survival_quantile(const struct rt_survival_curve *curve, double q)
{
    struct rt_estimate quantile = rt_undefined(NULL);
    quantile.value = time_at_level(curve, curve->survival, 1 - q);
    quantile.lower = time_at_level(curve, curve->lower, 1 - q);
    quantile.upper = time_at_level(curve, curve->upper, 1 - q);
    if (curve->reason != NULL)
        quantile.reason = curve->reason;
    else if (isnan(quantile.value))
        quantile.reason = "the curve does not come down that far";
    else if (isnan(quantile.lower) || isnan(quantile.upper))
        quantile.reason = "the band does not come down that far";
    return quantile;
}

/* scale times the sum over the first `times` event times u of weight(u) (n dN_i - d Y_i) / (n (n - d)),
 * summed over the rows of each cluster; weight NULL is 1. prefix is scratch for times + 1 values. */
static void sum_influence(const struct rt_survival_curve *curve, size_t times, const double *weight,
                          double scale, double *prefix, double *influence)
{
    const struct rt_timeline *timeline = &curve->timeline;
    struct rt_sum sum = {0};
    prefix[0] = 0;
    for (size_t k = 0; k < times; k++) {
        double n = (double)curve->at_risk[k];
        double d = (double)curve->events[k];
        if (d < n)
            rt_sum_add(&sum, (weight == NULL ? 1 : weight[k]) * d / (n * (n - d)));
        prefix[k + 1] = rt_sum_value(&sum);
    }
    memset(influence, 0, rt_influence_length(&curve->data) * sizeof *influence);
    for (size_t i = 0; i < curve->data.n; i++) {
        size_t exit = timeline->exit[i];
        size_t end = exit < times ? exit + 1 : times;
        if (timeline->first[i] >= end)
            continue;
        double share = prefix[timeline->first[i]] - prefix[end];
        if (exit < times && curve->data.event[i] != 0 && curve->events[exit] < curve->at_risk[exit])
            share +=
                (weight == NULL ? 1 : weight[exit]) / (double)(curve->at_risk[exit] - curve->events[exit]);
        influence[curve->data.clusters.of == NULL ? i : curve->data.clusters.of[i]] += scale * share;
    }
}

enum rt_status rt_survival_influence(const struct rt_survival_curve *curve, double t, double *influence,
                                     struct rt_error *error)
{
    size_t times = rt_timeline_until(&curve->timeline, t);
    double survival = times == 0 ? 1 : curve->survival[times - 1];
    double *prefix = rt_new_array(times + 1, sizeof *prefix);
    if (prefix == NULL)
        return rt_fail_memory(error);
    sum_influence(curve, times, NULL, -survival, prefix, influence);
    free(prefix);
    return RT_OK;
}

/* Areas under the curve from each of the first `times` times to `until`; returns the whole area from 0. */
static double fill_areas(const struct rt_survival_curve *curve, size_t times, double until, double *area)
{
    struct rt_sum sum = {0};
    double end = until;
    for (size_t k = times; k-- > 0;) {
        rt_sum_add(&sum, curve->survival[k] * fmax(0, end - curve->time[k]));
        area[k] = rt_sum_value(&sum);
        end = curve->time[k];
    }
    rt_sum_add(&sum, end);
    return rt_sum_value(&sum);
}

static double mean_error(const struct rt_survival_curve *curve, size_t times, const double *area,
                         const double *influence)
{
    struct rt_sum sum = {0};
    if (curve->data.clusters.of != NULL) {
        for (size_t c = 0; c < curve->data.clusters.count; c++)
            rt_sum_add(&sum, influence[c] * influence[c]);
        return sqrt(rt_sum_value(&sum));
    }
    for (size_t k = 0; k < times; k++) {
        double n = (double)curve->at_risk[k];
        double d = (double)curve->events[k];
        if (d < n)
            rt_sum_add(&sum, area[k] * area[k] * d / (n * (n - d)));
    }
    return sqrt(rt_sum_value(&sum));
}

enum rt_status rt_restricted_mean(const struct rt_survival_curve *curve, double until,
                                  struct rt_estimate *mean, double *influence, struct rt_error *error)
{
    *mean = rt_undefined(NULL);
    if (influence != NULL)
        memset(influence, 0, rt_influence_length(&curve->data) * sizeof *influence);
    if (curve->count == 0 || !(until > 0) || isnan(rt_survival_at(curve, until).value)) {
        mean->reason = curve->count == 0 ? NO_ROWS
                       : !(until > 0)    ? "the span must end after 0"
                                         : "nobody is followed to the end of the span";
        return RT_OK;
    }
    size_t times = rt_timeline_until(&curve->timeline, until);
    double *area = rt_new_array(times, sizeof *area);
    double *prefix = rt_new_array(times + 1, sizeof *prefix);
    double *share = rt_new_array(rt_influence_length(&curve->data), sizeof *share);
    enum rt_status status = RT_OK;
    if (area == NULL || prefix == NULL || share == NULL) {
        status = rt_fail_memory(error);
    } else {
        mean->value = fill_areas(curve, times, until, area);
        sum_influence(curve, times, area, -1, prefix, share);
        mean->reason = curve->reason;
        if (curve->reason == NULL) {
            mean->standard_error = mean_error(curve, times, area, share);
            mean->lower = mean->value - RT_Z_95 * mean->standard_error;
            mean->upper = mean->value + RT_Z_95 * mean->standard_error;
        }
        if (influence != NULL)
            memcpy(influence, share, rt_influence_length(&curve->data) * sizeof *share);
    }
    free(area);
    free(prefix);
    free(share);
    return status;
}

struct rt_estimate rt_survival_exact(double survival, size_t clusters_at_risk)
{
    struct rt_estimate exact = rt_undefined(NULL);
    exact.value = survival;
    if (clusters_at_risk == 0) {
        exact.reason = "nobody at risk";
    } else if (survival == 1) {
        exact.lower = pow(0.025, 1 / (double)clusters_at_risk);
        exact.upper = 1;
    } else if (survival == 0) {
        exact.lower = 0;
        exact.upper = -expm1(log(0.025) / (double)clusters_at_risk);
    } else {
        exact.reason = "the curve is neither 0 nor 1";
    }
    return exact;
}
