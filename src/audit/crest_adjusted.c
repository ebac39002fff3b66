/* What the model of crest change at 12 months says over depth and tissue, and the same model with the operator. */
#include "ridgetally/audit/crest_sample.h"
#include "ridgetally/audit/mixed_or_robust.h"
#include "ridgetally/audit/sections.h"
#include "ridgetally/audit/window_cases.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/stats/linear.h"
#include "ridgetally/stats/mixed.h"
#include "ridgetally/stats/quantile.h"
#include "ridgetally/stats/student.h"

#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

/* One model fitted both ways, of which each estimate takes the safer. */
struct adjusted_task {
    const struct rt_cohort *cohort;
    struct rt_rows *rows;
    const struct rt_crest_sample *sample;
    struct rt_design design;
    struct rt_mixed mixed;
    struct rt_linear linear;
    double *weights; /* a point of the model: one number for each column */
};

static struct rt_figure adjusted_row(struct adjusted_task *task, const char *measure,
                                     const struct rt_row_key *key)
{
    struct rt_figure row = rt_row_of(task->rows, "crest", measure, key);
    row.baseline = rt_baseline_name(RT_BASELINE_PLACEMENT);
    row.site = "mean";
    row.n_implants = (long)task->sample->n;
    row.n_patients = (long)task->sample->clusters;
    return row;
}

static bool fit(struct adjusted_task *task)
{
    const struct rt_design *design = &task->design;
    const struct rt_clusters clusters = {.of = task->sample->cluster, .count = task->sample->clusters};
    return rt_rows_check(task->rows, rt_mixed_fit(&task->mixed, task->sample->change_mm, design->x, design->n,
                                                  design->p, &clusters, NULL, task->rows->error)) &&
           rt_rows_check(task->rows, rt_linear_fit(&task->linear, task->sample->change_mm, design->x,
                                                   design->n, design->p, &clusters, task->rows->error));
}

static void release(struct adjusted_task *task)
{
    rt_mixed_release(&task->mixed);
    rt_linear_release(&task->linear);
    rt_design_release(&task->design);
    free(task->weights);
    task->weights = NULL;
}

/* --- predictions ----------------------------------------------------------------------------------------- */

/* The implants of one tissue class in the model. */
struct tissue_class {
    int class;
    size_t n, patients;
    double *depth_mm; /* n: not centred */
    double tissue_mm; /* mean, centred */
};

static void take_class(const struct adjusted_task *task, int class, struct tissue_class *taken)
{
    const struct rt_crest_sample *sample = task->sample;
    size_t last = (size_t)-1;
    double sum = 0.0;
    taken->class = class;
    taken->n = taken->patients = 0;
    for (size_t i = 0; i < sample->n; i++) {
        if (task->cohort->implants[sample->implant[i]].tissue_class != class)
            continue;
        taken->depth_mm[taken->n++] = sample->depth_mm[i] + sample->depth_centre_mm;
        sum += sample->tissue_mm[i];
        taken->patients += sample->cluster[i] != last;
        last = sample->cluster[i];
    }
    taken->tissue_mm = taken->n > 0 ? sum / (double)taken->n : NAN;
}

/* Weights of a depth and a tissue height, the other terms at their means in the sample. */
static void weigh(struct adjusted_task *task, double depth_mm, double tissue_mm)
{
    const struct rt_design *design = &task->design;
    for (size_t j = 0; j < design->p; j++) {
        double sum = 0.0;
        for (size_t i = 0; i < design->n; i++)
            sum += design->x[i * design->p + j];
        task->weights[j] = sum / (double)design->n;
    }
    task->weights[rt_design_find(design, "achieved_depth_mm")] = depth_mm;
    task->weights[rt_design_find(design, "tissue_mm")] = tissue_mm;
    task->weights[rt_design_find(design, "achieved_depth_mm x tissue_mm")] = depth_mm * tissue_mm;
}

/* The variance that the prediction has from the means it is made at: whose smoking, density and tissue they average is chance
 * too. From each patient's share in those means, times the coefficients; weigh() has been called. */
static double variance_of_means(const struct adjusted_task *task, const struct tissue_class *taken,
                                const struct rt_estimate *coefficient)
{
    const struct rt_design *design = &task->design;
    const struct rt_crest_sample *sample = task->sample;
    const size_t depth = rt_design_find(design, "achieved_depth_mm");
    const size_t tissue = rt_design_find(design, "tissue_mm");
    const size_t product = rt_design_find(design, "achieved_depth_mm x tissue_mm");
    const double slope = coefficient[tissue].value + coefficient[product].value * task->weights[depth];
    const double patients = (double)sample->clusters;
    double sum = 0.0, squares = 0.0;
    for (size_t i = 0; i < sample->n; i++) {
        double of_row = 0.0;
        for (size_t j = 0; j < design->p; j++)
            if (j != depth && j != tissue && j != product && !isnan(coefficient[j].value))
                of_row += coefficient[j].value * (design->x[i * design->p + j] - task->weights[j]);
        sum += of_row / (double)sample->n;
        if (task->cohort->implants[sample->implant[i]].tissue_class == taken->class)
            sum += slope * (sample->tissue_mm[i] - taken->tissue_mm) / (double)taken->n;
        if (i + 1 == sample->n || sample->cluster[i + 1] != sample->cluster[i]) { /* the patient's last row */
            squares += sum * sum;
            sum = 0.0;
        }
    }
    return patients > 1.0 ? squares * patients / (patients - 1.0) : 0.0;
}

static double class_depth_at(struct adjusted_task *task, const struct tissue_class *taken, double p)
{
    struct rt_estimate quantile = rt_undefined("not computed");
    rt_rows_check(task->rows, rt_quantile(taken->depth_mm, taken->n, p, NULL, &quantile, task->rows->error));
    return quantile.value;
}

static void put_point(struct adjusted_task *task, struct rt_figure row, const struct tissue_class *taken,
                      double depth_mm)
{
    weigh(task, depth_mm - task->sample->depth_centre_mm, taken->tissue_mm);
    const struct rt_estimate by_reml = rt_mixed_combination(&task->mixed, task->weights, 0.0);
    const struct rt_estimate by_cr2 = rt_linear_combination(&task->linear, task->weights, 0.0);
    const char *method = NULL;
    struct rt_estimate estimate = rt_mixed_or_robust(&task->mixed, &by_reml, &by_cr2, &method);
    if (!isnan(estimate.standard_error) && !isnan(estimate.lower)) {
        const double means =
            variance_of_means(task, taken, method != NULL ? task->linear.robust : task->mixed.coefficient);
        estimate.standard_error = sqrt(estimate.standard_error * estimate.standard_error + means);
        rt_student_inference(&estimate, 0.0);
    }
    row.at = depth_mm;
    row.method = method != NULL ? method : row.method;
    rt_set_estimate(&row, &estimate);
    row.p = NAN;
    rt_apply_minimum(&row);
    rt_put_row(task->rows, &row);
}

/* One class: in steps of 0.1 mm over the middle nine tenths of its depths. */
static void write_class(struct adjusted_task *task, int class, const struct tissue_class *taken)
{
    struct rt_row_key key = rt_key_of(task->cohort, "window", "all", RT_BY_TISSUE_CLASS, class);
    struct rt_figure row = adjusted_row(task, "crest_predicted", &key);
    struct rt_figure tissue = adjusted_row(task, "crest_predicted_tissue", &key);
    row.n_implants = tissue.n_implants = (long)taken->n;
    row.n_patients = tissue.n_patients = (long)taken->patients;
    tissue.value = taken->tissue_mm + task->sample->tissue_centre_mm;
    rt_apply_minimum(&tissue);
    rt_put_row(task->rows, &tissue);
    if (taken->patients < RT_LEAST_PATIENTS) {
        rt_set_too_few(&row, "fewer than 10 patients");
        rt_put_row(task->rows, &row);
        return;
    }
    const int first = (int)ceil(class_depth_at(task, taken, 0.05) * 10.0 - 1e-6);
    const int last = (int)floor(class_depth_at(task, taken, 0.95) * 10.0 + 1e-6);
    for (int tenth = first; tenth <= last && task->rows->status == RT_OK; tenth++)
        put_point(task, row, taken, tenth / 10.0);
}

static void write_predictions(struct adjusted_task *task)
{
    struct tissue_class taken = {.depth_mm = rt_new_array(task->sample->n + 1, sizeof(double))};
    task->weights = NULL;
    if (rt_rows_check(task->rows, rt_crest_design(task->sample, &task->design, task->rows->error)))
        task->weights = rt_new_array(task->design.p + 1, sizeof(double));
    if (taken.depth_mm == NULL || task->weights == NULL)
        rt_rows_check(task->rows, rt_fail_memory(task->rows->error));
    if (task->rows->status == RT_OK && fit(task)) {
        for (int class = 0; class < rt_level_count(task->cohort, RT_BY_TISSUE_CLASS); class ++) {
            take_class(task, class, &taken);
            if (taken.n > 0)
                write_class(task, class, &taken);
        }
    }
    free(taken.depth_mm);
    release(task);
}

/* --- with the operator ----------------------------------------------------------------------------------- */

static void put_term(struct adjusted_task *task, size_t column)
{
    struct rt_row_key key = rt_key_text("window", "all", "term", task->design.terms[column]);
    struct rt_figure row = adjusted_row(task, "crest_model_operator", &key);
    const char *method = NULL;
    const struct rt_estimate estimate = rt_mixed_or_robust(&task->mixed, &task->mixed.coefficient[column],
                                                           &task->linear.robust[column], &method);
    row.at = rt_windows()[RT_YEAR_WINDOW].months;
    row.method = method != NULL ? method : row.method;
    rt_set_estimate(&row, &estimate);
    if (isnan(row.lower)) {
        row.state = RT_FIGURE_UNDEFINED; /* a coefficient without an error tells nothing */
        row.value = row.upper = row.p = NAN;
    }
    if (strcmp(task->design.terms[column], "intercept") == 0)
        row.p = NAN; /* no question is asked of it */
    rt_apply_minimum(&row);
    rt_put_row(task->rows, &row);
}

/* Codes into the operators' names, one behind them where none is recorded. Returns whether there are several. */
static bool take_operators(const struct adjusted_task *task, size_t *operators)
{
    bool several = false;
    for (size_t i = 0; i < task->sample->n; i++) {
        const int code = task->cohort->implants[task->sample->implant[i]].operator_code;
        operators[i] = code < 0 ? task->cohort->operator_count : (size_t)code;
        several = several || operators[i] != operators[0];
    }
    return several;
}

static void write_with_operator(struct adjusted_task *task)
{
    const size_t count = task->cohort->operator_count;
    size_t *operators = rt_new_array(task->sample->n + 1, sizeof *operators);
    const char **names = rt_new_array(count + 1, sizeof *names);
    if (operators == NULL || names == NULL) {
        rt_rows_check(task->rows, rt_fail_memory(task->rows->error));
    } else if (take_operators(task, operators)) {
        for (size_t i = 0; i < count; i++)
            names[i] = task->cohort->operators[i];
        names[count] = "not recorded";
        if (rt_rows_check(task->rows, rt_crest_design_with(task->sample, operators, names, count + 1,
                                                           &task->design, task->rows->error)) &&
            fit(task))
            for (size_t j = 0; j < task->design.p; j++)
                put_term(task, j);
    }
    free(operators);
    free((void *)names);
    release(task);
}

void rt_crest_adjusted_figures(const struct rt_cohort *cohort, struct rt_rows *rows)
{
    struct rt_crest_sample sample = {.n = 0};
    struct adjusted_task task = {.cohort = cohort, .rows = rows, .sample = &sample};
    if (rt_levels_look_like_contact(cohort)) /* crest change cannot be told */
        return;
    if (rt_rows_check(rows, rt_take_crest_sample(cohort, INT_MIN, &sample, rows->error)) && sample.n > 0) {
        write_predictions(&task);
        if (rows->status == RT_OK)
            write_with_operator(&task);
    }
    rt_release_crest_sample(&sample);
}
