/* The rule that states a sum: does crest change bend where tissue plus depth reaches the stated value? First whether depth and
 * tissue count alike at all; then the knee. */
#include "rules_private.h"

#include "ridgetally/base/memory.h"
#include "ridgetally/stats/curve.h"
#include "ridgetally/stats/knee.h"
#include "ridgetally/stats/linear.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { TERMS = 3 };

static const char left_out[] = "resampling was left out of this run";

/* --- depth and tissue apart ------------------------------------------------------------------------------ */

/* Depth, tissue and the bends of their sum: with the bends free, only a sum makes the two slopes equal. */
struct apart {
    double *depth, *tissue, *bends; /* bends: the spline terms, one after another */
    double knots[RT_MOST_KNOTS];
    size_t knot_count;
};

static enum rt_status take_apart(struct apart *apart, const struct rule_task *task, struct rt_error *error)
{
    const struct rt_sample *sample = task->sample;
    double terms[RT_MOST_KNOTS];
    apart->depth = rt_new_array(sample->n + 1, sizeof(double));
    apart->tissue = rt_new_array(sample->n + 1, sizeof(double));
    apart->bends = rt_new_array((sample->n + 1) * RT_MOST_KNOTS, sizeof(double));
    if (apart->depth == NULL || apart->tissue == NULL || apart->bends == NULL)
        return rt_fail_memory(error);
    enum rt_status status = RT_OK;
    if (sample->n > 0)
        status = rt_curve_knots(sample->other, sample->n, 0, apart->knots, &apart->knot_count, error);
    for (size_t i = 0; status == RT_OK && i < sample->n; i++) {
        const struct rt_audit_implant *implant = &task->cohort->implants[sample->implant[i]];
        apart->depth[i] = implant->achieved_depth_mm;
        apart->tissue[i] = implant->tissue_mm;
        if (apart->knot_count < RT_FEWEST_KNOTS)
            continue;
        rt_curve_terms(sample->other[i], apart->knots, apart->knot_count, terms);
        for (size_t j = 0; j + 2 < apart->knot_count; j++)
            apart->bends[j * sample->n + i] = terms[j];
    }
    return status;
}

static void put_term(struct rule_task *task, const struct rule_estimate *shared, const char *term,
                     const struct rt_estimate *estimate, bool with_p)
{
    struct rule_estimate result = *shared;
    struct rt_row_key key = rt_key_text("rule", task->rule->name, "term", term);
    struct rt_figure row = rule_row(task, "rule_sum_slope");
    row.grouping = key.grouping;
    row.level = key.level;
    result.estimate = *estimate;
    rule_put(task, &row, &result, with_p);
}

/* True when the slopes differ. */
static bool write_apart(struct rule_task *task, struct rule_model *model)
{
    static const char *const names[TERMS] = {"depth", "tissue", "depth minus tissue"};
    struct rt_linear fit = {.n = 0};
    const struct rt_clusters clusters = {.of = model->cluster, .count = model->clusters};
    struct rule_estimate shared = {.implants = (long)model->n,
                                   .patients = (long)model->clusters,
                                   .events = RT_NO_COUNT,
                                   .method = "linear_cr2"};
    bool differ = false;
    double *weights = rt_new_array(model->design.p + 3, sizeof *weights);
    rule_model_words(model, shared.remark, sizeof shared.remark);
    if (weights == NULL) {
        rt_rows_check(task->rows, rt_fail_memory(task->rows->error));
    } else if (model->n > 0 &&
               rt_rows_check(task->rows, rt_linear_fit(&fit, model->y, model->design.x, model->design.n,
                                                       model->design.p, &clusters, task->rows->error))) {
        weights[1] = 1.0;
        weights[2] = -1.0;
        const struct rt_estimate difference = rt_linear_combination(&fit, weights, 0.0);
        shared.too_few = model->clusters < RT_LEAST_PATIENTS || difference.df < RULE_LEAST_DF;
        if (shared.too_few)
            snprintf(shared.remark, sizeof shared.remark, "too few patients to tell depth and tissue apart");
        put_term(task, &shared, names[0], &fit.robust[1], false);
        put_term(task, &shared, names[1], &fit.robust[2], false);
        put_term(task, &shared, names[2], &difference, true);
        differ = !shared.too_few && difference.p < 0.05;
    }
    rt_linear_release(&fit);
    free(weights);
    return differ;
}

static bool slopes_differ(struct rule_task *task)
{
    struct apart apart = {.depth = NULL};
    struct rule_model model = {.n = 0};
    struct rt_number_column columns[2 + RT_MOST_KNOTS];
    bool differ = false;
    if (rt_rows_check(task->rows, take_apart(&apart, task, task->rows->error))) {
        static const char *const bends[RT_MOST_KNOTS] = {"bend 1", "bend 2", "bend 3"};
        size_t count = 2;
        columns[0] = (struct rt_number_column){"depth", apart.depth};
        columns[1] = (struct rt_number_column){"tissue", apart.tissue};
        for (size_t j = 0; j + 2 < apart.knot_count && j < 3; j++)
            columns[count++] = (struct rt_number_column){bends[j], apart.bends + j * task->sample->n};
        if (rt_rows_check(task->rows, rule_model_build(&model, task, columns, count, task->rows->error)))
            differ = write_apart(task, &model);
    }
    rule_model_release(&model);
    free(apart.depth);
    free(apart.tissue);
    free(apart.bends);
    return differ;
}

/* --- the knee -------------------------------------------------------------------------------------------- */

static void put_knee(struct rule_task *task, const struct rt_knee *knee)
{
    struct rule_estimate result = {.estimate = rt_undefined(knee->reason),
                                   .method = "knee",
                                   .implants = (long)task->sample->n,
                                   .patients = (long)task->sample->clusters,
                                   .events = RT_NO_COUNT};
    struct rt_figure row = rule_row(task, "rule_knee");
    result.too_few = isnan(knee->knee);
    snprintf(result.remark, sizeof result.remark, "%s",
             knee->reason != NULL ? knee->reason
             : knee->at_edge
                 ? "no knee can be located: the set of compatible knees reaches the edge of the records"
             : task->cohort->without_resampling ? left_out
             : knee->pieces > 1                 ? "the set of compatible knees is in more than one piece"
                                                : "");
    result.estimate.value = knee->knee;
    result.estimate.lower = knee->lower;
    result.estimate.upper = knee->upper;
    rule_put(task, &row, &result, false);
    if (isnan(knee->knee))
        return;
    for (int side = 0; side < 2; side++) {
        struct rt_row_key key = rt_key_text("rule", task->rule->name, "side", side == 0 ? "below" : "above");
        row = rule_row(task, "rule_knee_slope");
        row.grouping = key.grouping;
        row.level = key.level;
        row.method = "knee";
        row.n_implants = result.implants;
        row.n_patients = result.patients;
        row.value = side == 0 ? knee->slope_below : knee->slope_above;
        rt_put_row(task->rows, &row);
    }
    for (size_t i = 0; i < knee->candidate_count && !task->cohort->without_resampling; i++) {
        row = rule_row(task, "rule_knee_compatible");
        row.at = knee->candidates[i];
        row.n_implants = result.implants;
        row.n_patients = result.patients;
        row.value = knee->kept[i] ? 1.0 : 0.0;
        rt_put_row(task->rows, &row);
    }
}

static void decide(struct rule_task *task, const struct rt_knee *knee, bool differ,
                   struct rule_verdict *verdict)
{
    struct rule_estimate result = {.estimate = rt_undefined(knee->reason),
                                   .implants = (long)task->sample->n,
                                   .patients = (long)task->sample->clusters};
    result.too_few = isnan(knee->knee);
    result.estimate.value = knee->knee;
    result.estimate.lower = knee->lower;
    result.estimate.upper = knee->upper;
    result.estimate.p = knee->p;
    if (knee->reason != NULL)
        snprintf(result.remark, sizeof result.remark, "%s", knee->reason);
    rule_decide_value(task->rule, &result, verdict);
    if (verdict->state != RT_FIGURE_OK)
        return;
    const char *unclear =
        task->depth_shares_error
            ? "cannot tell: depth was read from film, and crest change shares the error of that reading"
        : differ ? "cannot tell: depth and tissue do not count alike, so the sum is not judged"
        : !(knee->p < 0.05) || knee->at_edge || knee->pieces != 1 ? "cannot tell: no knee can be located"
                                                                  : NULL;
    if (unclear != NULL) {
        verdict->value = 0;
        snprintf(verdict->remark, sizeof verdict->remark, "%s", unclear);
    }
}

static void leave_out(const struct rule_task *task, struct rule_verdict *verdict)
{
    *verdict = (struct rule_verdict){.state = RT_FIGURE_UNDEFINED,
                                     .p = NAN,
                                     .implants = (long)task->sample->n,
                                     .patients = (long)task->sample->clusters};
    snprintf(verdict->remark, sizeof verdict->remark, "%s", left_out);
}

void rule_judge_knee(struct rule_task *task, struct rule_verdict *verdict)
{
    struct rt_knee knee = {.knee = NAN};
    const struct rt_clusters clusters = rt_sample_clusters(task->sample);
    struct rt_knee_design design = rt_knee_default;
    if (task->cohort->without_resampling)
        design.times = 0;
    const bool differ = slopes_differ(task);
    if (rt_rows_check(task->rows, rt_knee(&knee, task->sample->other, task->sample->value, task->sample->n,
                                          &clusters, &design, task->rows->error))) {
        put_knee(task, &knee);
        if (task->cohort->without_resampling && !isnan(knee.knee))
            leave_out(task, verdict);
        else
            decide(task, &knee, differ, verdict);
    }
    rt_knee_release(&knee);
}
