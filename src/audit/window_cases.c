#include "ridgetally/audit/window_cases.h"

#include "ridgetally/base/date.h"
#include "ridgetally/base/memory.h"
#include "ridgetally/base/number.h"

#include <limits.h>
#include <math.h>

const char *rt_window_status_name(enum rt_window_status status)
{
    static const char *const names[RT_WINDOW_STATUSES] = {"read", "unread", "lost", "removed or died first"};
    return names[status];
}

/* The day an implant was removed, for whatever reason, or its patient died; INT_MAX when neither. */
static int gone_on(const struct rt_audit_implant *implant)
{
    const int days[] = {implant->removed_on, implant->elective_on, implant->died_on};
    int first = INT_MAX;
    for (size_t i = 0; i < 3; i++)
        if (days[i] != RT_NO_DATE && days[i] < first)
            first = days[i];
    return first;
}

static enum rt_window_status status_of(const struct rt_audit_implant *implant,
                                       const struct rt_window_case *one, const struct rt_window *window,
                                       int event_day)
{
    if (!isnan(one->change.mean))
        return RT_WINDOW_READ;
    if (gone_on(implant) <= rt_window_last_day(window, event_day))
        return RT_WINDOW_GONE;
    return implant->last_seen_on < rt_window_first_day(window, event_day) ? RT_WINDOW_LOST : RT_WINDOW_UNREAD;
}

static struct rt_window_case resolve(const struct rt_cohort *cohort, size_t index, enum rt_baseline baseline,
                                     const struct rt_window *window)
{
    const struct rt_audit_implant *implant = &cohort->implants[index];
    const struct rt_film *films = rt_films_of(cohort, implant);
    int event_day = rt_baseline_day(implant, baseline);
    const struct rt_film *first = rt_baseline_film(films, implant->film_count, baseline, event_day);
    struct rt_window_case one = {.implant = index,
                                 .later = rt_window_film(films, implant->film_count, window, event_day)};
    one.change = rt_crest_change(first, one.later);
    one.exposure = rt_exposure(one.later);
    one.reader_changed = !isnan(one.change.mean) && first->reader != one.later->reader;
    one.status = status_of(implant, &one, window, event_day);
    return one;
}

void rt_take_window(const struct rt_cohort *cohort, enum rt_baseline baseline, const struct rt_window *window,
                    int first_closing_day, struct rt_window_cases *cases)
{
    cases->count = 0;
    for (size_t i = 0; i < cohort->count; i++) {
        const struct rt_audit_implant *implant = &cohort->implants[i];
        int event_day = rt_baseline_day(implant, baseline);
        if (event_day == RT_NO_DATE || (implant->blocked & RT_BLOCKS_CREST) != 0)
            continue;
        int closes = rt_window_last_day(window, event_day);
        if (closes >= first_closing_day && closes <= cohort->period.last_day)
            cases->of[cases->count++] = resolve(cohort, i, baseline, window);
    }
}

enum rt_status rt_window_cases_start(struct rt_window_cases *cases, const struct rt_cohort *cohort,
                                     struct rt_error *error)
{
    cases->count = 0;
    cases->of = rt_new_array(cohort->count + 1, sizeof *cases->of);
    return cases->of != NULL ? RT_OK : rt_fail_memory(error);
}

void rt_window_cases_release(struct rt_window_cases *cases)
{
    free(cases->of);
    *cases = (struct rt_window_cases){.of = NULL};
}

bool rt_levels_look_like_contact(const struct rt_cohort *cohort)
{
    size_t deep = 0, below = 0;
    for (size_t i = 0; i < cohort->count; i++) {
        const struct rt_audit_implant *implant = &cohort->implants[i];
        const struct rt_film *film = rt_baseline_film(rt_films_of(cohort, implant), implant->film_count,
                                                      RT_BASELINE_PLACEMENT, implant->placed_on);
        if (isnan(implant->achieved_depth_mm) || rt_hundredths(implant->achieved_depth_mm) < 50 ||
            film == NULL || film->contact || isnan(film->mesial_mm + film->distal_mm))
            continue;
        deep++;
        below += rt_hundredths((film->mesial_mm + film->distal_mm) / 2.0) <= 0;
    }
    return 2 * below > deep;
}
