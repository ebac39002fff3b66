#include "ridgetally/audit/estimates.h"
#include "ridgetally/audit/fate.h"
#include "ridgetally/audit/observations.h"
#include "ridgetally/audit/sections.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/stats/survival_curve.h"

#include <math.h>
#include <stdio.h>

struct flow_task {
    const struct rt_cohort *cohort;
    struct rt_rows *rows;
    struct rt_sample *sample;
};

typedef bool choice(const struct rt_cohort *cohort, const struct rt_audit_implant *implant, int detail);

/* Count the implants that are chosen. */
static void write_count(struct flow_task *task, const char *measure, const struct rt_row_key *key,
                        choice *chosen, int detail)
{
    rt_sample_clear(task->sample);
    for (size_t i = 0; i < task->cohort->count; i++)
        if (chosen(task->cohort, &task->cohort->implants[i], detail))
            rt_sample_add(task->sample, task->cohort, i, 1.0);
    rt_put_count(task->rows, "flow", measure, key, (long)task->sample->n, (long)task->sample->clusters,
                 RT_NO_COUNT);
}

static bool placed_since(const struct rt_cohort *cohort, const struct rt_audit_implant *implant, int day)
{
    (void)cohort;
    return implant->placed_on >= day;
}

static bool is_contradicted(const struct rt_cohort *cohort, const struct rt_audit_implant *implant,
                            int detail)
{
    (void)cohort, (void)detail;
    return (implant->blocked & RT_BLOCKS_SURVIVAL) != 0;
}

static bool is_unobserved(const struct rt_cohort *cohort, const struct rt_audit_implant *implant, int detail)
{
    return !is_contradicted(cohort, implant, detail) && !rt_is_analysed(cohort, implant);
}

static bool is_analysed(const struct rt_cohort *cohort, const struct rt_audit_implant *implant, int detail)
{
    (void)detail;
    return rt_is_analysed(cohort, implant);
}

static bool is_followed(const struct rt_cohort *cohort, const struct rt_audit_implant *implant, int detail)
{
    (void)detail;
    return rt_is_analysed(cohort, implant) && implant->followed;
}

static bool has_fate(const struct rt_cohort *cohort, const struct rt_audit_implant *implant, int fate)
{
    return rt_is_analysed(cohort, implant) && rt_fate_of(cohort, implant) == (enum rt_fate)fate;
}

/* Leaving failures out flatters: say how many of those left out are recorded as removed. */
static void write_contradictions(struct flow_task *task, const struct rt_row_key *key)
{
    struct rt_figure row = rt_row_of(task->rows, "flow", "excluded", key);
    rt_sample_clear(task->sample);
    row.n_events = 0;
    for (size_t i = 0; i < task->cohort->count; i++) {
        const struct rt_audit_implant *implant = &task->cohort->implants[i];
        if (!is_contradicted(task->cohort, implant, 0))
            continue;
        rt_sample_add(task->sample, task->cohort, i, 1.0);
        row.n_events += implant->removed_on != RT_NO_DATE;
    }
    char remark[64] = "";
    if (row.n_events > 0)
        snprintf(remark, sizeof remark, "%ld of them recorded as removed", row.n_events);
    row.n_implants = (long)task->sample->n;
    row.n_patients = (long)task->sample->clusters;
    row.value = (double)task->sample->n;
    row.remark = remark;
    rt_put_row(task->rows, &row);
}

static bool is_blocked(const struct rt_cohort *cohort, const struct rt_audit_implant *implant, int sections)
{
    (void)cohort;
    return (implant->blocked & (unsigned)sections) != 0;
}

/* Contradictions leave an implant out of the sections they touch only. */
static void write_blocked(struct flow_task *task)
{
    static const char *const sections[] = {"depth", "stability", "crest"};
    static const int bits[] = {RT_BLOCKS_DEPTH, RT_BLOCKS_STABILITY, RT_BLOCKS_CREST};
    for (size_t i = 0; i < 3; i++) {
        struct rt_row_key key = rt_key_text("section", sections[i], "reason", "contradiction");
        write_count(task, "excluded", &key, is_blocked, bits[i]);
    }
}

static void write_counts(struct flow_task *task)
{
    const struct rt_period *period = &task->cohort->period;
    struct rt_row_key all = rt_key_text("window", "all", "", "");
    struct rt_row_key inside = rt_key_text("window", "period", "", "");
    struct rt_row_key year = rt_key_text("window", "12 months", "", "");
    struct rt_row_key contradiction = rt_key_text("reason", "contradiction", "", "");
    struct rt_row_key unobserved = rt_key_text("reason", "not under observation", "", "");
    struct rt_row_key undated = rt_key_text("reason", "no placement date", "", "");
    struct rt_row_key later = rt_key_text("reason", "placed after the period", "", "");
    write_count(task, "recorded", &all, placed_since, RT_NO_DATE);
    write_count(task, "recorded", &year, placed_since, rt_year_start(period));
    write_count(task, "recorded", &inside, placed_since, period->first_day);
    write_contradictions(task, &contradiction);
    write_count(task, "excluded", &unobserved, is_unobserved, 0);
    write_blocked(task);
    rt_put_count(task->rows, "flow", "excluded", &undated, task->cohort->undated, RT_NO_COUNT, RT_NO_COUNT);
    rt_put_count(task->rows, "flow", "excluded", &later, task->cohort->placed_later, RT_NO_COUNT,
                 RT_NO_COUNT);
    write_count(task, "analysed", NULL, is_analysed, 0);
    write_count(task, "followed", NULL, is_followed, 0);
    for (int fate = 0; fate < RT_FATES; fate++) {
        struct rt_row_key key = rt_key_text("status", rt_fate_name((enum rt_fate)fate), "", "");
        write_count(task, "status", &key, has_fate, fate);
    }
}

/* --- by year of placement -------------------------------------------------------------------------------- */

static int year_of(const struct rt_audit_implant *implant)
{
    return rt_civil_date(implant->placed_on).year;
}

/* Observed and possible time until the last sighting, the failure or the end, in days. */
static double observed_share(const struct flow_task *task, int year)
{
    double observed = 0.0, possible = 0.0;
    for (size_t i = 0; i < task->cohort->count; i++) {
        const struct rt_audit_implant *implant = &task->cohort->implants[i];
        struct rt_observation seen;
        if ((year != 0 && year_of(implant) != year) || !rt_is_analysed(task->cohort, implant))
            continue;
        if (!rt_observe(task->cohort, implant, RT_LAST_SIGHTING, &seen))
            seen.exit = seen.entry; /* seen once, on entering: no time yet */
        int end = seen.cause == RT_CENSORED ? task->cohort->period.last_day - implant->placed_on : seen.exit;
        observed += seen.exit - seen.entry;
        possible += end - seen.entry;
    }
    return possible > 0.0 ? observed / possible : NAN;
}

/* year 0: all years. */
static void write_completeness(struct flow_task *task, int year)
{
    char label[16] = "";
    rt_sample_clear(task->sample);
    for (size_t i = 0; i < task->cohort->count; i++) {
        const struct rt_audit_implant *implant = &task->cohort->implants[i];
        if ((year == 0 || year_of(implant) == year) && rt_is_analysed(task->cohort, implant))
            rt_sample_add(task->sample, task->cohort, i,
                          rt_fate_of(task->cohort, implant) == RT_LOST ? 0.0 : 1.0);
    }
    if (year != 0 && task->sample->n == 0)
        return;
    if (year != 0)
        snprintf(label, sizeof label, "%d", year);
    struct rt_row_key key = rt_key_text(year != 0 ? "year" : "", label, "", "");
    rt_put_share(task->rows, rt_row_of(task->rows, "flow", "completeness", &key), task->sample);
    struct rt_figure row = rt_row_of(task->rows, "flow", "follow_up_index", &key);
    row.n_implants = (long)task->sample->n;
    row.n_patients = (long)task->sample->clusters;
    row.value = observed_share(task, year);
    if (isnan(row.value)) {
        row.state = RT_FIGURE_UNDEFINED;
        row.remark = "no time that could have been observed";
    }
    rt_put_row(task->rows, &row);
}

static void write_years(struct flow_task *task)
{
    int first = 10000, last = 0;
    for (size_t i = 0; i < task->cohort->count; i++) {
        int year = year_of(&task->cohort->implants[i]);
        first = year < first ? year : first;
        last = year > last ? year : last;
    }
    write_completeness(task, 0);
    for (int year = first; year <= last && task->rows->status == RT_OK; year++)
        write_completeness(task, year);
}

/* --- follow-up time -------------------------------------------------------------------------------------- */

static void write_median_follow_up(struct flow_task *task)
{
    struct rt_observations set;
    struct rt_survival_curve curve = {.count = 0};
    struct rt_rows *rows = task->rows;
    struct rt_figure row = rt_row_of(rows, "flow", "median_follow_up", NULL);
    if (rt_rows_check(rows, rt_observations_start(&set, task->cohort, rows->error))) {
        rt_observe_implants(&set, task->cohort, RT_LAST_SIGHTING, RT_BY_NOTHING, 0);
        for (size_t i = 0; i < set.n; i++)
            set.event[i] = set.cause[i] == RT_CENSORED;
        struct rt_follow_up data = rt_follow_up_of(&set, false);
        row.n_implants = (long)set.n;
        row.n_patients = (long)set.clusters;
        if (rt_rows_check(rows, rt_survival_curve(&curve, &data, RT_INTERVAL_DOUBLE_LOG, rows->error))) {
            struct rt_estimate median = rt_survival_quantile(&curve, 0.5);
            median.value /= RT_MONTH_DAYS;
            median.lower /= RT_MONTH_DAYS;
            median.upper /= RT_MONTH_DAYS;
            rt_set_estimate(&row, &median);
            row.p = NAN;
            rt_apply_minimum(&row);
            rt_put_row(rows, &row);
        }
    }
    rt_survival_curve_release(&curve);
    rt_observations_release(&set);
}

/* --- fields ---------------------------------------------------------------------------------------------- */

static bool field_is_filled(const struct rt_audit_implant *implant, size_t field)
{
    switch (field) {
    case 0:
        return implant->tooth > 0;
    case 1:
        return implant->operator_code >= 0;
    case 2:
        return !isnan(implant->diameter_mm);
    case 3:
        return !isnan(implant->length_mm);
    case 4:
        return !isnan(implant->planned_depth_mm);
    case 5:
        return !isnan(implant->achieved_depth_mm);
    case 6:
        return implant->depth_at_surgery != RT_ANSWER_MISSING;
    case 7:
        return implant->planned.of > 0;
    case 8:
        return implant->found.of > 0;
    case 9:
        return implant->stalled != RT_ANSWER_MISSING;
    case 10:
        return !isnan(implant->final_torque_ncm);
    case 11:
        return !isnan(implant->tissue_mm);
    case 12:
        return implant->smoking >= 0;
    default:
        return implant->loaded_on != RT_NO_DATE || implant->loaded == RT_ANSWER_NO;
    }
}

/* Shares of records, not of outcomes: shown from one implant on, without an interval. */
static void write_fields(struct flow_task *task)
{
    static const char *const fields[] = {"tooth",
                                         "operator",
                                         "diameter_mm",
                                         "length_mm",
                                         "planned_depth_mm",
                                         "achieved_depth_mm",
                                         "depth_source",
                                         "density_planned",
                                         "density_found",
                                         "stalled",
                                         "final_torque_ncm",
                                         "tissue_mm",
                                         "smoking",
                                         "loaded"};
    for (size_t field = 0; field < sizeof fields / sizeof fields[0]; field++) {
        long filled = 0;
        rt_sample_clear(task->sample);
        for (size_t i = 0; i < task->cohort->count; i++) {
            if (field_is_filled(&task->cohort->implants[i], field))
                rt_sample_add(task->sample, task->cohort, i, 1.0);
        }
        filled = (long)task->sample->n;
        struct rt_row_key key = rt_key_text("window", "all", "field", fields[field]);
        struct rt_figure row = rt_row_of(task->rows, "flow", "field_recorded", &key);
        row.n_implants = (long)task->cohort->count;
        row.n_patients = (long)task->cohort->patients;
        row.n_events = filled;
        row.value = task->cohort->count > 0 ? (double)filled / (double)task->cohort->count : NAN;
        if (task->cohort->count == 0) {
            row.state = RT_FIGURE_UNDEFINED;
            row.remark = "no implants";
        }
        rt_put_row(task->rows, &row);
    }
}

void rt_flow_figures(const struct rt_cohort *cohort, struct rt_rows *rows)
{
    struct rt_sample sample = {.n = 0};
    struct flow_task task = {.cohort = cohort, .rows = rows, .sample = &sample};
    if (rt_rows_check(rows, rt_sample_start(&sample, cohort, rows->error))) {
        write_counts(&task);
        write_years(&task);
        write_median_follow_up(&task);
        write_fields(&task);
    }
    rt_sample_release(&sample);
}
