#include "ridgetally/stats/curve_difference.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/sum.h"
#include "ridgetally/stats/tail.h"

#include <math.h>

/* The influence of the units (clusters, or single rows) on a quantity of two groups. */
struct influence_pair {
    double *first;
    double *second;
    size_t first_length, second_length;
    bool clustered;
};

static enum rt_status check_pair(const struct rt_survival_curve *first,
                                 const struct rt_survival_curve *second, struct rt_error *error)
{
    bool clustered = first->data.clusters.of != NULL;
    if (clustered != (second->data.clusters.of != NULL) ||
        (clustered && first->data.clusters.count != second->data.clusters.count))
        return rt_fail(error, RT_USE, "the two curves must share their cluster codes");
    return RT_OK;
}

static enum rt_status new_pair(struct influence_pair *pair, const struct rt_survival_curve *first,
                               const struct rt_survival_curve *second, struct rt_error *error)
{
    *pair = (struct influence_pair){.first_length = rt_influence_length(&first->data),
                                    .second_length = rt_influence_length(&second->data),
                                    .clustered = first->data.clusters.of != NULL};
    pair->first = rt_new_array(pair->first_length, sizeof *pair->first);
    pair->second = rt_new_array(pair->second_length, sizeof *pair->second);
    return pair->first == NULL || pair->second == NULL ? rt_fail_memory(error) : RT_OK;
}

static void free_pair(struct influence_pair *pair)
{
    free(pair->first);
    free(pair->second);
}

/* Sum over clusters of a_c b_c. */
static double product(const double *a, const double *b, size_t length)
{
    struct rt_sum sum = {0};
    for (size_t c = 0; c < length; c++)
        rt_sum_add(&sum, a[c] * b[c]);
    return rt_sum_value(&sum);
}

/* Error of the difference of two estimates: from the summed influence with clusters, else by independence. */
static double difference_error(const struct influence_pair *pair, double first_error, double second_error)
{
    if (!pair->clustered)
        return hypot(first_error, second_error);
    struct rt_sum sum = {0};
    for (size_t c = 0; c < pair->first_length; c++) {
        double psi = pair->first[c] - pair->second[c];
        rt_sum_add(&sum, psi * psi);
    }
    return sqrt(rt_sum_value(&sum));
}

static enum rt_status count_both(const struct rt_follow_up *first, const struct rt_follow_up *second,
                                 size_t *both, struct rt_error *error)
{
    *both = 0;
    if (first->clusters.of == NULL)
        return RT_OK;
    unsigned char *seen = rt_new_array(first->clusters.count, 1);
    if (seen == NULL)
        return rt_fail_memory(error);
    for (size_t i = 0; i < first->n; i++)
        seen[first->clusters.of[i]] = 1;
    for (size_t i = 0; i < second->n; i++) {
        *both += seen[second->clusters.of[i]] == 1 ? 1 : 0;
        seen[second->clusters.of[i]] = 0;
    }
    free(seen);
    return RT_OK;
}

/* A curve's value at t with limits: its own, or the exact ones where it is 0 or 1. */
static enum rt_status limits_at(const struct rt_survival_curve *curve, double t, struct rt_estimate *at,
                                struct rt_error *error)
{
    *at = rt_survival_at(curve, t);
    size_t clusters = 0;
    enum rt_status status = RT_OK;
    if (at->value == 1) {
        status = rt_clusters_at_risk(&curve->timeline, &curve->data, t, &clusters, error);
        *at = rt_survival_exact(1, clusters);
    } else if (at->value == 0) {
        /* at risk when the last of them failed */
        for (size_t k = rt_timeline_until(&curve->timeline, t); k-- > 0 && clusters == 0;)
            clusters = curve->events[k] > 0 ? curve->clusters_at_risk[k] : 0;
        *at = rt_survival_exact(0, clusters);
    }
    return status;
}

/* Limits of a difference from the limits of its parts, whose errors have the given correlation. */
static void recover_limits(const struct rt_estimate *a, const struct rt_estimate *b,
                           struct rt_curve_difference *result)
{
    double r = result->correlation;
    double down_a = a->value - a->lower;
    double up_a = a->upper - a->value;
    double down_b = b->value - b->lower;
    double up_b = b->upper - b->value;
    double down = down_a * down_a + up_b * up_b - 2 * r * down_a * up_b;
    double up = up_a * up_a + down_b * down_b - 2 * r * up_a * down_b;
    result->recovered_lower = a->value - b->value - sqrt(fmax(0, down));
    result->recovered_upper = a->value - b->value + sqrt(fmax(0, up));
}

static const char *why_undefined(const struct rt_estimate *a, const struct rt_estimate *b)
{
    if (isnan(a->value) || isnan(a->standard_error))
        return a->reason;
    if (isnan(b->value) || isnan(b->standard_error))
        return b->reason;
    return a->reason != NULL ? a->reason : b->reason;
}

enum rt_status rt_curve_difference(const struct rt_survival_curve *first,
                                   const struct rt_survival_curve *second, double t,
                                   struct rt_curve_difference *result, struct rt_error *error)
{
    struct rt_estimate a = rt_survival_at(first, t);
    struct rt_estimate b = rt_survival_at(second, t);
    *result = (struct rt_curve_difference){
        .difference = rt_undefined(NULL),
        .recovered_lower = NAN,
        .recovered_upper = NAN,
        .survival = {a.value, b.value},
        .at_risk = {rt_timeline_at_risk(&first->timeline, t), rt_timeline_at_risk(&second->timeline, t)}};
    struct influence_pair pair = {0};
    enum rt_status status = check_pair(first, second, error);
    if (status == RT_OK)
        status = count_both(&first->data, &second->data, &result->clusters_both, error);
    if (status == RT_OK)
        status = new_pair(&pair, first, second, error);
    if (status == RT_OK)
        status = rt_survival_influence(first, t, pair.first, error);
    if (status == RT_OK)
        status = rt_survival_influence(second, t, pair.second, error);
    if (status == RT_OK) {
        result->difference.value = a.value - b.value;
        result->difference.reason = why_undefined(&a, &b);
        if (result->difference.reason == NULL) {
            result->difference.standard_error = difference_error(&pair, a.standard_error, b.standard_error);
            rt_normal_inference(&result->difference);
            if (pair.clustered)
                result->correlation = product(pair.first, pair.second, pair.first_length) /
                                      (a.standard_error * b.standard_error);
            if (!(result->difference.standard_error > 0))
                result->difference.reason = "the difference shows no variation between clusters";
        }
        status = limits_at(first, t, &a, error);
    }
    if (status == RT_OK)
        status = limits_at(second, t, &b, error);
    if (status == RT_OK)
        recover_limits(&a, &b, result);
    free_pair(&pair);
    return status;
}

enum rt_status rt_restricted_mean_difference(const struct rt_survival_curve *first,
                                             const struct rt_survival_curve *second, double until,
                                             struct rt_estimate *difference, struct rt_error *error)
{
    *difference = rt_undefined(NULL);
    struct rt_estimate a = rt_undefined(NULL);
    struct rt_estimate b = rt_undefined(NULL);
    struct influence_pair pair = {0};
    enum rt_status status = check_pair(first, second, error);
    if (status == RT_OK)
        status = new_pair(&pair, first, second, error);
    if (status == RT_OK)
        status = rt_restricted_mean(first, until, &a, pair.first, error);
    if (status == RT_OK)
        status = rt_restricted_mean(second, until, &b, pair.second, error);
    if (status == RT_OK) {
        difference->value = a.value - b.value;
        difference->reason = why_undefined(&a, &b);
        if (difference->reason == NULL) {
            difference->standard_error = difference_error(&pair, a.standard_error, b.standard_error);
            rt_normal_inference(difference);
            if (!(difference->standard_error > 0))
                difference->reason = "the difference shows no variation between rows";
        }
    }
    free_pair(&pair);
    return status;
}
