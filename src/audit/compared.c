#include "ridgetally/audit/compared.h"

#include "ridgetally/audit/fate.h"
#include "ridgetally/base/date.h"
#include "ridgetally/base/number.h"
#include "ridgetally/figure/figure.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const struct rt_compared figures[] = {
    {"depth_bias", "depth", "depth_bias", "window", "12 months", "", "", NAN, RT_COMPARED_MEAN},
    {"depth_within_half", "depth", "depth_within_half", "window", "12 months", "", "", NAN,
     RT_COMPARED_SHARE},
    {"low_torque", "stability", "low_torque", "window", "12 months", "", "", NAN, RT_COMPARED_SHARE},
    {"crest_change", "crest", "crest_change", "window", "12 months", "placement", "mean", 12.0,
     RT_COMPARED_MEAN},
    {"exposure_share", "crest", "exposure_share", "window", "12 months", "placement", "worse", 12.0,
     RT_COMPARED_SHARE},
    {"early_failure", "survival", "early_failure", "window", "12 months", "", "", NAN, RT_COMPARED_SHARE},
    {"failure_rate", "survival", "failure_rate", "window", "12 months", "", "", NAN, RT_COMPARED_RATE},
    {"survival_one_year", "survival", "survival", "censoring", "last sighting", "", "", 1.0,
     RT_COMPARED_SURVIVAL},
    {"survival_five_years", "survival", "survival", "censoring", "last sighting", "", "", 5.0,
     RT_COMPARED_SURVIVAL},
    {"read_share", "flow", "read_share", "window", "12 months", "placement", "", 12.0, RT_COMPARED_SHARE},
};

const struct rt_compared *rt_compared_figures(size_t *count)
{
    *count = sizeof figures / sizeof figures[0];
    return figures;
}

const struct rt_compared *rt_find_compared(const char *name)
{
    for (size_t i = 0; i < sizeof figures / sizeof figures[0]; i++)
        if (strcmp(figures[i].name, name) == 0)
            return &figures[i];
    return NULL;
}

const struct rt_compared *rt_compared_of(const char *section, const char *measure, const char *level,
                                         double at)
{
    for (size_t i = 0; i < sizeof figures / sizeof figures[0]; i++) {
        const struct rt_compared *one = &figures[i];
        bool time = isnan(at) || isnan(one->at) || one->at == at;
        if (time && strcmp(one->section, section) == 0 && strcmp(one->measure, measure) == 0 &&
            strcmp(one->level, level) == 0)
            return one;
    }
    return NULL;
}

enum rt_status rt_view_start(struct rt_compared_view *view, const struct rt_cohort *cohort,
                             struct rt_error *error)
{
    *view = (struct rt_compared_view){.cohort = cohort, .cannot_tell = rt_levels_look_like_contact(cohort)};
    enum rt_status status = rt_sample_start(&view->sample, cohort, error);
    return status == RT_OK ? rt_window_cases_start(&view->cases, cohort, error) : status;
}

void rt_view_release(struct rt_compared_view *view)
{
    rt_window_cases_release(&view->cases);
    rt_sample_release(&view->sample);
}

/* --- the samples ------------------------------------------------------------------------------------------ */

/* Achieved minus planned depth of those placed in the 12 months, or whether that is within half a millimetre. */
static long take_depth(struct rt_compared_view *view, bool within)
{
    const struct rt_cohort *cohort = view->cohort;
    const int from = rt_year_start(&cohort->period);
    long due = 0;
    for (size_t i = 0; i < cohort->count; i++) {
        const struct rt_audit_implant *implant = &cohort->implants[i];
        if (implant->placed_on < from || (implant->blocked & RT_BLOCKS_DEPTH) != 0)
            continue;
        double error_mm = implant->achieved_depth_mm - implant->planned_depth_mm;
        due++;
        if (!isnan(error_mm))
            rt_sample_add(&view->sample, cohort, i,
                          !within                               ? error_mm
                          : labs(rt_hundredths(error_mm)) <= 50 ? 1.0
                                                                : 0.0);
    }
    return due;
}

/* Whether the final torque of those placed in the 12 months is under the lowest cut; a cap below it leaves that open. */
static long take_low_torque(struct rt_compared_view *view)
{
    const struct rt_cohort *cohort = view->cohort;
    const int from = rt_year_start(&cohort->period);
    const double cut_ncm = rt_lowest_cut(&cohort->cuts.torque);
    if (isnan(cut_ncm))
        return RT_NO_COUNT;
    const long cut = rt_hundredths(cut_ncm);
    for (size_t i = 0; i < cohort->count; i++) {
        const struct rt_audit_implant *implant = &cohort->implants[i];
        if (implant->placed_on < from || (implant->blocked & RT_BLOCKS_STABILITY) != 0 ||
            isnan(implant->final_torque_ncm))
            continue;
        bool low = rt_hundredths(implant->final_torque_ncm) < cut;
        if (!implant->final_torque_capped || !low)
            rt_sample_add(&view->sample, cohort, i, low ? 1.0 : 0.0);
    }
    return RT_NO_COUNT;
}

/* What the films of the 12-month window from placement say; shows: what, NaN when it is not known. */
static long take_films(struct rt_compared_view *view, double (*shows)(const struct rt_window_case *one))
{
    const struct rt_cohort *cohort = view->cohort;
    rt_take_window(cohort, RT_BASELINE_PLACEMENT, &rt_windows()[RT_YEAR_WINDOW],
                   rt_closing_start(&cohort->period), &view->cases);
    for (size_t i = 0; i < view->cases.count; i++) {
        double value = shows(&view->cases.of[i]);
        if (!isnan(value))
            rt_sample_add(&view->sample, cohort, view->cases.of[i].implant, value);
    }
    return (long)view->cases.count;
}

static double change_of(const struct rt_window_case *one)
{
    return one->change.mean;
}

static double exposed(const struct rt_window_case *one)
{
    return isnan(one->exposure.worse) ? NAN : rt_hundredths(one->exposure.worse) > 50 ? 1.0 : 0.0;
}

static double was_read(const struct rt_window_case *one)
{
    return one->status == RT_WINDOW_READ ? 1.0 : 0.0;
}

/* Whether those whose 180 days ended in the 12 months had failed by then. */
static long take_early(struct rt_compared_view *view)
{
    const struct rt_cohort *cohort = view->cohort;
    const int closing = rt_closing_start(&cohort->period);
    long due = 0;
    for (size_t i = 0; i < cohort->count; i++) {
        const struct rt_audit_implant *implant = &cohort->implants[i];
        int day = implant->placed_on + RT_EARLY_DAYS;
        bool complete = cohort->complete_since == RT_NO_DATE || implant->placed_on >= cohort->complete_since;
        if (!complete || day > cohort->period.last_day || day < closing ||
            (implant->blocked & RT_BLOCKS_SURVIVAL) != 0)
            continue;
        enum rt_early_state state = rt_early_state(cohort, implant);
        due++;
        if (state != RT_EARLY_UNKNOWN)
            rt_sample_add(&view->sample, cohort, i, state == RT_EARLY_FAILED ? 1.0 : 0.0);
    }
    return due;
}

long rt_take_compared(struct rt_compared_view *view, const struct rt_compared *compared)
{
    rt_sample_clear(&view->sample);
    if (strcmp(compared->name, "depth_bias") == 0)
        return take_depth(view, false);
    if (strcmp(compared->name, "depth_within_half") == 0)
        return take_depth(view, true);
    if (strcmp(compared->name, "low_torque") == 0)
        return take_low_torque(view);
    if (strcmp(compared->name, "crest_change") == 0)
        return take_films(view, change_of);
    if (strcmp(compared->name, "exposure_share") == 0)
        return take_films(view, exposed);
    if (strcmp(compared->name, "read_share") == 0)
        return take_films(view, was_read);
    return take_early(view);
}
