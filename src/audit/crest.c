#include "ridgetally/audit/estimates.h"
#include "ridgetally/audit/sections.h"
#include "ridgetally/audit/window_cases.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/base/number.h"

#include <math.h>
#include <stdio.h>

struct crest_task {
    const struct rt_cohort *cohort;
    struct rt_rows *rows;
    struct rt_sample *sample;
    struct rt_window_cases cases;
    enum rt_baseline baseline;
    const struct rt_window *window;
    const char *records; /* `12 months` or `all` */
    enum rt_grouping_of grouping;
    int *levels; /* of each case in that grouping */
    int level;
    struct rt_row_key key;
    bool cannot_tell; /* the levels look like first contact */
};

enum quantity { CHANGE, EXPOSURE, EXPOSED };

static double quantity_of(const struct rt_window_case *one, enum quantity quantity, int site)
{
    if (quantity == CHANGE)
        return rt_site_value(&one->change, site);
    double exposure = rt_site_value(&one->exposure, site);
    if (quantity == EXPOSURE || isnan(exposure))
        return exposure;
    return rt_hundredths(exposure) > 50 ? 1.0 : 0.0;
}

/* The read values of the level; returns how many implants were due. */
static long take_level(struct crest_task *task, enum quantity quantity, int site)
{
    long due = 0;
    rt_sample_clear(task->sample);
    for (size_t i = 0; i < task->cases.count; i++) {
        const struct rt_window_case *one = &task->cases.of[i];
        if (task->levels[i] != task->level)
            continue;
        due++;
        double value = quantity_of(one, quantity, site);
        if (!isnan(value))
            rt_sample_add(task->sample, task->cohort, one->implant, value);
    }
    return due;
}

static struct rt_figure crest_row(struct crest_task *task, const char *measure, int site, long due)
{
    struct rt_figure row = rt_row_of(task->rows, "crest", measure, &task->key);
    row.at = task->window->months;
    row.baseline = rt_baseline_name(task->baseline);
    row.site = rt_site_name(site);
    row.n_due = due;
    return row;
}

static void write_cannot_tell(struct crest_task *task, struct rt_figure *row)
{
    row->state = RT_FIGURE_UNDEFINED;
    row->n_implants = (long)task->sample->n;
    row->n_patients = (long)task->sample->clusters;
    row->remark = "cannot tell: the levels look as if first contact had been recorded";
    rt_put_row(task->rows, row);
}

/* How many changes are between films of different readers; a remark for the row of the mean. */
static void remark_readers(const struct crest_task *task, char *text, size_t size)
{
    long changed = 0, read = 0;
    for (size_t i = 0; i < task->cases.count; i++) {
        read += task->cases.of[i].status == RT_WINDOW_READ;
        changed += task->cases.of[i].reader_changed;
    }
    text[0] = '\0';
    if (changed > 0)
        snprintf(text, size, "%ld of %ld changes are between films of different readers", changed, read);
}

static void write_change(struct crest_task *task, int site)
{
    char readers[96] = "";
    long due = take_level(task, CHANGE, site);
    struct rt_figure row = crest_row(task, "crest_change", site, due);
    if (task->cannot_tell) {
        write_cannot_tell(task, &row);
        return;
    }
    if (task->grouping == RT_BY_NOTHING && site == 2)
        remark_readers(task, readers, sizeof readers);
    row.remark = readers;
    rt_put_mean(task->rows, row, task->sample);
    if (task->grouping == RT_BY_NOTHING && site == 2)
        rt_put_patient_mean(task->rows, row, task->sample);
}

static void write_level(struct crest_task *task)
{
    const bool whole = task->grouping == RT_BY_NOTHING;
    for (int site = whole ? 0 : 2; site < RT_SITES; site++)
        write_change(task, site);
    for (int site = whole ? 0 : 3; site < RT_SITES; site++) {
        long due = take_level(task, EXPOSURE, site);
        rt_put_quantile(task->rows, crest_row(task, "exposure_median", site, due), task->sample, 0.5);
    }
    long due = take_level(task, EXPOSED, 3);
    rt_put_share(task->rows, crest_row(task, "exposure_share", 3, due), task->sample);
    if (whole)
        rt_put_patient_mean(task->rows, crest_row(task, "exposure_share", 3, due), task->sample);
}

static bool level_has_cases(const struct crest_task *task)
{
    for (size_t i = 0; i < task->cases.count; i++)
        if (task->levels[i] == task->level)
            return true;
    return false;
}

static void write_grouping(struct crest_task *task, enum rt_grouping_of grouping)
{
    task->grouping = grouping;
    for (size_t i = 0; i < task->cases.count; i++)
        task->levels[i] =
            rt_level_of(task->cohort, &task->cohort->implants[task->cases.of[i].implant], grouping);
    for (task->level = 0; task->level < rt_level_count(task->cohort, grouping); task->level++) {
        if (task->rows->status != RT_OK || (grouping != RT_BY_NOTHING && !level_has_cases(task)))
            continue;
        task->key = rt_key_of(task->cohort, "window", task->records, grouping, task->level);
        write_level(task);
    }
}

static void write_flow_row(struct crest_task *task, const char *status, long implants, long patients)
{
    struct rt_row_key key = rt_key_text("window", task->records, "status", status);
    struct rt_figure row = rt_row_of(task->rows, "crest", "crest_flow", &key);
    row.at = task->window->months;
    row.baseline = rt_baseline_name(task->baseline);
    row.value = (double)implants;
    row.n_implants = implants;
    row.n_patients = patients;
    row.n_due = (long)task->cases.count;
    rt_put_row(task->rows, &row);
}

/* Counts of the statuses, the whole that is due, and the share that was read. */
static void write_flow(struct crest_task *task)
{
    struct rt_sample *sample = task->sample;
    rt_sample_clear(sample);
    for (size_t i = 0; i < task->cases.count; i++) {
        const struct rt_window_case *one = &task->cases.of[i];
        rt_sample_add(sample, task->cohort, one->implant, one->status == RT_WINDOW_READ ? 1.0 : 0.0);
        sample->code[sample->n - 1] = one->status;
    }
    write_flow_row(task, "due", (long)sample->n, (long)sample->clusters);
    for (int status = 0; status < RT_WINDOW_STATUSES; status++) {
        long count = 0;
        for (size_t i = 0; i < sample->n; i++) {
            sample->capped[i] = sample->code[i] == (size_t)status; /* chosen */
            count += sample->capped[i];
        }
        write_flow_row(task, rt_window_status_name((enum rt_window_status)status), count,
                       (long)rt_sample_patients(sample, sample->capped));
    }
    struct rt_row_key key = rt_key_text("window", task->records, "", "");
    struct rt_figure row = rt_row_of(task->rows, "flow", "read_share", &key);
    row.at = task->window->months;
    row.baseline = rt_baseline_name(task->baseline);
    row.n_due = (long)sample->n;
    rt_put_share(task->rows, row, sample);
}

static void write_window(struct crest_task *task, int first_closing_day)
{
    static const enum rt_grouping_of groupings[] = {RT_BY_NOTHING, RT_BY_DEPTH_CLASS, RT_BY_TISSUE_CLASS,
                                                    RT_BY_DEPTH_AND_TISSUE};
    rt_take_window(task->cohort, task->baseline, task->window, first_closing_day, &task->cases);
    write_flow(task);
    for (size_t i = 0; i < sizeof groupings / sizeof groupings[0]; i++)
        write_grouping(task, groupings[i]);
}

void rt_crest_figures(const struct rt_cohort *cohort, struct rt_rows *rows)
{
    const char *const records[] = {"12 months", "all"};
    const int closing[] = {rt_closing_start(&cohort->period), INT_MIN};
    struct rt_sample sample = {.n = 0};
    struct crest_task task = {.cohort = cohort,
                              .rows = rows,
                              .sample = &sample,
                              .cannot_tell = rt_levels_look_like_contact(cohort)};
    task.levels = rt_new_array(cohort->count + 1, sizeof *task.levels);
    if (task.levels == NULL)
        rt_rows_check(rows, rt_fail_memory(rows->error));
    if (rows->status == RT_OK && rt_rows_check(rows, rt_sample_start(&sample, cohort, rows->error)))
        rt_rows_check(rows, rt_window_cases_start(&task.cases, cohort, rows->error));
    for (int baseline = 0; baseline < RT_BASELINES; baseline++) {
        for (int i = 0; i < 2 * RT_WINDOWS && rows->status == RT_OK; i++) {
            task.baseline = (enum rt_baseline)baseline;
            task.records = records[i % 2];
            task.window = &rt_windows()[i / 2];
            write_window(&task, closing[i % 2]);
        }
    }
    rt_window_cases_release(&task.cases);
    rt_sample_release(&sample);
    free(task.levels);
}
