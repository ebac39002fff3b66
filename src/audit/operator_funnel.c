/* Patients with an early failure, operator by operator, inside limits that depend on how many they are. */
#include "operators.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/funnel.h"
#include "ridgetally/stats/proportion.h"

#include <math.h>

enum { FUNNEL_POINTS = 30, FUNNEL_FIRST = 5 };

/* Patients whose fate is known at 180 days, and those with a failure, of each operator. */
struct funnel {
    long *patients, *failed, *implants;
    long all, all_failed, most;
};

static bool is_known(const struct rt_session *session)
{
    return session->state == RT_SESSION_KNOWN;
}

static bool is_failed(const struct rt_session *session)
{
    return is_known(session) && session->failed;
}

static void take_operator(struct operator_task *task, struct funnel *funnel)
{
    const int code = task->operator_code;
    size_t first, count = rt_sessions_of(task->sessions, code, &first), patients = 0, failed = 0;
    if (!rt_rows_check(task->rows, rt_count_session_patients(task->sessions, first, count, false, is_known,
                                                             &patients, task->rows->error)) ||
        !rt_rows_check(task->rows, rt_count_session_patients(task->sessions, first, count, false, is_failed,
                                                             &failed, task->rows->error)))
        return;
    for (size_t i = first; i < first + count; i++)
        funnel->implants[code] += (long)task->sessions->of[i].known;
    funnel->patients[code] = (long)patients;
    funnel->failed[code] = (long)failed;
    funnel->all += (long)patients;
    funnel->all_failed += (long)failed;
    funnel->most = (long)patients > funnel->most ? (long)patients : funnel->most;
}

static struct rt_figure funnel_row(struct operator_task *task, const char *measure,
                                   const struct rt_row_key *key, const struct funnel *funnel)
{
    struct rt_figure row = rt_row_of(task->rows, "operators", measure, key);
    row.unit_of_analysis = "patient";
    if (key != NULL) {
        row.n_implants = funnel->implants[task->operator_code];
        row.n_patients = funnel->patients[task->operator_code];
        row.n_events = funnel->failed[task->operator_code];
    } else {
        row.n_patients = funnel->all;
        row.n_events = funnel->all_failed;
    }
    return row;
}

static void write_limits(struct operator_task *task, const char *measure, const struct rt_row_key *key,
                         const struct funnel *funnel, double at, double centre, double lower, double upper)
{
    struct rt_figure row = funnel_row(task, measure, key, funnel);
    row.at = at;
    row.value = centre;
    row.lower = fmax(0.0, lower);
    row.upper = fmin(1.0, upper);
    rt_apply_minimum(&row);
    rt_put_row(task->rows, &row);
}

static void write_place(struct operator_task *task, const struct funnel *funnel, double centre)
{
    static const char *const places[] = {"inside", "outside the 95% limits", "outside the 99.8% limits"};
    const double failed = (double)funnel->failed[task->operator_code];
    const double patients = (double)funnel->patients[task->operator_code];
    struct rt_row_key key = operator_key(task);
    struct rt_figure row = funnel_row(task, "funnel_share", &key, funnel);
    struct rt_funnel_limits limits = rt_funnel_limits(failed, patients, centre, 1.0);
    struct rt_limits own = rt_exact_limits(failed, patients);
    row.value = failed / patients;
    row.lower = own.lower;
    row.upper = own.upper;
    row.remark = places[limits.signal];
    rt_apply_minimum(&row);
    rt_put_row(task->rows, &row);
    write_limits(task, "funnel_limits_95", &key, funnel, NAN, centre, limits.lower95, limits.upper95);
    write_limits(task, "funnel_limits_998", &key, funnel, NAN, centre, limits.lower998, limits.upper998);
}

static void write_curves(struct operator_task *task, const struct funnel *funnel, double centre)
{
    const long last = funnel->most + funnel->most / 8 + 1;
    const long step = (last - FUNNEL_FIRST) / FUNNEL_POINTS + 1;
    for (long at = FUNNEL_FIRST; at <= last && task->rows->status == RT_OK; at += step) {
        struct rt_funnel_limits limits = rt_funnel_limits(0.0, (double)at, centre, 1.0);
        write_limits(task, "funnel_curve_95", NULL, funnel, (double)at, centre, limits.lower95,
                     limits.upper95);
        write_limits(task, "funnel_curve_998", NULL, funnel, (double)at, centre, limits.lower998,
                     limits.upper998);
    }
}

static void write_funnel(struct operator_task *task, const struct funnel *funnel)
{
    struct rt_figure row = funnel_row(task, "funnel_centre", NULL, funnel);
    const double centre = (double)funnel->all_failed / (double)funnel->all;
    row.value = centre;
    rt_apply_minimum(&row);
    if (row.state == RT_FIGURE_OK && funnel->all_failed < RT_LEAST_EVENT_PATIENTS)
        rt_set_too_few(&row, "fewer than 5 patients with an early failure");
    else if (row.state == RT_FIGURE_OK && funnel->all_failed == funnel->all)
        rt_set_too_few(&row, "every patient has an early failure");
    rt_put_row(task->rows, &row);
    if (row.state != RT_FIGURE_OK)
        return;
    for (task->operator_code = 0; task->operator_code < (int)task->cohort->operator_count;
         task->operator_code++)
        if (funnel->patients[task->operator_code] > 0)
            write_place(task, funnel, centre);
    write_curves(task, funnel, centre);
}

void write_operator_funnel(struct operator_task *task)
{
    const size_t operators = task->cohort->operator_count;
    struct funnel funnel = {.patients = rt_new_array(operators + 1, sizeof(long)),
                            .failed = rt_new_array(operators + 1, sizeof(long)),
                            .implants = rt_new_array(operators + 1, sizeof(long))};
    if (funnel.patients == NULL || funnel.failed == NULL || funnel.implants == NULL) {
        rt_rows_check(task->rows, rt_fail_memory(task->rows->error));
    } else if (operators >= 2) {
        for (task->operator_code = 0; task->operator_code < (int)operators; task->operator_code++)
            take_operator(task, &funnel);
        write_funnel(task, &funnel);
    }
    free(funnel.patients);
    free(funnel.failed);
    free(funnel.implants);
}
