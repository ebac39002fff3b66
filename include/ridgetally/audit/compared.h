/*
 * The figures that are compared between periods: those the yardsticks read and the main figures of the sections. A figure of
 * an earlier period is recomputed on today's records, as the audit of that period would compute it now.
 */
#ifndef RIDGETALLY_AUDIT_COMPARED_H
#define RIDGETALLY_AUDIT_COMPARED_H

#include "ridgetally/audit/cohort.h"
#include "ridgetally/audit/sample.h"
#include "ridgetally/audit/window_cases.h"

enum rt_compared_kind { RT_COMPARED_MEAN, RT_COMPARED_SHARE, RT_COMPARED_SURVIVAL, RT_COMPARED_RATE };

/* One compared figure and the key of its row in its own section. */
struct rt_compared {
    const char *name; /* its measures in section yardsticks are NAME_then and NAME_change */
    const char *section, *measure, *grouping, *level, *baseline, *site;
    double at; /* NaN = none */
    enum rt_compared_kind kind;
};

/* All of them in the order of the page; *count receives how many. */
const struct rt_compared *rt_compared_figures(size_t *count);

/* The one of that name, or NULL. */
const struct rt_compared *rt_find_compared(const char *name);

/* The one that a row of this key is, or NULL. grouping, baseline and site "" and at NaN match any. */
const struct rt_compared *rt_compared_of(const char *section, const char *measure, const char *level,
                                         double at);

/* A cohort with the room its samples need. */
struct rt_compared_view {
    const struct rt_cohort *cohort;
    struct rt_sample sample;
    struct rt_window_cases cases;
    bool cannot_tell; /* levels look like first contact: no crest change */
};

/* Release it also after a failure. */
enum rt_status rt_view_start(struct rt_compared_view *view, const struct rt_cohort *cohort,
                             struct rt_error *error);
void rt_view_release(struct rt_compared_view *view);

/* Fill view->sample with the values of a mean or a share (0 and 1), exactly those of the figure's own section; returns how many
 * implants were due. */
long rt_take_compared(struct rt_compared_view *view, const struct rt_compared *compared);

#endif
