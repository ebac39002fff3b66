#include "ridgetally/audit/estimates.h"
#include "ridgetally/audit/fate.h"
#include "ridgetally/audit/sections.h"
#include "ridgetally/base/number.h"
#include "ridgetally/stats/kappa.h"
#include "ridgetally/stats/ordered.h"
#include "ridgetally/stats/rank.h"

#include <math.h>

struct stability_task {
    const struct rt_cohort *cohort;
    struct rt_rows *rows;
    struct rt_sample *sample;
    const char *window;
    int from;
    struct rt_row_key key;
};

static bool in_window(const struct stability_task *task, const struct rt_audit_implant *implant)
{
    return implant->placed_on >= task->from && (implant->blocked & RT_BLOCKS_STABILITY) == 0;
}

/* Final torques of one level; other and code are left to the caller. Returns the implants placed. */
static long take_torques(struct stability_task *task, enum rt_grouping_of grouping, int level)
{
    long due = 0;
    rt_sample_clear(task->sample);
    for (size_t i = 0; i < task->cohort->count; i++) {
        const struct rt_audit_implant *implant = &task->cohort->implants[i];
        if (!in_window(task, implant) || rt_level_of(task->cohort, implant, grouping) != level)
            continue;
        due++;
        if (isnan(implant->final_torque_ncm))
            continue;
        rt_sample_add(task->sample, task->cohort, i, implant->final_torque_ncm);
        task->sample->capped[task->sample->n - 1] = implant->final_torque_capped;
        task->sample->code[task->sample->n - 1] = (size_t)(implant->found.of > 0 ? implant->found.of - 1 : 0);
    }
    return due;
}

static void write_quartiles(struct stability_task *task, enum rt_grouping_of grouping, int level)
{
    static const char *const measures[] = {"torque_quartile_lower", "torque_median", "torque_quartile_upper"};
    static const double shares[] = {0.25, 0.5, 0.75};
    struct rt_sample *sample = task->sample;
    long due = take_torques(task, grouping, level), capped = 0;
    if (due == 0 && grouping != RT_BY_NOTHING)
        return;
    for (size_t i = 0; i < sample->n; i++)
        capped += sample->capped[i];
    rt_put_count(task->rows, "stability", "torque_recorded", &task->key, (long)sample->n,
                 (long)sample->clusters, due);
    rt_put_count(task->rows, "stability", "torque_capped", &task->key, capped,
                 (long)rt_sample_patients(sample, sample->capped), (long)sample->n);
    for (size_t i = 0; i < 3; i++) {
        struct rt_figure row = rt_row_of(task->rows, "stability", measures[i], &task->key);
        row.n_due = due;
        rt_put_capped_quantile(task->rows, row, sample, shares[i]);
    }
}

/* A row of two numbers computed from the whole sample at once. */
static void put_estimate(struct stability_task *task, const char *measure, const struct rt_estimate *estimate)
{
    struct rt_figure row = rt_row_of(task->rows, "stability", measure, &task->key);
    row.n_implants = (long)task->sample->n;
    row.n_patients = (long)task->sample->clusters;
    rt_set_estimate(&row, estimate);
    rt_apply_minimum(&row);
    rt_put_row(task->rows, &row);
}

/* Rank correlations of the torques with sample.other. */
static void write_ranks(struct stability_task *task, const char *spearman, const char *tau_b)
{
    struct rt_clusters clusters = rt_sample_clusters(task->sample);
    struct rt_rank_correlation result;
    if (!rt_rows_check(task->rows,
                       rt_rank_correlation(task->sample->other, task->sample->value, task->sample->capped,
                                           task->sample->n, &clusters, &result, task->rows->error)))
        return;
    put_estimate(task, spearman, &result.spearman);
    put_estimate(task, tau_b, &result.tau_b);
}

/* Jonckheere's concordance on the scale -1 to 1, turned so that + means less torque in softer bone. */
static struct rt_estimate trend_of(const struct rt_ordered *ordered)
{
    struct rt_estimate trend = ordered->concordance;
    trend.value = 1.0 - 2.0 * ordered->concordance.value;
    trend.lower = 1.0 - 2.0 * ordered->concordance.upper;
    trend.upper = 1.0 - 2.0 * ordered->concordance.lower;
    trend.p = ordered->jonckheere.p;
    if (trend.reason == NULL)
        trend.reason = ordered->jonckheere.reason;
    return trend;
}

static void write_density_trend(struct stability_task *task, int scale)
{
    struct rt_sample *sample = task->sample;
    long due = take_torques(task, RT_BY_DENSITY_SCALE, scale);
    if (due == 0)
        return;
    for (size_t i = 0; i < sample->n; i++)
        sample->other[i] = (double)(sample->code[i] + 1);
    write_ranks(task, "torque_density_spearman", "torque_density_tau_b");
    struct rt_clusters clusters = rt_sample_clusters(sample);
    struct rt_ordered ordered;
    if (!rt_rows_check(task->rows, rt_ordered(sample->value, sample->capped, sample->code, RT_DENSITY_CLASSES,
                                              sample->n, &clusters, &ordered, task->rows->error)))
        return;
    struct rt_estimate trend = trend_of(&ordered);
    put_estimate(task, "torque_density_trend", &trend);
}

static void write_size_ranks(struct stability_task *task, bool diameter)
{
    struct rt_sample *sample = task->sample;
    rt_sample_clear(sample);
    for (size_t i = 0; i < task->cohort->count; i++) {
        const struct rt_audit_implant *implant = &task->cohort->implants[i];
        double size = diameter ? implant->diameter_mm : implant->length_mm;
        if (!in_window(task, implant) || isnan(implant->final_torque_ncm) || isnan(size))
            continue;
        rt_sample_add(sample, task->cohort, i, implant->final_torque_ncm);
        sample->capped[sample->n - 1] = implant->final_torque_capped;
        sample->other[sample->n - 1] = size;
    }
    write_ranks(task, diameter ? "torque_diameter_spearman" : "torque_length_spearman",
                diameter ? "torque_diameter_tau_b" : "torque_length_tau_b");
}

/* Planned and found class on one scale; the planned class goes into other, found into code. */
static long take_planned_found(struct stability_task *task, int scale)
{
    long due = 0;
    rt_sample_clear(task->sample);
    for (size_t i = 0; i < task->cohort->count; i++) {
        const struct rt_audit_implant *implant = &task->cohort->implants[i];
        if (!in_window(task, implant) || implant->found.of == 0 || implant->found.lz != scale)
            continue;
        due++;
        if (implant->planned.of == 0 || implant->planned.lz != scale)
            continue;
        rt_sample_add(task->sample, task->cohort, i, implant->planned.of == implant->found.of ? 1.0 : 0.0);
        task->sample->code[task->sample->n - 1] = (size_t)(implant->found.of - 1);
        task->sample->other[task->sample->n - 1] = implant->planned.of - 1;
    }
    return due;
}

static void write_density_agreement(struct stability_task *task, int scale)
{
    struct rt_sample *sample = task->sample;
    long due = take_planned_found(task, scale);
    if (due == 0)
        return;
    struct rt_figure row = rt_row_of(task->rows, "stability", "density_same", &task->key);
    row.n_due = due;
    rt_put_share(task->rows, row, sample);
    size_t *planned = sample->implant; /* the sample's own implant numbers are not needed any more */
    for (size_t i = 0; i < sample->n; i++)
        planned[i] = (size_t)sample->other[i];
    struct rt_clusters clusters = rt_sample_clusters(sample);
    struct rt_kappa linear, quadratic;
    if (rt_rows_check(task->rows, rt_kappa(planned, sample->code, sample->n, RT_DENSITY_CLASSES,
                                           RT_KAPPA_LINEAR, &clusters, &linear, task->rows->error)) &&
        rt_rows_check(task->rows, rt_kappa(planned, sample->code, sample->n, RT_DENSITY_CLASSES,
                                           RT_KAPPA_QUADRATIC, &clusters, &quadratic, task->rows->error))) {
        put_estimate(task, "density_kappa", &linear.kappa);
        put_estimate(task, "density_kappa_quadratic", &quadratic.kappa);
    }
}

/* --- low torque ------------------------------------------------------------------------------------------ */

enum outcome { IN_PLACE, REMOVED_EARLY, REMOVED_LATER, ELECTIVE, DIED, MOVED, LOST, OUTCOMES };

static enum outcome outcome_of(const struct rt_cohort *cohort, const struct rt_audit_implant *implant)
{
    switch (rt_fate_of(cohort, implant)) {
    case RT_REMOVED:
        return implant->removed_on - implant->placed_on <= RT_EARLY_DAYS ? REMOVED_EARLY : REMOVED_LATER;
    case RT_ELECTIVE:
        return ELECTIVE;
    case RT_DIED:
        return DIED;
    case RT_MOVED_AWAY:
        return MOVED;
    case RT_LOST:
        return LOST;
    case RT_IN_PLACE:
        break;
    }
    return IN_PLACE;
}

/* Below the lowest cut for certain: a capped torque is never known to be. */
static bool is_low(const struct rt_audit_implant *implant, long cut)
{
    return !implant->final_torque_capped && rt_hundredths(implant->final_torque_ncm) < cut;
}

static void take_low_torques(struct stability_task *task)
{
    const long cut = rt_hundredths(rt_lowest_cut(&task->cohort->cuts.torque));
    rt_sample_clear(task->sample);
    for (size_t i = 0; i < task->cohort->count; i++) {
        const struct rt_audit_implant *implant = &task->cohort->implants[i];
        if (!in_window(task, implant) || isnan(implant->final_torque_ncm))
            continue;
        if (implant->final_torque_capped && rt_hundredths(implant->final_torque_ncm) < cut)
            continue; /* capped below the cut: low or not, nobody knows */
        rt_sample_add(task->sample, task->cohort, i, is_low(implant, cut) ? 1.0 : 0.0);
        task->sample->code[task->sample->n - 1] = outcome_of(task->cohort, implant);
    }
}

static void write_low_torque(struct stability_task *task)
{
    static const char *const outcomes[OUTCOMES] = {
        "in place", "removed within 180 days", "removed later", "elective", "died", "moved away", "lost"};
    if (isnan(rt_lowest_cut(&task->cohort->cuts.torque)))
        return;
    struct rt_sample *sample = task->sample;
    task->key = rt_key_text("window", task->window, "", "");
    take_low_torques(task);
    rt_put_share(task->rows, rt_row_of(task->rows, "stability", "low_torque", &task->key), sample);
    for (size_t outcome = 0; outcome < OUTCOMES; outcome++) {
        long count = 0;
        for (size_t i = 0; i < sample->n; i++) {
            sample->capped[i] = sample->value[i] > 0.0 && sample->code[i] == outcome; /* chosen */
            count += sample->capped[i];
        }
        task->key = rt_key_text("window", task->window, "outcome", outcomes[outcome]);
        rt_put_count(task->rows, "stability", "low_torque_outcome", &task->key, count,
                     (long)rt_sample_patients(sample, sample->capped), RT_NO_COUNT);
    }
}

static void write_window(struct stability_task *task)
{
    static const char *const scales[] = {"D", "LZ"};
    task->key = rt_key_text("window", task->window, "", "");
    write_quartiles(task, RT_BY_NOTHING, 0);
    write_size_ranks(task, true);
    write_size_ranks(task, false);
    for (int level = 0; level < rt_level_count(task->cohort, RT_BY_DENSITY_FOUND); level++) {
        task->key = rt_key_of(task->cohort, "window", task->window, RT_BY_DENSITY_FOUND, level);
        write_quartiles(task, RT_BY_DENSITY_FOUND, level);
    }
    for (int scale = 0; scale < 2 && task->rows->status == RT_OK; scale++) {
        task->key = rt_key_text("window", task->window, "density_scale", scales[scale]);
        write_density_trend(task, scale);
        write_density_agreement(task, scale);
    }
}

void rt_stability_figures(const struct rt_cohort *cohort, struct rt_rows *rows)
{
    const char *const windows[] = {"period", "12 months", "all"};
    const int starts[] = {cohort->period.first_day, rt_year_start(&cohort->period), INT_MIN};
    struct rt_sample sample;
    struct stability_task task = {.cohort = cohort, .rows = rows, .sample = &sample};
    rt_rows_check(rows, rt_sample_start(&sample, cohort, rows->error));
    for (size_t i = 0; i < 3 && rows->status == RT_OK; i++) {
        task.window = windows[i];
        task.from = starts[i];
        if (i < 2)
            write_window(&task);
        write_low_torque(&task); /* what became of them needs time: of all records too */
    }
    rt_sample_release(&sample);
}
