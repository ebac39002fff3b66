/* The outcome along the number a rule is about: a spline over the middle nine tenths of that number. */
#include "rules_private.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/curve.h"
#include "ridgetally/stats/quantile.h"

#include <math.h>

/* The rows of the sample with a number. */
static enum rt_status take_dosed(const struct rule_task *task, struct rt_sample *dosed,
                                 struct rt_error *error)
{
    const struct rt_sample *sample = task->sample;
    enum rt_status status = rt_sample_start(dosed, task->cohort, error);
    for (size_t i = 0; status == RT_OK && i < sample->n; i++) {
        if (isnan(sample->other[i]) || sample->capped[i])
            continue;
        rt_sample_add(dosed, task->cohort, sample->implant[i], sample->value[i]);
        dosed->other[dosed->n - 1] = sample->other[i];
    }
    return status;
}

/* Patients with an event. */
static size_t event_patients(const struct rt_sample *sample)
{
    size_t patients = 0, last = (size_t)-1;
    for (size_t i = 0; i < sample->n; i++) {
        if (!(sample->value[i] > 0.0) || sample->cluster[i] == last)
            continue;
        patients++;
        last = sample->cluster[i];
    }
    return patients;
}

static void put_point(struct rule_task *task, const struct rt_sample *dosed, double at,
                      struct rt_estimate point)
{
    struct rule_estimate result = {.estimate = point,
                                   .method = "spline_cr2",
                                   .implants = (long)dosed->n,
                                   .patients = (long)dosed->clusters,
                                   .events = RT_NO_COUNT};
    struct rt_figure row = rule_row(task, "rule_dose_response");
    row.at = at;
    row.unit = task->outcome_unit;
    if (rt_outcome_is_share(task->rule->outcome)) { /* a line of shares may leave the range of shares */
        result.estimate.value = fmin(fmax(point.value, 0.0), 1.0);
        result.estimate.lower = fmin(fmax(point.lower, 0.0), 1.0);
        result.estimate.upper = fmin(fmax(point.upper, 0.0), 1.0);
    }
    if (isnan(point.value)) /* fmin and fmax drop a NaN */
        result.estimate = point;
    else if (isnan(point.lower))
        result.estimate.lower = result.estimate.upper = NAN;
    rule_put(task, &row, &result, false);
}

static double quantile_of(struct rule_task *task, const struct rt_sample *dosed, double p)
{
    struct rt_estimate quantile = rt_undefined("not computed");
    rt_rows_check(task->rows, rt_quantile(dosed->other, dosed->n, p, NULL, &quantile, task->rows->error));
    return quantile.value;
}

/* Tenths of a millimetre, or weeks in days. */
static void draw(struct rule_task *task, const struct rt_sample *dosed, struct rt_curve *curve)
{
    const double per_step = task->rule->kind == RT_RULE_WAIT ? 7.0 : 1.0;
    const double steps = task->rule->kind == RT_RULE_WAIT ? 1.0 : 10.0;
    const int first = (int)ceil(quantile_of(task, dosed, 0.05) * steps / per_step - 1e-6);
    const int last = (int)floor(quantile_of(task, dosed, 0.95) * steps / per_step + 1e-6);
    for (int i = first; i <= last && task->rows->status == RT_OK; i++) {
        const double at = i * per_step / steps;
        put_point(task, dosed, at, rt_curve_at(curve, at));
    }
}

void rule_dose_response(struct rule_task *task)
{
    struct rt_sample dosed = {.n = 0};
    struct rt_curve curve = {.knot_count = 0};
    double knots[RT_MOST_KNOTS];
    size_t knot_count = 0;
    struct rt_error *error = task->rows->error;
    if (rt_rows_check(task->rows, take_dosed(task, &dosed, error)) && dosed.n > 0 &&
        rt_rows_check(task->rows, rt_curve_knots(dosed.other, dosed.n, 0, knots, &knot_count, error))) {
        const struct rt_clusters clusters = rt_sample_clusters(&dosed);
        const bool enough =
            knot_count >= RT_FEWEST_KNOTS && dosed.clusters >= RT_LEAST_PATIENTS &&
            (!rt_outcome_is_share(task->rule->outcome) || event_patients(&dosed) >= RT_LEAST_EVENT_PATIENTS);
        if (enough && rt_rows_check(task->rows, rt_curve_fit(&curve, dosed.other, dosed.value, dosed.n, knots,
                                                             knot_count, &clusters, error)))
            draw(task, &dosed, &curve);
    }
    rt_curve_release(&curve);
    rt_sample_release(&dosed);
}
