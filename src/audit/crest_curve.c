#include "ridgetally/audit/estimates.h"
#include "ridgetally/audit/sections.h"
#include "ridgetally/audit/window_cases.h"
#include "ridgetally/stats/curve.h"
#include "ridgetally/stats/quantile.h"

#include <math.h>
#include <stdio.h>

static bool has_source(const struct rt_cohort *cohort, const struct rt_window_case *one, bool at_surgery)
{
    return (cohort->implants[one->implant].depth_at_surgery == RT_ANSWER_YES) == at_surgery;
}

/* Crest change at 12 months in value, achieved depth in other, of one source of depth. */
static void take_cases(const struct rt_cohort *cohort, const struct rt_window_cases *cases, bool at_surgery,
                       struct rt_sample *sample)
{
    rt_sample_clear(sample);
    for (size_t i = 0; i < cases->count; i++) {
        const struct rt_window_case *one = &cases->of[i];
        double depth = cohort->implants[one->implant].achieved_depth_mm;
        if (isnan(one->change.mean) || isnan(depth) || !has_source(cohort, one, at_surgery))
            continue;
        rt_sample_add(sample, cohort, one->implant, one->change.mean);
        sample->other[sample->n - 1] = depth;
    }
}

static void put_point(struct rt_rows *rows, const struct rt_sample *sample, double depth_mm,
                      const struct rt_estimate *estimate, const char *remark)
{
    struct rt_row_key key = rt_key_text("window", "all", "", "");
    struct rt_figure row = rt_row_of(rows, "crest", "crest_dose_response", &key);
    row.at = depth_mm;
    row.baseline = rt_baseline_name(RT_BASELINE_PLACEMENT);
    row.site = "mean";
    row.n_implants = (long)sample->n;
    row.n_patients = (long)sample->clusters;
    row.remark = remark;
    rt_set_estimate(&row, estimate);
    row.p = NAN;
    rt_apply_minimum(&row);
    rt_put_row(rows, &row);
}

/* The depth at quantile p. */
static double depth_at(struct rt_rows *rows, const struct rt_sample *sample, double p)
{
    struct rt_estimate quantile = rt_undefined("not computed");
    rt_rows_check(rows, rt_quantile(sample->other, sample->n, p, NULL, &quantile, rows->error));
    return quantile.value;
}

/* The curve in steps of 0.1 mm over the middle nine tenths of the depths. */
static void write_curve(struct rt_rows *rows, const struct rt_sample *sample, const char *remark)
{
    double knots[RT_MOST_KNOTS];
    size_t knot_count = 0;
    struct rt_curve curve = {.knot_count = 0};
    struct rt_clusters clusters = rt_sample_clusters(sample);
    if (!rt_rows_check(rows, rt_curve_knots(sample->other, sample->n, 0, knots, &knot_count, rows->error)))
        return;
    if (knot_count < RT_FEWEST_KNOTS || sample->clusters < RT_LEAST_PATIENTS) {
        struct rt_estimate none = rt_undefined("too few different depths for a curve");
        put_point(rows, sample, NAN, &none, remark);
        return;
    }
    if (rt_rows_check(rows, rt_curve_fit(&curve, sample->other, sample->value, sample->n, knots, knot_count,
                                         &clusters, rows->error))) {
        const int first = (int)ceil(depth_at(rows, sample, 0.05) * 10.0 - 1e-6);
        const int last = (int)floor(depth_at(rows, sample, 0.95) * 10.0 + 1e-6);
        for (int tenth = first; tenth <= last && rows->status == RT_OK; tenth++) {
            struct rt_estimate point = rt_curve_at(&curve, tenth / 10.0);
            put_point(rows, sample, tenth / 10.0, &point, remark);
        }
    }
    rt_curve_release(&curve);
}

/* Depths of two sources are not pooled: the more frequent is drawn. */
static void describe(size_t surgery, size_t other, char *text, size_t size)
{
    text[0] = '\0';
    if (other > surgery)
        snprintf(text, size,
                 "depth read from film, or source unknown: its error is shared by the change; %zu with a "
                 "depth measured at surgery left out",
                 surgery);
    else if (other > 0)
        snprintf(text, size, "%zu left out for another source of depth", other);
}

void rt_crest_curve_figures(const struct rt_cohort *cohort, struct rt_rows *rows)
{
    struct rt_sample sample = {.n = 0};
    struct rt_window_cases cases = {.of = NULL};
    char remark[160];
    if (rt_levels_look_like_contact(cohort)) /* crest change cannot be told */
        return;
    if (rt_rows_check(rows, rt_sample_start(&sample, cohort, rows->error)) &&
        rt_rows_check(rows, rt_window_cases_start(&cases, cohort, rows->error))) {
        rt_take_window(cohort, RT_BASELINE_PLACEMENT, &rt_windows()[RT_YEAR_WINDOW], INT_MIN, &cases);
        take_cases(cohort, &cases, false, &sample);
        size_t other = sample.n;
        take_cases(cohort, &cases, true, &sample);
        size_t surgery = sample.n;
        if (other > surgery)
            take_cases(cohort, &cases, false, &sample);
        describe(surgery, other, remark, sizeof remark);
        write_curve(rows, &sample, remark);
    }
    rt_window_cases_release(&cases);
    rt_sample_release(&sample);
}
