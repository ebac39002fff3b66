/*
 * The implants due in one window of time: what their films say, or why there is none.
 */
#ifndef RIDGETALLY_AUDIT_WINDOW_CASES_H
#define RIDGETALLY_AUDIT_WINDOW_CASES_H

#include "ridgetally/audit/cohort.h"

/* Due = read + unread + lost + removed or died first. */
enum rt_window_status { RT_WINDOW_READ, RT_WINDOW_UNREAD, RT_WINDOW_LOST, RT_WINDOW_GONE };
enum { RT_WINDOW_STATUSES = 4 };

/* read, unread, lost, removed or died first */
const char *rt_window_status_name(enum rt_window_status status);

struct rt_window_case {
    size_t implant; /* index into the cohort */
    enum rt_window_status status;
    bool reader_changed;         /* the two films were read by different readers */
    const struct rt_film *later; /* the film in the window; NULL without one */
    struct rt_sites change, exposure;
};

struct rt_window_cases {
    struct rt_window_case *of;
    size_t count;
};

/* The implants whose window, counted from the baseline event, closed from first_closing_day to the end of the period.
 * Read: both sites at baseline and in the window. Gone: removed (also electively) or died before the window closed,
 * unread. Lost: not seen from the first day of the window on. of has room for every implant of the cohort; allocate with
 * rt_window_cases_start, free with rt_window_cases_release. */
void rt_take_window(const struct rt_cohort *cohort, enum rt_baseline baseline, const struct rt_window *window,
                    int first_closing_day, struct rt_window_cases *cases);

enum rt_status rt_window_cases_start(struct rt_window_cases *cases, const struct rt_cohort *cohort,
                                     struct rt_error *error);
void rt_window_cases_release(struct rt_window_cases *cases);

/* Do most implants placed 0.5 mm or more below the crest start with a level (kind crest) at or below 0?
 * Then levels were probably recorded as first contact, and crest change cannot be told. */
bool rt_levels_look_like_contact(const struct rt_cohort *cohort);

#endif
