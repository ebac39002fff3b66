/* The change of survival and of the rate of failures between two periods, by the influence of each patient on both. */
#include "change.h"

#include "ridgetally/audit/observations.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/stats/clustered_rate.h"
#include "ridgetally/stats/curve_difference.h"
#include "ridgetally/stats/rate.h"
#include "ridgetally/stats/student.h"
#include "ridgetally/stats/sum.h"

#include <math.h>
#include <stdlib.h>

/* --- survival --------------------------------------------------------------------------------------------- */

/* The curve of one period with the codes that both periods share. */
struct followed {
    struct rt_observations set;
    struct rt_survival_curve curve;
};

static void take_followed(const struct rt_cohort *cohort, enum rt_censoring censoring, const size_t *code,
                          size_t codes, struct rt_observations *set)
{
    for (size_t i = 0; i < cohort->count; i++) {
        const struct rt_audit_implant *implant = &cohort->implants[i];
        struct rt_observation observation;
        if (rt_is_analysed(cohort, implant) && rt_observe(cohort, implant, censoring, &observation))
            rt_observations_add(set, code[implant->patient], &observation, 0);
    }
    set->clusters = codes;
}

static enum rt_status follow(const struct rt_compared_view *view, enum rt_censoring censoring,
                             const size_t *code, size_t codes, struct followed *followed,
                             struct rt_error *error)
{
    *followed = (struct followed){.curve = {.count = 0}};
    enum rt_status status = rt_observations_start(&followed->set, view->cohort, error);
    if (status != RT_OK)
        return status;
    take_followed(view->cohort, censoring, code, codes, &followed->set);
    struct rt_follow_up data = rt_follow_up_of(&followed->set, false);
    return rt_survival_curve(&followed->curve, &data, RT_INTERVAL_DOUBLE_LOG, error);
}

static void release_followed(struct followed *followed)
{
    rt_survival_curve_release(&followed->curve);
    rt_observations_release(&followed->set);
}

/* Implants and patients at risk at a day, and the failures until then. */
static enum rt_status count_at(const struct rt_survival_curve *curve, double day, struct rt_figure *row,
                               struct rt_error *error)
{
    size_t patients = 0, until = rt_timeline_until(&curve->timeline, day);
    enum rt_status status = rt_clusters_at_risk(&curve->timeline, &curve->data, day, &patients, error);
    row->n_implants = (long)rt_timeline_at_risk(&curve->timeline, day);
    row->n_patients = (long)patients;
    row->n_events = 0;
    for (size_t k = 0; k < until; k++)
        row->n_events += (long)curve->events[k];
    return status;
}

static void write_survival_then(struct change *change, const struct rt_survival_curve *curve, double day,
                                struct rt_figure row)
{
    if (!rt_rows_check(change->rows, count_at(curve, day, &row, change->rows->error)))
        return;
    struct rt_estimate estimate = rt_survival_late_at(curve, day);
    rt_set_estimate(&row, &estimate);
    row.p = NAN;
    if (row.state == RT_FIGURE_OK && (row.value <= 0.0 || row.value >= 1.0)) {
        struct rt_estimate exact = rt_survival_exact(row.value, (size_t)row.n_patients);
        row.lower = exact.lower;
        row.upper = exact.upper;
        row.method = "exact_conservative";
    }
    if (row.n_patients < RT_LEAST_PATIENTS)
        rt_set_too_few(&row, "fewer than 10 patients at risk");
    rt_put_row(change->rows, &row);
}

/* Patients whose failures until a day are not the same in both periods; false when memory ran out. */
static bool count_failures_apart(const struct followed *now, const struct followed *then, double day,
                                 size_t codes, size_t *apart)
{
    const struct followed *const both[] = {then, now};
    double *count[2] = {rt_new_array(codes + 1, sizeof(double)), rt_new_array(codes + 1, sizeof(double))};
    bool complete = count[0] != NULL && count[1] != NULL;
    for (size_t which = 0; complete && which < 2; which++) {
        const struct rt_observations *set = &both[which]->set;
        for (size_t i = 0; i < set->n; i++)
            count[which][set->cluster[i]] += set->event[i] == 1 && set->time[i] <= day;
    }
    *apart = complete ? count_apart(count[1], count[0], codes) : 0;
    free(count[0]);
    free(count[1]);
    return complete;
}

static void write_survival_difference(struct change *change, const struct followed *now,
                                      const struct followed *then, double day, enum rt_censoring censoring,
                                      struct rt_figure row)
{
    struct rt_rows *rows = change->rows;
    struct rt_curve_difference result;
    struct rt_figure earlier = row;
    size_t apart = 0;
    if (!count_failures_apart(now, then, day, change->codes, &apart))
        rt_rows_check(rows, rt_fail_memory(rows->error));
    if (!rt_rows_check(rows, count_at(&now->curve, day, &row, rows->error)) ||
        !rt_rows_check(rows, count_at(&then->curve, day, &earlier, rows->error)) ||
        !rt_rows_check(rows, rt_curve_difference(&now->curve, &then->curve, day, &result, rows->error)))
        return;
    rt_set_estimate(&row, &result.difference);
    if (!isnan(row.value) && !(result.difference.standard_error > 0.0)) {
        row.p = NAN; /* one curve is 1: limits recovered from those of both; none where the curves are one */
        row.lower = isfinite(result.recovered_lower) ? result.recovered_lower : NAN;
        row.upper = isfinite(result.recovered_upper) ? result.recovered_upper : NAN;
        row.remark = isnan(row.lower) ? "the two periods do not differ in any patient" : "";
    }
    if (censoring != RT_LAST_SIGHTING)
        row.p = NAN; /* one test: that of the first censoring */
    if (row.n_patients < RT_LEAST_PATIENTS)
        rt_set_too_few(&row, "fewer than 10 patients at risk");
    else if (earlier.n_patients < RT_LEAST_PATIENTS)
        rt_set_too_few(&row, "fewer than 10 patients at risk then");
    else if (apart < RT_LEAST_EVENT_PATIENTS)
        rt_set_too_few(&row, too_few_apart);
    rt_put_row(rows, &row);
}

static void write_survival_pair(struct change *change, const struct rt_compared *compared,
                                enum rt_censoring censoring)
{
    struct rt_rows *rows = change->rows;
    const double day = compared->at * RT_YEAR_DAYS;
    const bool seen = censoring == RT_LAST_SIGHTING;
    struct rt_row_key key = rt_key_text("change", change->level, seen ? "" : "censoring",
                                        seen ? "" : rt_censoring_name(censoring));
    struct followed now, then = {.curve = {.count = 0}};
    enum rt_status status =
        follow(&change->now, censoring, change->code_now, change->codes, &now, rows->error);
    if (status == RT_OK)
        status = follow(&change->then, censoring, change->code_then, change->codes, &then, rows->error);
    if (rt_rows_check(rows, status)) {
        write_survival_then(change, &then.curve, day, change_row(change, compared, "then", &key));
        write_survival_difference(change, &now, &then, day, censoring,
                                  change_row(change, compared, "change", &key));
    }
    release_followed(&now);
    release_followed(&then);
}

void write_survival_change(struct change *change, const struct rt_compared *compared)
{
    write_survival_pair(change, compared, RT_LAST_SIGHTING);
    write_survival_pair(change, compared, RT_RECALL);
}

/* --- rate ------------------------------------------------------------------------------------------------- */

/* Failures and years at risk in the 12 months of one period, by patient code. */
struct exposed {
    double *failures, *years;
    bool *there;
    double patient_years; /* each patient's longest implant */
    struct rt_sum all_failures, all_years;
    long implants, patients;
};

static enum rt_status start_exposed(struct exposed *exposed, size_t codes, struct rt_error *error)
{
    *exposed = (struct exposed){.failures = rt_new_array(codes + 1, sizeof(double)),
                                .years = rt_new_array(codes + 1, sizeof(double)),
                                .there = rt_new_array(codes + 1, sizeof(bool))};
    bool complete = exposed->failures != NULL && exposed->years != NULL && exposed->there != NULL;
    return complete ? RT_OK : rt_fail_memory(error);
}

static void release_exposed(struct exposed *exposed)
{
    free(exposed->failures);
    free(exposed->years);
    free(exposed->there);
}

/* Years of one implant at risk from first_day on; below 0 when it was not at risk then. */
static double years_at_risk(const struct rt_cohort *cohort, const struct rt_audit_implant *implant,
                            int first_day, bool *failed)
{
    struct rt_observation observation;
    if (!rt_is_analysed(cohort, implant) || !rt_observe(cohort, implant, RT_LAST_SIGHTING, &observation) ||
        implant->placed_on + observation.exit < first_day)
        return -1.0;
    int from = implant->placed_on + observation.entry, until = implant->placed_on + observation.exit;
    *failed = observation.cause == RT_FAILURE;
    return (until - (from < first_day - 1 ? first_day - 1 : from)) / RT_YEAR_DAYS;
}

static void take_exposed(const struct rt_cohort *cohort, const size_t *code, struct exposed *exposed)
{
    const int first_day = rt_year_start(&cohort->period);
    size_t last = (size_t)-1;
    double longest = 0.0;
    for (size_t i = 0; i < cohort->count; i++) {
        const struct rt_audit_implant *implant = &cohort->implants[i];
        const size_t c = code[implant->patient];
        bool failed = false;
        double years = years_at_risk(cohort, implant, first_day, &failed);
        if (years < 0.0)
            continue;
        exposed->patients += c != last;
        exposed->patient_years += c != last ? longest : 0.0; /* of the patient before */
        longest = c != last ? years : fmax(longest, years);
        last = c;
        exposed->implants++;
        exposed->there[c] = true;
        exposed->failures[c] += failed;
        exposed->years[c] += years;
        rt_sum_add(&exposed->all_failures, failed);
        rt_sum_add(&exposed->all_years, years);
    }
    exposed->patient_years += longest;
}

static double rate_of(const struct exposed *exposed)
{
    return rt_sum_value(&exposed->all_failures) / rt_sum_value(&exposed->all_years);
}

static void write_rate_then(struct change *change, const struct exposed *then, struct rt_figure row)
{
    struct rt_estimate rate = rt_undefined("no time at risk");
    size_t n = 0;
    double *failures = rt_new_array(change->codes + 1, sizeof *failures);
    double *years = rt_new_array(change->codes + 1, sizeof *years);
    if (failures == NULL || years == NULL) {
        rt_rows_check(change->rows, rt_fail_memory(change->rows->error));
        goto done;
    }
    for (size_t c = 0; c < change->codes; c++) {
        if (!then->there[c])
            continue;
        failures[n] = then->failures[c];
        years[n++] = then->years[c];
    }
    if (!rt_rows_check(change->rows, rt_clustered_rate(failures, years, n, &rate, change->rows->error)))
        goto done;
    rate.value *= 100.0;
    rate.lower *= 100.0;
    rate.upper *= 100.0;
    row.n_implants = then->implants;
    row.n_patients = then->patients;
    row.n_events = (long)rt_sum_value(&then->all_failures);
    rt_set_estimate(&row, &rate);
    if (row.value == 0.0) {
        row.lower = 0.0;
        row.upper = 100.0 * rt_rate_limits(0.0, then->patient_years).upper;
        row.method = "rate_exact_conservative";
        row.remark = "";
    }
    rt_apply_minimum(&row);
    rt_put_row(change->rows, &row);
done:
    free(failures);
    free(years);
}

/* Now minus then. A patient's influence on a rate is (failures - rate x years)/all years; the variance of the difference is
 * C/(C - 1) times the sum of the squared differences of the influences over the C patients of either period. */
static struct rt_estimate rate_difference(const struct exposed *now, const struct exposed *then, size_t codes)
{
    struct rt_estimate difference = rt_undefined(NULL);
    const double rate_now = rate_of(now), rate_then = rate_of(then);
    const double years_now = rt_sum_value(&now->all_years), years_then = rt_sum_value(&then->all_years);
    struct rt_sum squares = {0.0, 0.0};
    double patients = 0.0;
    if (!(years_now > 0.0 && years_then > 0.0)) {
        difference.reason = "no time at risk";
        return difference;
    }
    difference.value = 100.0 * (rate_now - rate_then);
    if (rt_sum_value(&now->all_failures) == 0.0 || rt_sum_value(&then->all_failures) == 0.0) {
        difference.reason = "no failure in one of the periods";
        return difference;
    }
    for (size_t c = 0; c < codes; c++) {
        double influence = (now->failures[c] - rate_now * now->years[c]) / years_now -
                           (then->failures[c] - rate_then * then->years[c]) / years_then;
        patients += now->there[c] || then->there[c];
        rt_sum_add(&squares, influence * influence);
    }
    difference.df = patients - 1.0;
    difference.standard_error = 100.0 * sqrt(patients / difference.df * rt_sum_value(&squares));
    if (!(difference.df > 0.0) || !(difference.standard_error > 0.0)) {
        difference.reason = "the two periods do not differ in any patient";
        return difference;
    }
    rt_student_inference(&difference, 0.0);
    return difference;
}

void write_rate_change(struct change *change, const struct rt_compared *compared)
{
    struct rt_rows *rows = change->rows;
    struct rt_row_key key = rt_key_text("change", change->level, "", "");
    struct exposed now = {.implants = 0}, then = {.implants = 0};
    if (rt_rows_check(rows, start_exposed(&now, change->codes, rows->error)) &&
        rt_rows_check(rows, start_exposed(&then, change->codes, rows->error))) {
        take_exposed(change->now.cohort, change->code_now, &now);
        take_exposed(change->then.cohort, change->code_then, &then);
        write_rate_then(change, &then, change_row(change, compared, "then", &key));
        struct rt_figure row = change_row(change, compared, "change", &key);
        struct rt_estimate difference = rate_difference(&now, &then, change->codes);
        row.n_implants = now.implants;
        row.n_patients = now.patients;
        rt_set_estimate(&row, &difference);
        rt_apply_minimum(&row);
        if (row.state != RT_FIGURE_TOO_FEW && then.patients < RT_LEAST_PATIENTS)
            rt_set_too_few(&row, "fewer than 10 patients then");
        else if (row.state != RT_FIGURE_TOO_FEW &&
                 count_apart(now.failures, then.failures, change->codes) < RT_LEAST_EVENT_PATIENTS)
            rt_set_too_few(&row, too_few_apart);
        rt_put_row(rows, &row);
    }
    release_exposed(&now);
    release_exposed(&then);
}
