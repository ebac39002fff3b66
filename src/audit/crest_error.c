/* What crest changes are worth beside the error of reading a film: changes beyond it, changes between films of different
 * readers, and the yearly rate with the smallest rate its films could show. */
#include "ridgetally/audit/estimates.h"
#include "ridgetally/audit/reliability.h"
#include "ridgetally/audit/sections.h"
#include "ridgetally/audit/window_cases.h"
#include "ridgetally/audit/yearly_rate.h"

#include <limits.h>
#include <math.h>

enum { MEAN_SITE = 2 };

struct error_task {
    const struct rt_cohort *cohort;
    struct rt_rows *rows;
    struct rt_sample *sample;
    struct rt_window_cases cases;
    enum rt_baseline baseline;
    const struct rt_window *window;
    const char *records;  /* `12 months` or `all` */
    double detectable_mm; /* NaN: no film was read twice by one reader */
    double error_mm;
};

static struct rt_figure error_row(struct error_task *task, const char *measure, const struct rt_row_key *key)
{
    struct rt_figure row = rt_row_of(task->rows, "crest", measure, key);
    row.at = task->window->months;
    row.baseline = rt_baseline_name(task->baseline);
    row.site = rt_site_name(MEAN_SITE);
    row.n_due = (long)task->cases.count;
    return row;
}

/* --- changes beyond the error ---------------------------------------------------------------------------- */

enum beyond { LOST, GAINED, WITHIN, SIDES };

static enum beyond side_of(double change_mm, double detectable_mm)
{
    if (change_mm < -detectable_mm)
        return LOST;
    return change_mm > detectable_mm ? GAINED : WITHIN;
}

static void write_beyond(struct error_task *task, enum beyond side, bool cannot_tell)
{
    static const char *const names[SIDES] = {"lost", "gained", "within"};
    struct rt_row_key key = rt_key_text("window", task->records, "beyond", names[side]);
    struct rt_figure row = error_row(task, "crest_beyond_error", &key);
    rt_sample_clear(task->sample);
    for (size_t i = 0; i < task->cases.count; i++) {
        const double change = task->cases.of[i].change.mean;
        if (!isnan(change))
            rt_sample_add(task->sample, task->cohort, task->cases.of[i].implant,
                          side_of(change, task->detectable_mm) == side ? 1.0 : 0.0);
    }
    if (!cannot_tell && !isnan(task->detectable_mm)) {
        rt_put_share(task->rows, row, task->sample);
        return;
    }
    row.state = RT_FIGURE_UNDEFINED;
    row.n_implants = (long)task->sample->n;
    row.n_patients = (long)task->sample->clusters;
    row.remark = cannot_tell ? "cannot tell: the levels look as if first contact had been recorded"
                             : "no film was read twice by one reader";
    rt_put_row(task->rows, &row);
}

/* --- readers --------------------------------------------------------------------------------------------- */

/* The mean change between films of one reader, or of two. */
static void write_readers(struct error_task *task, bool changed)
{
    struct rt_row_key key =
        rt_key_text("window", task->records, "readers", changed ? "different readers" : "same reader");
    rt_sample_clear(task->sample);
    for (size_t i = 0; i < task->cases.count; i++) {
        const struct rt_window_case *one = &task->cases.of[i];
        if (!isnan(one->change.mean) && one->reader_changed == changed)
            rt_sample_add(task->sample, task->cohort, one->implant, one->change.mean);
    }
    rt_put_mean(task->rows, error_row(task, "crest_change", &key), task->sample);
}

/* --- the yearly rate ------------------------------------------------------------------------------------- */

static const double least_span_years = 0.75; /* shorter spans say nothing about a year */
static const double yearly_limit_mm = 0.2;   /* the published limit that a rate is held against */

/* Yearly changes in value, their detectable sizes in other. Returns how many implants are old enough for a rate. */
static long take_rates(struct error_task *task)
{
    const struct rt_cohort *cohort = task->cohort;
    long due = 0;
    rt_sample_clear(task->sample);
    for (size_t i = 0; i < cohort->count; i++) {
        const struct rt_audit_implant *implant = &cohort->implants[i];
        const int opens = rt_window_first_day(&rt_windows()[RT_YEAR_WINDOW], implant->placed_on);
        const int next = rt_window_first_day(&rt_windows()[RT_YEAR_WINDOW + 1], implant->placed_on);
        if ((implant->blocked & RT_BLOCKS_CREST) != 0 || next > cohort->period.last_day)
            continue;
        due++;
        const struct rt_yearly_rate rate = rt_yearly_rate(rt_films_of(cohort, implant), implant->film_count,
                                                          opens, cohort->period.last_day, task->error_mm);
        if (isnan(rate.change_mm) || rate.span_years < least_span_years)
            continue;
        rt_sample_add(task->sample, cohort, i, rate.change_mm);
        task->sample->other[task->sample->n - 1] = rate.detectable_mm;
    }
    return due;
}

static struct rt_figure rate_row(struct error_task *task, const char *measure, const struct rt_row_key *key,
                                 long due)
{
    struct rt_figure row = rt_row_of(task->rows, "crest", measure, key);
    row.baseline = rt_baseline_name(RT_BASELINE_PLACEMENT);
    row.site = rt_site_name(MEAN_SITE);
    row.n_due = due;
    return row;
}

static void write_detectable(struct error_task *task, const struct rt_row_key *key, long due)
{
    struct rt_sample *sample = task->sample;
    struct rt_figure share = rate_row(task, "crest_yearly_judgeable", key, due);
    share.n_implants = (long)sample->n;
    share.n_patients = (long)sample->clusters;
    share.n_events = 0;
    for (size_t i = 0; i < sample->n; i++) {
        share.n_events += sample->other[i] <= yearly_limit_mm;
        sample->value[i] = sample->other[i];
    }
    share.value = sample->n > 0 ? (double)share.n_events / (double)sample->n : NAN;
    struct rt_figure median = rate_row(task, "crest_yearly_detectable", key, due);
    if (isnan(task->error_mm)) {
        share.state = median.state = RT_FIGURE_UNDEFINED;
        share.remark = median.remark = "no film was read twice by one reader";
        share.value = NAN;
        share.n_events = RT_NO_COUNT;
        median.n_implants = share.n_implants;
        median.n_patients = share.n_patients;
        rt_put_row(task->rows, &median);
    } else {
        rt_put_quantile(task->rows, median, sample, 0.5);
        if (share.n_implants < RT_LEAST_SHARE_IMPLANTS)
            rt_set_too_few(&share, "fewer than 20 implants");
    }
    rt_put_row(task->rows, &share);
}

static void write_yearly(struct error_task *task)
{
    const struct rt_row_key key = rt_key_text("window", "all", "", "");
    const long due = take_rates(task);
    rt_put_mean(task->rows, rate_row(task, "crest_yearly", &key, due), task->sample);
    rt_put_patient_mean(task->rows, rate_row(task, "crest_yearly", &key, due), task->sample);
    write_detectable(task, &key, due);
}

/* --------------------------------------------------------------------------------------------------------- */

static void write_window(struct error_task *task, int first_closing_day, bool cannot_tell)
{
    rt_take_window(task->cohort, task->baseline, task->window, first_closing_day, &task->cases);
    for (int side = 0; side < SIDES; side++)
        write_beyond(task, (enum beyond)side, cannot_tell);
    for (int changed = 0; changed < 2 && !cannot_tell; changed++)
        write_readers(task, changed == 1);
}

void rt_crest_error_figures(const struct rt_reading_errors *errors, const struct rt_cohort *cohort,
                            struct rt_rows *rows)
{
    const char *const records[] = {"12 months", "all"};
    const int closing[] = {rt_closing_start(&cohort->period), INT_MIN};
    const bool cannot_tell = rt_levels_look_like_contact(cohort);
    struct rt_sample sample = {.n = 0};
    struct error_task task = {.cohort = cohort, .rows = rows, .sample = &sample};
    if (rt_rows_check(rows, rt_sample_start(&sample, cohort, rows->error)))
        rt_rows_check(rows, rt_window_cases_start(&task.cases, cohort, rows->error));
    task.detectable_mm = rt_detectable_change_mm(&errors->all_films);
    task.error_mm = sqrt(errors->all_films.variance);
    for (int baseline = 0; baseline < RT_BASELINES; baseline++) {
        for (int i = 0; i < 2 * RT_WINDOWS && rows->status == RT_OK; i++) {
            task.baseline = (enum rt_baseline)baseline;
            task.records = records[i % 2];
            task.window = &rt_windows()[i / 2];
            write_window(&task, closing[i % 2], cannot_tell);
        }
    }
    if (rows->status == RT_OK)
        write_yearly(&task);
    rt_window_cases_release(&task.cases);
    rt_sample_release(&sample);
}
