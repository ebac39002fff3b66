#include "ridgetally/audit/crest_sample.h"
#include "ridgetally/audit/mixed_or_robust.h"
#include "ridgetally/audit/reliability.h"
#include "ridgetally/audit/sections.h"
#include "ridgetally/audit/window_cases.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/stats/linear.h"
#include "ridgetally/stats/mixed.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* The models of one set of records. */
struct model_task {
    const struct rt_cohort *cohort;
    struct rt_rows *rows;
    const char *records; /* `all` or `12 months` */
    const struct rt_crest_sample *sample;
    struct rt_design design;
    size_t depth; /* its column */
    struct rt_clusters clusters;
    struct rt_reading_error reading_error;
    double reliability; /* NaN where depth was measured at surgery or cannot be judged */
    char remark[160];   /* what was left out */
    const char *method; /* of the coefficients, where not that of the catalogue; NULL */
};

enum conclusion { LOSES_MORE = -1, NOT_TOLD = 0, LOSES_LESS = 1, UNKNOWN = 2 };

static struct rt_figure model_row(struct model_task *task, const char *measure, const struct rt_row_key *key)
{
    struct rt_figure row = rt_row_of(task->rows, "crest", measure, key);
    row.at = rt_windows()[RT_YEAR_WINDOW].months;
    row.baseline = rt_baseline_name(RT_BASELINE_PLACEMENT);
    row.site = "mean";
    row.n_implants = (long)task->sample->n;
    row.n_patients = (long)task->sample->clusters;
    row.remark = task->remark;
    return row;
}

static void put_estimate(struct model_task *task, const char *measure, const char *term,
                         const struct rt_estimate *estimate)
{
    struct rt_row_key key = term[0] == '\0' ? rt_key_text("window", task->records, "", "")
                                            : rt_key_text("window", task->records, "term", term);
    struct rt_figure row = model_row(task, measure, &key);
    if (task->method != NULL)
        row.method = task->method;
    rt_set_estimate(&row, estimate);
    if (term[0] != '\0' && row.method != NULL && strcmp(row.method, "count") != 0 && isnan(row.lower)) {
        row.state = RT_FIGURE_UNDEFINED; /* a coefficient without an error tells nothing */
        row.value = row.upper = row.p = NAN;
    }
    if (strcmp(term, "intercept") == 0)
        row.p = NAN; /* no question is asked of it */
    rt_apply_minimum(&row);
    rt_put_row(task->rows, &row);
}

static void put_number(struct model_task *task, const char *measure, const char *term, double value,
                       const char *reason)
{
    struct rt_estimate estimate = rt_undefined(isnan(value) ? reason : NULL);
    estimate.value = value;
    put_estimate(task, measure, term, &estimate);
}

static enum conclusion conclude(const struct rt_estimate *slope, double no_effect)
{
    if (isnan(slope->lower) || isnan(slope->upper))
        return UNKNOWN;
    if (slope->upper < no_effect)
        return LOSES_MORE;
    return slope->lower > no_effect ? LOSES_LESS : NOT_TOLD;
}

static enum conclusion write_change_model(struct model_task *task)
{
    struct rt_mixed mixed = {.n = 0};
    struct rt_linear linear = {.n = 0};
    struct rt_design *design = &task->design;
    enum conclusion conclusion = UNKNOWN;
    if (rt_rows_check(task->rows, rt_mixed_fit(&mixed, task->sample->change_mm, design->x, design->n,
                                               design->p, &task->clusters, NULL, task->rows->error)) &&
        rt_rows_check(task->rows, rt_linear_fit(&linear, task->sample->change_mm, design->x, design->n,
                                                design->p, &task->clusters, task->rows->error))) {
        struct rt_estimate slope = rt_undefined(NULL);
        for (size_t j = 0; j < design->p; j++) {
            struct rt_estimate estimate =
                rt_mixed_or_robust(&mixed, &mixed.coefficient[j], &linear.robust[j], &task->method);
            put_estimate(task, "crest_model", design->terms[j], &estimate);
            slope = j == task->depth ? estimate : slope;
        }
        task->method = NULL;
        for (size_t j = 0; j < design->p; j++)
            put_estimate(task, "crest_model_cr2", design->terms[j], &linear.robust[j]);
        const char *reason = mixed.reason != NULL ? mixed.reason : slope.reason;
        const double known =
            isnan(slope.lower) ? NAN : 1.0; /* without errors the variances mean nothing either */
        put_number(task, "crest_model_icc", "", known * mixed.icc, reason);
        put_number(task, "crest_model_sd_between", "", known * mixed.sd_between, reason);
        put_number(task, "crest_model_sd_within", "", known * mixed.sd_within, reason);
        conclusion = conclude(&slope, 0.0);
    }
    rt_mixed_release(&mixed);
    rt_linear_release(&linear);
    return conclusion;
}

/* Variance of depth that the terms free of depth leave: residuals of least squares over n - rank. */
static double depth_variance_left(struct model_task *task)
{
    const struct rt_design *design = &task->design;
    struct rt_linear fit = {.n = 0};
    size_t product = rt_design_find(design, "achieved_depth_mm x tissue_mm");
    double variance = NAN, *x = rt_new_array(design->n * design->p + 1, sizeof *x);
    size_t kept = 0;
    for (size_t j = 0; x != NULL && j < design->p; j++) {
        if (j == task->depth || j == product)
            continue;
        for (size_t i = 0; i < design->n; i++)
            x[i * (design->p - 2) + kept] = design->x[i * design->p + j];
        kept++;
    }
    if (x == NULL)
        rt_rows_check(task->rows, rt_fail_memory(task->rows->error));
    else if (rt_rows_check(task->rows, rt_linear_fit(&fit, task->sample->depth_mm, x, design->n,
                                                     design->p - 2, NULL, task->rows->error)))
        variance = fit.sigma * fit.sigma;
    rt_linear_release(&fit);
    free(x);
    return variance;
}

/* Depth read from film carries the reading's error, which flattens the slope of level on depth. */
static void write_reliability(struct model_task *task)
{
    task->reliability = NAN;
    if (task->sample->depth_at_surgery)
        return;
    struct rt_row_key key = rt_key_text("window", task->records, "", "");
    struct rt_figure row = model_row(task, "depth_reliability", &key);
    double left = depth_variance_left(task);
    double reliability = 1.0 - task->reading_error.variance / left;
    row.n_implants = (long)task->reading_error.implants;
    row.n_patients = RT_NO_COUNT;
    row.remark = "";
    if (isfinite(reliability) && reliability > 0.0) {
        task->reliability = row.value = reliability;
    } else {
        row.state = RT_FIGURE_UNDEFINED;
        row.remark = task->reading_error.films == 0 ? "no baseline film was read twice by one reader"
                                                    : "the readings' error exceeds the spread of depth";
    }
    rt_put_row(task->rows, &row);
}

static enum conclusion write_level_model(struct model_task *task)
{
    struct rt_mixed mixed = {.n = 0};
    struct rt_linear linear = {.n = 0};
    struct rt_design *design = &task->design;
    enum conclusion conclusion = UNKNOWN;
    double *weights = rt_new_array(design->p, sizeof *weights);
    if (weights == NULL) {
        rt_rows_check(task->rows, rt_fail_memory(task->rows->error));
    } else if (rt_rows_check(task->rows, rt_mixed_fit(&mixed, task->sample->level_mm, design->x, design->n,
                                                      design->p, &task->clusters, NULL, task->rows->error)) &&
               rt_rows_check(task->rows, rt_linear_fit(&linear, task->sample->level_mm, design->x, design->n,
                                                       design->p, &task->clusters, task->rows->error))) {
        for (size_t j = 0; j < design->p; j++) {
            struct rt_estimate estimate =
                rt_mixed_or_robust(&mixed, &mixed.coefficient[j], &linear.robust[j], &task->method);
            if (j == task->depth && !isnan(estimate.value)) {
                /* dividing by the reliability moves the slope; the null it is tested against moves with it */
                double divisor = task->sample->depth_at_surgery ? 1.0 : task->reliability;
                weights[j] = 1.0;
                const double null = isnan(divisor) ? 1.0 : divisor;
                struct rt_estimate by_reml = rt_mixed_combination(&mixed, weights, null);
                struct rt_estimate by_cr2 = rt_linear_combination(&linear, weights, null);
                estimate = rt_mixed_or_robust(&mixed, &by_reml, &by_cr2, &task->method);
                estimate.value /= divisor;
                estimate.lower /= divisor;
                estimate.upper /= divisor;
                if (isnan(divisor))
                    estimate = rt_undefined("the slope cannot be corrected for the error of the readings");
                conclusion = conclude(&estimate, 1.0);
            }
            put_estimate(task, "level_model", design->terms[j], &estimate);
        }
        task->method = NULL;
    }
    free(weights);
    rt_linear_release(&linear);
    rt_mixed_release(&mixed);
    return conclusion;
}

static const char *conclusion_words(enum conclusion conclusion)
{
    switch (conclusion) {
    case LOSES_MORE:
        return "deeper implants lose more crest";
    case LOSES_LESS:
        return "deeper implants lose less crest";
    case NOT_TOLD:
        return "whether deeper implants lose more crest or less cannot be told";
    case UNKNOWN:
        break;
    }
    return "cannot tell: the model cannot be computed";
}

static void write_verdict(struct model_task *task, enum conclusion change, enum conclusion level)
{
    struct rt_row_key key = rt_key_text("window", task->records, "", "");
    struct rt_figure row = model_row(task, "depth_verdict", &key);
    row.value = change;
    row.remark = conclusion_words(change);
    bool film = !task->sample->depth_at_surgery;
    if (film && change != level && change != UNKNOWN) {
        row.value = NAN;
        row.state = RT_FIGURE_UNDEFINED;
        row.remark =
            level == UNKNOWN
                ? "cannot tell: depth was read from film, and change shares the error of that reading"
                : "cannot tell: the model of change and the model of level disagree, and depth was read "
                  "from film";
    } else if (change == UNKNOWN) {
        row.value = NAN;
        row.state = RT_FIGURE_UNDEFINED;
    }
    if (row.n_patients < RT_LEAST_PATIENTS)
        rt_set_too_few(&row, "fewer than 10 patients");
    rt_put_row(task->rows, &row);
}

static void describe(struct model_task *task)
{
    const struct rt_crest_sample *sample = task->sample;
    int used = 0;
    task->remark[0] = '\0';
    if (!sample->depth_at_surgery)
        used = snprintf(task->remark, sizeof task->remark, "depth read from film, or source unknown; ");
    if (sample->other_source > 0)
        used += snprintf(task->remark + used, sizeof task->remark - (size_t)used,
                         "%ld left out for another source of depth; ", sample->other_source);
    if (sample->other_scale > 0)
        used += snprintf(task->remark + used, sizeof task->remark - (size_t)used,
                         "%ld left out for another density scale; ", sample->other_scale);
    if (used > 1)
        task->remark[used - 2] = '\0';
}

static void write_models(struct model_task *task)
{
    task->clusters = (struct rt_clusters){.of = task->sample->cluster, .count = task->sample->clusters};
    describe(task);
    if (task->sample->n == 0) {
        struct rt_row_key key = rt_key_text("window", task->records, "", "");
        struct rt_figure row = model_row(task, "depth_verdict", &key);
        rt_set_too_few(&row, "no implant with films, depth, tissue, smoking and density recorded");
        rt_put_row(task->rows, &row);
        return;
    }
    if (rt_rows_check(task->rows, rt_crest_design(task->sample, &task->design, task->rows->error))) {
        task->depth = rt_design_find(&task->design, "achieved_depth_mm");
        put_number(task, "crest_model_centre", "achieved_depth_mm", task->sample->depth_centre_mm, "");
        put_number(task, "crest_model_centre", "tissue_mm", task->sample->tissue_centre_mm, "");
        enum conclusion change = write_change_model(task);
        write_reliability(task);
        enum conclusion level = write_level_model(task);
        write_verdict(task, change, level);
    }
    rt_design_release(&task->design);
}

void rt_crest_model_figures(const struct rt_reading_errors *errors, const struct rt_cohort *cohort,
                            struct rt_rows *rows)
{
    const char *const records[] = {"all", "12 months"};
    const int closing[] = {INT_MIN, rt_closing_start(&cohort->period)};
    if (rt_levels_look_like_contact(cohort)) /* crest change cannot be told */
        return;
    for (size_t i = 0; i < 2 && rows->status == RT_OK; i++) {
        struct rt_crest_sample sample;
        struct model_task task = {.cohort = cohort,
                                  .rows = rows,
                                  .records = records[i],
                                  .sample = &sample,
                                  .reading_error = errors->baseline_films};
        if (rt_rows_check(rows, rt_take_crest_sample(cohort, closing[i], &sample, rows->error)))
            write_models(&task);
        rt_release_crest_sample(&sample);
    }
}
