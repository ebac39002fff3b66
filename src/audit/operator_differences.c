/* One operator beside the others: differences, and means drawn towards the average of all. */
#include "operators.h"

#include "ridgetally/audit/window_cases.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/stats/mean.h"
#include "ridgetally/stats/share.h"
#include "ridgetally/stats/shrink.h"

#include <limits.h>
#include <math.h>
#include <stdio.h>

/* Over all records to the end of the period. ask NULL: crest change, which needs films. */
static const struct outcome {
    const char *difference, *shrunken, *between;
    operator_ask *ask;
    bool share;
} outcomes[] = {
    {"difference_depth_error", "shrunken_depth_error", "between_depth_error", ask_depth_error, false},
    {"difference_depth_distance", "shrunken_depth_distance", "between_depth_distance", ask_depth_distance,
     false},
    {"difference_within_half", "shrunken_within_half", "between_within_half", ask_within_half, true},
    {"difference_low_torque", "shrunken_low_torque", "between_low_torque", ask_low_torque, true},
    {"difference_early_failure", "shrunken_early_failure", "between_early_failure", ask_early_failure, true},
    {"difference_crest_change", "shrunken_crest_change", "between_crest_change", NULL, false},
};

/* The values of an outcome for all implants with an operator; code = operator. */
static void take_outcome(struct operator_task *task, const struct outcome *outcome,
                         const struct rt_window_cases *cases)
{
    const struct rt_cohort *cohort = task->cohort;
    size_t count = outcome->ask != NULL ? cohort->count : cases->count;
    rt_sample_clear(task->sample);
    for (size_t i = 0; i < count; i++) {
        const size_t index = outcome->ask != NULL ? i : cases->of[i].implant;
        const struct rt_audit_implant *implant = &cohort->implants[index];
        double value = outcome->ask != NULL ? outcome->ask(cohort, implant) : cases->of[i].change.mean;
        if (isnan(value) || implant->operator_code < 0)
            continue;
        rt_sample_add(task->sample, cohort, index, value);
        task->sample->code[task->sample->n - 1] = (size_t)implant->operator_code;
    }
}

/* --- operator minus the others ----------------------------------------------------------------------------- */

static bool is_of(const struct operator_task *task, size_t row)
{
    return task->sample->code[row] == (size_t)task->operator_code;
}

/* Scratch of one comparison: which rows are the operator's, and not. */
struct sides {
    bool *own, *others;
    int *event;
};

static void compare(struct operator_task *task, const struct outcome *outcome, const struct sides *sides)
{
    struct rt_sample *sample = task->sample;
    struct rt_clusters clusters = rt_sample_clusters(sample);
    struct rt_row_key key = operator_key(task);
    struct rt_figure row = rt_row_of(task->rows, "operators", outcome->difference, &key);
    struct rt_estimate difference;
    row.n_implants = row.n_events = 0;
    for (size_t i = 0; i < sample->n; i++) {
        sides->own[i] = is_of(task, i);
        sides->others[i] = !sides->own[i];
        sides->event[i] = outcome->share && sample->value[i] > 0.0;
        row.n_implants += sides->own[i];
        row.n_events += sides->own[i] && sides->event[i];
    }
    row.n_patients = (long)rt_sample_patients(sample, sides->own);
    if (!outcome->share)
        row.n_events = RT_NO_COUNT;
    enum rt_status status = outcome->share ? rt_share_difference(sides->event, sides->own, sample->n,
                                                                 &clusters, &difference, task->rows->error)
                                           : rt_mean_difference(sample->value, sides->own, sample->n,
                                                                &clusters, &difference, task->rows->error);
    if (!rt_rows_check(task->rows, status))
        return;
    rt_set_estimate(&row, &difference);
    rt_apply_minimum(&row);
    if (rt_sample_patients(sample, sides->others) < RT_LEAST_PATIENTS)
        rt_set_too_few(&row, "fewer than 10 patients of other operators");
    rt_put_row(task->rows, &row);
}

static void compare_all(struct operator_task *task, const struct outcome *outcome)
{
    const size_t room = task->sample->n + 1;
    struct sides sides = {.own = rt_new_array(room, sizeof(bool)),
                          .others = rt_new_array(room, sizeof(bool)),
                          .event = rt_new_array(room, sizeof(int))};
    if (sides.own == NULL || sides.others == NULL || sides.event == NULL) {
        rt_rows_check(task->rows, rt_fail_memory(task->rows->error));
    } else {
        for (task->operator_code = 0; task->operator_code < (int)task->cohort->operator_count;
             task->operator_code++) {
            bool any = false;
            for (size_t i = 0; i < task->sample->n && !any; i++)
                any = is_of(task, i);
            if (any && task->rows->status == RT_OK)
                compare(task, outcome, &sides);
        }
    }
    free(sides.own);
    free(sides.others);
    free(sides.event);
}

/* --- shrunken means, from five operators up ---------------------------------------------------------------- */

/* Mean or share of each operator with its clustered error; NaN for operators with fewer than 10 patients. */
struct own_means {
    double *value, *error;
    long *implants, *patients;
    struct rt_estimate *shrunken;
};

/* The rows of one operator, copied out: rt_mean takes whole arrays. */
struct own_rows {
    double *value;
    int *event;
    size_t *cluster;
};

static void own_mean(struct operator_task *task, const struct outcome *outcome, struct own_rows *own,
                     struct own_means *means)
{
    const int code = task->operator_code;
    struct rt_sample *sample = task->sample;
    struct rt_estimate mean = rt_undefined("none");
    struct rt_share share;
    size_t n = 0, patients = 0, last = (size_t)-1;
    for (size_t i = 0; i < sample->n; i++) {
        if (!is_of(task, i))
            continue;
        patients += sample->cluster[i] != last;
        last = sample->cluster[i];
        own->value[n] = sample->value[i];
        own->event[n] = sample->value[i] > 0.0;
        own->cluster[n++] = patients - 1;
    }
    struct rt_clusters clusters = {own->cluster, patients};
    means->value[code] = means->error[code] = NAN;
    means->implants[code] = (long)n;
    means->patients[code] = (long)patients;
    if (patients < RT_LEAST_PATIENTS)
        return;
    if (outcome->share) {
        if (rt_rows_check(task->rows, rt_share(own->event, n, &clusters, &share, task->rows->error)))
            mean = share.estimate;
    } else {
        rt_rows_check(task->rows, rt_mean(own->value, n, &clusters, &mean, task->rows->error));
    }
    means->value[code] = mean.value;
    means->error[code] = mean.standard_error;
}

static void write_shrunken(struct operator_task *task, const struct outcome *outcome,
                           const struct own_means *means, const struct rt_shrinkage *shrinkage)
{
    struct rt_figure row = rt_row_of(task->rows, "operators", outcome->between, NULL);
    row.value = sqrt(shrinkage->between_variance);
    row.n_implants = (long)task->sample->n;
    row.n_patients = (long)task->sample->clusters;
    rt_put_row(task->rows, &row);
    for (task->operator_code = 0; task->operator_code < (int)task->cohort->operator_count;
         task->operator_code++) {
        const int code = task->operator_code;
        struct rt_row_key key = operator_key(task);
        if (means->implants[code] == 0)
            continue;
        row = rt_row_of(task->rows, "operators", outcome->shrunken, &key);
        row.n_implants = means->implants[code];
        row.n_patients = means->patients[code];
        rt_set_estimate(&row, &means->shrunken[code]);
        row.p = NAN;
        rt_apply_minimum(&row);
        rt_put_row(task->rows, &row);
    }
}

static void shrink_all(struct operator_task *task, const struct outcome *outcome)
{
    const size_t operators = task->cohort->operator_count, room = task->sample->n + 1;
    struct own_means means = {.value = rt_new_array(operators, sizeof(double)),
                              .error = rt_new_array(operators, sizeof(double)),
                              .implants = rt_new_array(operators, sizeof(long)),
                              .patients = rt_new_array(operators, sizeof(long)),
                              .shrunken = rt_new_array(operators, sizeof *means.shrunken)};
    struct own_rows own = {.value = rt_new_array(room, sizeof(double)),
                           .event = rt_new_array(room, sizeof(int)),
                           .cluster = rt_new_array(room, sizeof(size_t))};
    if (means.value == NULL || means.error == NULL || means.implants == NULL || means.patients == NULL ||
        means.shrunken == NULL || own.value == NULL || own.event == NULL || own.cluster == NULL) {
        rt_rows_check(task->rows, rt_fail_memory(task->rows->error));
    } else {
        for (task->operator_code = 0; task->operator_code < (int)operators; task->operator_code++)
            own_mean(task, outcome, &own, &means);
        struct rt_shrinkage shrinkage = rt_shrink(means.value, means.error, operators, means.shrunken);
        if (shrinkage.used >= RT_LEAST_OPERATORS)
            write_shrunken(task, outcome, &means, &shrinkage);
    }
    free(means.value);
    free(means.error);
    free(means.implants);
    free(means.patients);
    free(means.shrunken);
    free(own.value);
    free(own.event);
    free(own.cluster);
}

void write_operator_differences(struct operator_task *task)
{
    struct rt_window_cases cases = {.of = NULL};
    const bool contact = rt_levels_look_like_contact(task->cohort);
    if (task->cohort->operator_count < 2)
        return;
    if (rt_rows_check(task->rows, rt_window_cases_start(&cases, task->cohort, task->rows->error))) {
        rt_take_window(task->cohort, RT_BASELINE_PLACEMENT, &rt_windows()[RT_YEAR_WINDOW], INT_MIN, &cases);
        for (size_t i = 0; i < sizeof outcomes / sizeof outcomes[0] && task->rows->status == RT_OK; i++) {
            if (outcomes[i].ask == NULL && contact)
                continue; /* crest change cannot be told */
            take_outcome(task, &outcomes[i], &cases);
            compare_all(task, &outcomes[i]);
            shrink_all(task, &outcomes[i]);
        }
    }
    rt_window_cases_release(&cases);
}
