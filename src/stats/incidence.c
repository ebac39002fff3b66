#include "ridgetally/stats/incidence.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/cluster_influence.h"
#include "ridgetally/stats/sum.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#define MOST_CAUSES 1000

static enum rt_status allocate(struct rt_incidence *result, struct rt_error *error)
{
    size_t count = result->count;
    size_t cells = count * result->causes;
    result->clusters_at_risk = rt_new_array(count, sizeof *result->clusters_at_risk);
    result->events = rt_new_array(count, sizeof *result->events);
    result->event_free = rt_new_array(count, sizeof *result->event_free);
    result->cause_events = rt_new_array(cells, sizeof *result->cause_events);
    result->incidence = rt_new_array(cells, sizeof *result->incidence);
    result->standard_error = rt_new_array(cells, sizeof *result->standard_error);
    result->lower = rt_new_array(cells, sizeof *result->lower);
    result->upper = rt_new_array(cells, sizeof *result->upper);
    bool complete = result->clusters_at_risk != NULL && result->events != NULL &&
                    result->event_free != NULL && result->cause_events != NULL && result->incidence != NULL &&
                    result->standard_error != NULL && result->lower != NULL && result->upper != NULL;
    return complete ? RT_OK : rt_fail_memory(error);
}

/* Count events by cause and the event-free share at every time. */
static void fill_counts(struct rt_incidence *result)
{
    const struct rt_timeline *timeline = &result->timeline;
    double survival = 1;
    for (size_t k = 0; k < result->count; k++) {
        for (size_t r = timeline->exit_start[k]; r < timeline->exit_start[k + 1]; r++) {
            int event = result->data.event[timeline->by_exit[r]];
            if (event == 0)
                continue;
            result->events[k]++;
            result->cause_events[(size_t)(event - 1) * result->count + k]++;
        }
        double n = (double)timeline->at_risk[k];
        survival *= (n - (double)result->events[k]) / n;
        result->event_free[k] = survival;
        result->clusters_at_risk[k] = timeline->at_risk[k];
    }
}

/* Covariance of (S, F): it goes on as V <- A V A' + S^2 C, A = (1 - q, 0; q_k, 1), C the covariance of (-q,
 * q_k). */
struct covariance {
    double ss, sf, ff;
};

static void advance(struct covariance *v, double n, double d, double d_cause, double survival)
{
    double q = d / n;
    double q_cause = d_cause / n;
    double keep = (n - d) / n;
    struct covariance old = *v;
    double noise = survival * survival / n;
    v->ss = keep * keep * old.ss + noise * q * keep;
    v->sf = keep * (q_cause * old.ss + old.sf) - noise * q_cause * keep;
    v->ff = q_cause * q_cause * old.ss + 2 * q_cause * old.sf + old.ff + noise * q_cause * (1 - q_cause);
}

/* The incidence of one cause with the delta-method error. */
static void fill_cause(struct rt_incidence *result, size_t cause)
{
    size_t offset = (cause - 1) * result->count;
    struct rt_sum incidence = {0};
    struct covariance v = {0, 0, 0};
    double before = 1;
    for (size_t k = 0; k < result->count; k++) {
        double n = (double)result->at_risk[k];
        double d = (double)result->events[k];
        double d_cause = (double)result->cause_events[offset + k];
        rt_sum_add(&incidence, before * d_cause / n);
        advance(&v, n, d, d_cause, before);
        /* rounding must not keep it from 1 when everybody has failed of this cause */
        bool whole = rt_sum_value(&incidence) > 1 - 1e-13;
        result->incidence[offset + k] = whole ? 1 : rt_sum_value(&incidence);
        result->standard_error[offset + k] = whole ? 0 : sqrt(fmax(0, v.ff));
        before = result->event_free[k];
    }
}

static enum rt_status cluster_cause(struct rt_incidence *result, size_t cause, struct rt_error *error)
{
    struct rt_cluster_sweep *sweep = rt_cluster_sweep_new(&result->timeline, &result->data, true);
    if (sweep == NULL)
        return rt_fail_memory(error);
    size_t offset = (cause - 1) * result->count;
    double before = 1;
    for (size_t k = 0; k < result->count; k++) {
        double incidence = result->incidence[offset + k];
        rt_cluster_sweep_step(sweep, &(struct rt_sweep_step){.at_risk = result->at_risk[k],
                                                             .events = result->events[k],
                                                             .cause_events = result->cause_events[offset + k],
                                                             .cause = (int)cause,
                                                             .survival_before = before,
                                                             .incidence = incidence});
        result->clusters_at_risk[k] = rt_cluster_sweep_at_risk(sweep);
        result->standard_error[offset + k] =
            result->clusters_present > 1 ? sqrt(rt_cluster_sweep_square(sweep, -incidence, 1)) : NAN;
        before = result->event_free[k];
    }
    if (result->clusters_present <= 1)
        result->reason = "only one cluster: its error cannot be estimated";
    rt_cluster_sweep_free(sweep);
    return RT_OK;
}

enum rt_status rt_incidence(struct rt_incidence *result, const struct rt_follow_up *data, size_t causes,
                            enum rt_curve_interval form, struct rt_error *error)
{
    *result = (struct rt_incidence){.data = *data, .form = form, .causes = causes};
    if (causes < 1 || causes > MOST_CAUSES)
        return rt_fail(error, RT_USE, "there must be 1 to %d causes, not %zu", MOST_CAUSES, causes);
    enum rt_status status = rt_timeline_build(&result->timeline, data, (int)causes, error);
    if (status != RT_OK)
        return status;
    result->count = result->timeline.count;
    result->time = result->timeline.time;
    result->at_risk = result->timeline.at_risk;
    result->clusters_present = rt_clusters_present(&data->clusters, data->n);
    if (result->clusters_present == SIZE_MAX)
        return rt_fail_memory(error);
    status = allocate(result, error);
    if (status != RT_OK)
        return status;
    fill_counts(result);
    if (data->n == 0)
        result->reason = "no rows";
    for (size_t cause = 1; cause <= causes && status == RT_OK; cause++) {
        fill_cause(result, cause);
        if (data->n > 0 && data->clusters.of != NULL)
            status = cluster_cause(result, cause, error);
    }
    for (size_t cell = 0; cell < causes * result->count; cell++)
        rt_curve_limits(form, result->incidence[cell], result->standard_error[cell], &result->lower[cell],
                        &result->upper[cell]);
    return status;
}

void rt_incidence_release(struct rt_incidence *result)
{
    rt_timeline_release(&result->timeline);
    free(result->clusters_at_risk);
    free(result->events);
    free(result->event_free);
    free(result->cause_events);
    free(result->incidence);
    free(result->standard_error);
    free(result->lower);
    free(result->upper);
    *result = (struct rt_incidence){0};
}

struct rt_estimate rt_incidence_at(const struct rt_incidence *result, size_t cause, double t)
{
    struct rt_estimate at = rt_undefined(NULL);
    if (result->count == 0 || !(t >= 0)) {
        at.reason = result->count == 0 ? "no rows" : "the time lies before 0";
        return at;
    }
    size_t offset = (cause - 1) * result->count;
    size_t until = rt_timeline_until(&result->timeline, t);
    size_t last = result->count - 1;
    bool beyond = until == result->count && t > result->time[last] && !rt_times_tied(t, result->time[last]);
    if (beyond && result->event_free[last] > 0) {
        at.reason = "nobody is followed that long";
        return at;
    }
    at.reason = result->reason;
    at.value = until == 0 ? 0 : result->incidence[offset + until - 1];
    at.standard_error = until == 0 ? 0 : result->standard_error[offset + until - 1];
    at.lower = until == 0 ? NAN : result->lower[offset + until - 1];
    at.upper = until == 0 ? NAN : result->upper[offset + until - 1];
    if (result->reason != NULL)
        at.standard_error = NAN;
    else if (at.value <= 0 || at.value >= 1)
        at.reason = at.value <= 0 ? "no event of this cause so far" : "the incidence has come to 1";
    return at;
}

struct rt_estimate rt_incidence_late_at(const struct rt_incidence *result, size_t cause, double t)
{
    struct rt_estimate at = rt_incidence_at(result, cause, t);
    if (isnan(at.upper))
        return at;
    const size_t until = rt_timeline_until(&result->timeline, t), offset = (cause - 1) * result->count;
    size_t event = until - 1; /* there is one: the incidence is above 0 */
    while (event > 0 && result->cause_events[offset + event] == 0)
        event--;
    const double free_then = event > 0 ? result->event_free[event - 1] : 1.0,
                 free_now = result->event_free[until - 1];
    const double then = (double)result->at_risk[event] / free_then;
    const double now = (double)rt_timeline_at_risk(&result->timeline, t) / free_now;
    double lower;
    if (now > 0 && now < then)
        rt_curve_limits(result->form, at.value, at.standard_error * sqrt(then / now), &lower, &at.upper);
    return at;
}

/* Sums over the event times up to each of the first `times` times of the two rates of the sweep. */
static void fill_rates(const struct rt_incidence *result, size_t offset, size_t times, double final,
                       double *prefix)
{
    struct rt_sum sum = {0};
    prefix[0] = 0;
    for (size_t k = 0; k < times; k++) {
        double n = (double)result->at_risk[k];
        double d = (double)result->events[k];
        double before = k == 0 ? 1 : result->event_free[k - 1];
        rt_sum_add(&sum, before * (double)result->cause_events[offset + k] / (n * n));
        if (d < n)
            rt_sum_add(&sum, (result->incidence[offset + k] - final) * d / (n * (n - d)));
        prefix[k + 1] = rt_sum_value(&sum);
    }
}

enum rt_status rt_incidence_influence(const struct rt_incidence *result, size_t cause, double t,
                                      double *influence, struct rt_error *error)
{
    const struct rt_timeline *timeline = &result->timeline;
    size_t times = rt_timeline_until(timeline, t);
    size_t offset = (cause - 1) * result->count;
    double *prefix = rt_new_array(times + 1, sizeof *prefix);
    if (prefix == NULL)
        return rt_fail_memory(error);
    double final = times == 0 ? 0 : result->incidence[offset + times - 1];
    fill_rates(result, offset, times, final, prefix);
    memset(influence, 0, rt_influence_length(&result->data) * sizeof *influence);
    for (size_t i = 0; i < result->data.n; i++) {
        size_t exit = timeline->exit[i];
        size_t end = exit < times ? exit + 1 : times;
        if (timeline->first[i] >= end)
            continue;
        double share = prefix[timeline->first[i]] - prefix[end];
        int event = exit < times ? result->data.event[i] : 0;
        double n = (double)result->at_risk[exit];
        double d = (double)result->events[exit];
        if (event != 0 && d < n)
            share += (result->incidence[offset + exit] - final) / (n - d);
        if (event == (int)cause)
            share += (exit == 0 ? 1 : result->event_free[exit - 1]) / n;
        influence[result->data.clusters.of == NULL ? i : result->data.clusters.of[i]] += share;
    }
    free(prefix);
    return RT_OK;
}
